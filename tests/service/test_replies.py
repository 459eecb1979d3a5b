"""Replies: never without approval, never twice, whatever server, line or process do; what a mail says and carries."""

from __future__ import annotations

import email
import email.policy
import io
import os
import signal
import socket
import subprocess
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import fakes
import pytest
from desk_people import log_in, make_account, post
from fakes import add_edition
from imap_servers import OPENSSL, certificate
from PIL import Image
from smtp_servers import PASSWORD, breaking_server, mail_server

from moondesk.records import Place, Terminator
from moondesk.sentences import sentences_of
from moondesk.service.errors import BadInputError
from moondesk.service.intake.intake import Intake
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.languages.catalogue import Language
from moondesk.service.replies.draft import Circumstances, draft_of, sun_caution_due
from moondesk.service.replies.message import From, OutgoingMail, is_address, mail_of, new_message_id
from moondesk.service.replies.postman import ReplySender
from moondesk.service.replies.sending import Post, labelled_picture, post_of, send_due
from moondesk.service.replies.smtp import Outcome, Server
from moondesk.service.replies.smtp import send as send_by_smtp
from moondesk.service.settings.config import SMTP_PASSWORD, Config, Programme
from moondesk.service.store import replies
from moondesk.service.store.annotations import read_derived_key
from moondesk.service.store.forget import forget
from moondesk.service.store.messages import NOTHING, in_words
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import EditionPlan
from moondesk.service.store.replies import ABANDONED, FIRST_WAIT, TRIES, ReplyChangedError
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
SENDER = From("The Evening Sky", "moon@evening-sky.example")
ID = "<moondesk-1@evening-sky.example>"


@pytest.fixture
def sent_in(tmp_path, storage, media, config):
    """Two submissions by mail, placed."""
    folder = tmp_path / "in"
    folder.mkdir()
    for n, name in enumerate(("ann", "bo")):
        mail = email.message.EmailMessage()
        mail["From"], mail["Subject"] = f"{name}@viewers.example", "Moon"
        mail["Message-ID"] = f"<{name}1@viewers.example>"
        mail.set_content("My Moon. You may show it.")
        mail.add_attachment(fakes.png(shade=70 + 10 * n), maintype="image", subtype="png", filename="moon.png")
        (folder / f"{name}.eml").write_bytes(mail.as_bytes())
    edition = add_edition(storage, EditionPlan(number=12))
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    return {
        p.picture.submission.arrival.sender_address.split("@")[0]: p.picture for p in list_pictures(storage, edition.id)
    }


def approved(storage, picture, body="Thank you.", now=NOW, attach=False):
    kept = replies.keep(
        storage,
        picture.submission.id,
        picture.submission.arrival.sender_address,
        "Re: Moon",
        body,
        picture.id if attach else None,
        0,
        "Ada",
        now,
    )
    replies.approve(storage, picture.submission.id, kept.version, new_message_id(SENDER.address), "Ada", now)
    return replies.reply_of(storage, picture.submission.id)


def post_to(port):
    return Post(Server(host="127.0.0.1", port=port, security="plain"), SENDER)


def sent(storage, config, port, now=NOW, queued=False):
    return [(state, words) for _, state, words in send_due(storage, config, post_to(port), lambda: now, queued)]


def read(data):
    return email.message_from_bytes(data, policy=email.policy.default)


def words_of(mail):
    return mail.get_body().get_content().replace("\r\n", "\n")


# --- what a mail is ---------------------------------------------------------------------------------------------------


def test_a_mail_is_one_that_the_standards_parser_reads_back():
    """RFC 5322 and 2045, by Python's own parser."""
    picture = b"\xff\xd8\xff\xe0 a picture"
    data = mail_of(
        SENDER,
        OutgoingMail("thora@viewers.example", "Re: Луна\r\nBcc: x@y.example", "Здравейте.\n.\n..\n", ID),
        NOW,
        "<ann1@viewers.example>",
        picture,
    )
    mail = read(data)
    assert mail["Subject"] == "Re: Луна Bcc: x@y.example"
    assert mail["Bcc"] is None
    assert (mail["To"], mail["In-Reply-To"], mail["Message-ID"]) == (
        "thora@viewers.example",
        "<ann1@viewers.example>",
        ID,
    )
    assert mail["Date"].datetime == NOW
    assert words_of(mail) == "Здравейте.\n.\n..\n"
    (attached,) = mail.iter_attachments()
    assert attached.get_content() == picture
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert max(map(len, data.split(b"\r\n"))) <= 998


@pytest.mark.parametrize(
    "address",
    [
        "",
        "ann",
        "a@b@c",
        "a@x.example, b@y.example",
        "a@x.example\nBcc: b@y.example",
        "<a@x.example>",
        "a b@x.example",
        "a@x.example;b@y.example",
    ],
)
def test_an_address_is_one_and_plain(address):
    assert not is_address(address)
    with pytest.raises(ValueError, match="no mail address"):
        mail_of(SENDER, OutgoingMail(address, "s", "b", ID), NOW)


def test_headers_that_a_sender_made_up_are_not_answered():
    data = mail_of(SENDER, OutgoingMail("a@x.example", "s", "b", ID), NOW, "<x>\r\nBcc: all@y.example")
    assert b"In-Reply-To" not in data
    assert b"Bcc" not in data


# --- what it says -----------------------------------------------------------------------------------------------------


def drafted(picture, annotation, **more):
    return draft_of(
        "The Evening Sky",
        picture,
        annotation,
        Circumstances(more.get("quality"), more.get("equipment")),
        more.get("language", Language()),
    )


def test_what_is_shown_is_named_and_what_is_not_sure_is_not(sent_in):
    ann = sent_in["ann"]
    sure = drafted(ann, fakes.annotation())
    assert "the crater Copernicus" in sure.body
    assert sure.picture_id == ann.id
    unsure = drafted(ann, replace(fakes.annotation(), sure=False, reasons=sentences_of("Two placings fit.")))
    assert "Copernicus" not in unsure.body
    assert unsure.picture_id is None
    assert sure.subject == "Re: Moon"
    assert sure.to == "ann@viewers.example"


def test_the_sun_is_warned_of_where_it_may_have_been_near(sent_in):
    """A thin crescent; daylight: on 25 March 2026 the Sun is high in Vienna at noon, and set at 19 h UTC (common
    knowledge); a picture that is not the Moon."""
    ann, quarter = sent_in["ann"], fakes.annotation()
    assert not sun_caution_due(quarter, ann)
    assert sun_caution_due(replace(quarter, terminator=Terminator(140.0, 0.12, 0.0, 0.5)), ann)
    assert sun_caution_due(fakes.bare("not_moon", "This is the Sun."), ann)
    there = replace(
        ann, submission=replace(ann.submission, arrival=replace(ann.submission.arrival, place=Place(48.2, 16.4)))
    )
    for hour, due in ((11, True), (21, False)):
        at = replace(quarter, time=replace(quarter.time, utc=datetime(2026, 3, 25, hour, tzinfo=UTC)))
        assert sun_caution_due(at, there) is due
    assert "never point a telescope" in drafted(ann, fakes.bare("not_moon", "This is the Sun.")).body


def test_the_labelled_picture_goes_without_metadata(sent_in, storage, media, config):
    picture = sent_in["ann"]
    key = read_derived_key(storage, picture.id)
    target = media.derived_folder(picture.enclosure.sha256, key) / "upright.png"
    target.parent.mkdir(parents=True, exist_ok=True)
    drawn = Image.new("RGB", (2400, 1200), (9, 9, 40))
    drawn.save(target, exif=b"Exif\0\0MM\0*\0\0\0\x08\0\0\0\0\0\0")
    data = labelled_picture(storage, media, picture.id)
    with Image.open(io.BytesIO(data)) as image:
        assert (image.format, image.size) == ("JPEG", (1600, 800))
        assert not image.getexif()
        assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


def test_a_mail_does_not_go_without_the_picture_that_it_promises(sent_in, storage, config):
    approved(storage, sent_in["ann"], attach=True)
    with mail_server() as (kept, port):
        ((state, words),) = sent(storage, config, port)
    assert state == "failed"
    assert not kept.mails
    assert "the labelled picture that goes with it is not drawn" in words
    assert replies.reply_of(storage, sent_in["ann"].submission.id).words == words


# --- never without approval, never twice ------------------------------------------------------------------------------


def test_only_what_is_approved_goes_out_and_once(sent_in, storage, config):
    ann, bo = sent_in["ann"], sent_in["bo"]
    replies.keep(storage, bo.submission.id, "bo@viewers.example", "s", "A draft.", None, 0, "Ada", NOW)
    found = approved(storage, ann)
    with mail_server() as (kept, port):
        assert sent(storage, config, port, queued=True) == []  # nobody has said so
        replies.queue(storage, ann.submission.id, found.version, "Ada", NOW)
        assert sent(storage, config, port, queued=True) == [("sent", "")]
        assert sent(storage, config, port, queued=True) == []
        assert sent(storage, config, port) == []
        assert replies.queue_all(storage, "Ada", NOW) == 0
    (mail,) = kept.mails
    told = read(mail)
    assert (told["To"], told["In-Reply-To"]) == ("ann@viewers.example", "<ann1@viewers.example>")
    found = replies.reply_of(storage, ann.submission.id)
    assert (found.state, found.sent_utc, told["Message-ID"]) == ("sent", NOW, found.message_id)


def test_two_people_and_a_sender_do_not_get_into_each_others_way(sent_in, storage):
    k = sent_in["ann"].submission.id
    first = replies.keep(storage, k, "ann@viewers.example", "s", "One.", None, 0, "Ada", NOW)
    replies.keep(storage, k, "ann@viewers.example", "s", "Two.", None, first.version, "Bo", NOW)
    with pytest.raises(ReplyChangedError, match="Bo has changed this reply"):
        replies.keep(storage, k, "ann@viewers.example", "s", "Three.", None, first.version, "Ada", NOW)
    with pytest.raises(ReplyChangedError):
        replies.approve(storage, k, first.version, ID, "Ada", NOW)
    replies.approve(storage, k, first.version + 1, ID, "Ada", NOW)
    claimed = replies.claim(storage, NOW)
    assert replies.claim(storage, NOW) is None
    with pytest.raises(ReplyChangedError, match="it is sending now"):
        replies.take_back(storage, k, claimed.version, "Ada", NOW)
    assert replies.settle(storage, claimed, "sent", NOTHING, NOW) == "sent"
    assert (
        replies.settle(storage, claimed, "later", in_words("late news"), NOW) == "sent"
    )  # of whom nothing is asked any more


@pytest.mark.parametrize(
    ("answer", "rcpt", "state"),
    [
        ("451 greylisted", "250 Ok", "approved"),
        ("250 Ok", "450 greylisted", "approved"),
        ("554 no", "250 Ok", "failed"),
        ("250 Ok", "550 no such user", "failed"),
    ],
)
def test_what_a_server_answers_is_told_and_only_a_wait_is_tried_again(sent_in, storage, config, answer, rcpt, state):
    approved(storage, sent_in["ann"])
    with mail_server() as (kept, port):
        kept.answer, kept.rcpt = answer, rcpt
        ((ended, words),) = sent(storage, config, port)
        assert ended == state
        assert (answer if answer[0] != "2" else rcpt)[:3] in words
        assert sent(storage, config, port) == []  # not at once
        kept.answer = kept.rcpt = "250 Ok"
        later = sent(storage, config, port, NOW + FIRST_WAIT)
        assert later == ([("sent", "")] if state == "approved" else [])
        assert len(kept.mails) == (state == "approved")


def test_a_server_that_never_takes_it_is_given_up(sent_in, storage, config):
    approved(storage, sent_in["ann"])
    now, states = NOW, []
    with mail_server() as (kept, port):
        kept.rcpt = "450 not now"
        for _ in range(TRIES + 2):
            states += [state for state, _ in sent(storage, config, port, now)]
            now += timedelta(days=2)
    assert states == ["approved"] * (TRIES - 1) + ["failed"]


@pytest.mark.parametrize(
    ("at", "state"),
    [
        ("connect", "approved"),
        ("ehlo", "approved"),
        ("mail", "approved"),
        ("rcpt", "approved"),
        ("data", "approved"),
        ("text", "unknown"),
        ("end", "unknown"),
    ],
)
def test_a_line_that_breaks(sent_in, storage, config, at, state):
    """Until the text goes out it is surely unsent; from then on nobody knows (RFC 1047), and nothing is sent again."""
    approved(storage, sent_in["ann"])
    with breaking_server(at) as (kept, port):
        ((ended, words),) = sent(storage, config, port)
        assert ended == state
        assert words
        if state == "unknown":
            assert sent(storage, config, port, NOW + timedelta(days=9)) == []
    assert len(kept) == (at == "end")
    if state == "unknown":
        found = replies.reply_of(storage, sent_in["ann"].submission.id)
        replies.decide(storage, found.submission_id, at == "end", found.version, "Ada", NOW)
        assert replies.reply_of(storage, found.submission_id).state == ("sent" if at == "end" else "approved")


def test_no_server_at_all(sent_in, storage, config):
    approved(storage, sent_in["ann"])
    ((state, words),) = sent(storage, config, 9)  # discard: nobody listens
    assert state == "approved"
    assert "does not answer" in words


KILLED = """
import sys
from datetime import UTC, datetime
from pathlib import Path
from moondesk.service.settings.config import Config
from moondesk.service.replies.message import From
from moondesk.service.replies.sending import Post, send_due
from moondesk.service.replies.smtp import Server
from moondesk.service.store.storage import Storage
post = Post(Server(host="127.0.0.1", port=int(sys.argv[2]), security="plain"), From("x", "moon@evening-sky.example"))
with Storage(Path(sys.argv[1])) as storage:
    print("ready", flush=True)
    for _ in send_due(storage, Config(data_dir=Path(sys.argv[1])), post, lambda: datetime.now(UTC)):
        pass
"""


@pytest.mark.skipif(os.name != "posix", reason="kills by signal")
@pytest.mark.parametrize("wait", [0.0, 0.004, 0.01, 0.03, 0.1, 0.3])
def test_a_sender_killed_at_any_moment_sends_nothing_twice(sent_in, storage, config, wait):
    approved(storage, sent_in["ann"], "A longer body. " * 3000, datetime.now(UTC))
    storage.execute("pragma wal_checkpoint")
    with mail_server() as (kept, port):
        process = subprocess.Popen(
            [sys.executable, "-c", KILLED, str(config.data_dir), str(port)], stdout=subprocess.PIPE, text=True
        )
        assert process.stdout.readline() == "ready\n"
        time.sleep(wait)
        process.send_signal(signal.SIGKILL)
        process.wait()
        process.stdout.close()
        later = datetime.now(UTC) + ABANDONED + timedelta(minutes=1)
        for _ in range(3):
            sent(storage, config, port, later)
        state = replies.reply_of(storage, sent_in["ann"].submission.id).state
        assert len(kept.mails) <= 1
        assert state in ("sent", "unknown")
        assert state == "unknown" or len(kept.mails) == 1


@pytest.mark.skipif(OPENSSL is None, reason="openssl, which makes the certificate, is not installed")
def test_the_password_goes_over_tls_to_a_trusted_server_alone(tmp_path):
    cert, key = certificate(tmp_path)
    mail = mail_of(SENDER, OutgoingMail("ann@viewers.example", "s", ".a line that begins with a dot\n..\n", ID), NOW)
    with mail_server(cert, key) as (kept, port):
        good = Server(
            host="127.0.0.1", port=port, security="starttls", user="desk", password=PASSWORD, ca_file=str(cert)
        )
        assert send_by_smtp(good, SENDER.address, "ann@viewers.example", mail) == Outcome("sent")
        for bad, words in (
            (replace(good, ca_file=""), "not trusted"),
            (replace(good, password="x"), "user and password"),
            (replace(good, security="plain"), "cannot do what is set"),
        ):
            ended = send_by_smtp(bad, SENDER.address, "ann@viewers.example", mail)
            assert ended.ending == "later"
            assert words in ended.words
    assert kept.mails == [mail]


def test_settings_of_the_server_are_checked(tmp_path, monkeypatch):
    def with_smtp(**told):
        return Config(data_dir=tmp_path, programme=Programme("The Evening Sky"), smtp=told)

    assert post_of(Config(data_dir=tmp_path)) is None
    found = post_of(with_smtp(host="mail.example", address="moon@evening-sky.example"))
    assert (found.server.port, found.server.security, found.sender.name) == (587, "starttls", "The Evening Sky")
    assert post_of(with_smtp(host="m", address="a@b.example", security="tls")).server.port == 465
    for told, words in (
        ({"host": "m"}, "wants host and address"),
        ({"host": "m", "address": "a@b.example", "security": "ssl3"}, "starttls, tls or plain"),
        ({"host": "m", "address": "a@b.example", "security": "plain", "user": "u"}, "in the clear"),
    ):
        with pytest.raises(BadInputError, match=words):
            post_of(with_smtp(**told))
    monkeypatch.setenv(SMTP_PASSWORD, PASSWORD)
    assert post_of(with_smtp(host="m", address="a@b.example", user="u")).server.password == PASSWORD
    assert SMTP_PASSWORD not in os.environ  # no child of this process finds it


# --- at the desk ------------------------------------------------------------------------------------------------------


def test_from_the_draft_to_the_mail_at_the_desk(sent_in, config, storage):
    ann = sent_in["ann"]
    with mail_server() as (kept, port):
        told = {"host": "127.0.0.1", "port": port, "security": "plain", "address": SENDER.address}
        client = create_app(replace(config, smtp=told), now=lambda: NOW).test_client()
        log_in(client, config.data_dir, make_account(config.data_dir), NOW)
        page = f"/pictures/{ann.id}/reply"
        assert "Dear ann" in client.get(page).text or "Good evening," in client.get(page).text
        assert client.get(f"/pictures/{ann.id}/reply.eml").status_code == 400  # not approved
        typed = {"subject": "Re: Moon", "body": "Thank you, Ann.", "to": "ann@viewers.example", "version": "0"}
        assert post(client, page, page, **typed, action="approve").status_code == 303
        assert post(client, page, page, **typed, action="send").status_code == 409  # another version by now
        written = read(client.get(f"/pictures/{ann.id}/reply.eml").data)
        assert words_of(written) == "Thank you, Ann.\n"
        assert "Approved, not sent yet" in client.get(page).text
        assert sent(storage, config, port, queued=True) == []
        assert "1 that are" not in client.get("/replies").text
        assert "Send the approved one" in client.get("/replies").text
        assert post(client, "/replies/send", "/replies").status_code == 303
        assert post(client, "/replies/send", "/replies").status_code == 303
        assert not kept.mails  # no page waits for a mail server
        assert "Queued, goes out in a moment" in client.get(page).text
        assert sent(storage, config, port, queued=True) == [("sent", "")]
        assert len(kept.mails) == 1
        assert "Sent" in client.get(page).text
        wrong = post(
            client,
            f"/pictures/{sent_in['bo'].id}/reply",
            page,
            subject="s",
            body="b",
            to="bo",
            version="0",
            action="send",
        )
        assert wrong.status_code == 422
        assert "Type one." in wrong.text


def test_without_a_mail_server_the_page_says_that_nothing_sends_it(sent_in, config, storage):
    page = f"/pictures/{sent_in['ann'].id}/reply"
    client = create_app(config, now=lambda: NOW).test_client()
    log_in(client, config.data_dir, make_account(config.data_dir), NOW)
    typed = {"subject": "Re: Moon", "body": "Thank you, Ann.", "to": "ann@viewers.example", "version": "0"}
    assert post(client, page, page, **typed, action="approve").status_code == 303
    for path in (page, "/replies"):
        assert "No mail server is set, so nothing sends it" in client.get(path).text, path
    assert "waits to be sent" not in client.get(page).text
    version = str(replies.reply_of(storage, sent_in["ann"].submission.id).version)
    assert post(client, f"{page}/send", page, version=version).status_code == 400
    assert post(client, f"{page}/arrived", page, version=version).status_code == 303  # by their own mail program
    assert replies.reply_of(storage, sent_in["ann"].submission.id).state == "sent"


def test_a_silent_mail_server_holds_no_thread_of_the_desk(sent_in, config, storage, monkeypatch):
    """It takes the line and says nothing; the clicks come back at once, and the page on air answers meanwhile."""
    monkeypatch.setattr(send_by_smtp, "__defaults__", (1.5,))  # seconds of patience
    with socket.create_server(("127.0.0.1", 0)) as silent:
        told = {"host": "127.0.0.1", "port": silent.getsockname()[1], "security": "plain", "address": SENDER.address}
        with_server = replace(config, smtp=told)
        monkeypatch.setattr("moondesk.service.replies.postman.load_config", lambda _: with_server)
        app = create_app(with_server)
        client = app.test_client()
        log_in(client, config.data_dir, make_account(config.data_dir), datetime.now(UTC))
        postman = app.extensions["moondesk.postman"] = ReplySender(config.data_dir)
        postman.start()
        try:
            for name in ("ann", "bo"):
                page = f"/pictures/{sent_in[name].id}/reply"
                answer = post(
                    client, page, page, subject="s", body="b", to=f"{name}@viewers.example", version="0", action="send"
                )
                assert answer.status_code == 303
            line, _ = silent.accept()  # it has come for the first, and waits
            states = {replies.reply_of(storage, one.submission.id).state for one in sent_in.values()}
            assert "sending" in states
            assert client.get("/air/12/state").status_code == 200
            line.close()
        finally:
            postman.stop()
    found = replies.reply_of(storage, sent_in["ann"].submission.id)
    assert (found.state, found.queued_utc is not None) == ("approved", True)  # surely not sent: it is tried again
    assert "does not answer" in found.words


def test_who_is_forgotten_gets_no_mail(sent_in, config, storage, media):
    approved(storage, sent_in["ann"])
    forget(storage, media, "ann@viewers.example", NOW)
    with mail_server() as (kept, port):
        assert sent(storage, config, port) == []
    assert not kept.mails
    assert replies.replies(storage) == ()
    with Storage(config.data_dir) as again:
        assert not again.read("select 1 from replies where body like '%Thank%'")

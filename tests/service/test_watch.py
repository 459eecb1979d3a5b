"""A watched mailbox: every mail is taken once, whatever the line, the server and its numbers do.

Everywhere against the server of `imap_double`, and against a real one (dovecot) where it is installed.
"""

from __future__ import annotations

import contextlib
import random
import re
import ssl
import threading
import time
from dataclasses import replace
from datetime import UTC, date, datetime

import imap_double
import pytest
from fakes import png
from imap_double import Cutter, MailServer
from imap_servers import OPENSSL, Dovecot, certificate, why_no_dovecot
from odd_mails import LIMIT, odd_mails, submissions

from moondesk.service.errors import BadInputError, StorageError
from moondesk.service.intake.imap import CutError, Mailbox, MailboxAccount, RejectedError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.watch import PASSWORD_VARIABLE, Watch, read_password
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.store.backup import check
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import each_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def mails():
    return odd_mails()


@pytest.fixture(
    params=[
        "double",
        pytest.param(
            "dovecot",
            marks=[  # the real server by hand, the double always
                pytest.mark.slow,
                pytest.mark.skipif(bool(why_no_dovecot()), reason=why_no_dovecot()),
            ],
        ),
    ]
)
def server(request, mails):
    with (MailServer if request.param == "double" else Dovecot)(mails) as opened:
        yield opened


@pytest.fixture
def watch(storage, media, config):
    """Makes a Watch of a port; its sentences are in `said`, its waits in `waits`."""
    config = replace(config, limits=IntakeLimits(mail_bytes=LIMIT))

    def make(port, **more):
        account = more.pop("account", MailboxAccount(host="127.0.0.1", user="bo", port=port, plain=True))
        said, waits = [], []
        made = Watch(
            account=account,
            password=more.pop("password", "secret"),
            intake=lambda: Intake(
                storage=storage,
                media=media,
                edition=open_edition(storage, config, NOW, lambda _: None),
                config=config,
                now=lambda: NOW,
            ),
            say=said.append,
            stopped=more.pop("stopped", lambda: False),
            pause=waits.append,
            answer_seconds=10.0,
            **more,
        )
        made.said, made.waits = said, waits
        return made

    return make


def keys(storage):
    return sorted(s.submission.arrival.key for s in each_submission(storage))


def ids(storage):
    """What tells the odd mails apart."""
    return sorted(
        (s.submission.arrival.message_id, s.submission.arrival.sender_address) for s in each_submission(storage)
    )


def marked(server):
    return server.seen if isinstance(server.seen, int) else len(server.seen)


def test_sixty_odd_mails_are_taken_once(server, storage, config, watch):
    items = list(watch(server.port).run(once=True))
    assert len(items) == 60
    assert [i.outcome for i in items].count("known") == 3
    assert len(keys(storage)) == submissions() == 57
    assert marked(server) == 60
    assert check(config.data_dir).problems == ()
    large = next(i for i in items if "stays in the mailbox" in i.sentence)
    assert re.search(r"The mail has \d MB, more than 0", large.sentence)
    assert sum(i.outcome == "taken" for i in items) >= 30
    assert list(watch(server.port).run(once=True)) == []  # nothing is even fetched again


def test_mails_numbered_anew_are_not_doubled(server, storage, watch):
    list(watch(server.port).run(once=True))
    before = keys(storage)
    server.renumber()
    again = watch(server.port)
    assert {i.outcome for i in again.run(once=True)} == {"known"}
    assert keys(storage) == before
    assert again.said == ["The server has numbered its mails anew: all are looked through again, none is taken twice."]
    assert marked(server) == 60


@pytest.mark.parametrize("seed", [0, *(pytest.param(k, marks=pytest.mark.slow) for k in range(1, 10))])
def test_the_line_is_cut_at_seeded_points(server, storage, config, watch, seed):
    rng = random.Random(seed)
    cuts = [int(10 ** rng.uniform(1, 5.2)) for _ in range(12)]
    with Cutter(server.port, cuts) as cutter:
        cut = watch(cutter.port)
        for _ in range(4):  # a single look is given up after six cuts that let nothing through
            with contextlib.suppress(CutError):
                list(cut.run(once=True))
                break
        assert cutter.cuts >= 10
    assert len(cut.waits) >= 8
    assert "was lost" in cut.said[0]
    assert len(keys(storage)) == submissions()
    assert marked(server) == 60
    assert check(config.data_dir).problems == ()


def test_new_mail_is_taken_as_it_comes(storage, watch):
    for idle in (True, False):
        with MailServer(idle=idle) as server:
            stop = threading.Event()
            watching = watch(server.port, stopped=stop.is_set, poll_seconds=0.2 if not idle else 60.0)
            threading.Timer(0.5, server.deliver, [b"From: a@b\r\n\r\nhello %d" % idle]).start()
            started = time.monotonic()
            for item in watching.run():
                stop.set()
                assert item.outcome == "taken"  # a letter
            assert 0.3 < time.monotonic() - started < 8
            assert watching.said == []
    assert len(keys(storage)) == 2


@pytest.mark.slow
@pytest.mark.skipif(bool(why_no_dovecot()), reason=why_no_dovecot())
def test_a_real_server_pushes_new_mail_over_tls(storage, watch):
    with Dovecot() as server:
        stop = threading.Event()
        account = MailboxAccount(host="127.0.0.1", user="bo", port=server.tls_port, ca_file=server.cert)
        watching = watch(0, account=account, stopped=stop.is_set)
        threading.Timer(1, server.deliver, [b"From: a@b\r\n\r\nhello"]).start()
        started = time.monotonic()
        for _ in watching.run():
            stop.set()
        assert time.monotonic() - started < 20
    assert len(keys(storage)) == 1


def test_one_mail_that_cannot_be_given_does_not_hold_up_the_rest(storage, watch):
    with MailServer(b"From: a@b\r\nSubject: %d\r\n\r\nhello" % k for k in range(5)) as server:
        server.unfetchable = {2}
        watching = watch(server.port)
        assert len(list(watching.run(once=True))) == 4
        assert watching.said == ["Mail 2 stays in the mailbox, the server cannot give it: [SERVERBUG] cannot read it."]
        assert server.seen == {1, 3, 4, 5}
        server.unfetchable = set()
        assert len(list(watching.run(once=True))) == 1


def test_nothing_is_marked_before_it_is_committed(storage, watch):
    with MailServer([b"From: a@b\r\n\r\nhello"]) as server:

        def look(command):
            if "STORE" in command:
                with Storage(storage_dir) as another:
                    assert len(keys(another)) == 1

        storage_dir = watch(0).intake().config.data_dir
        server.before = look
        list(watch(server.port).run(once=True))
        assert server.seen == {1}


def test_a_full_disk_marks_nothing_and_is_tried_again(storage, watch, monkeypatch):
    with MailServer([b"From: a@b\r\n\r\nhello"]) as server:
        watching = watch(server.port)
        times = iter(range(10))
        take = Intake.take

        def full(self, received):
            if next(times) < 3:
                assert server.seen == set()
                raise StorageError("The disk is full.", "")
            return take(self, received)

        monkeypatch.setattr(Intake, "take", full)
        assert len(list(watching.run(once=True))) == 1
        assert watching.waits == [1, 2, 4]
        assert watching.said[0] == "The disk is full. Trying again in 1 s; no mail is lost."
        assert watching.said[3] == "Connected to 127.0.0.1 again."


def test_a_wrong_password_and_folder_are_told(watch):
    with MailServer() as server:
        with pytest.raises(RejectedError, match="does not take the password of bo"):
            list(watch(server.port, password="wröng").run())
        account = MailboxAccount(host="127.0.0.1", user="bo", port=server.port, folder="No such", plain=True)
        with pytest.raises(RejectedError, match="The folder No such cannot be opened: no such folder"):
            list(watch(0, account=account).run())


def test_a_password_that_is_refused_later_does_not_end_the_watch(storage, watch):
    with MailServer([b"From: a@b\r\n\r\nhello"]) as server, Cutter(server.port, [800]) as cutter:

        def renew(command):
            server.password = "other" if len(server.commands) in range(4, 12) else "secret"

        server.before = renew
        assert len(list(watch(cutter.port).run(once=True))) == 1


def test_a_server_that_is_down(watch):
    with MailServer() as server:
        port = server.port
    watching = watch(port)
    with pytest.raises(CutError):
        list(watching.run(once=True))
    assert watching.waits == [1, 2, 4, 8, 16]


def test_a_server_that_says_nothing(watch):
    import socket

    with socket.create_server(("127.0.0.1", 0)) as silent, pytest.raises(CutError, match="no answer"):
        Mailbox(MailboxAccount(host="127.0.0.1", user="bo", port=silent.getsockname()[1], plain=True), "x", 0.3)


def test_a_wait_that_the_server_refuses_is_a_look_by_the_clock(monkeypatch):
    monkeypatch.setattr(imap_double._Session, "do_idle", lambda self, tag, _: self.say(tag, " NO not now"))
    account = MailboxAccount(host="127.0.0.1", user="bo", port=0, plain=True)
    with MailServer() as server, Mailbox(replace(account, port=server.port), "secret", 10.0) as mailbox:
        mailbox.wait(30.0, lambda: False)
        mailbox.wait(0.1, lambda: False)
        assert server.commands[-2:] == ["IDLE", "NOOP"]


def test_a_line_that_is_closed_during_a_wait_is_told_at_once(monkeypatch):
    def hang_up(self, _, __):
        self.say("+ waiting")
        return True

    monkeypatch.setattr(imap_double._Session, "do_idle", hang_up)
    account = MailboxAccount(host="127.0.0.1", user="bo", port=0, plain=True)
    with MailServer() as server, Mailbox(replace(account, port=server.port), "secret", 10.0) as mailbox:
        began = time.monotonic()
        with pytest.raises(CutError):
            mailbox.wait(30.0, lambda: False)
        assert time.monotonic() - began < 5


def test_without_tls_only_to_this_machine():
    with pytest.raises(BadInputError, match="for all to read"):
        MailboxAccount(host="mail.example.org", user="bo", plain=True)
    assert MailboxAccount(host="localhost", user="bo", plain=True).real_port == 143
    assert MailboxAccount(host="mail.example.org", user="bo").real_port == 993


@pytest.mark.skipif(OPENSSL is None, reason="openssl, which makes the certificate, is not installed")
def test_certificates_are_checked(tmp_path, storage, watch):
    cert, key = certificate(tmp_path)
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.load_cert_chain(cert, key)
    with MailServer([b"From: a@b\r\n\r\nhello"], context=context) as server:
        with pytest.raises(RejectedError, match="certificate is not to be trusted"):
            list(watch(0, account=MailboxAccount(host="127.0.0.1", user="bo", port=server.port)).run())
        trusting = MailboxAccount(host="127.0.0.1", user="bo", port=server.port, ca_file=cert)
        assert len(list(watch(0, account=trusting).run(once=True))) == 1
        with pytest.raises(RejectedError, match="certificate is not to be trusted"):  # another server's name
            Mailbox(replace(trusting, host="localhost"), "secret")
        stop = threading.Event()
        threading.Timer(0.5, server.deliver, [b"From: a@b\r\n\r\nagain"]).start()
        for _ in watch(0, account=trusting, stopped=stop.is_set).run():  # pushed under TLS
            stop.set()
    assert len(keys(storage)) == 2


def test_a_folder_that_is_only_read_is_not_marked(storage, watch):
    with MailServer([b"From: a@b\r\n\r\nhello"]) as server:
        account = MailboxAccount(host="127.0.0.1", user="bo", port=server.port, plain=True, mark=False)
        assert len(list(watch(0, account=account).run(once=True))) == 1
        assert server.seen == set()
        assert any(c.startswith("EXAMINE") for c in server.commands)


def test_mails_since_a_day_only(watch):
    with MailServer() as server:
        list(watch(server.port, since=date(2026, 3, 5)).run(once=True))
        assert "UID SEARCH SINCE 05-Mar-2026" in server.commands


def test_the_same_identifier_does_not_hide_another_mail(storage, watch):
    """Only sender, identifier and all files together make a mail one that came by another way."""

    def mail(sender, shade, top=b""):
        import base64

        body = base64.encodebytes(png(shade=shade)).replace(b"\n", b"\r\n")
        return (
            top
            + (
                b"From: %s\r\nMessage-ID: <1@x>\r\nContent-Type: image/png\r\n"
                b"Content-Transfer-Encoding: base64\r\n\r\n" % sender
            )
            + body
        )

    arriving = [mail(b"a@x", 1), mail(b"a@x", 2), mail(b"b@x", 1), mail(b"a@x", 1, b"Received: by y; now\r\n")]
    with MailServer(arriving) as server:
        assert [i.outcome for i in watch(server.port).run(once=True)] == ["taken", "taken", "taken", "known"]


def test_the_password_comes_from_a_file_that_is_private_or_from_the_environment(tmp_path, monkeypatch):
    monkeypatch.delenv(PASSWORD_VARIABLE, raising=False)
    with pytest.raises(BadInputError, match="no password"):
        read_password(None)
    monkeypatch.setenv(PASSWORD_VARIABLE, "from outside")
    assert read_password(None) == "from outside"
    file = tmp_path / "password"
    file.write_text("pass wörd \nsecond line\n", encoding="utf-8")
    file.chmod(0o600)
    assert read_password(file) == "pass wörd "
    file.chmod(0o644)
    with pytest.raises(BadInputError, match="Others on this machine"):
        read_password(file)

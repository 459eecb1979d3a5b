"""Letters: a mail without a picture is read by a person, and holds its sender's pictures until then."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from email.message import EmailMessage

import pytest
from desk_people import make_account
from letters_desk import NOW, TERMS, application, mail, pick, picture_of, taken, with_terms

from moondesk.sentences import sentences_of
from moondesk.service.errors import NotStoredError
from moondesk.service.intake.mail import read_mail
from moondesk.service.programme.permission import permission_of
from moondesk.service.store import letters, logins, replies
from moondesk.service.store.editions import list_editions
from moondesk.service.store.forget import erase_old_mails, forget
from moondesk.service.store.pictures import list_by_id, list_pictures, read_picture
from moondesk.service.store.records import Arrival, ConsentRecord, Enclosure, LetterPart
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import add_consent, add_submission
from moondesk.service.studio import Studio
from moondesk.service.studio.frames import layer_png
from moondesk.service.studio.plan import make_plan
from tests.service.consent_mails import FOREIGN

GIVEN = ConsentRecord(state="given", kind="phone", evidence="Yes, do.", noted_by="Ada")
HELLO = "Good evening, here is the Moon from my garden."


def reasons(storage, picture_id):
    (listed,) = list_by_id(storage, [picture_id])
    return permission_of(listed, TERMS).reasons


@pytest.fixture
def shown(storage, config):
    """A picture of Ann's that may go on air; its submission and itself."""
    (number,) = taken(storage, config, mail("ann@x.org", HELLO, "Moon", 90))
    picture = picture_of(storage, number)
    assert reasons(storage, picture) == ()
    return number, picture


@pytest.mark.parametrize("words", [m for m in FOREIGN if m.kind == "withdrawal"], ids=lambda m: m.language)
def test_a_letter_in_any_language_holds_its_senders_pictures(storage, config, shown, words):
    _, picture = shown
    (letter,) = taken(storage, config, mail("Ann@X.org", words.body, words.subject))
    assert reasons(storage, picture) == ("letter",)
    (found,) = letters.unread(storage, 10)
    assert (found.id, found.holds, found.subject) == (letter, True, words.subject)
    assert [p.text for p in letters.text_of(storage, letter)] == [words.body]
    assert [p.picture.id for p in list_pictures(storage, 1)] == [picture], "a letter is no picture"
    letters.set_read(storage, letter, True, "Ada", NOW)
    assert reasons(storage, picture) == ()
    assert letters.letter(storage, letter).read_by == "Ada"
    letters.set_read(storage, letter, False, "Bo", NOW)
    assert reasons(storage, picture) == ("letter",)


def test_a_letter_holds_what_a_person_has_allowed_and_what_comes_later(storage, config, shown):
    number, picture = shown
    add_consent(storage, number, GIVEN, NOW)
    taken(storage, config, mail("ann@x.org", "About my picture ..."))
    assert reasons(storage, picture) == ("letter",)
    (later, other) = taken(
        storage, config, mail("ann@x.org", HELLO, "Another", 91), mail("bo@x.org", HELLO, "Moon", 92)
    )
    assert reasons(storage, picture_of(storage, later)) == ("letter",)
    assert reasons(storage, picture_of(storage, other)) == ()


def test_a_letter_from_another_address_is_joined_by_what_it_answers(storage, config, shown):
    number, picture = shown
    replies.keep(storage, number, "ann@x.org", "Re: Moon", "Dear Ann", None, 0, "Ada", NOW)
    replies.approve(storage, number, 1, "<ours@x.org>", "Ada", NOW)
    taken(storage, config, mail("ann@work.org", "Please do not.", In_Reply_To="<ours@x.org>"))
    assert reasons(storage, picture) == ("refused", "letter")
    for found in letters.unread(storage, 10):
        letters.set_read(storage, found.id, True, "Ada", NOW)
    sent = read_picture(storage, picture).submission.arrival.message_id
    taken(storage, config, mail("ann@home.org", "Changed my mind.", References=f"<other@x.org> {sent}"))
    assert reasons(storage, picture) == ("refused", "letter")


def test_an_address_in_a_broken_from_line_or_beside_it_still_holds(storage, config, shown):
    _, picture = shown
    for heads in (
        {"From": "Ann Lee ann@x.org"},
        {"From": '"Ann" <b>x</b> <ANN@x.org>'},
        {"From": "Form <form@service.org>", "Reply_To": "ann@x.org"},
    ):
        taken(storage, config, mail("ann@x.org", f"Not on air please. {heads}", **heads))
        assert reasons(storage, picture) == ("letter",), heads
        for found in letters.unread(storage, 10):
            letters.set_read(storage, found.id, True, "Ada", NOW)


def test_a_forms_mail_is_held_and_forgotten_by_its_writer(storage, config):
    """Others write by the same form: one letter of theirs holds nothing of hers."""
    heads = {"From": "Form <form@service.org>"}
    hers, his = taken(
        storage,
        config,
        mail("ann@x.org", HELLO, "Moon", 90, Reply_To="Ann <ann@x.org>", **heads),
        mail("bo@x.org", HELLO, "Moon", 91, Reply_To="Bo <bo@x.org>", **heads),
    )
    found = read_picture(storage, picture_of(storage, hers)).submission.arrival
    assert (found.sender_name, found.sender_address) == ("Ann", "ann@x.org")
    taken(storage, config, mail("bo@x.org", "Please delete it.", Reply_To="bo@x.org", **heads))
    assert reasons(storage, picture_of(storage, his)) == ("letter",)
    assert reasons(storage, picture_of(storage, hers)) == ()
    assert forget(storage, _media(config), "bo@x.org", NOW).submissions == 2
    assert forget(storage, _media(config), "form@service.org", NOW).submissions == 1, "all addresses are known"


def test_answers_to_a_person_go_where_reply_to_says_and_both_addresses_reach_it(storage, config):
    (number,) = taken(storage, config, mail("ann@x.org", HELLO, "Moon", 90, Reply_To="ann@work.org"))
    picture = picture_of(storage, number)
    page = application(config).test_client().get(f"/pictures/{picture}/reply").text
    assert "ann@work.org" in page
    taken(storage, config, mail("ann@work.org", "Please delete my picture."))
    assert reasons(storage, picture) == ("letter",)
    assert letters.pictures_held_by(storage, letters.unread(storage, 9)[0].id) == (picture,)
    assert forget(storage, _media(config), "ANN@work.org", NOW).submissions == 2


@pytest.mark.parametrize(
    "heads",
    [
        {"Auto_Submitted": "auto-replied"},
        {"Auto_Submitted": "auto-generated; x=1"},
        {"Precedence": "bulk"},
        {"Precedence": "auto_reply"},
        {"From": "MAILER-DAEMON@x.org"},
        {"Return_Path": "<>"},
    ],
    ids=lambda heads: next(iter(heads.values())),
)
def test_automatic_mail_stands_apart_and_holds_nothing(storage, config, shown, heads):
    _, picture = shown
    (number,) = taken(storage, config, mail("ann@x.org", "I am away until Monday.", **heads))
    assert reasons(storage, picture) == ()
    assert letters.unread(storage, 10) == ()
    assert [x.id for x in letters.read_letters(storage, 10)] == [number]


@pytest.mark.parametrize(
    "heads",
    [{"Auto_Submitted": "no"}, {"Precedence": "list"}, {"Return_Path": "<ann@x.org>"}],
    ids=lambda heads: next(iter(heads.values())),
)
def test_a_persons_mail_is_not_taken_for_a_machines(storage, config, shown, heads):
    taken(storage, config, mail("ann@x.org", "I am away until Monday.", **heads))
    assert reasons(storage, shown[1]) == ("letter",)


def test_a_signatures_logo_does_not_make_a_picture_of_a_letter(storage, config, shown):
    _, picture = shown
    taken(storage, config, mail("ann@x.org", "Не показвайте снимката.", "", 200, size=120))
    assert reasons(storage, picture) == ("letter",)


def test_a_mail_with_a_picture_that_takes_another_back_holds(storage, config, shown):
    _, picture = shown
    taken(storage, config, mail("ann@x.org", "Please delete my last picture and do not show it.", "", 93))
    assert reasons(storage, picture) == ("letter",)


def test_another_picture_with_harmless_words_holds_nothing(storage, config, shown):
    taken(storage, config, mail("ann@x.org", "Here is a better one than the previous picture.", "Moon", 94))
    assert reasons(storage, shown[1]) == ()
    assert letters.unread(storage, 10) == ()


def test_the_same_letter_is_stored_once_and_another_under_its_identifier_is_not_lost(storage, config, shown):
    one = mail("ann@x.org", "Hello again", Message_ID="<same@x.org>")
    again = mail("ann@x.org", "Hello again", Message_ID="<same@x.org>", X_Copy="2")
    forged = mail("ann@x.org", "Please delete my picture", Message_ID="<same@x.org>")
    taken(storage, config, one, again, forged)
    assert len(letters.unread(storage, 10)) == 2


def test_a_picture_already_in_the_plan_goes_out_of_it(storage, config, shown):
    config = with_terms(config)
    item = pick(storage, shown[1])
    edition, studio = list_editions(storage)[0], Studio(storage, config)
    plan = make_plan(studio, edition, "hd", 60.0)
    (planned,) = plan.items
    mark = planned.layers[0].url.rpartition("/")[2]
    assert layer_png(studio, edition, item, planned.layers[0].name, mark)
    taken(storage, config, mail("ann@x.org", "لا أريد عرض الصورة بعد الآن."))
    plan = make_plan(studio, edition, "hd", 60.0)
    assert (plan.items, plan.left_out) == (
        (),
        (("Ann", "Cannot go on air: a letter from its sender waits to be read."),),
    )
    with pytest.raises(NotStoredError):
        layer_png(studio, edition, item, planned.layers[0].name, mark)


def token_of(client, path):
    return re.search(r'name="token" value="([^"]+)"', client.get(path).text).group(1)


def test_the_desk_from_the_inbox_to_what_was_decided(storage, config, shown):
    config = with_terms(config)
    number, picture = shown
    item = pick(storage, picture)
    (letter,) = taken(
        storage,
        config,
        mail("ann@x.org", "<script>alert(1)</script> Моля, не я показвайте.\n\n> May we show it?\n-- \nAnn", "Moon"),
    )
    client = application(config).test_client()
    inbox = client.get("/").text
    assert "Letters to read" in inbox
    assert "Holds one picture of this sender until it is read." in inbox
    assert "Моля, не я показвайте." in inbox
    assert "Held: a letter from its sender waits to be read." in inbox
    assert "Draft a reply" not in inbox
    page = client.get(f"/letters/{letter}").text
    assert "&lt;script&gt;alert(1)&lt;/script&gt; Моля" in page
    assert "<script>alert" not in page
    assert re.search(r"<details[^>]*><summary>Quoted text</summary><div[^>]*>&gt; May we show it\?</div>", page)
    assert f"/rundown/12#item-{item}" in page
    assert "moondesk forget ann@x.org" in page
    sent = client.post(f"/letters/{letter}", data={"token": token_of(client, f"/letters/{letter}"), "action": "refuse"})
    assert sent.status_code == 303
    assert reasons(storage, picture) == ("refused",)
    assert read_picture(storage, picture).submission.arrival.consents[-1].noted_by
    assert "Read by" in client.get(f"/letters/{letter}").text
    assert "Letters to read" not in client.get("/").text
    assert client.get(f"/letters/{number}").status_code == 404, "a picture's mail is no letter"
    assert client.post(f"/letters/{letter}", data={"action": "again"}).status_code in (400, 403), "without the token"


def test_the_picture_page_shows_the_words_it_came_with(storage, config):
    (number,) = taken(storage, config, mail("ann@x.org", "Добър вечер!\n\nСнимах <b>Луната</b>.\n> quoted", "Луна", 90))
    client = application(config).test_client()
    page = client.get(f"/pictures/{picture_of(storage, number)}").text
    assert "The letter" in page
    assert "Снимах &lt;b&gt;Луната&lt;/b&gt;." in page
    assert "<summary>Quoted text</summary>" in page
    storage.execute("delete from mail_texts")  # a store of an older release: it is read from the whole mail
    assert "Снимах &lt;b&gt;Луната&lt;/b&gt;." in client.get(f"/pictures/{picture_of(storage, number)}").text
    assert letters.text_of(storage, number) is not None
    erase_old_mails(storage, _media(config), 1, NOW + timedelta(days=3))
    page = client.get(f"/pictures/{picture_of(storage, number)}").text
    assert "Снимах" not in page
    assert "Its text is not kept any more" in page


def _media(config):
    from moondesk.service.store.media import Media

    return Media(config.data_dir)


def test_a_letters_text_goes_with_the_mail_and_the_hold_stays(storage, config, shown):
    (letter,) = taken(storage, config, mail("ann@x.org", "Bitte löschen Sie mein Bild."))
    erase_old_mails(storage, _media(config), 1, NOW + timedelta(days=3))
    assert letters.text_of(storage, letter) is None
    assert reasons(storage, shown[1]) == ("letter",)
    assert b"Bitte l" not in (config.data_dir / "moondesk.db").read_bytes()


def test_forgetting_a_sender_erases_letters_and_their_text(storage, config, shown):
    (letter,) = taken(storage, config, mail("Ann@x.org", "Bitte löschen Sie mein Bild."))
    assert forget(storage, _media(config), "ann@x.org", NOW).submissions == 2
    for table in ("letters", "mail_texts", "letter_holds", "submissions"):
        assert storage.read(f"select * from {table}") == [], table
    assert [p for p in (config.data_dir / "originals").rglob("*") if p.is_file()] == []
    with pytest.raises(NotStoredError):
        letters.letter(storage, letter)


def test_the_api_tells_of_letters_and_gives_their_text_to_the_desk_alone(storage, config, shown):
    number, picture = shown
    (letter,) = taken(storage, config, mail("ann@x.org", "Nein danke", "Moon"))
    account = make_account(config.data_dir)
    token = logins.add_token(storage, account.id, "a program", "helper", NOW, "Bo")
    stranger = application(with_terms(config)).test_client()
    assert stranger.get(f"/api/submissions/{letter}/letter").status_code == 401
    client = application(with_terms(config)).test_client()
    client.environ_base["HTTP_AUTHORIZATION"] = f"Bearer {token}"
    told = client.get(f"/api/submissions/{letter}").json
    assert (told["pictures"], told["letter"]) == ([], {"kind": "letter", "read_utc": None, "read_by": None})
    assert client.get(f"/api/submissions/{number}").json["held_by"] == [letter]
    assert client.get(f"/api/submissions/{letter}/letter").json == {
        "submission_id": letter,
        "kept": True,
        "parts": [{"kind": "own", "text": "Nein danke"}],
    }
    assert client.get(f"/api/pictures/{picture}").json["consent"]["stops"] == [
        "Cannot go on air: a letter from its sender waits to be read."
    ]
    done = client.put(f"/api/submissions/{letter}/letter/read", json={"read": True})
    assert done.status_code == 200
    assert done.json["letter"]["read_by"]
    assert client.get(f"/api/pictures/{picture}").json["consent"]["may_be_shown"]
    assert client.put(f"/api/submissions/{number}/letter/read", json={"read": True}).status_code == 404
    assert client.get("/api/submissions/999/letter").status_code == 404


def test_no_reply_is_drafted_to_a_letter(storage, config, shown):
    taken(storage, config, mail("ann@x.org", "Please delete my picture.", "Moon"))
    client = application(config).test_client()
    assert "INBOX" not in client.get("/letters").text
    assert client.get("/replies").status_code == 200


def test_mails_of_an_older_store_become_letters_that_hold(config, monkeypatch):
    """The tables as they were before letters, with what an older release made of such mails."""
    with Storage(config.data_dir) as storage:
        (number,) = taken(storage, config, mail("ann@x.org", HELLO, "Moon", 90))
        picture = picture_of(storage, number)
        old = Arrival(
            key="mail:" + "5" * 64,
            source="mail",
            origin="m.eml",
            enclosures=(
                Enclosure(
                    given_name="INBOX 3",
                    size_bytes=99,
                    sha256="5" * 64,
                    media_type="message/rfc822",
                    refusal=sentences_of(
                        "The mail has no picture attached. Please ask for the picture as an attachment."
                    ),
                ),
            ),
            sender_name="Ann",
            sender_address="Ann@X.org",
            subject="Please delete",
        )
        letter = add_submission(storage, 1, old, NOW)
        replies.keep(storage, letter, "ann@x.org", "Re: Moon", "Dear Ann", None, 0, "Ada", NOW)
        with storage.writing() as execute:
            for sql in (
                "drop table letter_holds",
                "drop table letters",
                "drop table mail_texts",
                "drop index submissions_sender_key",
                "alter table submissions drop column words_read",
                "alter table submissions drop column sender_key",
                "delete from _sqlite_migrations where name in ('m023_letters', 'm027_withdrawals')",
            ):
                execute(sql)
    with Storage(config.data_dir) as storage:
        assert reasons(storage, picture) == ("unclear", "letter"), "nobody has looked at the words of what is old"
        (found,) = letters.unread(storage, 10)
        assert (found.id, found.holds) == (letter, True)
        assert [p.picture.id for p in list_pictures(storage, 1)] == [picture]
        add_consent(storage, number, GIVEN, NOW)
        letters.set_read(storage, letter, True, "Ada", NOW)
        assert reasons(storage, picture) == ()
        assert storage.read("pragma foreign_key_check") == []
        client = application(config).test_client()
        assert "Its text is not kept any more" in client.get(f"/letters/{letter}").text
        assert "Ann" in client.get("/replies").text


def test_the_parts_of_a_text_are_kept_in_order():
    message = EmailMessage()
    message["From"] = "ann@x.org"
    message.set_content("Hello,\n\n> quoted\nan answer\n-- \nAnn\nSent from my phone")
    assert read_mail(message.as_bytes()).body.parts == (
        LetterPart("own", "Hello,"),
        LetterPart("quoted", "> quoted"),
        LetterPart("own", "an answer"),
        LetterPart("signature", "--\nAnn\nSent from my phone"),
    )
    assert json.dumps([p.kind for p in read_mail(message.as_bytes()).body.parts])

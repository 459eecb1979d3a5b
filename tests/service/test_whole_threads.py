"""Three threads from the first mail to their end, over the line: question, answer, withdrawal; by IMAP in, by SMTP out.

The mails come by a server's mailbox and ours leave by another (aiosmtpd): what the sender answers is what was really
sent. Against the IMAP server of `imap_double`, and by hand against a real one (dovecot).
"""

from __future__ import annotations

import email
import re
from email.message import EmailMessage

import desk_people
import pytest
from fakes import png
from imap_double import MailServer
from imap_servers import Dovecot, why_no_dovecot
from letters_desk import NOW, application, load, with_terms
from smtp_servers import mail_server

from moondesk.service.intake.imap import MailboxAccount
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.reading import Reader
from moondesk.service.intake.watch import Watch
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.programme.permission import permission_of
from moondesk.service.replies.message import From
from moondesk.service.replies.sending import Post, send_due
from moondesk.service.replies.smtp import Server
from moondesk.service.store import letters, replies
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ConsentRecord
from moondesk.service.store.submissions import add_consent

PROGRAMME = "moon@evening.example"


@pytest.fixture(
    params=[
        "double",
        pytest.param(
            "dovecot", marks=[pytest.mark.slow, pytest.mark.skipif(bool(why_no_dovecot()), reason=why_no_dovecot())]
        ),
    ]
)
def thread(request, storage, media, config):
    with (MailServer if request.param == "double" else Dovecot)([]) as mailbox, mail_server() as (given, port):
        yield Thread(storage, media, with_terms(config), mailbox, given, port)


class Thread:
    """The programme's side of a thread, and the sender's."""

    def __init__(self, storage, media, config, mailbox, given, port):
        self.storage, self.media, self.config, self.mailbox, self.given = storage, media, config, mailbox, given
        self.post = Post(Server(host="127.0.0.1", port=port, security="plain"), From("The Evening Sky", PROGRAMME))
        self.client = application(self.config).test_client()
        desk_people.log_in(self.client, config.data_dir, desk_people.make_account(config.data_dir), NOW)
        self._count = 0

    def write(self, sender, subject, words, *, answers="", picture=0):
        """The sender writes; what came in is taken and placed. The submission's id."""
        self._count += 1
        message = EmailMessage()
        message["From"], message["To"], message["Subject"] = sender, PROGRAMME, subject
        message["Date"] = f"Thu, 26 Mar 2026 17:{self._count:02d}:00 +0100"
        message["Message-ID"] = f"<{self._count}.{abs(hash(words))}@sender.example>"
        if answers:
            message["In-Reply-To"] = message["References"] = answers
        message.set_content(words)
        if picture:
            message.add_attachment(png(300, 300, shade=picture), maintype="image", subtype="png", filename="moon.png")
        self.mailbox.deliver(message.as_bytes())
        watch = Watch(
            account=MailboxAccount(host="127.0.0.1", user="bo", port=self.mailbox.port, plain=True),
            password="secret",
            intake=self.intake,
            say=lambda _: None,
            stopped=lambda: False,
            pause=lambda _: None,
            answer_seconds=10.0,
        )
        (item,) = list(watch.run(once=True))
        assert item.outcome == "taken", item
        list(place_waiting(self.storage, self.media, self.config, load, "fake 1", lambda: NOW, InProcess()))
        return self.storage.read("select max(id) as id from submissions")[0]["id"]

    def intake(self):
        return Intake(
            storage=self.storage,
            media=self.media,
            edition=open_edition(self.storage, self.config, NOW, lambda _: None),
            config=self.config,
            now=lambda: NOW,
            reader=Reader(InProcess()),
        )

    def ask(self, number, to, words):
        """The programme asks; the Message-ID under which the question really went out."""
        self.send(number, to, words)
        add_consent(self.storage, number, ConsentRecord(state="asked", kind="mail", noted_by="Ada"), NOW)
        return email.message_from_bytes(self.given.mails[-1])["Message-ID"]

    def send(self, number, to, words):
        before = len(self.given.mails)
        found = replies.reply_of(self.storage, number)
        kept = replies.keep(
            self.storage, number, to, "Your Moon", words, None, found.version if found else 0, "Ada", NOW
        )
        replies.approve(self.storage, number, kept.version, f"<ours.{number}@evening.example>", "Ada", NOW)
        ends = list(send_due(self.storage, self.config, self.post, lambda: NOW))
        assert [state for _, state, _ in ends] == ["sent"], ends
        assert len(self.given.mails) == before + 1

    def reasons(self, number):
        (row,) = self.storage.read("select id from pictures where submission_id = ?", [number])
        return permission_of(list_by_id(self.storage, [row["id"]])[0], self.config.entry_terms).reasons

    def press(self, address, page, **fields):
        token = re.search(r'name="token" value="([^"]+)"', self.client.get(page).text).group(1)
        return self.client.post(address, data={"token": token, **fields})

    def read(self, letter):
        assert self.press(f"/letters/{letter}", f"/letters/{letter}", action="read").status_code == 303


def test_a_question_answered_with_a_yes_ends_on_air_when_somebody_has_confirmed_it(thread):
    number = thread.write("Ann Lee <ann@x.org>", "Moon", "Here is my Moon. May I ask who else sees it?", picture=90)
    assert thread.reasons(number) == ("unclear",)
    asked = thread.ask(number, "ann@x.org", "May we show it?")
    letter = thread.write(
        "Ann Lee <ann@x.org>", "Re: Your Moon", "With pleasure, you may show it on air.", answers=asked
    )
    assert thread.reasons(number) == ("suggested", "letter")
    thread.read(letter)
    assert thread.reasons(number) == ("suggested",)
    (picture,) = (r["id"] for r in thread.storage.read("select id from pictures where submission_id = ?", [number]))
    (fact,) = (
        r["id"]
        for r in thread.storage.read(
            "select id from suggestions where submission_id = ? and letter_id = ?", [number, letter]
        )
    )
    assert thread.press(f"/pictures/{picture}/facts/{fact}", f"/pictures/{picture}", action="right").status_code == 303
    assert thread.reasons(number) == ()


def test_a_question_answered_with_a_no_from_another_address_ends_refused(thread):
    number = thread.write("Jens Ohm <jens@x.org>", "Mond", "Guten Abend, anbei der Mond von gestern.", picture=100)
    asked = thread.ask(number, "jens@x.org", "Dürfen wir das Bild zeigen?")
    letter = thread.write(
        "J. Ohm <ohm@firma.example>", "AW: Ihr Mond", "Bitte nicht, das Bild ist nur für Sie gedacht.", answers=asked
    )
    assert thread.reasons(number) == ("refused", "letter")
    thread.read(letter)
    assert thread.reasons(number) == ("refused",)


def test_a_yes_that_is_taken_back_holds_at_once_and_is_erased_and_said_to_be(thread):
    number = thread.write("Вера <vera@x.org>", "Луна", "Здравейте, това е Луната снощи.", picture=110)
    asked = thread.ask(number, "vera@x.org", "Може ли да покажем снимката?")
    letter = thread.write("Вера <vera@x.org>", "Re: Луна", "Да, може да я покажете в предаването.", answers=asked)
    thread.read(letter)
    add_consent(thread.storage, number, ConsentRecord(state="given", kind="mail", evidence="Да", noted_by="Ada"), NOW)
    assert thread.reasons(number) == ()
    back = thread.write("Вера <vera@x.org>", "Луна", "Размислих, моля изтрийте снимката ми.")
    assert "letter" in thread.reasons(number)
    assert letters.letter(thread.storage, back).holds
    page = thread.client.get(f"/letters/{back}").text
    assert "Erase" in page
    done = thread.press(f"/letters/{back}/erase", f"/letters/{back}", submission=str(number))
    assert done.status_code == 303
    assert thread.storage.read("select 1 from submissions where id = ?", [number]) == []
    assert not list((thread.config.data_dir / "originals").rglob("*.png"))
    draft = replies.reply_of(thread.storage, back)
    assert draft is not None
    assert draft.to == "vera@x.org"
    thread.send(back, draft.to, draft.body)
    sent = email.message_from_bytes(thread.given.mails[-1])
    assert "vera@x.org" in sent["To"]
    assert "изтри" in sent.get_payload(decode=True).decode() if not sent.is_multipart() else True

"""mbox files and Maildirs: every mail once, byte for byte, against the standard library's own writers."""

from __future__ import annotations

import io
import mailbox
from email.message import EmailMessage

import pytest

from moondesk.records import NotFound
from moondesk.service.intake.mailbox_files import is_maildir, is_mbox, maildir_files, mbox_mails

START = b"From a@example.org Wed Mar 25 21:05:00 2026\n"


def mails(data: bytes, most: int = 10_000_000) -> list[bytes | NotFound]:
    return list(mbox_mails(io.BytesIO(data), most))


def message(number: int, body: str) -> EmailMessage:
    made = EmailMessage()
    made["From"] = "a@example.org"
    made["Subject"] = f"Moon {number}"
    made.set_content(body)
    return made


def test_what_the_standard_library_wrote_is_read_back(tmp_path):
    bodies = ["Hello\n", "From here one sees the Moon.\n", "a\n\nFrom the bridge at 21:05 in 2026\n", "\n\n\n"]
    box = mailbox.mbox(tmp_path / "box")
    for number, body in enumerate(bodies):
        box.add(message(number, body))
    box.close()
    data = (tmp_path / "box").read_bytes()
    assert is_mbox(data[:1024])
    expected = [message(n, b).as_bytes().rstrip(b"\n") for n, b in enumerate(bodies)]
    assert [m.rstrip(b"\n") for m in mails(data)] == expected


@pytest.mark.parametrize(
    "start",
    [
        START,
        START.replace(b"\n", b"\r\n"),
        b"From MAILER-DAEMON Wed Mar  4 01:05:00 2026\n",
        b"From a@b Wed Mar 25 21:05:00 +0100 2026\n",
        b"From a@b Wed Mar 25 21:05 2026\n",
        b"From - Wed Mar 25 21:05:00 2026\n",
    ],
)
def test_the_ways_of_writing_the_line_between(start):
    end = b"\r\n" if start.endswith(b"\r\n") else b"\n"
    data = (start + b"Subject: 1" + end + end + b"one" + end + end) * 2
    assert is_mbox(data)
    assert mails(data) == [b"Subject: 1" + end + end + b"one" + end] * 2


def test_only_a_from_line_after_an_empty_one_and_before_a_header_starts_a_mail():
    body = (
        b"Subject: 1\n\nText\n" + START + b"Not: a header of a new mail\n\n" + START + b"no header follows\n\n"
        b"From my window at noon\nSubject: no date above\n\n>From the bridge\n>>From further\n"
    )
    (mail,) = mails(START + body)
    assert mail == body.replace(b"\n>From", b"\nFrom").replace(b"\n>>From", b"\n>From")


def test_a_mail_that_is_too_large_costs_itself():
    data = START + b"Subject: 1\n\n" + b"x" * 500_000 + b"\n\n" + START + b"Subject: 2\n\ntwo\n"
    large, small = mails(data, 100_000)
    assert isinstance(large, NotFound)
    assert large.reason == "The mail is larger than 0 MB."
    assert small == b"Subject: 2\n\ntwo\n"


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"\n",
        b"From",
        b"From here on",
        b"From a b c\nSubject: x\n",
        b"\0" * 2000,
        b"Subject: x\n\nFrom a@b Wed Mar 25 21:05:00 2026\n",
    ],
)
def test_what_is_no_mbox(data):
    assert not is_mbox(data[:1024])


def test_what_stands_before_the_first_mail_is_no_mail():
    assert mails(b"junk\n\n") == []
    assert mails(b"") == []


def test_a_maildir_by_the_standard_library(tmp_path):
    box = mailbox.Maildir(tmp_path / "box")
    kept = box.add(message(1, "one"))
    trashed, draft = mailbox.MaildirMessage(message(2, "two")), mailbox.MaildirMessage(message(3, "three"))
    trashed.set_subdir("cur")
    trashed.set_flags("ST")
    draft.set_subdir("cur")
    draft.set_flags("D")
    seen = mailbox.MaildirMessage(message(4, "four"))
    seen.set_subdir("cur")
    seen.set_flags("S")
    for other in (trashed, draft, seen):
        box.add(other)
    (tmp_path / "box" / "tmp" / "arriving").write_bytes(b"half a ma")
    first = next((tmp_path / "box" / "new").glob(f"{kept}*"))
    first.rename(first.with_name("1000000000.M9Q1.host"))  # before .M10, as the numbers are
    late = next(p for p in (tmp_path / "box" / "cur").iterdir() if b"four" in p.read_bytes())
    late.rename(late.with_name("1000000000.M10Q2.host:2,S"))
    assert is_maildir(tmp_path / "box")
    assert not is_maildir(tmp_path)
    found = maildir_files(tmp_path / "box")
    assert len(found) == 2
    assert b"one" in found[0].read_bytes()
    assert b"four" in found[1].read_bytes()

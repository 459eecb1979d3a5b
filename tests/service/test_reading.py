"""Untrusted mails and archives are read in a child: what they do to it costs only themselves, and is told."""

from __future__ import annotations

import os
import time
from concurrent.futures import Executor
from dataclasses import replace
from datetime import UTC, datetime
from email.message import EmailMessage

import fakes
import pytest

from moondesk.sentences import sentences_of
from moondesk.service.intake import reading
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.reading import MAIL_TYPE, Reader, mail_arrival
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.jobs.child_pool import ChildPool
from moondesk.service.jobs.executors import InProcess
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.store.records import Arrival
from moondesk.service.store.strays import original_hashes
from moondesk.service.store.submissions import each_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


def mail(*pictures: bytes, subject: str = "Moon") -> bytes:
    message = EmailMessage()
    message["From"] = "Bo <bo@example.org>"
    message["Subject"] = subject
    message.set_content("Hello")
    for k, data in enumerate(pictures):
        message.add_attachment(data, maintype="image", subtype="png", filename=f"{k}.png")
    return message.as_bytes()


def hostile(received: ReceivedItem, key: str, limits: IntakeLimits) -> tuple[Arrival, list[bytes]]:
    """Stands in for a parser that a mail gets the better of."""
    if b"Subject: dies" in received.data:
        os._exit(9)
    if b"Subject: hangs" in received.data:
        time.sleep(60)
    if b"Subject: eats" in received.data:
        raise AssertionError(len(bytes(10**10)))
    if b"Subject: raises" in received.data:
        raise IndexError("planted")
    return mail_arrival(received, key, limits)


class Planted(Executor):
    def __init__(self, pool):
        self.pool = pool

    def submit(self, fn, /, *args, **kwargs):
        return self.pool.submit(hostile, *args, **kwargs)


def test_each_hostile_mail_is_put_aside_with_its_reason_and_the_rest_goes_on(storage, media, config, caplog):
    edition = open_edition(storage, config, NOW, lambda _: None)
    with ChildPool(1, 6.0, ["test_reading"], memory_bytes=2_000_000_000) as pool:
        intake = Intake(
            storage=storage, media=media, edition=edition, config=config, now=lambda: NOW, reader=Reader(Planted(pool))
        )
        items = {}
        for subject in ("fine", "dies", "hangs", "eats", "raises", "fine too"):
            data = mail(fakes.png(shade=len(subject)), subject=subject)
            items[subject] = intake.take(ReceivedItem(data=data, origin=subject, name=f"{subject}.eml", source="mail"))
    assert {k: i.outcome for k, i in items.items()} == {
        "fine": "taken",
        "dies": "refused",
        "hangs": "refused",
        "eats": "refused",
        "raises": "refused",
        "fine too": "taken",
    }
    assert items["dies"].sentence == (
        "dies.eml: The mail made the program that reads it stop. It is put aside; moondesk retry reads it again."
    )
    assert "took longer than 6 s" in items["hangs"].sentence
    assert "more memory than it may" in items["eats"].sentence
    assert "cannot be read (IndexError)" in items["raises"].sentence
    assert [line.pictures[0][0].media_type for line in each_submission(storage)][1] == MAIL_TYPE
    for sha in original_hashes(storage):  # the bytes of all of them are kept
        assert media.path(sha)


def test_nothing_is_kept_that_nothing_refers_to(storage, media, config):
    """What no row names could never be erased when its sender asks for it."""
    message = EmailMessage()
    message.set_content("Hello")
    message.add_attachment(b"BEGIN:VCARD", maintype="text", subtype="vcard", filename="me.vcf")
    message.add_attachment(fakes.png(), maintype="image", subtype="png", filename="a.png")
    edition = open_edition(storage, config, NOW, lambda _: None)
    Intake(
        storage=storage, media=media, edition=edition, config=config, now=lambda: NOW, reader=Reader(InProcess())
    ).take(ReceivedItem(data=message.as_bytes(), origin="m", name="m.eml", source="mail"))
    kept = {path.name for path in (media.root / "originals").rglob("*") if path.is_file()}
    assert kept == set(original_hashes(storage))


def test_only_the_head_of_a_mail_that_is_too_large(storage, media, config):
    head = mail(subject="Huge").partition(b"\n\n")[0] + b"\n\n"
    arrival, contents = Reader(InProcess()).arrival(
        ReceivedItem(
            data=head,
            origin="INBOX 7",
            name="INBOX 7",
            source="mail",
            refusal=sentences_of("The mail is larger than 80 MB."),
            size_bytes=90_000_000,
        ),
        "mail:1",
        config.limits,
    )
    assert (arrival.sender_address, arrival.subject, contents) == ("bo@example.org", "Huge", [head])
    assert (arrival.enclosures[0].size_bytes, arrival.enclosures[0].refused) == (
        90_000_000,
        "The mail is larger than 80 MB.",
    )


def child_id() -> int:
    return os.getpid()


def written(path: str) -> int:
    with open(path, "wb") as file:
        return file.write(b"x")


def test_the_reader_of_this_process_is_another_process_that_writes_no_file(tmp_path):
    pool = reading.shared_reader()._pool
    assert pool.submit(child_id).result() != os.getpid()
    with pytest.raises(OSError, match=r"not permitted|Permission denied|Read-only|No such file"):
        pool.submit(written, str(tmp_path / "a")).result()


@pytest.mark.parametrize("wrong", ["bytes left out", "another's name", "a receipt"])
def test_what_a_reader_tells_of_a_mail_is_about_that_mail(wrong):
    """A child that a hostile mail has taken over answers for its own mail alone."""

    class Lying(InProcess):
        def submit(self, fn, /, *args, **kwargs):
            arrival, contents = fn(*args, **kwargs)
            if wrong == "bytes left out":
                contents = []
            elif wrong == "another's name":
                arrival = replace(arrival, key="mail:another", origin="another.eml", source="desk")
            else:
                arrival = replace(arrival, receipt="0" * 64)
            return super().submit(lambda: (arrival, contents))

    received = ReceivedItem(data=mail(fakes.png()), origin="mine", name="mine.eml", source="mail")
    arrival, contents = Reader(Lying()).arrival(received, "mail:1", IntakeLimits())
    assert (arrival.key, arrival.origin, arrival.source, arrival.receipt) == ("mail:1", "mine", "mail", None)
    assert contents[0] == received.data
    assert bool(arrival.enclosures[0].refused) == (wrong == "bytes left out")

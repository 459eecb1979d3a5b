"""The store's part of the forms: the new sources, receipts, and a store of before brought up to date."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import fakes
import pytest
from fakes import add_edition

from moondesk.service.intake.forms import SentFile, SubmissionForm, take_form
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.store import rundowns
from moondesk.service.store.erasures import files_to_erase
from moondesk.service.store.forget import erase_files
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.receipts import receipt, receipt_hash, withdraw
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure, Receipt
from moondesk.service.store.strays import original_hashes
from moondesk.service.store.submissions import add_submission, each_submission

NOW = datetime(2026, 3, 25, 21, 0, tzinfo=UTC)
SHA = "ab" * 32


def arrival(number: int = 1, token: str | None = "a token") -> Arrival:
    picture = Enclosure(given_name="a.jpg", size_bytes=9, sha256=SHA, media_type="image/jpeg")
    return Arrival(
        key=f"form:{number:064x}",
        source="form",
        origin="upload page",
        enclosures=(picture,),
        received_utc=NOW,
        sender_name="Ilse",
        sender_address="ilse@example.org",
        credit_line="Ilse from Vienna",
        channel="letter box",
        link="https://example.org/1",
        receipt=receipt_hash(token) if token else None,
    )


def test_a_form_comes_back_as_it_was_stored(storage):
    edition = add_edition(storage, EditionPlan(number=1))
    add_submission(storage, edition.id, arrival(), NOW)
    assert next(iter(each_submission(storage))).submission.arrival == arrival()


def test_a_receipt_is_found_by_its_token_alone(storage):
    edition = add_edition(storage, EditionPlan(number=1))
    number = add_submission(storage, edition.id, arrival(), NOW)
    add_submission(storage, edition.id, arrival(2, None), NOW)
    found = receipt(storage, "a token")
    assert (found.submission_id, found.stored_utc, found.credit) == (number, NOW, "Ilse from Vienna")
    assert [(p.given_name, p.status, p.aired_utc) for p in found.pictures] == [("a.jpg", None, None)]
    for wrong in ("", "another", receipt_hash("a token"), "a toke_"):
        assert receipt(storage, wrong) is None, wrong


def test_a_receipt_says_on_air_and_later_erased(storage):
    edition = add_edition(storage, EditionPlan(number=1))
    add_submission(storage, edition.id, arrival(), NOW)
    (listed,) = list_pictures(storage, edition.id)
    picked = rundowns.add(storage, 1, listed.picture.id, "Ida", NOW)
    rundowns.note_aired(storage, 1, [picked.item_id], NOW, "Ida", NOW)
    assert receipt(storage, "a token").pictures[0].aired_utc == NOW
    withdraw(storage, "a token", NOW)
    assert receipt(storage, "a token") == Receipt(submission_id=None, erased_utc=NOW)
    assert sorted(files_to_erase(storage)) == sorted([SHA, f"{1:064x}"])


def test_the_token_itself_is_nowhere_in_the_store(storage, config):
    edition = add_edition(storage, EditionPlan(number=1))
    add_submission(storage, edition.id, arrival(token="a-very-secret-token"), NOW)
    for path in config.data_dir.iterdir():
        assert b"a-very-secret-token" not in path.read_bytes(), path.name


@pytest.fixture
def intake(storage, media, config):
    return Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )


def sent(intake, form_id: str, *pictures: bytes):
    files = [SentFile(f"{k}.png", io.BytesIO(p)) for k, p in enumerate(pictures)]
    return take_form(intake, SubmissionForm(source="form", form_id=form_id * 32, name="Ilse"), files, lambda key: key)


def missing(storage, media):
    return [sha for sha in original_hashes(storage) if not (media.root / "originals" / sha[:2] / sha).is_file()]


def test_what_was_noted_to_go_and_was_sent_again_stays(intake, storage, media):
    """The taking back was cut short after its transaction: the files are still noted when the same picture comes."""
    first = sent(intake, "1", fakes.png())
    withdraw(storage, first.key, NOW)
    assert len(files_to_erase(storage)) == 2
    sent(intake, "2", fakes.png())
    assert erase_files(storage, media) == 1  # the first form's own record
    assert (missing(storage, media), files_to_erase(storage)) == ([], ())


@pytest.mark.parametrize("mail", [False, True])
def test_what_is_erased_while_it_comes_in_again_is_kept_once_more(intake, storage, media, monkeypatch, mail):
    """The file was there when the taker looked, and was gone when it committed."""
    first = sent(intake, "1", fakes.png())
    withdraw(storage, first.key, NOW)
    add = add_submission

    def erased_just_before(*args):
        erase_files(storage, media)
        return add(*args)

    for room in ("intake", "forms"):
        monkeypatch.setattr(f"moondesk.service.intake.{room}.add_submission", erased_just_before)
    if mail:
        intake.take(ReceivedItem(data=fakes.png(), origin="a.png", name="a.png", source="folder"))
    else:
        sent(intake, "2", fakes.png())
    assert missing(storage, media) == []
    assert len(list(each_submission(storage))) == 1


def test_what_is_taken_back_while_it_is_placed_leaves_no_derived_file(intake, storage, media, config, monkeypatch):
    from moondesk.service.jobs import waiting

    first, place = sent(intake, "1", fakes.png()), waiting.in_worker

    def taken_back_meanwhile(run, load, job):
        placed = place(run, load, job)
        withdraw(storage, first.key, NOW)
        erase_files(storage, media)
        job.derived_folder.mkdir(parents=True, exist_ok=True)
        (job.derived_folder / "photo.jpg").write_bytes(b"late")
        return placed

    monkeypatch.setattr(waiting, "in_worker", taken_back_meanwhile)
    assert list(waiting.place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW)) == []
    for folder in ("derived", "originals"):
        assert [p for p in (media.root / folder).rglob("*") if p.is_file()] == []

"""Forgetting a person: nothing of theirs is left in any byte of the data folder, and nobody else's is gone."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from email.message import EmailMessage

import fakes
import pytest
from click.testing import CliRunner

from moondesk.service.cli.main import main
from moondesk.service.errors import BadInputError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.store import audit as audit_list
from moondesk.service.store.erasures import erase, files_to_erase
from moondesk.service.store.forget import erase_files, forget, submissions_of
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import each_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
SHARED = fakes.png(shade=50)


def mail(folder, name, sender, *pictures):
    message = EmailMessage()
    message["From"] = sender
    message["Subject"] = f"Moon of {sender.split()[0]}"
    message.set_content("With my 6 inch Dobsonian. You may show it.")
    for k, data in enumerate(pictures):
        message.add_attachment(data, maintype="image", subtype="png", filename=f"{sender.split()[0]}-{k}.png")
    (folder / name).write_bytes(message.as_bytes())


@pytest.fixture
def data(tmp_path, storage, media, config):
    folder = tmp_path / "in"
    folder.mkdir()
    mail(folder, "1.eml", "Zulfiqar Quendel <zulfiqar@quendel.example>", fakes.png(shade=1), SHARED)
    mail(folder, "2.eml", "Zulfiqar Quendel <Zulfiqar@Quendel.example>", fakes.png(shade=2))
    mail(folder, "3.eml", "Bo Lind <bo@example.org>", SHARED, fakes.png(shade=3))
    intake = Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )
    list(intake.take_path(folder))
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    return config.data_dir


def traces(data_dir, *words):
    found = []
    for path in data_dir.rglob("*"):
        if path.is_file():
            content = path.read_bytes().lower()
            found += [(path.name, w) for w in words if w.encode() in content or w in path.name.lower()]
    return found


def test_no_byte_of_them_is_left_and_others_stay(data, storage, media, config):
    assert traces(data, "zulfiqar")
    others = {line.submission.arrival.sender_name: line for line in each_submission(storage)}["Bo Lind"]
    done = forget(storage, media, "ZULFIQAR@quendel.example", NOW)
    assert (done.submissions, done.originals) == (2, 4)  # two mails, two pictures; the third is Bo's too
    assert traces(data, "zulfiqar", "quendel") == []
    assert others.asked[0], "their names stand in what is asked of a file that two have sent"
    assert list(each_submission(storage)) == [replace(others, asked=((), ()), twins=())]
    assert media.path(fakes_sha(SHARED)).read_bytes() == SHARED
    derived = {p.name for p in (data / "derived").glob("*/*")}
    assert derived == {e.sha256 for e, _ in others.pictures}
    assert audit_list.lines(storage, 1)[0].what == "a sender was forgotten: 2 submissions"


def fakes_sha(content: bytes) -> str:
    import hashlib

    return hashlib.sha256(content).hexdigest()


def test_a_run_that_was_cut_short_is_finished_by_the_next(data, storage, media):
    erase(storage, submissions_of(storage, "zulfiqar@quendel.example"), NOW)  # and the power went
    assert len(files_to_erase(storage)) == 4
    assert erase_files(storage, media) == 4
    assert traces(data, "zulfiqar") == []
    assert erase_files(storage, media) == 0


def test_an_address_is_not_a_name_and_a_name_not_an_address(data, storage):
    assert submissions_of(storage, "Zulfiqar Quendel") == ()  # known by address: the name may be another's too
    assert submissions_of(storage, "zulfiqar") == ()
    assert submissions_of(storage, "%") == ()
    with pytest.raises(BadInputError):
        submissions_of(storage, "  ")


def test_what_came_without_an_address_goes_by_name(folder, storage, media, config):
    intake = Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
    )
    list(intake.take_path(folder))
    assert forget(storage, media, "ilse", NOW).submissions == 1


def test_the_command_asks_first(data, config):
    def run(*args, answer=None):
        result = CliRunner().invoke(main, ["forget", *args, "--data", str(data)], input=answer)
        return result.exit_code, result.output

    assert run("nobody@example.org")[0] == 3
    assert run("bo@example.org", answer="n\n")[0] == 1
    with Storage(data) as storage:
        assert len(list(each_submission(storage))) == 3
    code, out = run("bo@example.org", "--yes")
    assert code == 0
    assert "1 submissions, 2 originals" in out
    with Storage(data) as storage:
        assert audit_list.lines(storage, 1)[0].who == "the command line"

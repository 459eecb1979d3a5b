"""Who was forgotten is gone from the next backup, and does not come back from an older one."""

from __future__ import annotations

import hashlib
import hmac
import json
import shutil
from datetime import timedelta

import fakes
import pytest
from click.testing import CliRunner
from test_forget import NOW, SHARED, mail, traces

from moondesk.service.cli.main import main
from moondesk.service.errors import BadInputError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.housekeeping import run_housekeeping_once
from moondesk.service.store.backup import Report, backup, check
from moondesk.service.store.forget import forget
from moondesk.service.store.media import Media
from moondesk.service.store.restoring import restore
from moondesk.service.store.senders import submissions_of
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import each_submission

ZULFIQAR, BO = "zulfiqar@quendel.example", "bo@example.org"


@pytest.fixture
def data(tmp_path, storage, media, config):
    folder = tmp_path / "in"
    folder.mkdir()
    mail(folder, "1.eml", "Zulfiqar Quendel <zulfiqar@quendel.example>", fakes.png(shade=1), SHARED)
    mail(folder, "2.eml", "Zulfiqar Quendel <Zulfiqar@Quendel.example>", fakes.png(shade=2))
    mail(folder, "3.eml", "Bo Lind <bo@example.org>", SHARED, fakes.png(shade=3))
    take(folder, storage, media, config, NOW)
    return config.data_dir


def take(path, storage, media, config, now):
    edition = open_edition(storage, config, now, lambda _: None)
    list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: now).take_path(path))


def senders(folder):
    with Storage(folder, read_only=True) as storage:
        return sorted(s.submission.arrival.sender_address.lower() for s in each_submission(storage))


def test_a_second_backup_into_the_same_folder_holds_nothing_of_them(data, storage, media, tmp_path):
    backup(data, tmp_path / "b", NOW)
    assert traces(tmp_path / "b", "zulfiqar")
    forget(storage, media, ZULFIQAR, NOW + timedelta(minutes=1))
    report = backup(data, tmp_path / "b", NOW + timedelta(minutes=2))
    assert report.removed == 4  # two mails and two pictures; the third picture is Bo's too
    assert traces(tmp_path / "b", "zulfiqar", "quendel") == []
    assert check(tmp_path / "b").problems == ()
    assert senders(tmp_path / "b") == [BO]


def test_an_older_backup_does_not_bring_them_back(data, storage, media, tmp_path):
    backup(data, tmp_path / "old", NOW)
    forget(storage, media, ZULFIQAR, NOW + timedelta(minutes=1))
    assert senders(tmp_path / "old") == [BO, ZULFIQAR, ZULFIQAR]  # a copy: it is what it was
    report = restore(tmp_path / "old", tmp_path / "back", now=NOW + timedelta(days=1))
    assert report.erased == 2
    assert senders(tmp_path / "back") == [BO]
    assert traces(tmp_path / "back", "zulfiqar", "quendel") == []
    assert check(tmp_path / "back") == Report(originals=3, copied=0)
    assert Media(tmp_path / "back").has(hashlib.sha256(SHARED).hexdigest())


def test_nor_does_what_was_restored_and_backed_up_again(data, storage, media, tmp_path):
    """The marks go along, so that a still older backup is held back by the restored folder too."""
    backup(data, tmp_path / "oldest", NOW)
    shutil.copytree(tmp_path / "oldest", tmp_path / "carried away")
    backup(data, tmp_path / "old", NOW + timedelta(seconds=1))
    forget(storage, media, ZULFIQAR, NOW + timedelta(minutes=1))
    restore(tmp_path / "old", tmp_path / "back")
    restore(tmp_path / "carried away", tmp_path / "unreached")
    assert senders(tmp_path / "unreached") == [BO, ZULFIQAR, ZULFIQAR]  # nobody could tell that copy
    report = restore(tmp_path / "carried away", tmp_path / "told", [tmp_path / "back"])
    assert (report.erased, senders(tmp_path / "told")) == (2, [BO])


def test_a_backup_that_was_out_of_reach_is_told_when_it_is_back(data, storage, media, tmp_path):
    backup(data, tmp_path / "disk", NOW)
    (tmp_path / "disk").rename(tmp_path / "unplugged")
    done = forget(storage, media, ZULFIQAR, NOW + timedelta(minutes=1))
    assert (done.backups.told, done.backups.unreached) == ((), (tmp_path / "disk",))
    (tmp_path / "unplugged").rename(tmp_path / "disk")
    said = []
    run_housekeeping_once(data, said.append, lambda: NOW + timedelta(minutes=2))
    assert said == []
    assert restore(tmp_path / "disk", tmp_path / "back").erased == 2


def test_who_sends_again_after_being_forgotten_is_kept(data, storage, media, config, tmp_path):
    backup(data, tmp_path / "b", NOW)
    forget(storage, media, ZULFIQAR, NOW + timedelta(minutes=1))
    take(tmp_path / "in" / "2.eml", storage, media, config, NOW + timedelta(minutes=2))
    assert len(submissions_of(storage, ZULFIQAR)) == 1
    backup(data, tmp_path / "b", NOW + timedelta(minutes=3))
    assert restore(tmp_path / "b", tmp_path / "back").erased == 0
    assert senders(tmp_path / "back") == [BO, ZULFIQAR]


def test_a_submission_that_the_store_of_now_never_had_goes_by_its_sender(data, storage, media, config, tmp_path):
    backup(data, tmp_path / "before", NOW)
    mail(tmp_path, "4.eml", "Zulfiqar Quendel <zulfiqar@quendel.example>", fakes.png(shade=9))
    take(tmp_path / "4.eml", storage, media, config, NOW + timedelta(seconds=1))
    backup(data, tmp_path / "later", NOW + timedelta(seconds=2))
    restore(tmp_path / "before", tmp_path / "back")
    with Storage(tmp_path / "back") as back:
        forget(back, Media(tmp_path / "back"), ZULFIQAR, NOW + timedelta(minutes=1))
    assert restore(tmp_path / "later", tmp_path / "again", [tmp_path / "back"]).erased == 3
    assert senders(tmp_path / "again") == [BO]


def test_marks_are_keyed_hashes_and_name_nobody(data, storage, media, tmp_path):
    backup(data, tmp_path / "b", NOW)
    forget(storage, media, ZULFIQAR.upper(), NOW + timedelta(minutes=1))
    told = json.loads((tmp_path / "b" / "forgotten.json").read_text())["erased"]
    key = (data / "erased.key").read_bytes()
    assert (tmp_path / "b" / "erased.key").read_bytes() == key
    # computed here by the definition, RFC 2104 with SHA-256
    expected = hmac.new(key, f"sender\n{ZULFIQAR}".encode(), hashlib.sha256).hexdigest()
    assert [mark for kind, mark, _ in told if kind == "sender"] == [expected]
    assert len(told) == 3
    assert hashlib.sha256(ZULFIQAR.encode()).hexdigest() not in json.dumps(told)


def test_a_folder_with_the_backup_of_another_store_is_left_alone(data, tmp_path):
    with Storage(tmp_path / "other"):
        pass
    backup(tmp_path / "other", tmp_path / "b", NOW)
    with pytest.raises(BadInputError, match="another store"):
        backup(data, tmp_path / "b", NOW)


def test_the_message_says_what_is_true(data, storage, tmp_path):
    backup(data, tmp_path / "b", NOW - timedelta(days=1))
    backup(data, tmp_path / "gone", NOW - timedelta(days=1))
    shutil.rmtree(tmp_path / "gone")
    done = CliRunner().invoke(main, ["forget", BO, "--yes", "--data", str(data)])
    told, unreached = (line for line in done.output.splitlines() if "backups hold them" in line)
    assert str(tmp_path / "b") in told
    assert "erased again" in told
    assert str(tmp_path / "gone") in unreached
    assert "cannot be reached" in unreached
    after = CliRunner().invoke(main, ["backup", str(tmp_path / "b"), "--data", str(data)])
    assert "2 files that the store does not name any more were removed" in after.output
    assert CliRunner().invoke(main, ["forget", ZULFIQAR, "--yes", "--data", str(data)]).output.count(str(tmp_path)) == 2


def test_forget_hints_where_the_same_person_may_still_be(data, storage, media, config, tmp_path):
    mail(tmp_path, "tagged.eml", "Z. Quendel <zulfiqar+moon@quendel.example>", fakes.png(shade=11))
    (tmp_path / "pictures").mkdir()
    (tmp_path / "pictures" / "p.png").write_bytes(fakes.png(shade=12))
    (tmp_path / "pictures" / "submissions.csv").write_text("file,name\np.png,Zulfiqar QUENDEL\n")
    take(tmp_path / "tagged.eml", storage, media, config, NOW)
    take(tmp_path / "pictures", storage, media, config, NOW)
    done = CliRunner().invoke(main, ["forget", ZULFIQAR, "--yes", "--data", str(data)])
    assert "moondesk forget zulfiqar@quendel.example zulfiqar+moon@quendel.example" in done.output
    assert "moondesk forget zulfiqar@quendel.example 'Zulfiqar QUENDEL'" in done.output
    assert "bo@example.org" not in done.output
    both = ["zulfiqar+moon@quendel.example", "Zulfiqar QUENDEL"]
    done = CliRunner().invoke(main, ["forget", *both, "--yes", "--data", str(data)])
    assert "Erased: 2 submissions" in done.output
    assert senders(data) == [BO]

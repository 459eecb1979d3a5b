"""A data folder as the first release wrote it opens with everything that was in it.

tests/builders/build_first_release_store.py made it with that release's code, and noted every row and what the
release's own functions said. A record may have got fields since, and a table columns; none may have lost any. What was
changed on purpose is named below, each with its reason.
"""

from __future__ import annotations

import hashlib
import json
import sqlite3
import zipfile
from collections.abc import Mapping
from contextlib import closing
from dataclasses import fields, is_dataclass
from datetime import date, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner
from desk_people import cookie, enter

from moondesk.sentences import Sentence
from moondesk.service.cli.main import main
from moondesk.service.jobs.engine import engine_version, load_engine
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.passwords import matches
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.store import (
    accounts,
    air,
    aired,
    audit,
    backup,
    decisions,
    erasures,
    feature_names,
    frame_choices,
    inbox,
    letters,
    logins,
    mailboxes,
    queue,
    receipts,
    replies,
    rundowns,
    settings,
    versions,
)
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.records import Enclosure
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import DATABASE_NAME, Storage
from moondesk.service.store.submissions import each_submission
from moondesk.service.web.desk.app import create_app

REFERENCE = Path(__file__).parents[1] / "reference"
OLD = json.loads((REFERENCE / "first_release_store.json").read_text(encoding="utf-8"))
NOW = datetime.fromisoformat(OLD["now"])
SECRETS = OLD["secrets"]
#: The mail without a picture: that release listed it as a picture that cannot be used, today it is a letter.
LETTER = next(s for s in OLD["contents"]["submissions"] if s["pictures"][0][0]["media_type"] == "message/rfc822")
LETTER_ID, LETTER_PICTURE = LETTER["submission"]["id"], LETTER["picture_ids"][0]


@pytest.fixture
def folder(tmp_path):
    """The data folder as it was left."""
    with zipfile.ZipFile(REFERENCE / "first_release_store.zip") as packed:
        packed.extractall(tmp_path / "data")
    return tmp_path / "data"


@pytest.fixture
def client(folder):
    client = create_app(load_config(folder, 0), now=lambda: NOW).test_client()
    client.set_cookie(cookie(client), SECRETS["session"])
    return client


def test_everything_is_there_by_what_the_store_says(folder):
    with Storage(folder) as storage:
        now = plain(contents(storage))
    assert set(OLD["contents"]) == {*now, "may_be_shown"}
    wrong = [line for name in now for line in lost(named_changes(name, OLD["contents"][name]), now[name], name)]
    assert not wrong, "\n".join(wrong)


def test_every_row_is_there(folder):
    Storage(folder).close()
    before, now = OLD["tables"], rows_of(folder / DATABASE_NAME, OLD["tables"])
    assert len(before) == 31
    for table, old in before.items():
        rows = old["rows"]
        if table == "pictures":
            rows = [row for row in rows if row[old["columns"].index("id")] != LETTER_PICTURE]
            assert len(rows) == old["count"] - 1
        if table == "_sqlite_migrations":
            assert [row for row in rows if row not in now[table]] == []  # and those of today
        else:
            assert now[table] == rows, table


def test_a_mail_without_a_picture_is_a_letter_that_holds_its_senders_pictures(folder):
    with Storage(folder) as storage:
        assert letters.letter(storage, LETTER_ID) in letters.unread(storage, 9)
        (held,) = letters.pictures_held_by(storage, LETTER_ID)
        assert read_picture(storage, held).enclosure.given_name == "moon-1.jpg"


def test_nothing_may_be_shown_that_might_not_be_then(folder):
    """Nor is anything withheld but for the letter, and a file that is no picture."""
    before = {int(k): may for k, may in OLD["contents"]["may_be_shown"].items()}
    config = load_config(folder, 0)
    with Storage(folder) as storage:
        now = {p.picture.id: not reasons_not_to_air(p, config.entry_terms) for p in list_by_id(storage, list(before))}
        held = letters.pictures_held_by(storage, LETTER_ID)
    unusable = [int(k) for k, p in OLD["contents"]["pictures"].items() if p["enclosure"]["refused"]]
    assert any(before[k] for k in held)
    assert now == {k: may and k not in (*held, *unusable) for k, may in before.items() if k != LETTER_PICTURE}
    assert sum(now.values()) >= 4


def test_opening_it_again_changes_nothing(folder):
    Storage(folder).close()
    first = rows_of(folder / DATABASE_NAME)
    Storage(folder).close()
    assert rows_of(folder / DATABASE_NAME) == first


def test_a_copy_from_before_the_change_is_kept(folder):
    Storage(folder).close()
    (copy,) = folder.glob("moondesk.before-*.db")
    assert rows_of(copy) == {table: old["rows"] for table, old in OLD["tables"].items()}


def test_opening_it_to_read_changes_no_byte(folder):
    before = bytes_of(folder)
    with Storage(folder, read_only=True) as storage:
        assert [e.plan.number for e in list_editions(storage)] == [412, 411]
    assert not backup.check(folder).problems
    assert bytes_of(folder) == before


def test_everybody_gets_in_as_before(folder, client):
    with Storage(folder) as storage:
        _, hashed = accounts.credentials(storage, "ADA brook")
        assert matches(SECRETS["password"], hashed)
        assert logins.session_account(storage, SECRETS["session"], NOW).name == "Ada Brook"
        found, role = logins.token_account(storage, SECRETS["token"], NOW)
        assert (found.name, role) == ("Bo Lindø", "helper")
        assert logins.token_account(storage, SECRETS["revoked"], NOW) is None
        assert air.find_link(storage, SECRETS["link"])
        assert mailboxes.begin(storage, "moon@lanternhour.example/INBOX", 1_700_000_001) == ({7, 8}, False)
    client.delete_cookie(cookie(client))
    assert enter(client).status_code == 303
    assert client.get("/").status_code == 200


def test_the_programmes_settings_count(folder):
    config = load_config(folder, 0)
    assert (config.programme.name, config.mail_days, config.next_edition) == ("Lantern Hour", 30, 411)
    assert (config.weights["focus"], config.entry_terms) == (4.5, "Terms of the Lantern Hour, 2026")


def test_the_desks_pages_open(client):
    pictures = [k for k in map(int, OLD["contents"]["pictures"]) if k != LETTER_PICTURE]
    for path in (
        "/",
        "/rundown/411",
        "/rundown/412",
        "/archive",
        "/history",
        "/replies",
        "/letters",
        f"/letters/{LETTER_ID}",
        "/editions",
        "/names",
        "/people",
        "/settings",
        "/audit",
        "/standing",
        "/coming",
        "/air/411",
        *(f"/pictures/{k}" for k in pictures),
        f"/pictures/{pictures[0]}/reply",
        f"/compare?a={pictures[0]}&b={pictures[1]}",
    ):
        answer = client.get(path)
        assert answer.status_code == 200, f"{path}: {answer.status}"
    page = client.get("/rundown/411").text
    assert page.index("Íris Quental") < page.index("Clara Vell")
    assert "EE-reesh" in page
    assert "As shown: harbour.jpg" in client.get("/history").text


def test_it_is_listed(folder):
    listed = CliRunner().invoke(main, ["list", "--jsonl", "--data", str(folder)])
    assert listed.exit_code == 0, listed.output
    assert len(listed.stdout.splitlines()) == OLD["tables"]["submissions"]["count"]
    words = CliRunner().invoke(main, ["list", "--data", str(folder)])
    assert words.exit_code == 0
    assert "Íris Quental" in words.stdout


def test_what_another_core_placed_is_due_anew_and_stays_as_it_is_until_then(folder):
    """What was put aside is tried by another core too."""
    placeable = [k for k, p in OLD["contents"]["pictures"].items() if p["enclosure"]["refused"] is None]
    with Storage(folder) as storage:
        assert OLD["contents"]["annotations"]["1"]["engine_version"] != engine_version()
        assert queue.counts(storage, engine_version(), NOW).waiting == len(placeable)
        assert inbox.find(storage, inbox.PictureFilter(), 99)
        placing = place_waiting(
            storage, Media(folder), load_config(folder, 0), load_engine, engine_version(), lambda: NOW, InProcess()
        )
        with closing(placing):
            _, made = next(placing)
        assert (made.annotation.status, made.engine_version) == ("annotated", engine_version())
        assert queue.counts(storage, engine_version(), NOW).waiting < len(placeable)


def test_it_can_be_backed_up_and_brought_back(folder, tmp_path):
    report = backup.backup(folder, tmp_path / "copy", NOW)
    assert report.problems == ()
    assert not backup.check(tmp_path / "copy").problems
    with Storage(tmp_path / "copy", read_only=True) as storage:
        now = plain(contents(storage))
    wrong = [line for name in now for line in lost(named_changes(name, OLD["contents"][name]), now[name], name)]
    assert not wrong, "\n".join(wrong)


# --- what there is today ---------------------------------------------------------------------------------------------


def contents(storage):
    """What today's functions say, under the names of the listing."""
    submissions = list(each_submission(storage))
    ids = [k for s in submissions for k in s.picture_ids]
    every = list_editions(storage)
    at_ms = int(NOW.timestamp() * 1000)
    return {
        "editions": every,
        "submissions": submissions,
        "pictures": {k: read_picture(storage, k) for k in ids},
        "pictures_as_sent": {k: read_picture(storage, k, as_sent=True) for k in ids},
        "annotations": {k: placed(storage, k) for k in ids},
        "consents": {s.submission.id: s.consents for s in submissions},
        "decisions": {k: decisions.decisions_of(storage, k) for k in ids},
        "corrections": {k: decisions.standing_corrections(storage, k) for k in ids},
        "pairs": {k: [{**plain(p), "words": p.words} for p in versions.pairs_of(storage, k)] for k in ids},
        "rundowns": {e.plan.number: rundowns.rundown(storage, e.id) for e in every},
        "rundown_history": {e.plan.number: rundowns.history(storage, e.id, 99) for e in every},
        "frame_choices": {
            i.id: frame_choices.frame_choice(storage, i.id)
            for e in every
            for i in rundowns.rundown(storage, e.id).items
        },
        "spares": {e.plan.number: air.spare(storage, e.id) for e in every},
        "on_air": {e.plan.number: air.state(storage, e.id, at_ms) for e in every},
        "links": air.links(storage),
        "aired": aired.lines(storage),
        "replies": replies.replies(storage),
        "accounts": accounts.accounts(storage),
        "tokens": logins.tokens_of(storage),
        "settings": settings.settings(storage),
        "names": {language: feature_names.names(storage, language) for language in ("en", "bg")},
        "audit": [{**plain(line), "what": line.what} for line in audit.lines(storage, 999)],
        "erasures": [(line.when_utc, line.what) for line in reversed(audit.lines(storage, 999))],
        "receipts": {token: receipts.receipt(storage, token) for token in (SECRETS["receipt"], SECRETS["withdrawn"])},
        "quarantined": queue.quarantine(storage),
        "files_to_erase": erasures.files_to_erase(storage),
    }


def placed(storage, picture_id):
    stored = read_annotation(storage, picture_id)
    if stored is None:
        return None
    made = stored.annotation
    return {
        "engine_version": stored.engine_version,
        "made_utc": stored.made_utc,
        "derived_key": stored.derived_key,
        "quality": stored.quality,
        "status": made.status,
        "sure": made.sure,
        "reason": made.reason,
        "pose": made.pose,
        "features": [f.feature.name for f in made.features][:20],
    }


def named_changes(name, old):
    """What that release said, with what was changed on purpose since."""
    by_picture = ("pictures", "pictures_as_sent", "annotations", "decisions", "corrections", "pairs")
    if name in by_picture:
        return {k: v for k, v in old.items() if int(k) != LETTER_PICTURE}
    if name == "submissions":  # the letter is one without pictures
        bare = {"pictures": [], "picture_ids": [], "quarantined": [], "version_of": [], "asked": []}
        letter = {
            **LETTER,
            **bare,
            "submission": {**LETTER["submission"], "arrival": {**LETTER["submission"]["arrival"], "enclosures": []}},
        }
        return [letter if s == LETTER else s for s in old]
    return old


def lost(old, now, where):
    """Lines that say what is not as it was; what came anew is no loss."""
    if isinstance(old, dict) and isinstance(now, dict):
        for key, value in old.items():
            yield from lost(value, now[key], f"{where}.{key}") if key in now else [f"{where}.{key} is gone"]
    elif isinstance(old, list) and isinstance(now, list) and len(old) == len(now):
        for n, (one, other) in enumerate(zip(old, now, strict=True)):
            yield from lost(one, other, f"{where}[{n}]")
    elif old != now:
        yield f"{where}: {old!r} is {now!r}"


# --- as the listing was written --------------------------------------------------------------------------------------


def plain(value):
    if isinstance(value, Sentence):  # kept in words then
        return str(value)
    if is_dataclass(value):
        words = {"refused": value.refused} if isinstance(value, Enclosure) else {}
        return {f.name: plain(getattr(value, f.name)) for f in fields(value)} | words
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if isinstance(value, bytes) or (isinstance(value, str) and len(value) > 600):
        return hashed(value)
    return value.isoformat() if isinstance(value, date) else value


def hashed(value):
    return "sha256:" + hashlib.sha256(value if isinstance(value, bytes) else value.encode()).hexdigest()


def rows_of(database, tables=None):
    """The rows of every table, or of some with their columns of then."""
    connection = sqlite3.connect(f"{database.as_uri()}?mode=ro", uri=True)
    found = {}
    if tables is None:
        tables = {name: None for (name,) in connection.execute("select name from sqlite_master where type = 'table'")}
    for table, old in tables.items():
        columns = ", ".join(f'"{column}"' for column in old["columns"]) if old else "*"
        rows = sorted(
            ([plain(v) for v in row] for row in connection.execute(f"select {columns} from {table}")), key=repr
        )
        found[table] = hashed(json.dumps(rows)) if len(rows) > 100 else rows
    connection.close()
    return found


def bytes_of(folder):
    return {path.relative_to(folder): path.read_bytes() for path in folder.rglob("*") if path.is_file()}

"""The script of a stored edition: what is known of its pictures, what earlier episodes told, the command."""

from __future__ import annotations

from datetime import UTC, date, datetime

import fakes
import pytest
from click.testing import CliRunner
from test_notes_page import VIENNA, WHEN, annotation

from moondesk.ideas.tonight import Tonight
from moondesk.script.marks import read_text, sentences_of, write_script, write_text
from moondesk.script.records import Cue
from moondesk.service.cli.main import main
from moondesk.service.errors import BadInputError
from moondesk.service.programme.told_episodes import told_by
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store import episodes, rundowns
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.editions import read_edition
from moondesk.service.store.episode_items import ItemDraft, Source
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import add_submission
from moondesk.service.studio import Studio
from moondesk.service.studio.episode import episode_of, script_of

NOW = datetime(2026, 3, 26, 21, tzinfo=UTC)
OK = "You may show it."


def _send(storage: Storage, edition_id: int, n: int, **more: object) -> None:
    enclosure = Enclosure(given_name=f"{n}.jpg", size_bytes=3, sha256=f"{n}" * 64, media_type="image/jpeg")
    arrival = Arrival(
        key=f"file:{n}", source="file", origin=f"{n}.jpg", enclosures=(enclosure,), **{"consent": OK, **more}
    )
    add_submission(storage, edition_id, arrival, NOW)


@pytest.fixture
def studio(tmp_path):
    (tmp_path / "moondesk.toml").write_text(
        '[programme]\nname = "The Evening Sky"\nzone = "Europe/Vienna"\nlatitude = 48.2\nlongitude = 16.4\n',
        encoding="utf-8",
    )
    config = Config(data_dir=tmp_path, programme=Programme("The Evening Sky", "Europe/Vienna", VIENNA))
    with Storage(tmp_path) as storage:
        fakes.add_edition(storage, EditionPlan(number=6, evenings=(date(2026, 3, 25),)))
        edition = fakes.add_edition(storage, EditionPlan(number=7, evenings=(date(2026, 3, 26),)))
        _send(storage, edition.id, 1, sender_name="Vesna Orlin", place_name="Tarnwick", equipment="90 mm Maksutov")
        _send(storage, edition.id, 2, sender_name="Nobody Asked", credit_line="the harbour school")
        for picture in list_pictures(storage, edition.id):
            stored = StoredAnnotation(picture_id=picture.picture.id, annotation=annotation(), engine_version="1", made_utc=NOW, derived_key="k")  # fmt: skip
            add_annotation(storage, stored, [])
            rundowns.add(storage, edition.id, picture.picture.id, "Ada", NOW)
        yield Studio(storage, config)


def test_an_episode_is_made_of_what_may_be_shown(studio):
    edition = read_edition(studio.storage, 7)
    _send(studio.storage, edition.id, 3, sender_name="No Answer", consent="")
    waiting = [
        p for p in list_pictures(studio.storage, edition.id) if p.picture.submission.arrival.sender_name == "No Answer"
    ]
    rundowns.add(studio.storage, edition.id, waiting[0].picture.id, "Ada", NOW)
    episode = episode_of(studio, edition)
    assert {p.credit for p in episode.pictures} == {"Vesna Orlin", "the harbour school"}
    assert all(isinstance(p.about, Tonight) and p.when == WHEN for p in episode.pictures)
    mine = next(p for p in episode.pictures if p.credit == "Vesna Orlin")
    assert (mine.place_name, mine.instrument, mine.simple, mine.newcomer) == ("Tarnwick", "90 mm Maksutov", True, False)
    assert episode.lead == episode.pictures[0].number
    assert (episode.day, episode.before, episode.history) == (date(2026, 3, 26), None, ())
    assert episode.idea


def test_what_was_spoken_is_the_next_episodes_history(studio):
    first = read_edition(studio.storage, 6)
    write = studio.language.spoken.write
    script = script_of(studio, first, 300.0, 130.0)
    drafts = [
        ItemDraft(kind=item.kind, title="", text=write_text(item.paragraphs, write), sources=tuple(
            Source(sentence=write(line.said), facts=line.facts, template=line.said.template) for line in item.lines))
        for item in script.items
    ]  # fmt: skip
    episodes.write_items(studio.storage, first.id, drafts, 0, "Ada", NOW)
    assert episodes.spoken_before(studio.storage, 7) == ()  # it was not on air
    episodes.note_spoken(studio.storage, first.id, NOW)
    told = told_by(first.plan, episodes.episode(studio.storage, first.id))
    assert told is not None
    assert told.sentences == set(sentences_of(write_script(script, write)))
    assert told.facts == {f for line in script.lines for f in line.facts}
    assert (told.day, told.idea) == (date(2026, 3, 25), script.idea)
    second = script_of(studio, read_edition(studio.storage, 7), 300.0, 130.0)
    assert any("yesterday" in write(line.said).casefold() for line in second.lines)
    assert not {f for line in second.lines for f in line.facts if f.startswith(("new:", "idea:"))} & told.facts
    # a sentence that somebody changed is the presenter's own: what it told was not told
    kept = episodes.episode(studio.storage, first.id)
    item = next(i for i in kept.items if i.kind == "tomorrow")
    episodes.change_item(studio.storage, first.id, item.id, {"text": "Come back."}, kept.version, "Ada", NOW)
    changed = told_by(first.plan, episodes.episode(studio.storage, first.id))
    assert changed is not None
    assert changed.facts < told.facts


def test_the_command_writes_a_text_with_marks(studio, tmp_path):
    out = tmp_path / "script.txt"
    asked = ["7", "--minutes", "5", "--words-per-minute", "120", "--data", str(tmp_path), "--out", str(out)]
    done = CliRunner().invoke(main, ["script", *asked])
    assert done.exit_code == 0, done.output
    text = out.read_text(encoding="utf-8")
    assert "Vesna Orlin" in text
    assert "the harbour school" in text
    assert Cue(show="as sent", picture=1) in read_text(text)
    assert 0.9 * 600 <= len(text.split()) <= 1.3 * 600  # with its marks
    bare = fakes.add_edition(studio.storage, EditionPlan(number=8))
    assert CliRunner().invoke(main, ["script", "8", "--data", str(tmp_path)]).exit_code != 0
    with pytest.raises(BadInputError, match="no evening"):
        episode_of(studio, bare)

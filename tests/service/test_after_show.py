"""What remains of an edition, read by programs that did not write it; and nothing of who did not agree."""

from __future__ import annotations

import io
import itertools
import zipfile
from datetime import UTC, datetime, timedelta

import pysrt
import pytest
import webvtt
from fakes import add_edition, png
from test_rundown_store import send

from moondesk.script.marks import count_words
from moondesk.service.exports.after_show_files import remains_of
from moondesk.service.exports.chapters import Chapter, chapters_text, chapters_vtt
from moondesk.service.exports.subtitles import LINE, MOST_CPS, as_srt, as_vtt, captions_of, split
from moondesk.service.programme.as_run import Run
from moondesk.service.programme.spoken_times import SpokenItem, time_sentences
from moondesk.service.replies.drafting import picture_draft
from moondesk.service.store import as_run, episodes, rundowns
from moondesk.service.store.aired import AsAired
from moondesk.service.store.episode_items import ItemDraft
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import ConsentRecord, EditionPlan, LoggedStep
from moondesk.service.store.submissions import add_consent
from moondesk.service.studio import Studio
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 11, 24, 20, 0, tzinfo=UTC)
TEXT = """[picture 1: as sent] Good evening. Ida Grün-Weiß of Sankt Pölten & Graz saw the Moon like this <tonight>, with a
telescope that stands on her balcony.

[light: Plato] North of the Sea of Rains lies Plato, level and dark, 101 kilometres from rim to rim, and its shadows reach
far. [picture 2: as sent] This one shows Montes Apenninus. Bo took it.

[nothing] Good night."""


def after(seconds):
    return NOW + timedelta(seconds=seconds)


def test_subtitles_are_short_slow_and_read_alike_by_other_programs():
    timing = time_sentences([SpokenItem(title="Tour", text=TEXT)] * 6, {}, (), 220)  # fast for a speaker
    captions = captions_of(timing.sentences, ("Montes Apenninus", "Ida Grün-Weiß"))
    assert all(len(c.lines) <= 2 and max(map(len, c.lines)) <= LINE for c in captions)
    assert max(c.characters / (c.end - c.begin) for c in captions) <= MOST_CPS + 1e-6
    assert all(a.end < b.begin for a, b in itertools.pairwise(captions))
    words = " ".join(s.text for s in timing.sentences)
    assert " ".join(" ".join(c.lines) for c in captions) == words
    assert [word for c in captions for line in c.lines for word in ("Montes", "Ida") if line.endswith(word)] == []
    vtt = list(webvtt.from_string(as_vtt(captions)))
    srt = pysrt.from_string(as_srt(captions))
    assert [c.text.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&") for c in vtt] == [
        s.text for s in srt
    ]
    assert [(c.start_in_seconds, c.end_in_seconds) for c in vtt] == [
        (s.start.ordinal // 1000, s.end.ordinal // 1000) for s in srt
    ]
    assert [s.start.ordinal for s in srt] == [round(c.begin * 1000) for c in captions]


@pytest.mark.parametrize("text", ["X" * 200, "月の海は暗く、高地は明るく見えます。" * 5, "Да.", "a " * 60])
def test_any_words_fit_the_lines(text):
    lines = split(text)
    assert all(len(c) <= 2 for c in lines)
    assert "".join("".join(c) for c in lines).replace(" ", "") == text.replace(" ", "")


def step(seconds, item=None, kind="picture", feature="", credit="x"):
    return LoggedStep(
        begin_utc=after(seconds), kind=kind, item_id=item, picture_id=item, view="named", feature=feature,
        layers=(("credit", ""),) if item else (), credit=credit if item else "",
    )  # fmt: skip


def test_sentences_are_timed_by_what_came_on_air_as_their_marks_say():
    steps = (step(0, 1), step(20, 1, feature="Plato"), step(50, 2), step(60, kind="blank"), step(80))
    runs = [Run(a.begin_utc, b.begin_utc, a) for a, b in itertools.pairwise(steps)]
    timing = time_sentences([SpokenItem(title="", text=TEXT)], {1: 1, 2: 2}, runs, 130)
    assert (timing.paired, timing.marks) == (4, 4)
    assert [round(s.begin) for s in timing.sentences if s.text.startswith(("Good", "North", "This"))] == [0, 20, 50, 60]
    by_words = time_sentences([SpokenItem(title="", text=TEXT)], {1: 1, 2: 2}, (), 130)
    assert by_words.paired == 0
    assert by_words.sentences[-1].end == pytest.approx(count_words(TEXT) / 130 * 60, abs=0.1)


def test_chapters_are_read_by_a_player_and_a_description():
    chapters = (Chapter(0, "Opening"), Chapter(75, "Tour & directions"), Chapter(3661, "Good night"))
    assert chapters_text(chapters) == "0:00 Opening\n1:15 Tour & directions\n1:01:01 Good night\n"
    read = list(webvtt.from_string(chapters_vtt(chapters, 3700)))
    assert [(c.start, c.end) for c in read][1:] == [("00:01:15.000", "01:01:01.000"), ("01:01:01.000", "01:01:40.000")]


def test_nothing_remains_of_who_did_not_agree(config, storage, media):
    edition = add_edition(storage, EditionPlan(number=12, evenings=(NOW.date(),)))
    items = {}
    for n, (sender, state) in enumerate((("ida", "given"), ("bo", "refused"), ("cy", "given")), 1):
        picture = send(storage, edition, sender)
        record = ConsentRecord(state=state, kind="phone", evidence="As said.", noted_by="Ada")
        add_consent(storage, n, record, NOW)
        items[sender] = rundowns.add(storage, edition.id, picture, "Ada", NOW).item_id
        shown = LoggedStep(
            begin_utc=after(20 * n), kind="picture", item_id=items[sender], picture_id=picture, credit=sender.title()
        )
        as_run.note_step(storage, edition.id, shown)
    as_run.set_on_air_time(storage, edition.id, NOW, after(90), "Ada")
    kept = {items["ida"]: AsAired("Ida", media.put(png(640, 360)))}
    rundowns.note_aired(storage, edition.id, [items["ida"]], after(20), "Ada", NOW, kept)
    letters = {
        p.picture.submission.arrival.sender_name: picture_draft(storage, config, p, None).body
        for p in list_pictures(storage, edition.id)
    }
    assert "on air in our programme on 24 November 2026" in letters["Ida"]
    assert "this one was not shown" in letters["Cy"]
    assert "24 November" not in letters["Bo"]
    episodes.number_pictures(storage, edition.id, [items["ida"], items["bo"]])
    draft = ItemDraft(kind="pictures", title="Your pictures", text=TEXT.replace("Ida Grün-Weiß", "Ida"))
    episodes.add_item(storage, edition.id, draft, 0, "Ada", NOW)
    files = remains_of(Studio(storage, config), edition, after(600)).files
    assert {n for n in files if n.startswith("evening/")} == {
        "evening/index.html", "evening/chapters.vtt", "evening/pictures/1.jpg",
    }  # fmt: skip
    told = {name: data.decode() for name, data in files.items() if not name.endswith(".jpg")}
    assert [name for name, text in told.items() if "Bo" in text and name != "evening/index.html"] == []
    page = told["evening/index.html"]
    assert "Bo " not in page
    assert "This one shows Montes Apenninus." in page
    assert '<figcaption dir="auto">Ida</figcaption>' in page
    assert told["credits.txt"] == "Ida\nCy\n"
    assert "taken back" in told["as-run.csv"]
    assert [c.text for c in webvtt.from_string(told["subtitles.vtt"])][-1] == "Good night."
    assert '"Montes Apenninus"' in told["spelling.csv"]
    client = create_app(config, now=lambda: after(600)).test_client()
    with zipfile.ZipFile(io.BytesIO(client.get("/after/12/everything.zip").data)) as archive:
        assert {n.removeprefix("edition-12/") for n in archive.namelist()} == set(files)
    assert client.get("/after/12/files/credits.txt").text == "Ida\nCy\n"
    assert client.get("/after/12/files/other.txt").status_code == 404
    assert files["evening/pictures/1.jpg"][:2] == b"\xff\xd8"
    assert io.BytesIO(files["evening/pictures/1.jpg"]).getbuffer().nbytes < 50_000

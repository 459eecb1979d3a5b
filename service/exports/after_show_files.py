"""What remains of an edition: the log, chapters, subtitles, credits, a spelling list, and the evening's page.

    as-run.csv
    chapters.vtt, chapters.txt          for a player; for a video's description
    subtitles.vtt, subtitles.srt        where it is kept what was said
    credits.txt                         everyone whose picture was on air, as each wishes to be named
    spelling.csv                        for who writes captions: features, people, places, and how they are said
    evening/index.html, pictures/       the evening's page: one folder, for any web server

Nothing is in them of who did not agree or took the picture back: no picture, no name, and no sentence that names them.
"""

from __future__ import annotations

import html
import io
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from PIL import Image

from moondesk.moon.catalogue import all_features
from moondesk.notes.messages import say
from moondesk.records import NotFound
from moondesk.service.csv_safe import csv_text
from moondesk.service.exports.chapters import Chapter, chapters_of, chapters_text, chapters_vtt
from moondesk.service.exports.subtitles import as_srt, as_vtt, captions_of
from moondesk.service.jobs.frame_files import WHOLE
from moondesk.service.jobs.warm_pool import WarmPoolError
from moondesk.service.languages import direction
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.as_run import Run
from moondesk.service.programme.spoken_text import WORDS_A_MINUTE, unnamed_of, withheld_of
from moondesk.service.programme.spoken_times import SpokenItem, TimedSentence, Timing, time_sentences
from moondesk.service.store import aired, episodes
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import Edition
from moondesk.service.studio import Studio
from moondesk.service.studio.after_show import AfterShow, AiredPicture, after_show
from moondesk.service.studio.frames import frame_of, options_of
from moondesk.speech.names import how_said

#: Of the evening's page: how wide a picture is, pixels, and JPEG's quality.
WIDE_PX, QUALITY = 1600, 88
LOG_COLUMNS = ("begin_utc", "end_utc", "seconds", "what", "view", "feature", "layers", "credit")
SPELLING_COLUMNS = ("name", "local", "say", "ipa", "what")
#: Pictures of an edition that are looked through for who must not be named.
MOST_PICTURES = 10_000


@dataclass(frozen=True, kw_only=True)
class Remains:
    """files: by their names within the folder; timing: how well the log told when something was said."""

    files: dict[str, bytes]
    timing: Timing


@dataclass(frozen=True, kw_only=True)
class _Evening:
    """What the files are made of. items: of what was said; sentences: those that may be written down."""

    show: AfterShow
    items: tuple[SpokenItem, ...]
    timing: Timing
    sentences: tuple[TimedSentence, ...]
    chapters: tuple[Chapter, ...]
    length: float


def remains_of(studio: Studio, edition: Edition, now: datetime, lead: timedelta = timedelta()) -> Remains:
    """lead: how long before it went on air the recording begins."""
    evening = _evening(studio, edition, now, lead.total_seconds())
    files = _small_files(studio, evening)
    return Remains(files={**files, **_page_files(studio, evening, files["chapters.vtt"])}, timing=evening.timing)


def remaining_file(studio: Studio, edition: Edition, name: str, now: datetime) -> bytes | None:
    """One of the files by its name, but none of the evening's page; None where there is none of that name."""
    return _small_files(studio, _evening(studio, edition, now, 0.0)).get(name)


def _small_files(studio: Studio, evening: _Evening) -> dict[str, bytes]:
    features = _features(evening)
    files = {
        "as-run.csv": log_csv(evening.show),
        "chapters.vtt": chapters_vtt(evening.chapters, evening.length),
        "chapters.txt": chapters_text(evening.chapters),
        "credits.txt": credits_text(evening.show),
        "spelling.csv": spelling_csv(evening.show, features, studio.language),
    }
    if evening.sentences:
        captions = captions_of(evening.sentences, [*features, *(p.credit for p in evening.show.on_air)])
        files |= {"subtitles.vtt": as_vtt(captions), "subtitles.srt": as_srt(captions)}
    return {name: text.encode() for name, text in files.items()}


def _evening(studio: Studio, edition: Edition, now: datetime, lead: float) -> _Evening:
    show = after_show(studio, edition, now)
    kept = episodes.episode(studio.storage, edition.id)
    items = tuple(SpokenItem(title=i.title, text=i.text, kind=i.kind) for i in kept.items if i.text.strip())
    rate = kept.words_per_minute or episodes.last_rate(studio.storage) or WORDS_A_MINUTE
    timing = time_sentences(items, kept.numbers, show.runs, rate)  # of all that was spoken, also what is left out below
    every = list_pictures(studio.storage, edition.id, MOST_PICTURES)
    withheld = (
        withheld_of((p.listed, p.credit) for p in show.pictures if p.stops),
        unnamed_of((*every, *(p.listed for p in show.pictures))),
    )
    sentences = tuple(
        replace(s, begin=s.begin + lead, end=s.end + lead)
        for s in timing.sentences
        if not any(one.names(s.text) for one in withheld)
    )
    begun = show.runs[0].begin_utc if show.runs else now
    pictures = [
        ((p.shown.begin_utc - begun).total_seconds() + lead, p.item.id, p.credit) for p in show.on_air if p.shown
    ]
    titled = tuple(replace(i, title="") if any(one.names(i.title) for one in withheld) else i for i in items)
    chapters = chapters_of(titled, sentences, pictures, studio.config.programme.name)
    on_air = (show.runs[-1].end_utc - begun).total_seconds() + lead if show.runs else 0.0
    length = max([on_air, *(s.end for s in sentences[-1:])])
    return _Evening(show=show, items=titled, timing=timing, sentences=sentences, chapters=chapters, length=length)


def _features(evening: _Evening) -> tuple[str, ...]:
    """Names of the features that were spoken of or pointed at, by the alphabet."""
    shown = {
        name
        for run in evening.show.runs
        for name in (run.step.feature, *(title for _, title in run.step.layers))
        if name
    }
    text = " ".join([*(s.text for s in evening.sentences), *shown])
    words = set(re.findall(r"[\w'’-]+", text))
    return tuple(
        f.name
        for f in all_features()
        if f.parent is None
        and f.name.split()[-1] in words  # most of nine thousand go by this
        and re.search(rf"(?<!\w){re.escape(f.name)}(?!\w)", text)
    )


# --- tables and lists -------------------------------------------------------------------------------------------------


def log_csv(show: AfterShow) -> str:
    """What the audience saw, step by step; nameless where a picture was taken back."""
    named = {p.item.id: p.sender for p in show.pictures if not p.stops}
    return csv_text(
        LOG_COLUMNS,
        [
            (
                run.begin_utc.isoformat(timespec="milliseconds"),
                run.end_utc.isoformat(timespec="milliseconds"),
                round(run.seconds, 1),
                what_stood(run, named),
                run.step.view,
                run.step.feature,
                ", ".join(title for _, title in run.step.layers if title),
                run.step.credit if run.step.item_id in named else "",
            )
            for run in show.runs
        ],
    )


def what_stood(run: Run, named: dict[int, str]) -> str:
    """For people at the desk. named: senders by item, of those that may be named."""
    match run.step.kind:
        case "blank":
            return "Blank"
        case "nothing":
            return "Nothing"
    of = named.get(run.step.item_id or 0, "A picture that was taken back")
    return f"Plan B: {of}" if run.step.kind == "plan_b" else of


def credits_text(show: AfterShow) -> str:
    """A name a line, each once, in the order in which the pictures came."""
    return "".join(f"{name}\n" for name in dict.fromkeys(p.credit for p in show.on_air if p.credit))


def spelling_csv(show: AfterShow, features: Sequence[str], language: Language) -> str:
    by_name = {f.name: f for f in all_features()}
    rows: list[tuple[str, str, str, str, str]] = [
        (name, language.local_name(name), language.said(name), said.ipa if said else "", by_name[name].kind)
        for name in features
        for said in [how_said(name, language.code)]
    ]
    people = dict.fromkeys((p.credit, p.item.pronunciation) for p in show.on_air if p.credit)
    rows += [(name, "", spoken, "", "person") for name, spoken in people]
    places = dict.fromkeys(p.listed.picture.submission.arrival.place_name for p in show.on_air)
    rows += [(place, "", "", "", "place") for place in places if place]
    return csv_text(SPELLING_COLUMNS, rows)


# --- the evening's page -----------------------------------------------------------------------------------------------


def _page_files(studio: Studio, evening: _Evening, chapters: bytes) -> dict[str, bytes]:
    pictures = [(p, jpeg) for p in evening.show.on_air if (jpeg := _jpeg(studio, evening.show.edition, p))]
    names = {p.item.id: f"pictures/{n}.jpg" for n, (p, _) in enumerate(pictures, 1)}
    page = _page(studio, evening, [p for p, _ in pictures], names)
    return {
        "evening/index.html": page.encode(),
        "evening/chapters.vtt": chapters,
        **{f"evening/{names[p.item.id]}": jpeg for p, jpeg in pictures},
    }


def _jpeg(studio: Studio, edition: Edition, picture: AiredPicture) -> bytes | None:
    """The frame as it was aired, else, and where its sender wishes to be named otherwise since, as it would be by now;
    without any metadata."""
    kept = next(
        (
            line.frame
            for line in aired.lines(studio.storage, str(edition.plan.number), most=1000)
            if line.edition_number == edition.plan.number
            and line.picture_id == picture.listed.picture.id
            and line.frame
            and line.credit == picture.credit
        ),
        None,
    )
    if kept is not None:
        png = studio.media.path(kept).read_bytes()
    else:
        try:
            frame = frame_of(studio, picture.item, picture.listed, options_of(studio.storage, picture.item.id, "hd"))
        except WarmPoolError:
            return None
        if isinstance(frame, NotFound):
            return None
        png = (frame.folder / WHOLE).read_bytes()
    image = Image.open(io.BytesIO(png)).convert("RGB")
    image.thumbnail((WIDE_PX, WIDE_PX))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _page(studio: Studio, evening: _Evening, pictures: Sequence[AiredPicture], names: dict[int, str]) -> str:
    language, programme = studio.language, studio.config.programme.name
    plan = evening.show.edition.plan
    day = plan.evenings[0] if plan.evenings else _day_of(evening.show, studio)
    title = language.write(say("The Moon on {day}", day=day)) if day else programme
    figures = [
        f'<figure><img src="{names[p.item.id]}" alt="{_text(_alt(p, language))}" loading="lazy">'
        f'<figcaption dir="auto">{_text(p.credit)}</figcaption></figure>'
        for p in pictures
    ]
    said = [
        f"<h3>{_text(item.title)}</h3>" * bool(item.title)
        + "".join(f'<p dir="auto">{_text(words)}</p>' for words in _paragraphs(evening.sentences, n))
        for n, item in enumerate(evening.items)
        if any(s.item == n for s in evening.sentences)
    ]
    chapters = [f"<li><span>{_text(line)}</span></li>" for line in chapters_text(evening.chapters).splitlines()]
    parts = [
        (say("Pictures"), f'<div class="pictures">{"".join(figures)}</div>' if figures else ""),
        (say("What was said"), "".join(said)),
        (say("Chapters"), f'<ol class="chapters">{"".join(chapters)}</ol>' if len(chapters) > 1 else ""),
    ]
    body = "".join(f"<section><h2>{_text(language.write(head))}</h2>{made}</section>" for head, made in parts if made)
    return _PAGE.format(
        lang=language.code, dir=direction(language.code), title=_text(title), programme=_text(programme), body=body
    )


def _day_of(show: AfterShow, studio: Studio) -> date | None:
    """The evening on which it was on air; None where that is not known."""
    return studio.calendar.evening(show.times[0].begin_utc).date if show.times else None


def _alt(picture: AiredPicture, language: Language) -> str:
    if not picture.credit:
        return language.write(say("The Moon, photographed by a viewer"))
    return language.write(say("The Moon, photographed by {name}", name=picture.credit))


def _paragraphs(sentences: Iterable[TimedSentence], item: int) -> list[str]:
    found: dict[int, list[str]] = {}
    for s in sentences:
        if s.item == item:
            found.setdefault(s.paragraph, []).append(s.text)
    return [" ".join(said) for said in found.values()]


def _text(text: str) -> str:
    return html.escape(text, quote=True)


_PAGE = """<!doctype html>
<html lang="{lang}" dir="{dir}">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="dark light">
<title>{title} · {programme}</title>
<style>
:root {{ color-scheme: dark light; --ground: light-dark(#f6f4ee, #0d1017); --text: light-dark(#1d2230, #e9e6dc); --quiet: light-dark(#565d6e, #a6a99f); --rule: light-dark(#d8d4c6, #2c313c); }}
body {{ margin: 0 auto; max-width: 62rem; padding: clamp(1rem, 4vw, 3rem); background: var(--ground); color: var(--text); font: 1.06rem/1.6 system-ui, sans-serif; }}
h1, h2, h3 {{ font-family: Georgia, serif; font-weight: 400; line-height: 1.2; }}
header p, figcaption {{ color: var(--quiet); }}
.pictures {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 26rem), 1fr)); gap: 1.6rem; }}
figure {{ margin: 0; }}
img {{ display: block; width: 100%; height: auto; border-radius: 0.4rem; background: #000; }}
section {{ margin-top: 2.6rem; border-top: 1px solid var(--rule); }}
section p, .chapters {{ max-width: 40rem; }}
.chapters {{ list-style: none; padding: 0; font-variant-numeric: tabular-nums; }}
</style>
</head>
<body>
<header><h1>{title}</h1><p>{programme}</p></header>
<main>{body}</main>
</body>
</html>
"""

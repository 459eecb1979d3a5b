"""The archive's routes.

    GET  /archive?day=D | ?feature=NAME&light=any|sunrise|high|sunset
    GET  /archive/nights/DATE        an evening's pictures and its composite;  POST makes it
    GET  /archive/nights/DATE/composite.png, captioned.png
    GET  /archive/months/DATE        thirty evenings from a date on;  POST makes poster and march
    GET  /archive/months/DATE/sheet.png, feed.png, story.png, march.webp, march.mp4, march-upright.mp4

Nothing that may not be shown is in any of them, nor in what was made before it was withdrawn: that has another mark.

What counts as low light: `moondesk.service.store.archive.LOW_SUN_DEG`.
"""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

from flask import Blueprint, Response, make_response, redirect, request, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.records import NotFound
from moondesk.service.errors import NotStoredError
from moondesk.service.exports import collection_files
from moondesk.service.exports.collection import composite_of, month_of
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.words import date_words
from moondesk.service.store.archive import Light, count_features, pictures_showing
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import ListedPicture
from moondesk.service.studio.nights import EVENINGS, by_evening, night_of, worth
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, config, render, storage
from moondesk.service.web.desk.archive.archive_page import (
    LIGHTS,
    PER_PAGE,
    ArchivePage,
    MonthPage,
    NightPage,
    Tile,
    day_cells,
    night_rows,
    tile_of,
    words_for_withheld,
)
from moondesk.service.web.making import studio

archive = Blueprint("archive", __name__)

NIGHT, MONTH = "/archive/nights/<evening>", "/archive/months/<first>"
#: Of a picture's light, so many are looked at; of a day's pictures so many are compared for the best.
MOST, COMPARED = 600, 40
NOTHING = "No picture of these evenings that may be shown is surely placed yet."


@archive.get("/archive")
def page() -> str:
    light = _light()
    feature = " ".join(request.args.get("feature", "").split())[:80]
    typed = request.args.get("day", "")
    day = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 3 else None
    evenings = by_evening(studio())
    days: dict[int, list[int]] = {}
    may: dict[int, list[int]] = {}
    best: dict[int, ListedPicture] = {}
    counts: dict[date, int] = {}
    for evening, ids in evenings.items():
        number = calendar().day_of_date(evening)
        shown = [p for p in list_by_id(storage(), ids[-COMPARED:]) if not reasons_not_to_air(p, config().entry_terms)]
        if shown:
            counts[evening] = len(shown) + max(0, len(ids) - COMPARED)
        if number is not None:
            days.setdefault(number, []).extend(ids)
            if shown:
                may.setdefault(number, []).extend([*ids[:-COMPARED], *(p.picture.id for p in shown)])
                best[number] = max((*([best[number]] if number in best else []), *shown), key=worth)
    tiles: tuple[Tile, ...] = ()
    head, nothing, withheld = "", "", 0
    if feature:
        found = {one.picture_id: one for one in pictures_showing(storage(), feature, light, MOST)}
        pictures = list_by_id(storage(), list(found))
        shown = [p for p in pictures if not reasons_not_to_air(p, config().entry_terms)]
        withheld = len(pictures) - len(shown)
        tiles = tuple(tile_of(p, calendar(), found[p.picture.id]) for p in shown[:PER_PAGE])
        head = f"{feature} {dict(LIGHTS)[light]}"
        nothing = "" if tiles else f"No picture that may be shown has {feature} {dict(LIGHTS)[light]}, in good light."
    elif day is not None:
        pictures = list_by_id(storage(), days.get(day, []))
        shown = sorted(
            (p for p in pictures if not reasons_not_to_air(p, config().entry_terms)), key=lambda p: -worth(p)
        )
        withheld = len(pictures) - len(shown)
        tiles = tuple(tile_of(p, calendar()) for p in shown[:PER_PAGE])
        head = f"Day {day} of the lunation"
        nothing = "" if tiles else f"No picture of day {day} that may be shown is surely placed yet."
    rows = night_rows(counts.items(), calendar())
    return render(
        "archive.html",
        ArchivePage(
            programme=config().programme,
            days=day_cells(may, best, day),
            features=count_features(storage(), light),
            feature=feature,
            light=light,
            lights=LIGHTS,
            head=head,
            tiles=tiles,
            nothing=nothing,
            withheld=words_for_withheld(withheld),
            nights=rows[:60],
            months=_months(sorted(counts)),
        ),
    )


@archive.get(NIGHT)
def night(evening: str) -> str:
    return _night(_date(evening), None)


@archive.post(NIGHT)
def make_night(evening: str) -> AnyResponse:
    day = _date(evening)
    told = composite_of(studio(), day, make=True).made
    if isinstance(told, NotFound):
        return make_response(_night(day, told), 422)
    return redirect(url_for("archive.night", evening=day.isoformat(), _anchor="composite"), 303)


def _night(day: date, why_not: NotFound | None) -> str:
    pictures = night_of(studio(), day)
    found = composite_of(studio(), day, make=False)
    done = found.made if isinstance(found.made, collection_files.Stacked) else None
    number = calendar().day_of_date(day)
    return render(
        "night.html",
        NightPage(
            programme=config().programme,
            token=sessions.form_token(),
            evening=day.isoformat(),
            words=date_words(day) + ("" if number is None else f", day {number} of the lunation"),
            tiles=tuple(tile_of(p, calendar()) for p in pictures.pictures[:PER_PAGE]),
            withheld=words_for_withheld(pictures.withheld),
            made=done is not None,
            mark=done.folder.name[-16:] if done else "",
            used=tuple(dict.fromkeys(found.names[k] for k in done.used)) if done else (),
            left_out=tuple((found.names[k], why) for k, why in done.left_out) if done else (),
            gain=f"Its noise is {done.times:.1f} times lower than that of the middle picture; it shows what is "
            f"{done.blur_km:.0f} km across, as the sharpest of them does."
            if done
            else "",
            trouble=f"{why_not.reason} {why_not.advice}".strip() if why_not is not None else "",
            before=(day - timedelta(days=1)).isoformat(),
            after=(day + timedelta(days=1)).isoformat(),
        ),
    )


@archive.get(NIGHT + "/<any('composite.png', 'captioned.png'):stacked>")
def night_file(evening: str, stacked: str) -> Response:
    found = composite_of(studio(), _date(evening), make=False).made
    return _file(found.folder if isinstance(found, collection_files.Stacked) else None, stacked, f"{evening}-{stacked}")


@archive.get(MONTH)
def month(first: str) -> str:
    return _month(_date(first), None)


@archive.post(MONTH)
def make_month(first: str) -> AnyResponse:
    day = _date(first)
    told = month_of(studio(), day, make=True).folder
    if isinstance(told, NotFound):
        return make_response(_month(day, told), 422)
    return redirect(url_for("archive.month", first=day.isoformat(), _anchor="poster"), 303)


def _month(first: date, why_not: NotFound | None) -> str:
    found = month_of(studio(), first, make=False)
    folder = found.folder if isinstance(found.folder, Path) else None
    last = first + timedelta(days=EVENINGS - 1)
    return render(
        "month.html",
        MonthPage(
            programme=config().programme,
            token=sessions.form_token(),
            first=first.isoformat(),
            words=f"{date_words(first)} to {date_words(last)}",
            rows=tuple((day.isoformat(), date_words(day), credit) for day, _, credit in found.pictures),
            made=folder is not None,
            mark=folder.name[-16:] if folder else "",
            march=bool(folder and (folder / collection_files.MARCH).is_file()),
            film=bool(folder and (folder / collection_files.FILM).is_file()),
            trouble=f"{why_not.reason} {why_not.advice}".strip()
            if why_not is not None
            else ""
            if found.pictures
            else NOTHING,
            count=len(found.pictures),
        ),
    )


@archive.get(
    MONTH + "/<any('sheet.png', 'feed.png', 'story.png', 'march.webp', 'march.mp4', 'march-upright.mp4'):sheet>"
)
def month_file(first: str, sheet: str) -> Response:
    folder = month_of(studio(), _date(first), make=False).folder
    return _file(folder if isinstance(folder, Path) else None, sheet, f"{first}-{sheet}")


def _file(folder: Path | None, name: str, given: str) -> Response:
    if folder is None or not (folder / name).is_file():
        raise NotStoredError(
            "This was not made yet, or one of its pictures may not be shown any more.",
            "Go back to its page and have it made.",
        )
    answer = send_file(folder / name, download_name=given, conditional=True)
    answer.headers["Cache-Control"] = "private, no-cache"
    return answer


def _date(text: str) -> date:
    try:
        found = date.fromisoformat(text)
        if not 1900 < found.year < 2099:
            raise ValueError(text)
    except ValueError as error:
        raise NotStoredError("This is no evening.", "Write it like 2026-10-19.") from error
    return found


def _light() -> Light:
    asked = request.args.get("light", "any")
    return next((key for key, _ in LIGHTS if key == asked), "any")


def _months(evenings: list[date]) -> tuple[tuple[str, str], ...]:
    """The first evenings of the lunations that have pictures, by the programme's count, the newest first."""
    firsts: list[date] = []
    for evening in evenings:
        if not firsts or evening > firsts[-1] + timedelta(days=EVENINGS - 1):
            number = calendar().day_of_date(evening)
            firsts.append(evening - timedelta(days=(number or 1) - 1))
    return tuple((first.isoformat(), date_words(first)) for first in reversed(firsts[-24:]))

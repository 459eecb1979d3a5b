"""A tour in words, as it is typed in a command or a form, and as it is told. Pure."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from moondesk.moon.catalogue import all_features
from moondesk.notes.messages import Message, say
from moondesk.records import NotFound
from moondesk.tour.views import MOST_VIEWS, Tour, View, ViewKind

#: What a view is called at the desk.
KINDS = {
    ViewKind.AS_SENT: "As it was sent",
    ViewKind.UPRIGHT: "Turned upright",
    ViewKind.NAMED: "Named",
    ViewKind.CLOSE_UP: "Close",
    ViewKind.RELIT: "In another light",
    ViewKind.AGAINST: "Against another evening",
}
#: The light of tomorrow evening, and how old a picture of this evening may be.
HOURS_TO_TOMORROW, OF_TONIGHT = 24.0, timedelta(hours=12)
_WORDS = {"as-sent": ViewKind.AS_SENT, "upright": ViewKind.UPRIGHT, "named": ViewKind.NAMED, "close": ViewKind.CLOSE_UP}
_PART = re.compile(
    r"(?P<word>[a-z-]+)(?:\s+(?P<name>[^=/]+?))?\s*(?:=\s*(?P<stands>[\d.]+))?\s*(?:/\s*(?P<moves>[\d.]+))?"
)
_HOW = "Write views parted by commas, like: as-sent=3, upright, named=5, close Copernicus=6/3, light Plato=4, named."


def title_of(view: View, other: str = "") -> str:
    """What the presenter reads. other: the sender of the picture that it is compared with."""
    if view.kind is ViewKind.RELIT:
        return f"In the light {abs(view.hours):g} hours {'on' if view.hours > 0 else 'before'}"
    if view.kind is ViewKind.AGAINST and other:
        return f"Against {other}"
    if view.kind is ViewKind.CLOSE_UP:
        return f"{KINDS[view.kind]}: {view.feature}"
    return f"Light on {view.feature}" if view.spotlight else KINDS[view.kind]


def rendering_words(hours: float, taken_utc: datetime | None, now: datetime) -> Message:
    """What a picture in another light always bears. taken_utc: as may be stated, None where it may not; "tomorrow" is
    said only of a picture of this evening."""
    if hours == HOURS_TO_TOMORROW and taken_utc is not None and timedelta(0) <= now - taken_utc < OF_TONIGHT:
        return say("As it will look tomorrow evening: a rendering, not a photograph")
    if hours > 0:
        return say("{hours} hours after the picture: a rendering, not a photograph", hours=round(hours))
    return say("{hours} hours before the picture: a rendering, not a photograph", hours=round(-hours))


def read_tour(text: str) -> Tour | NotFound:
    """Views parted by commas: a word, a feature's name for `close` and `light` (the rest dimmed), seconds that it stands
    after =, seconds of the move to it after /."""
    views = []
    for part in filter(None, (p.strip() for p in text.split(","))):
        found = _PART.fullmatch(part)
        word = found["word"] if found else ""
        if found is None or word not in (*_WORDS, "light"):
            return NotFound("tour", f"“{part}” is no view.", _HOW)
        name = _catalogued(found["name"] or "")
        if name is None or (word in ("close", "light")) != bool(name):
            return NotFound("tour", f"There is no feature “{found['name'] or ''}” for “{part}”.", _HOW)
        try:
            view = view_of(_WORDS.get(word, ViewKind.NAMED), name, found["stands"], found["moves"], word == "light")
        except ValueError:
            return NotFound("tour", f"“{part}” has a number that is none.", _HOW)
        views.append(view)
    if not 1 <= len(views) <= MOST_VIEWS:
        return NotFound("tour", f"A tour has 1 to {MOST_VIEWS} views.", _HOW)
    return tuple(views)


def view_of(kind: ViewKind, feature: str, stands: str | None, moves: str | None, spotlight: bool) -> View:
    """A view as somebody typed it; what was left empty is as usual. Raises ValueError for what is no number."""
    usual = View(kind=kind)
    return View(
        kind=kind,
        feature=feature,
        seconds=float(stands) if stands else usual.seconds,
        move_s=float(moves) if moves else usual.move_s,
        spotlight=spotlight,
    )


def _catalogued(name: str) -> str | None:
    """A feature's name as the catalogue has it, "" for none; None for one that is not there."""
    if not name:
        return ""
    return next((f.name for f in all_features() if f.name.casefold() == name.casefold()), None)

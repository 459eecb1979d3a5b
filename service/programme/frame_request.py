"""A picture of the rundown as a frame for air: what was asked for, its words in the programme's language, why not."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from moondesk.checks.evening import time_to_state
from moondesk.drawing.broadcast import WORDS
from moondesk.drawing.frame import FORMATS, FrameRequest, Texts, Zoom
from moondesk.drawing.frame_names import find_mark
from moondesk.drawing.style import REFERENCE_CRATER
from moondesk.ephemeris.naked_eye import eye_view
from moondesk.moon.catalogue import all_features
from moondesk.moon.geometry import sun_altitude_deg, unit_vector
from moondesk.notes.messages import Message, places_of, say
from moondesk.records import MOON_RADIUS_KM, Annotation, Feature, NotFound, Place
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.words import FORMED, best_seen

VIEWS = ("upright", "eye")
#: Names that a frame shows at once, seas among them, where nobody chose them, by format; the most that may be chosen.
SHOWN, MOST_FEATURES = {"hd": 8, "uhd": 12, "vertical": 8}, 12
#: And how many of them are seas.
SEAS = {"hd": 4, "uhd": 6, "vertical": 4}
#: So many of the features that may be shown have a name in the programme's language: then only those are.
NAMED = 12
#: A frame about a crater shows so many times its size, one about a sea, a range or the like, within these bounds, km.
AROUND, AROUND_WIDE, LEAST_KM, MOST_KM = 5.0, 1.6, 250.0, 1800.0
#: Of a close-up: marks that are looked through, and how far from its middle they may lie, shares of its shorter side.
LOOKED_AT, INNER = 400, 0.42
#: What layers that reveal nothing are called at the desk.
KIND_WORDS = {"picture": "The picture", "credit": "Credit"}
#: The longest words about the equipment that fit.
EQUIPMENT_CHARACTERS = 70


@dataclass(frozen=True)
class FrameOptions:
    """What was asked for in an address. features: names of the catalogue; zoom: one of them, or "latitude, longitude,
    kilometres across"."""

    format: str = "hd"
    view: str = "upright"
    zoom: str = ""
    features: tuple[str, ...] = ()


def _name(iau: str, language: Language, naming: str) -> str:
    """A feature's name as a frame shows it: once where both forms are alike, else the local one, the IAU's or both."""
    local = language.name_alone(iau)
    if not local or naming == "iau" or local.casefold() == iau.casefold():
        return iau
    return local if naming == "local" else f"{iau}\n{local}"


def layer_title(kind: str) -> str:
    """Of a layer that has no title of its own."""
    return KIND_WORDS.get(kind, kind)


def read_asked(arguments: Mapping[str, str], chosen: Sequence[str] = ()) -> FrameOptions | NotFound:
    """From an address: format, view, zoom; chosen: names of features. NotFound for what there is none of."""
    asked = FrameOptions(
        arguments.get("format", "hd"),
        arguments.get("view", "upright"),
        arguments.get("zoom", "").strip(),
        tuple(dict.fromkeys(name.strip() for name in chosen if name.strip())),
    )
    if asked.format not in FORMATS:
        return NotFound("frame", "There is no such format.", f"Choose one of {', '.join(FORMATS)}.")
    if asked.view not in VIEWS:
        return NotFound("frame", "There is no such view.", f"Choose one of {', '.join(VIEWS)}.")
    if len(asked.features) > MOST_FEATURES:
        return NotFound("frame", f"{MOST_FEATURES} features are the most of one frame.", "Choose fewer.")
    if re.fullmatch(_NUMBERS, asked.zoom) and _zoom_of(asked.zoom) is None:
        return NotFound(
            "frame",
            f"There is no such part of the Moon: {asked.zoom}.",
            "Write latitude, longitude and 10 to 3500 kilometres, like 9.6, -20.1, 500.",
        )
    named = (*asked.features, asked.zoom) if asked.zoom and _zoom_of(asked.zoom) is None else asked.features
    unknown = [name for name in named if _feature(name) is None]
    if unknown:
        return NotFound("frame", f"There is no feature {unknown[0]}.", "Write its name as the catalogue has it.")
    return asked


def request_of(
    annotation: Annotation,
    credit: str | None,
    lines: tuple[Message | str, ...],
    asked: FrameOptions,
    place: Place | None,
    language: Language,
    naming: str = "local",
) -> FrameRequest | NotFound:
    """What the core is to draw. credit: as it is shown, "" where no name is; None: nobody knows how to be named. lines:
    by `lines_of`. place: the programme's; naming: which of a feature's names are
    shown, "local" where the language has them, "iau" or "both"."""
    if credit is None:
        return NotFound(
            "frame",
            "Cannot go on air: nobody has said how its sender is to be named.",
            "Ask the sender, or tick that no name is shown.",
        )
    north = 0.0
    if asked.view == "eye":
        time = time_to_state(annotation)
        if time is None or place is None:
            return NotFound(
                "frame",
                "How the eye sees it hangs on the time and the programme's place, and one of them "
                "is not known well enough.",
                "Set the time of the picture and the place in the settings, or show it upright.",
            )
        seen = eye_view(time.utc, place)
        if isinstance(seen, NotFound):
            return seen
        north = seen.north_screen_deg
    zoom, about = _zoom_of(asked.zoom), _feature(asked.zoom) if asked.zoom else None
    if about is not None:
        times = AROUND if about.kind == "crater" else AROUND_WIDE
        zoom = Zoom(about.lat_deg, about.lon_deg, min(max(times * about.size_km, LEAST_KM), MOST_KM))
    dark = _why_no_close_up(annotation, about, zoom)
    if dark is not None:
        return dark
    named = tuple(dict.fromkeys((*([about.name] if about is not None else ()), *asked.features)))
    offered = () if asked.features else best_shown(annotation, zoom)
    own = [m.feature.name for m in annotation.features if m.feature.parent is None]
    forms = {iau: _name(iau, language, naming) for iau in (*own, REFERENCE_CRATER)}
    names = {iau: shown for iau, shown in forms.items() if shown != iau}
    if len(names) >= NAMED:  # a frame speaks one language where that has the names
        offered = tuple(iau for iau in offered if iau in names)
    texts = _texts(language, credit, lines, names)
    return FrameRequest(
        format=FORMATS[asked.format],
        texts=texts,
        north_screen_deg=north,
        zoom=zoom,
        features=named,
        offered=offered,
        most=max(SHOWN[asked.format], len(named)),
        seas=SEAS[asked.format],
    )


def _why_no_close_up(annotation: Annotation, about: Feature | None, zoom: Zoom | None) -> NotFound | None:
    """Why there is nothing to show large: no light falls there in this picture, or it cannot be made out."""
    pose = annotation.pose
    if zoom is None or pose is None:
        return None
    if about is not None:
        mark = find_mark(annotation, about.name)
        return mark if isinstance(mark, NotFound) else None
    height = float(sun_altitude_deg(zoom.lat_deg, zoom.lon_deg, pose.sub_solar_lat_deg, pose.sub_solar_lon_deg))
    if height < -math.degrees(zoom.across_km / 2 / MOON_RADIUS_KM):
        return NotFound(
            "zoom", "That part of the Moon lies in the dark in this picture.", "Choose one that is in the light."
        )
    return None


def best_shown(annotation: Annotation, zoom: Zoom | None) -> tuple[str, ...]:
    """What a frame may show that nobody chose features for: craters, mountains and the like, the best seen first. More
    than there is room for, because only the finished frame tells which of them it shows."""
    found = []
    for mark in best_seen(annotation, LOOKED_AT):
        f = mark.feature
        if f.kind not in FORMED:
            continue
        if zoom is not None:
            cosine = float(unit_vector(f.lat_deg, f.lon_deg) @ unit_vector(zoom.lat_deg, zoom.lon_deg))
            if cosine < math.cos(INNER * zoom.across_km / MOON_RADIUS_KM):
                continue
        found.append(f.name)
    return tuple(found)


def lines_of(annotation: Annotation, equipment: str, calendar: Calendar) -> tuple[Message | str, ...]:
    """What stands under the credit: the equipment as told, then day of the lunation and evening, where they are
    known."""
    lines: list[Message | str] = []
    short = _short(equipment)
    if short:
        lines.append(short)
    time = time_to_state(annotation)
    if time is not None and annotation.status.facts.shows_disc:
        evening = calendar.evening(time.utc)
        if evening.day_number is None:
            lines.append(say("{date}", date=evening.date))
        else:
            lines.append(say("Day {day} of the lunation, {date}", day=evening.day_number, date=evening.date))
    return tuple(lines)


def fixed_words() -> dict[str, Message]:
    """What never changes in a frame, by the keys of its layers."""
    return {key: say(words, **{place: f"{{{place}}}" for place in places_of(words)}) for key, words in WORDS.items()}


def _texts(language: Language, credit: str, lines: tuple[Message | str, ...], names: Mapping[str, str]) -> Texts:
    words = {key: language.write(said) for key, said in fixed_words().items()}
    written = tuple(line if isinstance(line, str) else language.write(line) for line in lines)
    return Texts(credit=credit, lines=written, words=words, names=names)


def _short(text: str) -> str:
    """The words of the equipment, cut where a part of them ends if they are too many for a plate."""
    text = " ".join(text.split())
    while len(text) > EQUIPMENT_CHARACTERS:
        head = max(text[:EQUIPMENT_CHARACTERS].rfind(mark) for mark in (", ", "; ", " (", ". ", " with ", " + "))
        if head <= 0:
            return ""
        text = text[:head]
    return text


#: "9.6, -20.1, 500": a place and the kilometres across.
_NUMBERS = r"\s*([+-]?\d+(?:\.\d+)?)\s*[,;]\s*([+-]?\d+(?:\.\d+)?)\s*[,;]\s*(\d+(?:\.\d+)?)\s*(?:km)?\s*"


def _zoom_of(text: str) -> Zoom | None:
    """A part of the Moon given by numbers; None for other words, and for numbers that are none."""
    numbers = re.fullmatch(_NUMBERS, text.replace("\u2212", "-"))
    if numbers is None:
        return None
    try:
        return Zoom(*(float(n) for n in numbers.groups()))
    except ValueError:
        return None


def _feature(name: str) -> Feature | None:
    return next((f for f in all_features() if f.name.casefold() == name.casefold()), None)

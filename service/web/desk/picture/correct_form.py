"""What a person sends to correct a picture, as decisions or as sentences about what is wrong with it. Pure.

From the picture's script as JSON: {"circle": {"x", "y", "radius"}, "pins": [{"name", "x", "y"}, ...], "mirrored"}.
From the form of the details: sender_name, credit_line, equipment, place_name, latitude, longitude, taken, zone; only
what differs from what stands becomes a decision. From the choice of a night: taken, zone, sigma_minutes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any
from zoneinfo import ZoneInfo

from moondesk.checks.evening import VAGUE_MINUTES
from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.records import Arrival
from moondesk.service.texts import clean_text
from moondesk.service.web.public.form import NAME_CHARACTERS, PLACE_CHARACTERS, WORDS_CHARACTERS, local_time

#: Pins of one picture; two settle it, and a dozen are more than a patient hand sets.
MOST_PINS = 12
#: No picture has as many pixels to a side.
FARTHEST_PX = 200_000.0
TEXTS = (("sender_name", NAME_CHARACTERS), ("credit_line", NAME_CHARACTERS), ("equipment", WORDS_CHARACTERS))


@dataclass(frozen=True, kw_only=True)
class Details:
    """The form's fields, as they stand or as typed."""

    sender_name: str = ""
    credit_line: str = ""
    equipment: str = ""
    place_name: str = ""
    latitude: str = ""
    longitude: str = ""
    taken: str = ""
    zone: str = ""


@dataclass(frozen=True)
class WantedCorrection:
    """Decisions that were asked for; complaint: what is wrong, and then there are none."""

    changes: tuple[DecidedChange, ...] = ()
    complaint: str = ""


def details_of(arrival: Arrival, zone: str) -> Details:
    """The form for what stands; the time by the clock of `zone`."""
    place, taken = arrival.place, ""
    if arrival.taken_utc is not None:
        # by the second: what is shown and sent back untouched must be the same
        taken = arrival.taken_utc.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%dT%H:%M:%S").removesuffix(":00")
    return Details(
        sender_name=arrival.sender_name,
        credit_line=arrival.credit_line,
        equipment=arrival.equipment,
        place_name=arrival.place_name,
        latitude=f"{place.latitude_deg:.4f}" if place else "",
        longitude=f"{place.longitude_deg:.4f}" if place else "",
        taken=taken,
        zone=zone,
    )


def read_details(fields: Mapping[str, str], arrival: Arrival, zone: str) -> WantedCorrection:
    """The form that was sent, beside what stands."""
    stands = details_of(arrival, zone)
    typed = {name: fields.get(name, getattr(stands, name)) for name in Details.__dataclass_fields__}
    changes: list[DecidedChange] = []
    for name, most in TEXTS:
        text = clean_text(typed[name], 2_000)
        if len(text) > most:
            return WantedCorrection(complaint=f"Please keep it to {most} characters; it has {len(text)}.")
        if text != getattr(stands, name):
            changes.append(DecidedChange(name, {"text": text}))
    place = [typed["place_name"], typed["latitude"], typed["longitude"]]
    if place != [stands.place_name, stands.latitude, stands.longitude]:
        found = _read_place(*place)
        if isinstance(found, str):
            return WantedCorrection(complaint=found)
        changes.append(found)
    if typed["taken"].strip() != stands.taken or (stands.taken and typed["zone"] != stands.zone):
        found = _time(typed["taken"].strip(), typed["zone"] or zone, fields.get("sigma_minutes", ""))
        if isinstance(found, str):
            return WantedCorrection(complaint=found)
        changes.append(found)
    return (
        WantedCorrection(tuple(changes))
        if changes
        else WantedCorrection(complaint="Nothing differs from what stands already.")
    )


def read_marks(sent: Any) -> WantedCorrection:
    """The marks that a script sends."""
    if not isinstance(sent, dict):
        return _nonsense()
    changes = []
    try:
        if sent.get("circle") is not None:
            x, y, radius = (_number(sent["circle"][k]) for k in ("x", "y", "radius"))
            if radius <= 0:
                return WantedCorrection(complaint="The circle has no size. Draw it to the edge of the disc.")
            changes.append(DecidedChange("circle", {"x": x, "y": y, "radius": radius}))
        if sent.get("pins"):
            pins = [
                [clean_text(str(p["name"]), NAME_CHARACTERS), _number(p["x"]), _number(p["y"])] for p in sent["pins"]
            ]
            if len(pins) > MOST_PINS:
                return WantedCorrection(complaint=f"{MOST_PINS} named points are the most; {len(pins)} are set.")
            if not all(name for name, _, _ in pins):
                return WantedCorrection(complaint="A point has no name. Name it, or remove it.")
            changes.append(DecidedChange("pins", {"pins": pins}))
        if sent.get("mirrored") is not None:
            if not isinstance(sent["mirrored"], bool):
                return _nonsense()
            changes.append(DecidedChange("hand", {"mirrored": sent["mirrored"]}))
    except (KeyError, TypeError, ValueError):
        return _nonsense()
    return (
        WantedCorrection(tuple(changes))
        if changes
        else WantedCorrection(
            complaint="Nothing is set yet. Draw the circle, name two points, or exchange left and right."
        )
    )


def _nonsense() -> WantedCorrection:
    return WantedCorrection(complaint="These corrections cannot be read. Load the page again.")


def _number(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ValueError(value)
    if abs(value) > FARTHEST_PX:
        raise ValueError(value)
    return round(float(value), 2)


def _read_place(name: str, latitude: str, longitude: str) -> DecidedChange | str:
    name = clean_text(name, 2_000)
    if len(name) > PLACE_CHARACTERS:
        return f"Please keep the place to {PLACE_CHARACTERS} characters; it has {len(name)}."
    told = [text.strip().replace(",", ".").replace("\u2212", "-") for text in (latitude, longitude)]
    if not any(told):
        return DecidedChange("place", {"name": name, "latitude_deg": None, "longitude_deg": None})
    try:
        north, east = (float(text) for text in told)
    except ValueError:
        return "Latitude and longitude are two numbers in degrees, like 48.2 and 16.4. Leave both empty if unknown."
    if not (-90 <= north <= 90 and -180 <= east <= 180):
        return (
            f"There is no place at {told[0]}, {told[1]}: a latitude runs from -90 to 90 (south is negative), a "
            "longitude from -180 to 180 (west is negative)."
        )
    return DecidedChange("place", {"name": name, "latitude_deg": north, "longitude_deg": east})


def _time(text: str, zone: str, sigma_minutes: str = "") -> DecidedChange | str:
    """sigma_minutes: of a night that was named without its hour; empty: a time."""
    if not text:
        return DecidedChange("time", {"utc": None})
    try:
        when, twice = local_time(text, zone)
    except ValueError as error:
        return str(error)
    if when is None or twice:
        return "The clocks showed this hour twice that night. Choose UTC, and give the time in it."
    if sigma_minutes.isascii() and sigma_minutes.isdigit() and 0 < int(sigma_minutes) <= VAGUE_MINUTES:
        return DecidedChange("time", {"utc": when.isoformat(), "sigma_minutes": float(sigma_minutes)})
    return DecidedChange("time", {"utc": when.isoformat()})

"""Facts about one picture for its page: each a label, a value, and where it comes from. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import assert_never

from moondesk.checks.evening import time_to_state
from moondesk.checks.statements import lit_fraction
from moondesk.records import Annotation, ClockVerdict
from moondesk.service.programme.consent.wording import State
from moondesk.service.programme.credit import credit_of, sender_of, teller_of
from moondesk.service.programme.equipment import equipment_of, equipment_words
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.permission import Permission
from moondesk.service.programme.words import date_words, place_words, sigma_words, time_judged, time_source, time_words
from moondesk.service.store.records import Arrival, SentPicture
from moondesk.visibility.handedness import compare_handedness, handedness_of_words


@dataclass(frozen=True)
class Fact:
    """One line of facts; note: its source or a caution, may be empty."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class FactGroup:
    """Facts under a title; aside: further ones, folded up under `aside_title` until somebody wants them."""

    title: str
    facts: tuple[Fact, ...]
    aside: tuple[Fact, ...] = ()
    aside_title: str = ""


def time_facts(a: Annotation, arrival: Arrival, calendar: Calendar) -> tuple[Fact, ...]:
    """When and where it was taken, and what the clock is worth."""
    zone = calendar.zone
    facts = []
    if a.time:
        source = time_source(a)
        if a.time.source == "told":
            source = f"told by {teller_of(arrival)}"
        evening = calendar.evening(a.time.utc)
        day = f"day {evening.day_number} of the lunation" if evening.day_number is not None else ""
        facts.append(Fact("Taken", time_words(a.time.utc, zone), f"{source}, {sigma_words(a.time.sigma_minutes)}"))
        facts.append(Fact("Evening", date_words(evening.date), day))
    else:
        facts.append(Fact("Taken", "Not known", a.dated.reason))
    clock_note = ""
    if (
        a.clock.picture_utc
        and a.clock.verdict != ClockVerdict.AGREES
        and not (a.time and a.time.utc == a.clock.picture_utc)
    ):
        spread = f", {sigma_words(a.clock.sigma_hours * 60)}" if a.clock.sigma_hours is not None else ""
        clock_note = f"the picture itself says {time_words(a.clock.picture_utc, zone)}{spread}"
    if a.time is not None or a.clock.words != a.dated.reason:
        facts.append(Fact("Clock", time_judged(a), clock_note))
    place, source = arrival.place, "as told with the picture"
    if place is None:
        place, source = a.taken.place, "from the file's GPS position"
    if arrival.place_name or place:
        beside = f"{place_words(place)}, {source}" if place else "as told with the picture"
        facts.append(
            Fact(
                "Place",
                arrival.place_name or place_words(place) if place else arrival.place_name,
                beside if arrival.place_name else source,
            )
        )
    else:
        facts.append(Fact("Place", "Not known"))
    return tuple(facts)


def moon_facts(a: Annotation, equipment: str = "") -> tuple[Fact, ...]:
    """How the Moon stands in the picture; equipment: the sender's words, beside whose optics the hand is set."""
    facts = []
    light = lit_fraction(a)
    if light is not None:
        facts.append(
            Fact(
                "Lit part",
                f"{light * 100:.0f} %",
                "as the picture shows it" if time_to_state(a) is None else "at the picture's time",
            )
        )
    if a.pose:
        turn = a.pose.north_screen_deg % 360
        way = (
            "up"
            if turn < 3 or turn > 357
            else f"{turn:.0f}° left of up"
            if turn <= 180
            else (f"{360 - turn:.0f}° right of up")
        )
        facts.append(Fact("North", way))
        facts.append(
            Fact(
                "Mirrored",
                "Yes" if a.pose.mirrored else "No",
                "left and right are exchanged" if a.pose.mirrored else "as the eye sees it, or turned",
            )
        )
        expected = handedness_of_words(equipment)
        if equipment and expected.mirrored is not None:
            facts.append(
                Fact("Optics say", "Mirrored" if expected.mirrored else "Not mirrored", compare_handedness(expected, a))
            )
        sigma = a.pose.sigma_pct_radius
        if sigma == sigma:
            facts.append(
                Fact(
                    "Placed within",
                    f"{max(sigma * 17.374, 0.1):.1f} km",
                    f"one standard deviation; {sigma:.2f} % of the disc's radius",
                )
            )
    return tuple(facts)


def sender_facts(picture: SentPicture, may: Permission, zone: str) -> tuple[Fact, ...]:
    """Who sent it, with which permission and with what. may: by `permission_of`."""
    arrival = picture.submission.arrival
    received = time_words(arrival.received_utc, zone) if arrival.received_utc else "Not known"
    equipment = equipment_of(arrival)
    facts = [
        Fact("From", sender_of(arrival), arrival.sender_address if arrival.sender_name else ""),
        _credit_fact(arrival),
        consent_fact(may),
        Fact(
            "Equipment",
            equipment_words(arrival) or "Not told",
            f"suggested by the mail: “{equipment.words}”" if equipment.words and not arrival.equipment else "",
        ),
        Fact("Received", received, arrival.way.words),
    ]
    if arrival.channel or arrival.link:
        facts.append(Fact("Sent by", arrival.channel or arrival.link, arrival.link if arrival.channel else ""))
    if arrival.subject:
        facts.append(Fact("Subject", arrival.subject))
    return tuple(facts)


def _credit_fact(arrival: Arrival) -> Fact:
    credit = credit_of(arrival)
    if credit.unnamed:
        said = "the mail says: " if arrival.way.is_mail else ""
        return Fact("Credit", "Not to be named", f"{said}“{credit.words}”")
    if credit.doubt:
        return Fact("Credit", "Missing", credit.doubt)
    if credit.words:
        return Fact("Credit", credit.name, f"suggested by the mail: “{credit.words}”")
    return Fact(
        "Credit",
        credit.name or "Missing",
        ""
        if arrival.credit_line
        else "the sender's name; no other credit was asked for"
        if credit.name
        else "ask the sender how to be named",
    )


def consent_fact(may: Permission) -> Fact:
    """What counts as its sender's word, and why the picture cannot go on air, where it cannot."""
    consent = may.consent
    said = f"“{consent.evidence}”" if consent.evidence else ""
    where = " in the mail" if consent.kind == "mail" and said and consent.state != "given" else ""
    note = [f"{said}{where}".strip(), *(stop.rstrip(".") for stop in may.stops)]
    if consent.minor and not may.stops and not consent.guardian:
        note.append("a child seems to have taken it: is it a guardian's?")
    return Fact("Consent", _consent_words(consent.state), "; ".join(filter(None, note)))


def _consent_words(state: State) -> str:
    match state:
        case "given":
            return "Given"
        case "none":
            return "None recorded"
        case "suggested":
            return "Not confirmed"
        case "unclear":
            return "Unclear: read the letter first"
        case "refused":
            return "Refused"
        case "asked":
            return "Asked, no answer yet"
    assert_never(state)


def file_note(picture: SentPicture, annotation: Annotation | None) -> str:
    """Size of the picture in pixels and bytes."""
    count = picture.enclosure.size_bytes
    size = f"{count / 1e6:.1f} MB" if count >= 1e6 else f"{max(1, round(count / 1e3))} kB"
    if annotation and annotation.width:
        return f"{annotation.width} by {annotation.height} pixels, {size}"
    return size

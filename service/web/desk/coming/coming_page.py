"""The page of the evenings to come: one frozen record, made from the sky at the programme's place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from moondesk.comparison.changed_light import NEAR_DEG, LightAtPlace, LightChange, changes, near_terminator
from moondesk.comparison.predicted import Orientation, predicted_pose
from moondesk.drawing.labelled import OverlayStyle
from moondesk.drawing.style import LabelStyle
from moondesk.drawing.svg import overlay_svg
from moondesk.ephemeris.phases import phases_around
from moondesk.ephemeris.rise_and_set import NightWindow, Span, sun_caution
from moondesk.records import Annotation, Aspect, Clock, ClockVerdict, FeatureMark, Place, Status, TimeReadings
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.evenings_to_come import Air, Coming
from moondesk.service.programme.viewer_requests import EveningSky, cautions, hours_of, requests, sky_of
from moondesk.service.programme.words import date_words, hour_words, light_words, place_words, time_words
from moondesk.service.settings.config import Programme
from moondesk.service.web.desk.picture.facts import Fact
from moondesk.service.web.desk.picture.layers import OverlayMarkup, overlay_markup

EVENINGS = 7
SMALL_PX, LARGE_PX = 240, 1000
#: Rows of the list, names in the drawing, and features told as new.
NEAR_SHOWN, NAMED, NEW_SHOWN = 16, 16, 12
LAYERS: frozenset[str] = frozenset({"terminator", "craters", "mountains", "seas", "directions"})
WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, kw_only=True)
class EveningCard:
    """An evening in the strip. mark: version of its drawing; notes: what must be known at a glance."""

    evening: str
    weekday: str
    date: str
    day: str
    lit: str
    notes: tuple[str, ...]
    mark: str
    is_chosen: bool


@dataclass(frozen=True, kw_only=True)
class LightRow:
    """A feature and its light, in words. is_new: the light has reached it since the evening before."""

    name: str
    meaning: str
    what: str
    light: str
    is_new: bool = False


@dataclass(frozen=True, kw_only=True)
class ComingPage:
    """The page of the evenings to come."""

    programme: Programme
    #: Of the place and the air time, and what is missing.
    basis: tuple[str, ...]
    cards: tuple[EveningCard, ...]
    earlier: str
    later: str
    first: str
    evening: str
    title: str
    cautions: tuple[str, ...]
    facts: tuple[Fact, ...]
    #: "eye" or "north"; eye only where the programme has a place.
    view: Orientation
    views: tuple[tuple[str, str], ...]
    shown_words: str
    mark: str
    overlay: OverlayMarkup | None
    description: str
    requests: tuple[tuple[str, str], ...]
    near: tuple[LightRow, ...]
    near_words: str
    #: What the light has reached since the evening before besides those (of a waning Moon: has left).
    new: tuple[LightRow, ...]
    new_title: str
    new_words: str
    #: What it will reach by the evening after.
    next: tuple[LightRow, ...]
    next_title: str
    next_words: str


@dataclass(frozen=True, kw_only=True)
class Predicted:
    """week: the evenings of the strip; around: the evenings before and after the chosen one; marks: versions of the
    strip's drawings, and large_mark of the large one."""

    air: Air
    week: Sequence[Coming]
    chosen: Coming
    around: tuple[Coming, Coming]
    view: Orientation
    marks: Mapping[date, str]
    large_mark: str


def coming_page(programme: Programme, calendar: Calendar, predicted: Predicted) -> ComingPage:
    zone, place = programme.zone, programme.place
    week, chosen, view = predicted.week, predicted.chosen, predicted.view
    sky = sky_of(chosen, zone)
    pose = predicted_pose(chosen.shown, LARGE_PX, view)
    near = () if sky.caution == "lost" else tuple(m for m in near_terminator(pose) if m.lit_fraction >= 0.05)
    before, after = (_light(c.shown) for c in predicted.around)
    now, side = _light(chosen.shown), 0 if sky.waxing else 1
    new = () if sky.caution == "lost" else changes(before, now, pose)[side]
    soon = changes(now, after, pose)[side]
    listed = near[:NEAR_SHOWN]
    fresh, shown = {c.feature.name for c in new}, {m.feature.name for m in listed}
    besides = [c for c in new if c.feature.name not in shown]
    first = week[0].evening
    day = calendar.day_of_date(chosen.evening)
    verb, where = ("comes", "into the light") if sky.waxing else ("goes", "into the dark")
    return ComingPage(
        programme=programme,
        basis=_basis(place, predicted.air),
        cards=tuple(_card(c, calendar, predicted.marks, chosen) for c in week),
        earlier=(first - timedelta(days=EVENINGS)).isoformat(),
        later=(first + timedelta(days=EVENINGS)).isoformat(),
        first=first.isoformat(),
        evening=chosen.evening.isoformat(),
        title=f"{WEEKDAYS[chosen.evening.weekday()]}, {date_words(chosen.evening)}"
        f"{'' if day is None else f', day {day}'}",
        cautions=cautions(sky, hours_of(sky, zone)),
        facts=_facts(chosen, sky, zone),
        view=view,
        views=(("eye", "As the eye sees it"), ("north", "North up")) if place else (("north", "North up"),),
        shown_words=_appearance_words(chosen, zone, view),
        mark=predicted.large_mark,
        overlay=_overlay(chosen, near, view),
        description=_description(chosen, near),
        requests=requests(sky, near),
        near=tuple(_near_row(m, sky.waxing, sky.waxing and m.feature.name in fresh) for m in listed),
        near_words=_near_words(near, sky),
        new=tuple(change_row(c) for c in besides[:NEW_SHOWN]),
        new_title=f"Also {'came' if sky.waxing else 'went'} {where} since the evening before",
        new_words=_count_words(besides),
        next=tuple(change_row(c, "then") for c in soon[:NEW_SHOWN]),
        next_title=f"{verb.capitalize()} {where} by the evening after",
        next_words=_count_words(soon),
    )


def _light(aspect: Aspect) -> LightAtPlace:
    return LightAtPlace(aspect.sub_solar_lat_deg, aspect.sub_solar_lon_deg)


def _basis(place: Place | None, air: Air) -> tuple[str, ...]:
    said = [f"On air at {air.clock:%H:%M} ({air.source})."]
    if place:
        return (f"At {place_words(place)}.", *said)
    return (
        "The programme's place is not set: heights, rise and set, and how the Moon is turned for the eye cannot be "
        "told. Set latitude and longitude in the settings.",
        *said,
    )


def _card(one: Coming, calendar: Calendar, marks: Mapping[date, str], chosen: Coming) -> EveningCard:
    notes = []
    if sun_caution(one.on_air.elongation_deg) != "none":
        notes.append("Near the Sun")
    if one.is_down:
        notes.append("Below the horizon on air")
    day = calendar.day_of_date(one.evening)
    return EveningCard(
        evening=one.evening.isoformat(),
        weekday=WEEKDAYS[one.evening.weekday()],
        date=date_words(one.evening).rpartition(" ")[0],
        day="" if day is None else f"Day {day}",
        lit=f"{one.on_air.illuminated_fraction * 100:.0f} % lit",
        notes=tuple(notes),
        mark=marks[one.evening],
        is_chosen=one.evening == chosen.evening,
    )


def _facts(chosen: Coming, sky: EveningSky, zone: str) -> tuple[Fact, ...]:
    a = chosen.on_air
    edition = "" if chosen.edition is None else f"edition {chosen.edition}"
    facts = [Fact("On air", hour_words(chosen.air_utc, zone), edition)]
    if a.altitude_deg is not None and a.azimuth_deg is not None:
        wind = WINDS[round(a.azimuth_deg / 45) % 8]
        if chosen.is_down:
            facts.append(Fact("Moon on air", "Below the horizon", "nobody there can see it while you are on air"))
        elif a.altitude_deg < 5:
            facts.append(
                Fact("Moon on air", f"{a.altitude_deg:.0f}° high in the {wind}", "behind houses and trees for most")
            )
        else:
            facts.append(Fact("Moon on air", f"{a.altitude_deg:.0f}° high in the {wind}"))
    if sky.night:
        facts.append(Fact("Moon is up", _spans_words(sky.night.moon, sky.night, zone)))
        facts.append(Fact("Sun is down", _down_words(sky.night, zone)))
    trend = "" if a.illuminated_fraction > 0.995 else "growing" if sky.waxing else "shrinking"
    facts.append(Fact("Lit part", f"{a.illuminated_fraction * 100:.0f} %", trend))
    coming_phase = phases_around(chosen.air_utc).next
    facts.append(
        Fact(
            "Next",
            f"{coming_phase.kind.capitalize()} Moon"
            if coming_phase.kind in ("new", "full")
            else coming_phase.kind.capitalize(),
            time_words(coming_phase.utc, zone),
        )
    )
    return tuple(facts)


def _spans_words(spans: Sequence[Span], whole: NightWindow, zone: str) -> str:
    """Times of rise and set between the noons; a span cut by the window is open on that side."""
    parts = []
    for start, end in spans:
        left = "" if start == whole.start_utc else f"from {hour_words(start, zone)}"
        right = "" if end == whole.end_utc else f"until {hour_words(end, zone)}"
        parts.append(f"{left} {right}".strip() or "all the time")
    return "; ".join(parts) or "not between this noon and the next"


def _down_words(whole: NightWindow, zone: str) -> str:
    sets = next((end for _, end in whole.sun if end < whole.end_utc), None)
    rises = next((start for start, _ in whole.sun if start > whole.start_utc), None)
    if not whole.sun:
        return "all the time"
    if sets is None and rises is None:
        return "not at all this night"
    times = (("from", sets), ("until", rises))
    return " ".join(f"{word} {hour_words(when, zone)}" for word, when in times if when is not None)


def _appearance_words(chosen: Coming, zone: str, view: Orientation) -> str:
    how = "as it stands for the eye, zenith up" if view == "eye" else "north up, not mirrored"
    if chosen.shown.when_utc == chosen.air_utc:
        return f"Drawn from maps for air time, {how}."
    return f"Drawn from maps for {time_words(chosen.shown.when_utc, zone)}, when it is up, {how}."


def _overlay(chosen: Coming, near: Sequence[FeatureMark], view: Orientation) -> OverlayMarkup | None:
    pose = predicted_pose(chosen.shown, LARGE_PX, view)
    style = OverlayStyle(LabelStyle(text_scale=1.3, max_labels=NAMED), LAYERS)
    annotation = Annotation(
        status=Status.ANNOTATED,
        sure=True,
        width=LARGE_PX,
        height=LARGE_PX,
        taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=Clock(ClockVerdict.NO_CLOCK, None, None),
        pose=pose,
        features=tuple(near),
    )
    return overlay_markup(overlay_svg(annotation, style))


def _description(chosen: Coming, near: Sequence[FeatureMark]) -> str:
    lit = f"{chosen.shown.illuminated_fraction * 100:.0f} per cent lit"
    names = ", ".join(m.feature.name for m in near[:5])
    return f"The Moon predicted for the evening of {date_words(chosen.evening)}, {lit}" + (
        f"; near the terminator: {names}" if names else ""
    )


def _what(feature_kind: str, size_km: float) -> str:
    return f"{feature_kind}, {size_km:.0f} km" if size_km < 1000 else f"{feature_kind}, {size_km:,.0f} km"


def _near_row(mark: FeatureMark, waxing: bool, is_new: bool) -> LightRow:
    light, f = light_words(mark), mark.feature
    if not waxing:
        light = light.replace("Sun just up", "Sun nearly down")
    return LightRow(name=f.name, meaning=f.meaning or "", what=_what(f.kind, f.size_km), light=light, is_new=is_new)


def _near_words(near: Sequence[FeatureMark], sky: EveningSky) -> str:
    if sky.caution == "lost":
        return "Lost in the Sun's glare this evening."
    if not near:
        return f"No named feature of 15 km lies within {NEAR_DEG:.0f}° of the terminator on this side of the Moon."
    sun = "rising" if sky.waxing else "setting"
    more = f" The first {NEAR_SHOWN} of {len(near)}." if len(near) > NEAR_SHOWN else ""
    floors = " Rims come first: a deep crater keeps its floor in shadow for hours." if sky.waxing else ""
    return f"The Sun is {sun} there, within {NEAR_DEG:.0f}° of the horizon: long shadows.{floors}{more}"


def change_row(change: LightChange, when: str = "now") -> LightRow:
    """A change of the light as a row; when as in `change_words`."""
    f = change.feature
    return LightRow(
        name=f.name, meaning=f.meaning or "", what=_what(f.kind, f.size_km), light=change_words(change, when)
    )


def change_words(change: LightChange, when: str = "now") -> str:
    """What the light has done to a feature, in words. when: "now", or "then" of an evening to come."""
    now, then = change.lit_after, change.lit_before
    if then < now:
        height = f", Sun {change.sun_after_deg:.0f}° high" if change.sun_after_deg >= 0.5 else ""
        if now >= 0.97:
            return f"lit {when}{height}" if then <= 0.03 else f"all of it lit {when}{height}"
        return f"{_percent(now)} lit {when}" + ("" if then <= 0.03 else f", {_percent(then)} before")
    height = f", Sun {-change.sun_after_deg:.0f}° down" if change.sun_after_deg <= -0.5 else ""
    if now <= 0.03:
        return f"dark {when}{height}"
    return f"{_percent(now)} still lit {when}, {_percent(then)} before"


def _percent(share: float) -> str:
    return f"{round(share * 20) * 5} %"


def _count_words(some: Sequence[LightChange]) -> str:
    if not some:
        return "None of the named features of 15 km and more."
    return f"The first {NEW_SHOWN} of {len(some)}, best known first." if len(some) > NEW_SHOWN else ""

"""What to ask viewers for on an evening, and the cautions that go with it: facts of the sky to sentences. Pure.

Which equipment shows what is a rule of thumb (common practice): a phone or binoculars what is 80 km across, a small
telescope what is 25 km, a larger one what is finer, and rilles and ridges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from moondesk.ephemeris.aspect import unix_seconds_of
from moondesk.ephemeris.earth_shadow import EclipseState, eclipse_state
from moondesk.ephemeris.rise_and_set import RISEN_DEG, NightWindow, SunCaution, night, sun_altitude_deg, sun_caution
from moondesk.records import Aspect, FeatureMark
from moondesk.service.programme.evenings_to_come import Coming, is_waxing
from moondesk.service.programme.words import hour_words, join_names

LARGE_KM, MIDDLE_KM = 80.0, 25.0
#: Narrow and low: they want a larger telescope whatever their length.
FINE_KINDS = ("rille", "ridge", "scarp", "crater chain", "valley")
AREAS = ("sea", "ocean", "lake", "bay", "marsh", "plain")
#: Fewer than this share in the light is nothing to ask for.
LIT_AT_LEAST = 0.3
#: Phase angle below which shadows are too short to be seen; lit share up to which earthshine shows (common practice).
FULL_DEG, EARTHSHINE = 15.0, 0.3
NAMES = 4
OPTICS = (
    "Never point a telescope, binoculars or a camera's lens at the Sun or near it: a moment of it through optics "
    "blinds for good, and burns a camera."
)


@dataclass(frozen=True, kw_only=True)
class EveningSky:
    """An evening's sky as the sentences need it. hour: times as they are shown; mark lists are best first."""

    on_air: Aspect
    caution: SunCaution
    #: None where the programme has no place.
    night: NightWindow | None
    sun_up_on_air: bool
    waxing: bool
    eclipse: EclipseState


def sky_of(one: Coming, zone: str) -> EveningSky:
    """Of an evening to come, from noon to noon by the clock of the programme's zone."""
    place, on_air = one.on_air.place, one.on_air
    noon, next_noon = (datetime.combine(one.evening + timedelta(days=k), time(12), ZoneInfo(zone)) for k in (0, 1))
    return EveningSky(
        on_air=on_air,
        caution=sun_caution(on_air.elongation_deg),
        night=night(noon, next_noon, place) if place else None,
        sun_up_on_air=bool(place and sun_altitude_deg([unix_seconds_of(one.air_utc)], place)[0] > RISEN_DEG),
        waxing=is_waxing(on_air),
        eclipse=eclipse_state(one.shown.when_utc),
    )


def hours_of(sky: EveningSky, zone: str) -> dict[datetime, str]:
    """The times of the night in words."""
    spans = (*sky.night.sun, *sky.night.moon) if sky.night else ()
    return {when: hour_words(when, zone) for span in spans for when in span}


def cautions(sky: EveningSky, hour: dict[datetime, str]) -> tuple[str, ...]:
    """Sentences about the Sun; empty where it is far from the Moon and down. hour: words for the times of the night."""
    said = []
    distance = f"{sky.on_air.elongation_deg:.0f}°"
    if sky.caution == "lost":
        said.append(
            f"The Moon stands only {distance} from the Sun and is lost in its glare. Ask for no pictures of it "
            f"this evening, and do not let anybody search for it. {OPTICS}"
        )
    elif sky.caution == "near":
        edge = _edge_of_night(sky, hour)
        said.append(f"The Moon stands {distance} from the Sun: {edge} {OPTICS}")
    if sky.sun_up_on_air and sky.caution != "lost":
        said.append(f"The Sun is still up on air. {'' if said else OPTICS}".strip())
    return tuple(said)


def _edge_of_night(sky: EveningSky, hour: dict[datetime, str]) -> str:
    """When the Sun is safely away: after it has set for the evening's crescent, before it rises for the morning's."""
    night = sky.night
    if sky.waxing:
        sets = next((end for _, end in night.sun if end < night.end_utc), None) if night else None
        at = f", at {hour[sets]} over a level horizon" if sets else ""
        return f"ask only for pictures taken after the Sun has set entirely{at}."
    rises = next((start for start, _ in night.sun if start > night.start_utc), None) if night else None
    at = f", at {hour[rises]} over a level horizon" if rises else ""
    return f"ask only for pictures finished well before the Sun rises{at}."


def requests(sky: EveningSky, near: Sequence[FeatureMark]) -> tuple[tuple[str, str], ...]:
    """(with what, what for) in the order in which they would be said; empty where there is nothing to ask for."""
    if sky.caution == "lost":
        return ()
    asked = []
    if sky.eclipse in ("partial", "total"):
        asked.append(("Anything that takes pictures", f"the {sky.eclipse} eclipse, with the exposure time beside it"))
    if sky.on_air.illuminated_fraction < EARTHSHINE:
        asked.append(
            (
                "Camera or phone on a tripod",
                "earthshine: some seconds of exposure, so that the dark part shows; the crescent may burn out",
            )
        )
    if sky.caution == "near":
        asked.append(("Phone or camera without a telescope", "the crescent low over rooftops, hills or water"))
    if sky.on_air.phase_angle_deg < FULL_DEG:
        asked.append(
            (
                "Any telescope or long lens",
                "the whole disc and the bright rays; shadows are too short tonight for craters and mountains",
            )
        )
        return tuple(asked)
    lit = [m for m in near if m.lit_fraction >= LIT_AT_LEAST]
    groups = (
        (
            "Phone at binoculars or an eyepiece",
            [m for m in lit if m.feature.size_km >= LARGE_KM and m.feature.kind not in FINE_KINDS],
        ),
        (
            "Small telescope",
            [
                m
                for m in lit
                if MIDDLE_KM <= m.feature.size_km < LARGE_KM and m.feature.kind not in (*FINE_KINDS, *AREAS)
            ],
        ),
        (
            "Larger telescope",
            [
                m
                for m in lit
                if m.feature.kind in FINE_KINDS or (m.feature.size_km < MIDDLE_KM and m.feature.kind not in AREAS)
            ],
        ),
    )
    asked += [(kit, join_names(m.feature.name for m in some[:NAMES])) for kit, some in groups if some]
    return tuple(asked)

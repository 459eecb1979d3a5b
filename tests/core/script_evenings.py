"""A month of evenings with senders of our own invention, for the script: predicted, or with pictures rendered and placed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from moondesk.codec import annotation_from_json, annotation_to_json
from moondesk.ephemeris.aspect import aspect_at, aspects_at, unix_seconds_of
from moondesk.ideas.plan import plan_over_lunation
from moondesk.ideas.tonight import Tonight, predict_tonight, tonight_of
from moondesk.notes.messages import in_english
from moondesk.notes.records import NotesNight
from moondesk.records import Annotation, Clock, ClockVerdict, Known, Place, Pose, Status, TimeReadings
from moondesk.script.compose import compose
from moondesk.script.evening import UNSEEN
from moondesk.script.history import told_of
from moondesk.script.orders import order_for
from moondesk.script.records import Episode, EpisodePicture, Script, Told

#: New Moon was on 10 October 2026, 15:50 UTC, the next on 9 November, 07:02 UTC (almanac).
FIRST, EVENINGS = date(2026, 10, 11), 30
HOME = Place(48.2, 16.4)
RATE = 130.0
#: Name as wished ("" for none), place, instrument, whether it is simple, a phone's, a child's; degrees it is turned by, mirrored.
SENDERS = (
    ("Štěpán Hruška-Vale", "Averim", Place(49.1, 15.2), "90 mm Maksutov with a diagonal", True, False, False, 20, True),
    (
        "Mirela Todorova-Quill",
        "Sandhaven",
        Place(47.3, 19.4),
        "telephone held to 10x50 binoculars",
        True,
        True,
        False,
        4,
        False,
    ),
    ("Otto Birkenshaw", "Lower Marrow", Place(50.2, 12.1), "200 mm Newtonian", False, False, False, 171, False),
    ("", "Kestrel Bay", Place(46.5, 13.9), "bridge camera on a tripod", True, False, False, 35, False),
    (
        "Ines of class 3b",
        "Tarnwick",
        Place(48.8, 17.0),
        "70 mm refractor of a grandfather",
        True,
        False,
        True,
        60,
        True,
    ),
    ("Halvard Nystrøm-Oke", "", Place(47.9, 16.0), "", False, False, False, 88, False),
    ("Rosa and Tim Weaver", "Old Quarry", Place(49.9, 18.0), "telephone", True, True, False, 9, False),
    (
        "Zdravka Ilieva",
        "Varnhof",
        Place(45.9, 20.2),
        "127 mm Maksutov, planetary camera",
        False,
        False,
        False,
        140,
        True,
    ),
    ("", "", HOME, "", False, False, False, 15, False),
)
STORIES = ("", "", "The neighbour's cat sat on the tripod bag the whole time.", "", "It was minus two degrees and the tea was gone.", "")  # fmt: skip
CLOUDED = 17


def moment_of(day: date) -> datetime:
    """When pictures of an evening are taken: the hour from 17 UTC on, the night through, at which the Moon stands well, the
    earliest first; by the best of a bad lot near new Moon."""
    hours = [datetime(day.year, day.month, day.day, 16, 30, tzinfo=UTC) + timedelta(minutes=30 * k) for k in range(27)]
    heights = aspects_at([unix_seconds_of(h) for h in hours], HOME).altitude_deg
    assert heights is not None
    return next((h for h, a in zip(hours, heights, strict=True) if a >= 12.0), hours[int(heights.argmax())])


def month(
    cache: Path | None = None,
    days: Sequence[int] = range(EVENINGS),
    minutes: float = 10.0,
    history: tuple[Told, ...] = (),
) -> Iterator[tuple[Episode, Script]]:
    """The evenings one after the other, each with the history of those before it. cache: folder for placed pictures; None:
    nothing is rendered, the pictures show what is predicted."""
    nights = [predict_tonight(moment_of(FIRST + timedelta(days=k)), HOME) for k in range(EVENINGS)]
    known: set[str] = set()
    for k in days:
        day, sky = FIRST + timedelta(days=k), nights[k]
        pictures = (
            () if sky.lit < UNSEEN or k == CLOUDED else tuple(_picture(k, n, sky, cache) for n in range(1 + k % 3))
        )
        new = [p.credit and p.credit not in known for p in pictures]
        pictures = tuple(replace(p, newcomer=bool(k and is_new)) for p, is_new in zip(pictures, new, strict=True))
        known.update(p.credit for p in pictures)
        lead = next((p.number for p in pictures if isinstance(p.about, Tonight)), 0)
        about = next((p.about for p in pictures if p.number == lead and isinstance(p.about, Tonight)), sky)
        # as the desk does: from this evening on, this one as its picture shows it
        plan = plan_over_lunation(
            [about, *(n for n in nights[k + 1 :] if n.when > about.when)], {h.idea for h in history}
        )
        idea = next(p.idea for p in plan.evenings if p.when == about.when)
        episode = Episode(
            number=100 + k, programme="The Moon Tonight", day=day, utc=sky.when, sky=sky, pictures=pictures, lead=lead,
            before=NotesNight(day - timedelta(days=1), nights[k - 1].when) if k else None,
            following=NotesNight(day + timedelta(days=1), moment_of(day + timedelta(days=1))),
            history=history, idea=idea.key if idea is not None else "",
        )  # fmt: skip
        script = compose(episode, order_for(episode), 60 * minutes, RATE, in_english)
        history = (*history, told_of(episode, script, in_english, utc=episode.about.when))
        yield episode, script


def _picture(k: int, n: int, sky: Tonight, cache: Path | None) -> EpisodePicture:
    credit, town, place, instrument, simple, phone, child, turn, mirrored = SENDERS[
        (2 * k + 3 * n + k // 7) % len(SENDERS)
    ]
    when = sky.when + timedelta(minutes=7 * n)
    annotation = _placed(when, place, turn, mirrored, cache) if cache else _supposed(when, place, turn, mirrored)
    about = tonight_of(annotation, when, place) if cache else predict_tonight(when, place)
    return EpisodePicture(
        number=n + 1, credit=credit, about=about, annotation=annotation, when=when, place=place, place_name=town,
        instrument=instrument, simple=simple, phone=phone, child=child, newcomer=False,
        story=STORIES[(k + 2 * n) % len(STORIES)],
    )  # fmt: skip


def _pose(when: datetime, place: Place, turn: float, mirrored: bool) -> Pose:
    sky = aspect_at(when, place)
    return Pose(x=449.5, y=449.5, radius_px=380.0, north_screen_deg=float(turn), mirrored=mirrored,
                libration_lat_deg=sky.libration_lat_deg, libration_lon_deg=sky.libration_lon_deg,
                sub_solar_lat_deg=sky.sub_solar_lat_deg, sub_solar_lon_deg=sky.sub_solar_lon_deg)  # fmt: skip


def _supposed(when: datetime, place: Place, turn: float, mirrored: bool) -> Annotation:
    """A placed picture of which nothing but its pose is known."""
    return Annotation(status=Status.ANNOTATED, sure=True, width=900, height=900, time=None, pose=_pose(when, place, turn, mirrored),
                      taken=TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
                      clock=Clock(verdict=ClockVerdict.NO_CLOCK, picture_utc=None, sigma_hours=None))  # fmt: skip


def _placed(when: datetime, place: Place, turn: float, mirrored: bool, cache: Path) -> Annotation:
    kept = cache / f"{when:%Y%m%dT%H%M}.json"
    if kept.is_file():
        return annotation_from_json(kept.read_text(encoding="utf-8"))
    from moondesk import annotate_picture
    from tests.scenes import FileTags, Optics, SceneSpec, render

    spec = SceneSpec(when, place, x=449.5, y=449.5, radius_px=380.0, north_screen_deg=float(turn), mirrored=mirrored, width=900,
                     height=900, seed=when.day, optics=Optics(blur_px=1.1), tags=FileTags(place=False))  # fmt: skip
    data = render(spec).data
    cache.mkdir(parents=True, exist_ok=True)
    (cache / f"{when:%Y%m%dT%H%M}.jpg").write_bytes(data)
    found = annotate_picture(data, Known(received_utc=when + timedelta(hours=6), taken_utc=when, place=place))
    kept.write_text(annotation_to_json(found), encoding="utf-8")
    return found


def blank_lead(episode: Episode) -> Episode:
    """The same evening without its pictures."""
    return replace(episode, pictures=(), lead=0)

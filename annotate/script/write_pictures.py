"""The viewers' pictures: whose, from where, with what, why it was chosen, how it came and how it is turned upright."""

from __future__ import annotations

import re
from datetime import timedelta

from moondesk.ideas.tonight import Tonight
from moondesk.moon.geometry import unit_vector
from moondesk.notes.messages import Listed, Name, Number, Part, Term
from moondesk.records import FeatureMark
from moondesk.script.evening import MONTHS, hour_of
from moondesk.script.records import Cue, Episode, EpisodePicture, Passage
from moondesk.script.stops import called, names_of
from moondesk.script.wordings import ways_of

#: A picture is called upright, and upside down, up to this far from it, degrees.
UPRIGHT_DEG, UPSIDE_DEG = 12.0, 20.0
#: Words of a story that are read out; the Sun's height up to which a feature lies near the edge; made out: the chance.
STORY_WORDS, LOW_DEG, SURE = 60, 15.0, 0.9
#: Directions on the Earth's horizon, from north through east.
QUARTERS = (Term("north"), Term("north-east"), Term("east"), Term("south-east"), Term("south"), Term("south-west"), Term("west"),
            Term("north-west"))  # fmt: skip
#: Names that are left to the viewers to find.
TO_FIND = 3
#: Known ground is named as the reason: craters and seas of this size, km, seen not too aslant.
LEAST_KM, LEAST_VIEW = 50.0, 0.45


#: An instrument that is called a telephone already.
_PHONE = re.compile(r"phone", re.IGNORECASE)


def write_pictures(episode: Episode) -> tuple[Passage, ...]:
    used: set[str] = set()
    said: list[Passage] = []
    links = ("pictures.link", "pictures.link_many") if len(episode.pictures) > 1 else ("pictures.link",)
    if episode.pictures:
        said.append(Passage(key="pictures:link", ways=ways_of(*links), worth=0.35))
    for place, picture in enumerate(episode.pictures):
        if place:
            said.append(Passage(key=f"picture {picture.number}:next", worth=0.2, ways=ways_of("pictures.next")))
        said += _one(episode, picture, used)
    return tuple(said)


def _one(episode: Episode, picture: EpisodePicture, used: set[str]) -> list[Passage]:
    n, is_lead = f"picture {picture.number}", picture.number == episode.lead
    parts: dict[str, Part] = {}
    if picture.credit:
        parts["credit"] = Name(picture.credit)
    if picture.place_name:
        parts["place"] = Name(picture.place_name)
    who, where = "named" if picture.credit else "unnamed", "_place" if picture.place_name else ""
    sent = Cue(show="as sent", picture=picture.number)
    said = [Passage(key=f"{n}:who", must=True, ways=ways_of(f"pictures.{who}{where}", cue=sent, values=parts))]
    tail = "" if picture.credit else "_unnamed"
    credit: dict[str, Part] = {"credit": Name(picture.credit)} if picture.credit else {}
    if picture.newcomer:
        said.append(Passage(key=f"{n}:newcomer", worth=0.5, ways=ways_of(f"pictures.newcomer{tail}", values=credit)))
    said += _date(episode, picture)
    hour = hour_of(picture.when, picture.place) if picture.when else None
    if hour is not None and hour != "evening":
        said.append(
            Passage(
                key=f"{n}:hour",
                worth=0.5,
                ways=ways_of(f"pictures.{hour.replace(' ', '_')}", facts=(f"hour:{episode.number}",)),
            )
        )
    said += _in_the_sky(episode, picture)
    if picture.instrument:
        said.append(
            Passage(
                key=f"{n}:instrument", worth=0.55, ways=ways_of("pictures.instrument", instrument=picture.instrument)
            )
        )
    if picture.phone and not _PHONE.search(picture.instrument):
        said.append(Passage(key=f"{n}:phone", worth=0.3, ways=ways_of("pictures.phone")))
    if picture.simple:
        after = f"{n}:instrument" if picture.instrument else ""
        said.append(Passage(key=f"{n}:simple", worth=0.75, after=after, ways=ways_of("pictures.simple")))
    if picture.child:
        said.append(Passage(key=f"{n}:child", worth=0.8, ways=ways_of(f"pictures.child{tail}", values=credit)))
    story = _read_out(picture.story)
    if story:
        said.append(Passage(key=f"{n}:story", worth=0.8, ways=ways_of("pictures.story", story=story)))
    said += _why(picture, used)
    turned = _turning(picture)
    if turned is not None:
        table, degrees = turned
        values: dict[str, Part] = {"north": Number(degrees, 1)}
        if table == "turned":
            values["degrees"] = Number(max(5, 5 * round(degrees / 5)))
        tables = (
            (f"pictures.{table}", "pictures.turned_far")
            if table == "turned" and 60 <= degrees <= 120
            else (f"pictures.{table}",)
        )
        said.append(Passage(key=f"{n}:turned", worth=0.9, must=is_lead, ways=ways_of(*tables, facts=(f"turned:{table}:{episode.number}:{picture.number}",), cue=Cue(show="turned"), values=values)))  # fmt: skip
    elif not isinstance(picture.about, Tonight):
        said.append(Passage(key=f"{n}:not placed", worth=0.6, ways=ways_of("pictures.not_placed")))
    return said


def _date(episode: Episode, picture: EpisodePicture) -> list[Passage]:
    """The evening of a picture that is not of this episode's."""
    if picture.when is None:
        return []
    # a night belongs to the evening on which it began
    east = picture.place.longitude_deg if picture.place is not None else 0.0
    day = (picture.when + timedelta(hours=east / 15.0 - 12.0)).date()
    if abs((day - episode.day).days) <= (1 if picture.place is None else 0) or picture.number == episode.lead:
        return []
    parts: dict[str, Part] = {"date_day": day.day, "month": MONTHS[day.month - 1]}
    key = f"picture {picture.number}:date"
    return [Passage(key=key, must=True, ways=ways_of("pictures.date", facts=(f"date:{key}",), values=parts))]


def _in_the_sky(episode: Episode, picture: EpisodePicture) -> list[Passage]:
    """Where the Moon stood when it was taken; of one picture, for the others were taken about then."""
    if picture.when is None or picture.place is None or not isinstance(picture.about, Tonight):
        return []
    sky, n = picture.about.sky, f"picture {picture.number}"
    if sky.altitude_deg is None or sky.azimuth_deg is None or not 2 <= sky.altitude_deg <= 85:
        return []
    side = QUARTERS[round(sky.azimuth_deg / 45.0) % 8]
    parts: dict[str, Part] = {"side": side, "degrees": Number(sky.altitude_deg), "azimuth": Number(sky.azimuth_deg, 1)}
    return [
        Passage(
            key=f"{n}:sky",
            worth=0.35,
            ways=ways_of("pictures.sky", facts=(f"sky:{n}", f"height:{episode.number}"), values=parts),
        )
    ]


def _read_out(story: str) -> str:
    """Its first sentences, so many as can be read out."""
    kept: list[str] = []
    for sentence in re.split(r"(?<=[.!?…])\s+", " ".join(story.split())):
        if len(" ".join([*kept, sentence]).split()) > STORY_WORDS:
            break
        kept.append(sentence)
    text = " ".join(kept)
    return text if not text or text[-1] in '.!?…”"' else f"{text}."


def _why(picture: EpisodePicture, used: set[str]) -> list[Passage]:
    n = f"picture {picture.number}"
    if picture.chosen:
        return [
            Passage(key=f"{n}:chosen {k}", worth=0.7, ways=ways_of("pictures.words", words=words))
            for k, words in enumerate(picture.chosen)
        ]
    if not isinstance(picture.about, Tonight):
        return []
    said = []
    found = _worth_it(picture, picture.about, used)
    if found is not None:
        name, sun = found
        used.add(name)
        table = "chosen" if sun <= LOW_DEG else "chosen_high"
        said.append(Passage(key=f"{n}:chosen", worth=0.6, ways=ways_of(f"pictures.{table}", facts=(f"chosen:{name}",), values=names_of(picture.about.ground[name].feature), sun=Number(sun, 2))))  # fmt: skip
    said += _to_find(picture, picture.about, used)
    if picture.about.whole:
        said.append(Passage(key=f"{n}:whole", worth=0.15, ways=ways_of("pictures.whole", facts=("whole",))))
    return said


def _to_find(picture: EpisodePicture, about: Tonight, used: set[str]) -> list[Passage]:
    """Some of what can surely be made out in it, from north to south."""
    found = sorted(_sure_of(picture, about, used), key=lambda m: (-m.prominence * m.seen, m.feature.name))[:TO_FIND]
    if len(found) < TO_FIND:
        return []
    used.update(m.feature.name for m in found)
    names = tuple(m.feature.name for m in sorted(found, key=lambda m: -m.feature.lat_deg))
    return [Passage(key=f"picture {picture.number}:find", worth=0.3, ways=ways_of(
        "pictures.find", facts=tuple(f"find:{n}" for n in names), names=Listed(tuple(called(about.ground[n].feature) for n in names))))]  # fmt: skip


def _sure_of(picture: EpisodePicture, about: Tonight, used: set[str]) -> list[FeatureMark]:
    """Known ground that can surely be made out in it and is not too near its rim."""
    view = unit_vector(about.sky.libration_lat_deg, about.sky.libration_lon_deg)
    return [m for m in picture.annotation.features
            if m.seen >= SURE and m.feature.size_km >= LEAST_KM and m.feature.parent is None and m.feature.name not in used
            and m.feature.name in about.ground and about.ground[m.feature.name].sun_deg > 0.5 and m.feature.kind in ("crater", "sea", "bay")
            and float(unit_vector(m.feature.lat_deg, m.feature.lon_deg) @ view) >= LEAST_VIEW]  # fmt: skip


def _worth_it(picture: EpisodePicture, about: Tonight, used: set[str]) -> tuple[str, float] | None:
    """The foremost feature that can surely be made out in it, near the edge of the light where there is one."""
    marks = _sure_of(picture, about, used)
    ground = about.ground
    low = [m for m in marks if m.feature.kind == "crater" and 1.0 <= ground[m.feature.name].sun_deg <= LOW_DEG]
    some = low or [m for m in marks if ground[m.feature.name].sun_deg > 20]
    best = max(some, key=lambda m: (m.prominence * m.seen, m.feature.name), default=None)
    return None if best is None else (best.feature.name, ground[best.feature.name].sun_deg)


def _turning(picture: EpisodePicture) -> tuple[str, float] | None:
    """How it came: the name of its table, and how far its north was from up, degrees."""
    pose = picture.annotation.pose
    if pose is None or not picture.annotation.sure:
        return None
    off = abs((pose.north_screen_deg + 180.0) % 360.0 - 180.0)
    if pose.mirrored:
        return "mirrored", off
    return ("upright" if off <= UPRIGHT_DEG else "upside" if off >= 180 - UPSIDE_DEG else "turned"), off

"""The page that compares: placed pictures in one frame of the Moon, and what the light has changed between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from moondesk.comparison.changed_light import LightAtPlace, LightChange, changes
from moondesk.comparison.common_frame import Framed, common_pose, covers
from moondesk.comparison.outlined import Outlined, draw_outlines
from moondesk.ephemeris.evenings import SUN_DEG_HOUR
from moondesk.records import Annotation, Pose
from moondesk.service.jobs.comparison_pictures import FRAME_PX, frame_mark
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.words import date_words, status_words, time_words, tone_of
from moondesk.service.settings.config import Programme
from moondesk.service.store.records import ListedPicture, SentPicture, StoredAnnotation
from moondesk.service.web.desk.coming.coming_page import LightRow, change_row

MOST = 4
ROWS, OUTLINED = 18, 14
#: Shorter gaps leave the light where it was (half a degree an hour); after longer ones it is another lunation's.
LEAST_GAP, MOST_GAP = timedelta(hours=3), timedelta(days=14)
#: The light may differ by this from what the times ask for, degrees of the Sun: two clocks an hour off, uneven motion,
#: and how well a picture tells its light.
MOST_OFF_DEG = 4.0
#: Least margin of what is called new, degrees of the Sun; twice its own sigma where a picture tells it worse.
LEAST_MARGIN_DEG = 0.5


@dataclass(frozen=True)
class Compared:
    """A picture as it is stored. stored None: it waits, or was refused."""

    picture: SentPicture
    stored: StoredAnnotation | None

    @property
    def annotation(self) -> Annotation | None:
        return self.stored.annotation if self.stored else None

    @property
    def taken_utc(self) -> datetime | None:
        a = self.annotation
        return a.time.utc if a and a.time else None

    @property
    def framed(self) -> Framed | None:
        """What goes into the common frame: surely placed pictures alone."""
        a = self.annotation
        return Framed(a.pose, a.width, a.height) if a and a.sure and a.pose else None


@dataclass(frozen=True, kw_only=True)
class Shown:
    """A picture of the page. mark: version of its frame, empty where it is not in the common frame."""

    picture_id: int
    sender: str
    when: str
    evening: str
    status: str
    tone: str
    mark: str
    #: For those that are not in the frame: why, and the version of the photograph itself (None: there is none).
    reason: str
    derived_key: str | None
    description: str


@dataclass(frozen=True)
class PictureChoice:
    """A picture that can be chosen."""

    picture_id: int
    sender: str
    evening: str
    derived_key: str


@dataclass(frozen=True, kw_only=True)
class ComparePage:
    """The page. framed: in the common frame, the first taken first; others: as sent, because they are not certain."""

    programme: Programme
    #: The ids as the address has them, "1,2,3"; empty where nothing is chosen yet.
    ids: str
    framed: tuple[Shown, ...]
    others: tuple[Shown, ...]
    outlined: Outlined | None
    frame_px: int
    #: "shared" or "whole": what of the Moon fills the frame; and whether the two differ.
    part: str
    parts_differ: bool
    gap_words: str
    new: tuple[LightRow, ...]
    new_title: str
    gone: tuple[LightRow, ...]
    gone_title: str
    choices: tuple[PictureChoice, ...]
    #: Number of the edition whose evening can be compared with the last one; None: there is no edition.
    edition: int | None
    note: str


def common_frame(compared: Sequence[Compared], part: str) -> Pose | None:
    """The frame of the pictures that are surely placed; None where there are none."""
    framed = [c.framed for c in in_order(compared) if c.framed]
    return common_pose(framed, FRAME_PX, shared_part=part != "whole") if framed else None


def in_order(compared: Sequence[Compared]) -> list[Compared]:
    """The first taken first; those without a time behind, as they were asked for."""
    known = sorted((c for c in compared if c.taken_utc), key=lambda c: (c.taken_utc, c.picture.id))
    return [*known, *(c for c in compared if not c.taken_utc)]


def compare_page(
    programme: Programme, calendar: Calendar, compared: Sequence[Compared], part: str, edition: int | None = None
) -> ComparePage:
    """The page for two to four pictures."""
    ordered = in_order(compared)
    frame = common_frame(compared, part)
    inside = [c for c in ordered if c.framed]
    gap_words, gained, lost = _light_between(inside, frame)
    titles = _titles(_gap(inside))
    drawn = None
    if frame and (gained or lost):
        wanted = [c.feature for c in (*gained, *lost)][:OUTLINED]
        before, after = (_light(c) for c in _ends(inside))
        lit = replace(frame, sub_solar_lat_deg=after.lat_deg, sub_solar_lon_deg=after.lon_deg)
        drawn = draw_outlines(wanted, lit, FRAME_PX, before)
    whole = common_frame(compared, "whole") if part != "whole" else None
    return ComparePage(
        programme=programme,
        ids=",".join(str(c.picture.id) for c in ordered),
        framed=tuple(_shown_of(c, calendar, frame) for c in inside),
        others=tuple(_shown_of(c, calendar, None) for c in ordered if not c.framed),
        outlined=drawn,
        frame_px=FRAME_PX,
        part=part,
        parts_differ=part == "whole" or bool(frame and whole and frame.radius_px > whole.radius_px),
        gap_words=gap_words,
        new=tuple(change_row(c) for c in gained[:ROWS]),
        new_title=titles[0],
        gone=tuple(change_row(c) for c in lost[:ROWS]),
        gone_title=titles[1],
        choices=(),
        edition=edition,
        note=""
        if len(inside) > 1
        else "Fewer than two of these pictures are surely placed: there is nothing to lay "
        "over each other. They stand beside each other as they were sent."
        if ordered
        else "",
    )


def choosing_page(
    programme: Programme, calendar: Calendar, listed: Sequence[ListedPicture], edition: int | None, note: str = ""
) -> ComparePage:
    """The page while nothing is chosen: surely placed pictures to choose from."""
    choices = tuple(
        PictureChoice(
            p.picture.id,
            sender_of(p.picture.submission.arrival),
            _evening(p.summary.taken_utc, calendar),
            p.summary.derived_key,
        )
        for p in listed
        if p.summary and p.summary.sure
    )
    return ComparePage(
        programme=programme,
        ids="",
        framed=(),
        others=(),
        outlined=None,
        frame_px=FRAME_PX,
        part="shared",
        parts_differ=False,
        gap_words="",
        new=(),
        new_title="",
        gone=(),
        gone_title="",
        choices=choices,
        edition=edition,
        note=note,
    )


def _evening(taken_utc: datetime | None, calendar: Calendar) -> str:
    if taken_utc is None:
        return "Date not known"
    evening = calendar.evening(taken_utc)
    day = "" if evening.day_number is None else f", day {evening.day_number}"
    return f"{date_words(evening.date)}{day}"


def _shown_of(one: Compared, calendar: Calendar, frame: Pose | None) -> Shown:
    arrival, a = one.picture.submission.arrival, one.annotation
    mark = frame_mark(one.framed, frame) if frame and one.framed else ""
    if one.picture.enclosure.refused:
        status, tone, reason = "Cannot be used", "refused", one.picture.enclosure.refused
    elif a is None:
        status, tone, reason = "Waiting", "waiting", "It has not been placed yet."
    else:
        status, tone = status_words(a.status, a.sure), tone_of(a.status, a.sure)
        reason = "" if mark else a.reason or "It is not certain how it lies on the Moon."
    when = time_words(one.taken_utc, calendar.zone) if one.taken_utc else "Time not known"
    evening = _evening(one.taken_utc, calendar)
    return Shown(
        picture_id=one.picture.id,
        sender=sender_of(arrival),
        when=when,
        evening=evening,
        status=status,
        tone=tone,
        mark=mark,
        reason=reason,
        derived_key=one.stored.derived_key if one.stored and a and a.status.facts.opens else None,
        description=f"Photograph of the Moon by {sender_of(arrival)}, {evening}{', north up' if mark else ''}",
    )


def _ends(inside: Sequence[Compared]) -> tuple[Compared, Compared]:
    timed = [c for c in inside if c.taken_utc]
    return timed[0], timed[-1]


def _gap(inside: Sequence[Compared]) -> timedelta | None:
    """Between the first and the last picture whose time is known; None where fewer than two are."""
    times = [c.taken_utc for c in inside if c.taken_utc]
    return times[-1] - times[0] if len(times) > 1 else None


def _light(one: Compared) -> LightAtPlace:
    a = one.annotation
    if a is None or a.pose is None:
        raise ValueError("only a placed picture has a light")
    sigma = a.terminator.sigma_deg if a.terminator else LEAST_MARGIN_DEG
    margin = max(LEAST_MARGIN_DEG, 2.0 * sigma) if sigma == sigma else 2 * LEAST_MARGIN_DEG
    return LightAtPlace(a.pose.sub_solar_lat_deg, a.pose.sub_solar_lon_deg, margin)


def _light_between(
    inside: Sequence[Compared], frame: Pose | None
) -> tuple[str, tuple[LightChange, ...], tuple[LightChange, ...]]:
    gap = _gap(inside)
    if frame is None or len(inside) < 2:
        return "", (), ()
    if gap is None:
        return (
            (
                f"{_edges_apart(inside)}The date of at most one of these pictures is known, so nothing can be called "
                "new. It can be set on a picture's own page."
            ),
            (),
            (),
        )
    if gap < LEAST_GAP:
        return f"Only {gap_in_words(gap)} lie between them: the light has hardly moved.", (), ()
    first, last = _ends(inside)
    before, after = _light(first), _light(last)
    off = (before.lon_deg - after.lon_deg - SUN_DEG_HOUR * gap.total_seconds() / 3600 + 180) % 360 - 180
    if abs(off) > MOST_OFF_DEG:
        return (
            (
                f"The light in {_name(first)} and {_name(last)} does not fit the {gap_in_words(gap)} between their "
                f"times (it is {abs(off) / SUN_DEG_HOUR:.0f} hours off): one of the times is wrong, and nothing is "
                "called new."
            ),
            (),
            (),
        )
    gained, lost = changes(before, after, frame)
    shown = last.framed
    # what the later picture does not show cannot be pointed at in it
    gained, lost = (
        tuple(c for c in some if shown and covers(shown, c.feature.lat_deg, c.feature.lon_deg) and _in_view(frame, c))
        for some in (gained, lost)
    )
    said = f"{gap_in_words(gap).capitalize()} lie between {_name(first)} and {_name(last)}."
    if gap > MOST_GAP:
        said += (
            " That is another lunation's light, or the other half of this one's: what is lit differs, but nothing "
            "has just come into the light."
        )
    elif not gained and not lost:
        said += " No named feature of 15 km and more in this frame has come into the light or left it."
    return said, gained, lost


def _edges_apart(inside: Sequence[Compared]) -> str:
    """How far the edge of the light lies in the last picture from where it lies in the first: their poses tell that,
    whatever their dates."""
    apart = (_light(inside[0]).lon_deg - _light(inside[-1]).lon_deg + 180) % 360 - 180
    if abs(apart) < 1.0:
        return "The light stands the same in both, within a degree. "
    which = f"in {_name(inside[-1])} lies {abs(apart):.0f}° {'west' if apart > 0 else 'east'} of where it lies in"
    return f"The edge of the light {which} {_name(inside[0])}. "


def _in_view(frame: Pose, change: LightChange) -> bool:
    """Whether a feature's centre lies in the frame, which may show a part of the disc alone."""
    return covers(Framed(frame, FRAME_PX, FRAME_PX), change.feature.lat_deg, change.feature.lon_deg)


def _name(one: Compared) -> str:
    return f"{sender_of(one.picture.submission.arrival)}'s picture"


def _titles(gap: timedelta | None) -> tuple[str, str]:
    if gap is not None and gap > MOST_GAP:
        return "Lit in the later picture, dark in the earlier", "Dark in the later picture, lit in the earlier"
    return "Newly in the light", "Gone into the dark"


def gap_in_words(gap: timedelta) -> str:
    """A length of time: "23 hours 50 minutes", "2 days 3 hours", "3 months", "6 years 2 months"."""
    months = int(gap / timedelta(days=30.44))
    if months >= 24:
        return _count_words((months // 12, "year"), (months % 12, "month"))
    if months >= 3:
        return _count_words((months, "month"))
    minutes = round(gap.total_seconds() / 60)
    days, hours = divmod(round(minutes / 60), 24)
    if minutes >= 48 * 60:
        return _count_words((days, "day"), (hours, "hour"))
    return _count_words((minutes // 60, "hour"), (minutes % 60, "minute"))


def _count_words(*parts: tuple[int, str]) -> str:
    return " ".join(f"{n} {word}{'' if n == 1 else 's'}" for n, word in parts if n) or "0 minutes"

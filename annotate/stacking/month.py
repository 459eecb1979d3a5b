"""What a poster and a march of one month are made of: its pictures, and all their words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from moondesk.comparison.common_frame import Framed, common_pose
from moondesk.comparison.levels import level
from moondesk.records import ByteArray, Pose


@dataclass(frozen=True, eq=False)
class DatedFrame:
    """One picture. rgb: (H, W, 3) uint8 as displayed; pose: in its pixels; day: counted from the month's first evening,
    which is 0; words: its credit as it is to stand there."""

    rgb: ByteArray
    pose: Pose
    day: int
    words: str


@dataclass(frozen=True, kw_only=True)
class MonthWords:
    """All words of a month, ready made in the programme's language. span: its first and last evening; lunation: ""
    where it is not told. Of each of the 30 evenings: heads, its day and date in full; days, its date in short; numbers,
    its day of the lunation in short, or ""; evenings, an instant of it."""

    programme: str
    title: str
    span: str
    lunation: str
    legend: str
    method: str
    true: str
    between: str
    heads: tuple[str, ...]
    days: tuple[str, ...]
    numbers: tuple[str, ...]
    evenings: tuple[datetime, ...]


def framed_of(picture: DatedFrame) -> Framed:
    return Framed(picture.pose, picture.rgb.shape[1], picture.rgb.shape[0])


def pose_of_all(pictures: Sequence[DatedFrame], size_px: int) -> Pose:
    """The frame of the Moon that all of them are laid into."""
    return common_pose([framed_of(p) for p in pictures], size_px, shared_part=False)


def levelled(picture: DatedFrame) -> ByteArray:
    """Its pixels at the month's tone."""
    return level(picture.rgb, picture.pose, neutral=True)

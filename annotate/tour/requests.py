"""What is asked of a view's frame where a frame's own request does not say it: records alone."""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.drawing.frame import Format, FrameRequest
from moondesk.records import Pose


@dataclass(frozen=True, kw_only=True)
class RelitRequest:
    """A picture in another light. whole: of its own frame, in which it lies the same; hours: from the picture to the
    light; words: that it is a rendering."""

    whole: FrameRequest
    hours: float
    words: str

    @property
    def format(self) -> Format:
        return self.whole.format


@dataclass(frozen=True, kw_only=True)
class SharedRequest:
    """One of two pictures in one frame. whole: of its own frame, for format, words and theme; frame: the Moon's pose in
    this one. second: it is the one that comes over the other; under: height of the other's credit, pixels, over which
    its own stands in an upright frame."""

    whole: FrameRequest
    frame: Pose
    second: bool = False
    under: float = 0.0

    @property
    def format(self) -> Format:
        return self.whole.format

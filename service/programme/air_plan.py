"""The plan of an edition's pictures on air, as the windows fetch it: items, their layers in the order of revealing,
what the presenter reads. Pure."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any

#: Why an item is not on air that will be in a moment.
MAKING = "Its frame is being made."


@dataclass(frozen=True, kw_only=True)
class PlannedLayer:
    """One picture on top of those before it. base: it goes with the photograph and is not revealed by itself; title:
    what is revealed, for the presenter; kind: of the frame's layers."""

    name: str
    title: str
    kind: str
    base: bool
    url: str


#: (a, b, c, d, e, f) as style sheets write an affine map.
Matrix = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, kw_only=True)
class Move:
    """How the eye is led from the view before to this one. matrix: a, b, c, d, e, f of x' = a x + c y + e and
    y' = b x + d y + f, from the former frame's pixels to this one's, (0, 0) the corner of the frame; a mirrored picture
    is turned over by one whose determinant is negative. seconds: how long it takes.

    path: (share of the time, matrix) from 0 to 1, to be joined by straight pieces, for ease and curve are in it: where
    the former picture is then, the last one `matrix`; this view's own picture is there by the same after the inverse of
    that. flips: it is turned over on the way, and is a line in the middle of it."""

    matrix: Matrix
    seconds: float
    path: tuple[tuple[float, Matrix], ...] = ()
    flips: bool = False


@dataclass(frozen=True)
class Other:
    """The second picture of a view with two: its item, whose it is."""

    item: int
    sender: str
    credit: str


@dataclass(frozen=True, kw_only=True)
class PlannedView:
    """One view of a picture. title: for the presenter; move: None where it is cut to. kind: that of the tour's view
    (as_sent, upright, named, close_up, relit, against); feature: what a close-up is about or a light is on; seconds: how
    long it stands. other: whose picture the layer of kind against is, over this one's."""

    title: str
    layers: tuple[PlannedLayer, ...]
    move: Move | None = None
    width: int = 1920
    height: int = 1080
    kind: str = "named"
    feature: str = ""
    seconds: float = 0.0
    other: Other | None = None


@dataclass(frozen=True)
class AirNote:
    """Sentences to say. layer: title of the layer that they go with, the head without how it is spoken; "" for the
    Moon as a whole. more: what the frame does not point at."""

    head: str
    layer: str
    sentences: tuple[str, ...]
    more: bool = False


@dataclass(frozen=True, kw_only=True)
class AirItem:
    """A picture of the rundown as it goes on air. layers: of its first view, empty where it cannot; views: those that
    follow; title, kind: of the first view; stops: why it cannot. seconds: its length. missing: of each view that cannot be
    shown, which and why; waiting: views of it are being made. untranslated: English templates of its notes that the programme's language lacks."""

    id: int
    place: int
    sender: str
    credit: str
    pronunciation: str
    note: str
    #: What the presenter may tell of it and its sender.
    story: str
    seconds: int
    layers: tuple[PlannedLayer, ...]
    stops: tuple[str, ...]
    notes: tuple[AirNote, ...]
    untranslated: tuple[str, ...] = ()
    views: tuple[PlannedView, ...] = ()
    title: str = "Picture"
    kind: str = "named"
    missing: tuple[str, ...] = ()
    waiting: bool = False

    @property
    def all_views(self) -> tuple[PlannedView, ...]:
        return (PlannedView(title=self.title, layers=self.layers, kind=self.kind), *self.views)


@dataclass(frozen=True, kw_only=True)
class AirPlan:
    """items: those that can go on air, in order; left_out: (sender, why) of those that cannot, and of views; spare: the
    plan B; making: senders of those whose frames are being made by now."""

    edition: int
    programme: str
    items: tuple[AirItem, ...]
    left_out: tuple[tuple[str, str], ...]
    spare: AirItem | None
    making: tuple[str, ...] = ()

    @property
    def untranslated(self) -> tuple[str, ...]:
        """What nobody has translated yet, each once."""
        return tuple(dict.fromkeys(text for item in self.items for text in item.untranslated))

    def as_json(self, address: Callable[[str], str] = lambda url: url) -> dict[str, Any]:
        """mark: another one after whatever changed. address: what the layers' addresses become."""
        told = asdict(self)
        for item in (*told["items"], *filter(None, [told["spare"]])):
            for layer in (*item["layers"], *(one for view in item["views"] for one in view["layers"])):
                layer["url"] = address(layer["url"])
        mark = hashlib.sha256(json.dumps(told, sort_keys=True, default=str).encode()).hexdigest()[:16]
        return {**told, "mark": mark}


def plan_of(
    edition: int, programme: str, items: tuple[AirItem, ...], spare_id: int | None, out: tuple[AirItem, ...] = ()
) -> AirPlan:
    """items: of the rundown in order; out: taken out of it, for a spare may be one of them."""
    able = tuple(item for item in items if item.layers and not item.stops)
    making = tuple(item.sender for item in items if item.stops == (MAKING,) or (item in able and item.waiting))
    left = tuple(
        (item.sender, why)
        for item in items
        if item.stops != (MAKING,)
        for why in (item.missing if item in able else (" ".join(item.stops) or "Its frame could not be made.",))
    )
    spare = next((item for item in (*items, *out) if item.id == spare_id and item.layers and not item.stops), None)
    return AirPlan(edition=edition, programme=programme, items=able, left_out=left, spare=spare, making=making)

"""A placed picture as a frame for air: its layers, one by one and together.

    rgb, Annotation, Wanted -> compose_frame, lay -> plates that stand fast -> chips round them -> Frame

Every chip is placed with all others in sight, so any layers may stand together without touching.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from moondesk.drawing import frame_lines, frame_names, lower_third, scale_bar
from moondesk.drawing.background import lay
from moondesk.drawing.boxes import BoolArray, Box, Inside
from moondesk.drawing.chips import RULE, Ground, Request, Spot, chip_box, leader, place, ring
from moondesk.drawing.composition import Composition, compose_frame
from moondesk.drawing.frame import Format, Frame, FrameLayer, LayerKind, TextBox, Wanted, slug
from moondesk.drawing.frame_lines import Curve
from moondesk.drawing.frame_names import Named
from moondesk.drawing.labels import whole_frame
from moondesk.drawing.paint import paint
from moondesk.drawing.shapes import Path, Raster, Shape
from moondesk.moon.geometry import pixel_to_surface, sun_altitude_deg
from moondesk.records import Annotation, ByteArray, FloatArray, NotFound, Pose

#: Grid on which the Moon's light is known for placing chips, pixels.
_CELL = 12.0


def frame_layers(rgb: ByteArray, annotation: Annotation, wanted: Wanted) -> Frame | NotFound:
    """The layers of a frame, in the order of revealing: picture, directions, terminator, equator and zero meridian,
    seas, the features asked for, inset of a close-up; with the picture, from the start: scale bar and credit.

    rgb: (H, W, 3) uint8 as displayed, in the annotation's pixels. Without a pose there are picture and credit alone.
    NotFound for a zoom that the picture does not show, and for words with a sign that no typeface has.
    """
    if rgb.shape != (annotation.height, annotation.width, 3) or rgb.dtype != np.uint8:
        raise ValueError(f"the picture must be ({annotation.height}, {annotation.width}, 3) uint8, not {rgb.shape}")
    fmt, texts = wanted.format, wanted.texts
    found = compose_frame(annotation, wanted)
    if isinstance(found, NotFound):
        return found
    pose = found.pose
    unsure = pose is not None and not annotation.sure
    third = lower_third.lower_third(texts, fmt, unsure)
    if isinstance(third, NotFound):
        return third
    layers = [_picture(rgb, found, fmt)]
    left: tuple[NotFound, ...] = ()
    if pose is not None:
        more = _over_moon(rgb, annotation, found, pose, wanted, third.box if third else None)
        if isinstance(more, NotFound):
            return more
        layers += more[0]
        left = more[1]
    if third is not None:
        layers.append(
            FrameLayer(
                name="credit", kind="credit", title=texts.credit, base=True, shapes=third.shapes, texts=third.texts
            )
        )
    return Frame(fmt, tuple(layers), pose, left)


def flatten(frame: Frame) -> ByteArray:
    """All layers in one, (H, W, 3) uint8."""
    canvas = np.zeros((frame.format.height, frame.format.width, 4), np.uint8)
    for layer in frame.layers:
        paint(canvas, layer.shapes)
    return np.ascontiguousarray(canvas[..., :3])


def layer_rgba(frame: Frame, layer: FrameLayer) -> ByteArray:
    """One layer by itself, (H, W, 4) uint8, alpha not multiplied in."""
    canvas = np.zeros((frame.format.height, frame.format.width, 4), np.uint8)
    paint(canvas, layer.shapes)
    return canvas


def _picture(rgb: ByteArray, found: Composition, fmt: Format) -> FrameLayer:
    laid = lay(rgb, found.lookup, fmt, found.step)
    shapes: list[Shape] = [Raster(0, 0, laid.rgb)]
    if laid.cut and found.disc is not None:  # where the picture ends, the Moon goes on
        x, y, radius = found.disc
        shapes.append(ring(x + 0.5, y + 0.5, radius, 2.0 * fmt.unit, RULE, 0.9))
    return FrameLayer(name="picture", kind="picture", title="", base=True, shapes=tuple(shapes))


def _over_moon(
    rgb: ByteArray, annotation: Annotation, found: Composition, pose: Pose, wanted: Wanted, third: Box | None
) -> tuple[list[FrameLayer], tuple[NotFound, ...]] | NotFound:
    """The layers that lie over the Moon, and what of those asked for there is not."""
    fmt, texts = wanted.format, wanted.texts
    u = fmt.unit
    whole = found.whole
    bottom = fmt.safe.y1 + 14 * u
    bar = scale_bar.scale_bar(pose, fmt, texts, whole, bottom)
    if bar is not None and not isinstance(bar, NotFound) and third is not None and bar.box.grow(10 * u).touches(third):
        bar = scale_bar.scale_bar(pose, fmt, texts, whole, third.y0 - 24 * u)
    if isinstance(bar, NotFound):
        return bar
    standing = [*([third] if third else []), *([bar.box] if bar else [])]
    round_about = frame_lines.directions(pose, fmt, texts, whole, standing)
    if isinstance(round_about, NotFound):
        return round_about
    small = scale_bar.inset(rgb, annotation.pose, pose, fmt) if not whole and annotation.pose is not None else None
    fixed = [*round_about[2], *standing, *([small.box] if small else [])]
    stage = frame_names.Stage(
        annotation=annotation, pose=pose, wanted=wanted, inside=_inside(found, annotation), fixed=tuple(fixed)
    )
    asked = frame_names.asked_features(stage)
    sea_names = frame_names.seas(stage)
    if isinstance(asked, NotFound):
        return asked
    if isinstance(sea_names, NotFound):
        return sea_names
    small_disc = pose.radius_px < 60 * u
    lines = (
        []
        if small_disc
        else [f(pose, fmt, texts) for f in (frame_lines.terminator, frame_lines.equator, frame_lines.zero_meridian)]
    )
    captions = frame_names.curve_requests(lines, fmt, fixed, asked[0])
    if isinstance(captions, NotFound):
        return captions
    requests = [*(n.request for n in asked[0]), *(r for r, _ in captions), *(n.request for n in sea_names)]
    ground = Ground(
        safe=fmt.safe,
        side=float(min(fmt.width, fmt.height)),
        light=_light(pose, fmt),
        cell=_CELL * u,
        fixed=tuple(fixed),
        gap=7 * u,
    )
    spots = place(requests, ground)

    layers = [
        FrameLayer(
            name="directions",
            kind="directions",
            title=texts.directions,
            base=False,
            shapes=round_about[0],
            texts=round_about[1],
        )
    ]
    by_name = {curve.name: (curve, request) for request, curve in captions}
    more, plates = _lines(by_name, spots, u, round_about[2])
    layers += more
    chips = _Chips(spots, pose, wanted, plates)
    layers += chips.seas(sea_names, texts.seas)
    layers += (layer for n in asked[0] for layer in chips.feature(n))
    if bar is not None:
        layers.append(
            FrameLayer(
                name="scale", kind="scale", title=bar.texts[0].text, base=True, shapes=bar.shapes, texts=bar.texts
            )
        )
    if small is not None:
        layers.append(FrameLayer(name="inset", kind="inset", title=texts.inset, base=False, shapes=small.shapes))
    return layers, (*asked[1], *chips.left)


def _lines(
    by_name: dict[str, tuple[Curve, Request]], spots: dict[str, Spot], u: float, earlier: tuple[Box, ...]
) -> tuple[list[FrameLayer], tuple[Box, ...]]:
    """Terminator, then equator and zero meridian. earlier: plates of what is revealed before; no line runs over those.
    Second: those and the lines' own."""
    layers = []
    groups: tuple[tuple[str, LayerKind, tuple[str, ...]], ...] = (
        ("terminator", "terminator", ("terminator",)),
        ("lines", "lines", ("equator", "zero meridian")),
    )
    for name, kind, members in groups:
        shapes: list[Shape] = []
        chips: list[Shape] = []
        texts: list[TextBox] = []
        words = []
        boxes = []
        for curve, request in (by_name[m] for m in members if m in by_name):
            shapes += frame_lines.without(curve.shapes, earlier)
            words.append(curve.words)
            spot = spots.get(request.key)
            if spot is not None:
                x0, y0, x1, y1 = leader(request, spot)
                shapes.append(
                    Path(
                        layer=curve.shapes[0].layer,
                        points=((x0 - 0.5, y0 - 0.5), (x1 - 0.5, y1 - 0.5)),
                        closed=False,
                        width_px=3 * u,
                        colour=curve.colour,
                    )
                )
                drawn, said = request.block.at(spot.x, spot.y, curve.colour)
                chips += drawn
                texts += said
                boxes.append(chip_box(request, spot))
        if shapes:
            layers.append(
                FrameLayer(
                    name=name,
                    kind=kind,
                    title=", ".join(words),
                    base=False,
                    shapes=(*shapes, *chips),
                    texts=tuple(texts),
                )
            )
        earlier = (*earlier, *boxes)
    return layers, earlier


class _Chips:
    """Layers of seas and features, one after the other; the lines of each keep off the plates of those before."""

    def __init__(self, spots: Mapping[str, Spot], pose: Pose, wanted: Wanted, plates: tuple[Box, ...]) -> None:
        self._spots, self._pose, self._fmt, self._asked = spots, pose, wanted.format, wanted.features
        self._plates = list(plates)
        self._names: set[str] = set()
        self.left: list[NotFound] = []

    def seas(self, seas: Sequence[Named], title: str) -> Iterator[FrameLayer]:
        """One layer for all that found room."""
        placed = [self._drawn(n) for n in seas if n.request.key in self._spots]
        if placed:
            yield FrameLayer(
                name="seas",
                kind="seas",
                title=title,
                base=False,
                shapes=tuple(s for shapes, _ in placed for s in shapes),
                texts=tuple(t for _, texts in placed for t in texts),
            )

    def feature(self, named: Named) -> Iterator[FrameLayer]:
        """A layer of its own."""
        key = named.request.key
        if key not in self._spots:
            if key in self._asked:
                self.left.append(NotFound("feature", f"There is no room left for {key}.", "Ask for fewer features."))
            return
        shapes, texts = self._drawn(named)
        head, _, local = named.title.partition("\n")
        title = f"{head} ({local})" if local else head
        yield FrameLayer(
            name=_new_name(f"feature-{key}", self._names),
            kind="feature",
            title=title,
            base=False,
            shapes=shapes,
            texts=texts,
        )

    def _drawn(self, named: Named) -> tuple[tuple[Shape, ...], tuple[TextBox, ...]]:
        spot = self._spots[named.request.key]
        shapes, texts = frame_names.drawn(named, spot, self._pose, self._fmt)
        kept = tuple(frame_lines.without(shapes, self._plates))
        self._plates.append(chip_box(named.request, spot))
        return kept, texts


def _inside(found: Composition, annotation: Annotation) -> Inside:
    """Which pixels of the frame show something: the picture has them, and they lie in the eyepiece's field."""
    shown = whole_frame(annotation.width, annotation.height, annotation.field_stop)

    def inside(x: FloatArray, y: FloatArray) -> BoolArray:
        px, py, _ = found.lookup(np.asarray(x, float), np.asarray(y, float))
        return shown(px, py)

    return inside


def _light(pose: Pose, fmt: Format) -> FloatArray:
    """How much lit Moon there is in each cell of the frame, 0..1."""
    cell = _CELL * fmt.unit
    xs, ys = np.meshgrid(np.arange(cell / 2, fmt.width, cell), np.arange(cell / 2, fmt.height, cell))
    lat, lon = pixel_to_surface(pose, xs, ys)
    on = ~np.isnan(lat)
    sun = sun_altitude_deg(
        np.where(on, lat, 0.0), np.where(on, lon, 0.0), pose.sub_solar_lat_deg, pose.sub_solar_lon_deg
    )
    return np.asarray(np.where(on, np.clip(sun / 15.0, 0.12, 1.0), 0.0))


def _new_name(name: str, taken: set[str]) -> str:
    """A layer's name, another one for each."""
    base = found = slug(name)
    k = 1
    while found in taken:
        k += 1
        found = f"{base}-{k}"
    taken.add(found)
    return found

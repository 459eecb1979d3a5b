"""The core as a library: read a picture, place it, ask where things are, draw it, put it right by hand.

    read -> Photograph -> annotate -> Annotated -> table, pixel, surface, wcs, plot, draw, correct

Everything here is thin: the work is done by `moondesk.pipeline`, `corrections`, `moon.geometry`, `exports` and `drawing`.
Pixels and angles follow the conventions of `moondesk.records`. An angle may be a number of degrees, an array of them or
anything with astropy's `to_value`; a time a datetime with its zone, ISO 8601 text with its offset, or astropy's Time.
"""

from __future__ import annotations

import base64
import io
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray
from PIL import Image

from moondesk.checks.evening import time_to_state
from moondesk.checks.statements import lit_fraction
from moondesk.corrections import Corrections, correct_picture
from moondesk.drawing import OverlayStyle, draw_labelled, draw_upright, labels_of
from moondesk.exports.fits import fits_file
from moondesk.exports.geojson import feature_collection
from moondesk.exports.json_line import json_line
from moondesk.exports.wcs import celestial
from moondesk.files.formats import open_picture
from moondesk.files.picture import decode_rgb
from moondesk.files.picture_file import PictureFile
from moondesk.moon.geometry import pixel_to_surface, surface_to_pixel, unit_vector
from moondesk.pipeline import annotate_picture
from moondesk.placement.solver import pixel_covariance
from moondesk.records import Annotation, ByteArray, FloatArray, Known, NotFound, Place, Pose, Status
from moondesk.visibility.marks import FLOOR_PCT_RADIUS

if TYPE_CHECKING:
    import pandas
    from astropy.table import QTable
    from astropy.wcs import WCS
    from matplotlib.axes import Axes

#: What `read` takes, and every function that wants a picture.
PictureSource = str | os.PathLike[str] | bytes | BinaryIO | np.ndarray
#: Columns of `Annotated.table`: name, type, unit as astropy and the VOUnits standard write it.
COLUMNS: tuple[tuple[str, str, str], ...] = (
    ("name", "U40", ""), ("kind", "U16", ""), ("lat_deg", "f8", "deg"), ("lon_deg", "f8", "deg"),
    ("size_km", "f8", "km"), ("x", "f8", "pix"), ("y", "f8", "pix"), ("sigma_px", "f8", "pix"),
    ("radius_px", "f8", "pix"), ("sun_altitude_deg", "f8", "deg"), ("cos_view", "f8", ""), ("lit_fraction", "f8", ""),
    ("seen", "f8", ""), ("prominence", "f8", ""),
)  # fmt: skip
#: Names that a summary holds, and the width of its picture in a notebook, px.
FEW, SHOWN_PX = 5, 800
#: What a plot of its own shows of the picture: so many radii about the disc's centre.
ABOUT_DISC = 1.25


@dataclass(frozen=True, eq=False)
class Photograph:
    """A picture as it came: the bytes of its file, and the file's name ("" where it has none)."""

    data: bytes
    name: str = ""

    @cached_property
    def file(self) -> PictureFile:
        """The file opened: what is read of it is read once."""
        return open_picture(self.data)

    @cached_property
    def rgb(self) -> ByteArray:
        """(H, W, 3) uint8 as displayed, its EXIF turn applied. Raises ValueError where it cannot be decoded."""
        found = decode_rgb(self.file)
        if isinstance(found, NotFound):
            raise ValueError(f"{found.reason} {found.advice}".strip())
        return found

    def __repr__(self) -> str:
        return f"Photograph({self.name!r}, {len(self.data)} bytes)"


@dataclass(frozen=True, eq=False)
class Annotated:
    """A picture with what was found in it. True where the Moon is placed, so that `if found:` asks for that.

    annotation: the whole record. known: what was said of the picture beside its bytes.
    """

    picture: Photograph
    annotation: Annotation
    known: Known

    def __bool__(self) -> bool:
        return self.annotation.pose is not None

    @property
    def status(self) -> Status:
        """What the picture is: "annotated" where it is placed, else what it is instead."""
        return self.annotation.status

    @property
    def sure(self) -> bool:
        """True only where every name stands where it belongs; when it was taken is another matter, see `utc`."""
        return self.annotation.sure

    @property
    def reason(self) -> str:
        """One sentence where something is missing or uncertain; empty otherwise."""
        return self.annotation.reason

    @property
    def advice(self) -> str:
        """What would help; empty where nothing is needed."""
        return self.annotation.advice

    @property
    def utc(self) -> datetime | None:
        """When it was taken, where that may be stated: nothing contradicts it."""
        time = time_to_state(self.annotation)
        return None if time is None else time.utc

    @property
    def pose(self) -> Pose:
        """Centre, radius, turn, hand, sub-observer and sub-solar point, lens. Raises ValueError where not placed."""
        if self.annotation.pose is None:
            raise ValueError(f"This picture is not placed ({self.status}): {self.reason}")
        return self.annotation.pose

    # --- where things are -------------------------------------------------------------------------------------------

    def pixel(self, *, lat_deg: ArrayLike, lon_deg: ArrayLike) -> tuple[Any, Any]:
        """Where a place on the Moon stands in the picture.

        Parameters: selenographic latitude and longitude, degrees, east positive; numbers or arrays that broadcast.
        Returns: x, y in pixels, floats or arrays; nan on the side that is not seen. They may lie outside the frame.
        Raises: ValueError where the picture is not placed.

        >>> found = annotate(SAMPLE)
        >>> [round(degrees, 6) for degrees in found.surface(*found.pixel(lat_deg=10.0, lon_deg=40.0))]
        [10.0, 40.0]
        """
        at = surface_to_pixel(self.pose, _degrees(lat_deg), _degrees(lon_deg))
        seen = at.mu > 0
        return _plain(np.where(seen, at.x, np.nan)), _plain(np.where(seen, at.y, np.nan))

    def surface(self, x: ArrayLike, y: ArrayLike) -> tuple[Any, Any]:
        """What place on the Moon a pixel shows.

        Parameters: pixels, numbers or arrays that broadcast.
        Returns: selenographic latitude and longitude, degrees, floats or arrays; nan beside the disc.
        Raises: ValueError where the picture is not placed.

        >>> annotate(SAMPLE).surface(0.0, 0.0)
        (nan, nan)
        """
        lat, lon = pixel_to_surface(self.pose, x, y)
        return _plain(lat), _plain(lon)

    def covariance_px(self, *, lat_deg: ArrayLike, lon_deg: ArrayLike) -> FloatArray:
        """Covariance of (x, y) of a place on the Moon, px^2, shape (..., 2, 2): the pose's and the maps' own.

        The table's sigma_px holds more where a picture shows it, as colours that lie apart. Raises ValueError where the
        picture is not placed.
        """
        surface = unit_vector(_degrees(lat_deg), _degrees(lon_deg))
        found = pixel_covariance(self.pose, surface.reshape(-1, 3)).reshape(*surface.shape[:-1], 2, 2)
        return found + np.eye(2) * (FLOOR_PCT_RADIUS / 100 * self.pose.radius_px) ** 2

    def sigma_px(self, *, lat_deg: ArrayLike, lon_deg: ArrayLike) -> Any:
        """One standard deviation per axis of where a place on the Moon stands, px: see `covariance_px`."""
        covariance = self.covariance_px(lat_deg=lat_deg, lon_deg=lon_deg)
        return _plain(np.sqrt(np.trace(covariance, axis1=-2, axis2=-1) / 2))

    # --- tables and files -------------------------------------------------------------------------------------------

    def table(self) -> NDArray[np.void]:
        """The named features of 15 km or more that the frame shows, a row each, the most prominent first.

        Columns: name, kind; lat_deg, lon_deg (selenographic, east positive); size_km (diameter, or length); x, y,
        sigma_px (one standard deviation per axis) and radius_px, in pixels; sun_altitude_deg; cos_view (of the emission
        angle, 1 in the disc's middle); lit_fraction, seen (probability that it can be made out), prominence, 0..1.
        Without rows where the picture is not placed.

        >>> table = annotate(SAMPLE).table()
        >>> table["kind"][table["name"] == "Theophilus"].item()
        'crater'
        """
        marks = sorted(self.annotation.features, key=lambda m: -m.prominence)
        of_feature = {"name", "kind", "lat_deg", "lon_deg", "size_km"}
        rows = [tuple(getattr(m.feature if c in of_feature else m, c) for c, _, _ in COLUMNS) for m in marks]
        return np.array(rows, [(name, kind) for name, kind, _ in COLUMNS])

    def to_pandas(self) -> pandas.DataFrame:
        """`table` as a DataFrame with the names as its index. Wants pandas: the extra `table`."""
        import pandas

        return pandas.DataFrame(self.table()).set_index("name")

    def to_qtable(self) -> QTable:
        """`table` as astropy's QTable, its columns with their units."""
        from astropy.table import QTable

        return QTable(self.table(), units={name: unit for name, _, unit in COLUMNS if unit})

    def wcs(self) -> WCS:
        """astropy's WCS of the picture as displayed, rows downwards, pixels from 0: longitude and latitude on the Moon.

        `found.wcs().world_to_pixel_values(lon, lat)` is `found.pixel`, in the other order; a lens or a tilt is told by
        polynomials (SIP) whose fit is good to some hundredths of a pixel on the disc. Raises ValueError where the
        picture is not placed.
        """
        from astropy.io import fits
        from astropy.wcs import WCS

        a = self.annotation
        header = fits.Header()
        header["NAXIS"], header["NAXIS1"], header["NAXIS2"] = 2, a.width, a.height
        for name, value, comment in celestial(self.pose, a.width, a.height).downwards(a.height).cards:
            header[name] = (value, comment)
        return WCS(header)

    def write_fits(self, path: str | os.PathLike[str], credit: str = "") -> None:
        """Writes the picture as FITS: linear light, rows upwards, the keywords of `wcs`, time, Sun. credit: AUTHOR.

        Raises ValueError where the picture is not surely placed: no pixel has coordinates then.
        """
        made = fits_file(self.picture.rgb, self.annotation, credit)
        if isinstance(made, NotFound):
            raise ValueError(f"{made.reason} {made.advice}")
        Path(path).write_bytes(made)

    def geojson(self) -> dict[str, Any]:
        """Features and terminator as GeoJSON with the Moon's own frame. Raises ValueError where not surely placed."""
        made = feature_collection(self.annotation)
        if isinstance(made, NotFound):
            raise ValueError(f"{made.reason} {made.advice}")
        return made

    def json_line(self) -> dict[str, Any]:
        """The published line of `moondesk place --jsonl`: see `moondesk.exports.json_line`."""
        import hashlib

        return json_line(self.picture.name or "picture", hashlib.sha256(self.picture.data).hexdigest(), self.annotation)

    # --- shown ------------------------------------------------------------------------------------------------------

    def plot(self, ax: Axes | None = None) -> Axes:
        """Draws the picture with its names into matplotlib axes and returns them. Wants the extra `plot`.

        ax: axes to draw into, also such with `projection=found.wcs()`; None: those of a new figure, of the disc and what
        is about it alone.
        """
        pose, height, width = self.annotation.pose, self.annotation.height, self.annotation.width
        about = (-0.5, width - 0.5, -0.5, height - 0.5)
        if ax is None:
            from matplotlib import pyplot

            ax = pyplot.figure(figsize=(7, 7), layout="constrained").add_subplot()
            ax.set_xlabel("x (px)")
            ax.set_ylabel("y (px)")
            if pose is not None:
                reach = ABOUT_DISC * pose.radius_px
                about = (
                    max(about[0], pose.x - reach),
                    min(about[1], pose.x + reach),
                    max(about[2], pose.y - reach),
                    min(about[3], pose.y + reach),
                )
        from matplotlib.patheffects import withStroke

        halo = [withStroke(linewidth=1.5, foreground="black")]
        ax.imshow(self.picture.rgb, origin="lower")  # the only one that WCSAxes takes
        ax.set_xlim(about[0], about[1])
        ax.set_ylim(about[3], about[2])
        for label in labels_of(self.annotation):
            at: dict[str, Any] = {"color": "gold", "fontsize": 7, "ha": "center", "va": "center", "clip_on": True}
            arrow = {"arrowstyle": "-", "color": "gold", "linewidth": 0.5} if label.leader else None
            ends = (label.anchor_x, label.anchor_y), (label.x, label.y)
            ax.annotate(label.text, *ends, arrowprops=arrow, path_effects=halo, rotation=label.angle_deg, **at)
        return ax

    def __repr__(self) -> str:
        a = self.annotation
        head = f"Annotated({self.picture.name!r}, {a.width} x {a.height} px)"
        if a.pose is None:
            rows = [f"{head}: {a.status}", f"  reason        {a.reason}", f"  advice        {a.advice}"]
            return "\n".join(row for row in rows if row.split()[1:])
        pose, light = a.pose, lit_fraction(a)
        best = [m.feature.name for m in sorted(a.features, key=lambda m: -m.prominence) if m.seen > 0.5][:FEW]
        when = "unknown" if self.utc is None else f"{self.utc:%Y-%m-%d %H:%M:%S} UTC"
        lit = "" if light is None else f", {100 * light:.0f} % lit"
        rows = [
            f"{head}: {a.status}, {'sure' if a.sure else 'not sure'}, {pose.sigma_pct_radius:.3f} % of the radius",
            *([f"  reason        {a.reason}"] if a.reason else []),
            f"  when          {when} (evening: {a.dated.verdict}; clock: {a.clock.verdict.replace('_', ' ')})",
            f"  disc          centre ({pose.x:.2f}, {pose.y:.2f}) px, radius {pose.radius_px:.2f} px, "
            f"north {pose.north_screen_deg:.2f} deg from up{', mirrored' if pose.mirrored else ''}",
            f"  sub-observer  {_place_words(pose.libration_lat_deg, pose.libration_lon_deg)}",
            f"  Sun over      {_place_words(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)}, colongitude "
            f"{(90.0 - pose.sub_solar_lon_deg) % 360.0:.2f} deg{lit}",
            f"  features      {len(a.features)}; best seen: {', '.join(best) or 'none'}",
        ]
        return "\n".join(rows)

    def _repr_html_(self) -> str:
        """What a notebook shows: the summary, and the labelled picture where there is one."""
        words = f"<pre>{escape(repr(self))}</pre>"
        if not self:
            return words
        image = Image.fromarray(draw(self))
        image.thumbnail((SHOWN_PX, SHOWN_PX))
        out = io.BytesIO()
        image.save(out, "JPEG", quality=88)
        return f'{words}<img alt="" src="data:image/jpeg;base64,{base64.b64encode(out.getvalue()).decode()}">'


def read(source: PictureSource, *, linear: bool = False) -> Photograph:
    """A picture from a path, the bytes of a file, a binary file, or an array.

    An array is (H, W) or (H, W, 3): uint8, uint16, or floats between 0 and 1; its values are those to be displayed
    (sRGB), or with `linear` those of linear light. Raises FileNotFoundError for a path that is not there, TypeError or
    ValueError for what is no picture.

    >>> read(np.full((40, 40), 0.18), linear=True).rgb[0, 0].tolist()
    [118, 118, 118]
    """
    if isinstance(source, str | os.PathLike):
        path = Path(source)
        return Photograph(path.read_bytes(), path.name)
    if isinstance(source, bytes | bytearray | memoryview):
        return Photograph(bytes(source))
    if not isinstance(source, np.ndarray) and hasattr(source, "read"):
        data = source.read()
        if not isinstance(data, bytes):
            raise TypeError("the file must be open for bytes: open(path, 'rb')")
        return Photograph(data, Path(str(getattr(source, "name", ""))).name)
    if hasattr(source, "__array__") or hasattr(source, "__array_interface__"):
        return Photograph(_png(np.asarray(source), linear))
    raise TypeError(f"a picture is a path, bytes, a binary file or an array, not {type(source).__name__}")


def annotate(
    picture: Photograph | PictureSource,
    *,
    taken: Any = None,
    place: Any = None,
    mirrored: bool | None = None,
    known: Known | None = None,
) -> Annotated:
    """Finds where the Moon lies in a picture, and all that follows.

    picture: a `Photograph`, or what `read` takes. taken: when it was taken, if known better than the file says. place:
    where from, as (latitude, longitude) or (latitude, longitude, height in m), degrees, WGS 84, east positive; a `Place`
    or astropy's EarthLocation. mirrored: the hand, if known. known: what else there is to say; taken and place go before
    it. Without `received_utc`, a date in the file, or `now_utc` in it no date is searched for.

    Never raises for a bad picture: the answer then is falsy and says its status, reason and advice. Raises ValueError for
    a time without its zone or a place that is not on the Earth.

    >>> found = annotate(SAMPLE, taken="2026-10-17T19:14:35Z", place=(48.2, 16.4))
    >>> str(found.status), found.sure, round(found.pose.libration_lat_deg)
    ('annotated', True, 5)
    """
    photograph = picture if isinstance(picture, Photograph) else read(picture)
    known = known or Known()
    known = replace(
        known,
        taken_utc=known.taken_utc if taken is None else _utc(taken),
        place=known.place if place is None else _observer(place),
        given_name=known.given_name or photograph.name,
    )
    return Annotated(photograph, annotate_picture(photograph.file, known, mirrored), known)


def correct(
    found: Annotated,
    *,
    pins: Mapping[str, tuple[float, float]] | None = None,
    circle: tuple[float, float, float] | None = None,
    mirrored: bool | None = None,
    taken: Any = None,
) -> Annotated | NotFound:
    """Places a picture again with what a person has set.

    pins: names of features and their pixels, two or more (one with a circle). circle: (x, y, radius) of the limb.
    mirrored: the hand. taken: when. What is set is kept, and the answer is not sure where the surface contradicts it.
    Returns a `NotFound` with reason and advice where nothing can be placed by it, as with an unknown name. Raises
    ValueError for numbers that are not finite.

    >>> correct(annotate(SAMPLE), pins={"Plato": (900.0, 400.0)}).reason
    'One named point does not settle size and turn.'
    """
    named = tuple((name, float(x), float(y)) for name, (x, y) in (pins or {}).items())
    set_by_hand = Corrections(
        limb_circle=circle, pins=named, mirrored=mirrored, taken_utc=None if taken is None else _utc(taken)
    )
    made = correct_picture(found.picture.file, found.known, set_by_hand, found.annotation)
    return made if isinstance(made, NotFound) else replace(found, annotation=made)


def draw(
    found: Annotated, *, upright: bool = False, size_px: int = 1200, style: OverlayStyle | None = None
) -> ByteArray:
    """The picture with names and lines: (H, W, 3) uint8 as displayed, or (size_px, size_px, 3) with lunar north up.

    Raises ValueError where the picture cannot be decoded, and for an upright copy of one that is not placed.

    >>> draw(annotate(SAMPLE), upright=True, size_px=400).shape
    (400, 400, 3)
    """
    if not upright:
        return draw_labelled(found.picture.rgb, found.annotation, style)
    made = draw_upright(found.picture.rgb, found.annotation, size_px, style)
    if isinstance(made, NotFound):
        raise ValueError(f"{made.reason} {made.advice}")
    return made


def _degrees(angle: Any) -> FloatArray:
    return np.asarray(angle.to_value("deg") if hasattr(angle, "to_value") else angle, np.float64)


def _plain(values: FloatArray) -> Any:
    return float(values) if np.ndim(values) == 0 else values


def _place_words(lat_deg: float, lon_deg: float) -> str:
    return f"{abs(lat_deg):.2f} {'NS'[lat_deg < 0]}, {abs(lon_deg):.2f} {'EW'[lon_deg < 0]}"


def _utc(when: Any) -> datetime:
    if hasattr(when, "to_datetime"):  # astropy's Time, of whatever scale
        when = when.utc.to_datetime(timezone=UTC)
    told = datetime.fromisoformat(when) if isinstance(when, str) else when
    if not isinstance(told, datetime):
        raise TypeError(f"a time is a datetime, ISO 8601 text or astropy's Time, not {type(when).__name__}")
    if told.tzinfo is None:
        raise ValueError(f"a time must say its zone, as 2026-03-25T19:04:00Z does and {told.isoformat()} does not")
    return told.astimezone(UTC)


def _observer(place: Any) -> Place:
    if isinstance(place, Place):
        return place
    if hasattr(place, "geodetic"):  # astropy's EarthLocation
        place = (place.geodetic.lat, place.geodetic.lon, place.geodetic.height.to_value("m"))
    if not isinstance(place, tuple | list) or len(place) not in (2, 3):
        raise TypeError("a place is (latitude, longitude) in degrees, or with a height in m as a third")
    return Place(float(_degrees(place[0])), float(_degrees(place[1])), *(float(height) for height in place[2:]))


def _png(values: NDArray[Any], linear: bool) -> bytes:
    if values.ndim not in (2, 3) or (values.ndim == 3 and values.shape[2] != 3) or not values.size:
        raise ValueError(f"a picture is (H, W) or (H, W, 3), not {values.shape}")
    if values.dtype.kind == "f":
        if not (np.isfinite(values).all() and values.min() >= 0 and values.max() <= 1):
            raise ValueError("floats must be between 0 and 1: scale them, as by (a - a.min()) / (a.max() - a.min())")
    elif values.dtype not in (np.uint8, np.uint16):
        raise TypeError(f"values must be uint8, uint16 or floats, not {values.dtype}")
    if linear or values.dtype.kind == "f":
        share = values if values.dtype.kind == "f" else values / np.iinfo(values.dtype).max
        if linear:  # the display's tone curve (IEC 61966-2-1)
            share = np.where(share <= 0.0031308, 12.92 * share, 1.055 * share ** (1 / 2.4) - 0.055)
        values = np.round(65535 * share).astype(np.uint16)
    done, png = cv2.imencode(".png", values if values.ndim == 2 else values[..., ::-1])
    if not done:
        raise ValueError(f"a picture of {values.shape} cannot be written as PNG")
    return png.tobytes()

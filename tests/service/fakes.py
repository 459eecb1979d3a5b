"""A stand-in for the core, so that the shell is tested without it: what it answers depends on the picture's width."""

from __future__ import annotations

import io
import os
import time
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
from PIL import Image

from moondesk import records
from moondesk.sentences import sentences_of
from moondesk.service.jobs.engine import Engine

TAKEN = datetime(2026, 3, 25, 19, 4, tzinfo=UTC)
CRASHES, RAISES, HANGS, NOT_MOON, UNSURE = 61, 62, 63, 64, 65
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-0.5 -0.5 {w} {h}">'
    '<g id="limb"><circle cx="40" cy="30" r="20" stroke="#fff" fill="none"/></g>'
    '<g id="seas"><text x="5" y="9">Mare &lt;Imbrium&gt;</text></g>'
    '<g id="zero meridian"><path d="M0 0h9"/></g><g id="mountains"/></svg>'
)


def png(width: int = 80, height: int = 60, shade: int = 90) -> bytes:
    """A small picture; different shades are different bytes."""
    buffer = io.BytesIO()
    Image.new("RGB", (width, height), (shade, shade, shade)).save(buffer, "PNG")
    return buffer.getvalue()


def jpeg_with_gps() -> bytes:
    """A picture with a position, a camera and a turn in its EXIF block."""
    exif = Image.Exif()
    exif[0x010F] = "Camera maker"
    exif[0x0112] = 6
    exif.get_ifd(0x8825)[1] = "N"
    buffer = io.BytesIO()
    Image.new("RGB", (80, 60), (70, 60, 50)).save(buffer, "JPEG", exif=exif)
    return buffer.getvalue()


def bare(status: str, reason: str = "", advice: str = "") -> records.Annotation:
    return records.Annotation(
        status=records.Status(status),
        sure=False,
        reasons=sentences_of(reason),
        advices=sentences_of(advice),
        width=80,
        height=60,
        taken=records.TimeReadings(candidates=(), earliest_utc=None, latest_utc=None),
        time=None,
        clock=records.Clock(records.ClockVerdict.NO_CLOCK, None, None),
    )


def annotation(sure: bool = True, known: records.Known | None = None) -> records.Annotation:
    """A placed picture of 80 by 60 pixels with two features in the light and one in the dark."""
    when = (known and known.taken_utc) or TAKEN
    candidate = records.TimeCandidate(when, 1.0, "told")
    marks = tuple(
        records.FeatureMark(
            feature=records.Feature(name=name, kind=kind, lat_deg=9.7, lon_deg=-20.0, size_km=size, meaning=meaning),
            x=x,
            y=30.0,
            sigma_px=0.5,
            radius_px=3.0,
            sun_altitude_deg=sun,
            cos_view=0.9,
            lit_fraction=lit,
            seen=seen,
            prominence=prominence,
        )
        for name, kind, meaning, size, x, sun, lit, seen, prominence in (
            ("Copernicus", "crater", None, 96.0, 30.0, 12.0, 1.0, 0.95, 0.9),
            ("Mare Imbrium", "sea", "Sea of Rains", 1145.0, 25.0, -2.0, 0.5, 0.9, 0.8),
            ("Grimaldi", "crater", None, 173.0, 22.0, -20.0, 0.0, 0.0, 0.7),
        )
    )
    return records.Annotation(
        status=records.Status.ANNOTATED,
        sure=sure,
        reasons=() if sure else sentences_of("Two turns fit nearly as well."),
        advices=() if sure else sentences_of("Pin two features."),
        width=80,
        height=60,
        taken=records.TimeReadings(candidates=(candidate,), earliest_utc=None, latest_utc=None),
        time=candidate,
        clock=records.Clock(records.ClockVerdict.AGREES, when, 1.0),
        pose=records.Pose(
            x=40.0,
            y=30.0,
            radius_px=20.0,
            north_screen_deg=12.0,
            mirrored=True,
            libration_lat_deg=4.0,
            libration_lon_deg=-3.0,
            sub_solar_lat_deg=1.0,
            sub_solar_lon_deg=40.0,
            sigma_pct_radius=0.07,
        ),
        terminator=records.Terminator(80.0, 0.58, 270.0, 0.5),
        features=marks,
        dated=records.EveningKnowledge(records.EveningVerdict.SURE),
    )


def annotate_picture(data: bytes, known: records.Known) -> records.Annotation:
    width = Image.open(io.BytesIO(data)).width
    if width == CRASHES:
        os._exit(9)
    if width == HANGS:
        time.sleep(60)
    if width == RAISES:
        raise RuntimeError("a planted fault")
    if width == NOT_MOON:
        lamp = bare("not_moon", "This is a street lamp.", "Point at the Moon.")
        return replace(
            lamp,
            limb=records.Limb(
                x=40.0,
                y=30.0,
                radius_px=9.0,
                sigma_px=0.5,
                covariance=(1.0,) * 9,
                rms_px=0.2,
                arc_deg=360.0,
                n_points=99,
                edge_width_px=2.0,
            ),
        )
    return annotation(width != UNSURE, known)


def decode_rgb(data: bytes):
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))


def draw(rgb, annotation: records.Annotation):
    return rgb


def overlay_svg(annotation: records.Annotation) -> str:
    return SVG.format(w=annotation.width, h=annotation.height)


def measure(rgb, annotation: records.Annotation):
    return records.NotFound("quality", "Nothing is measured here.", "")


def load() -> Engine:
    return Engine(
        version="fake 1",
        annotate=annotate_picture,
        decode_rgb=decode_rgb,
        draw_labelled=draw,
        draw_upright=draw,
        overlay_svg=overlay_svg,
        measure=measure,
    )


def add_edition(storage, plan):
    """An edition in a store, at no time that matters."""
    from moondesk.service.store import editions

    return editions.add_edition(storage, plan, datetime(2026, 3, 1, tzinfo=UTC))

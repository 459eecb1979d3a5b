"""Samples with known truth for the tests of frames: placed once a run."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import numpy as np

from moondesk import annotate_picture
from moondesk.files.picture import decode_rgb
from moondesk.records import Known

SAMPLES = Path(__file__).resolve().parents[2] / "sample_submissions"


@cache
def truths():
    return {f["file"]: f for f in json.loads((SAMPLES / "index.json").read_text())["files"]}


@cache
def sample(name):
    """(rgb, annotation) of a sample picture."""
    data = (SAMPLES / name).read_bytes()
    return decode_rgb(data), annotate_picture(data, Known())


def on_disc(lat_deg, lon_deg, lat0_deg, lon0_deg):
    """Orthographic (Snyder 1987, equations 20-3 and 20-4): x to the Moon's east, y to its north, radii; without
    perspective, which is at most 0.23 %R."""
    b, l_, b0, l0 = (np.radians(v) for v in (lat_deg, lon_deg, lat0_deg, lon0_deg))
    return (np.cos(b) * np.sin(l_ - l0), np.sin(b) * np.cos(b0) - np.cos(b) * np.sin(b0) * np.cos(l_ - l0))


def on_moon(x, y, lat0_deg, lon0_deg):
    """The inverse (J. P. Snyder, Map Projections: A Working Manual, USGS 1987, equations 20-14 and 20-15), degrees."""
    rho = np.hypot(x, y)
    c, b0, l0 = np.arcsin(rho), np.radians(lat0_deg), np.radians(lon0_deg)
    lat = np.arcsin(np.cos(c) * np.sin(b0) + y * np.sin(c) * np.cos(b0) / max(rho, 1e-12))
    lon = l0 + np.arctan2(x * np.sin(c), rho * np.cos(b0) * np.cos(c) - y * np.sin(b0) * np.sin(c))
    return np.degrees(lat), np.degrees(lon)


def haversine_km(lat1, lon1, lat2, lon2):
    """On a sphere of 1737.4 km (IAU)."""
    a, b, c, d = (np.radians(v) for v in (lat1, lon1, lat2, lon2))
    h = np.sin((c - a) / 2) ** 2 + np.cos(a) * np.cos(c) * np.sin((d - b) / 2) ** 2
    return float(2 * 1737.4 * np.arcsin(np.sqrt(h)))


def luminance(colour):
    """Relative luminance as WCAG 2.2 defines it, of (..., 3) values 0..255."""
    c = np.asarray(colour, float) / 255
    c = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    return c @ np.array([0.2126, 0.7152, 0.0722])


def contrast(a, b):
    """Contrast ratio as WCAG 2.2 defines it."""
    a, b = luminance(a), luminance(b)
    return (np.maximum(a, b) + 0.05) / (np.minimum(a, b) + 0.05)

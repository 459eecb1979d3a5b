"""A placed picture as a FITS file: its light, and coordinates on the Moon for every pixel (their keywords: `wcs`)."""

from __future__ import annotations

import io
from datetime import UTC

import numpy as np

from moondesk.checks.evening import time_to_state
from moondesk.exports.wcs import celestial
from moondesk.files.picture import linear_light
from moondesk.records import Annotation, ByteArray, NotFound

#: Relative luminance of linear light (Rec. ITU-R BT.709).
_WEIGHTS = np.array([0.2126, 0.7152, 0.0722], np.float32)
#: Begin of the modified Julian dates, 17 November 1858, as Unix seconds.
_MJD_0 = -40587 * 86400


def fits_file(rgb: ByteArray, annotation: Annotation, credit: str) -> bytes | NotFound:
    """The file's bytes. rgb: (H, W, 3) as displayed, of the annotation's size; credit: AUTHOR, "" for nobody.

    Light is linear, 65535 for white, its first row the lowest (section 5.1 of the FITS Standard 4.0 leaves it open;
    viewers show it upright so). Only what is surely placed has coordinates. Nothing tells where the sender stood.
    """
    a, pose = annotation, annotation.pose
    if pose is None or not a.sure:
        return NotFound("export", "It is not surely placed, so no pixel has coordinates.", "Place it by hand first.")
    if rgb.shape != (a.height, a.width, 3):
        raise ValueError(f"a picture of {a.width} x {a.height} is wanted, not {rgb.shape}")
    from astropy.io import fits

    light = linear_light(np.arange(256) / 255)[rgb] @ _WEIGHTS
    hdu = fits.PrimaryHDU(np.round(65535 * np.clip(light[::-1], 0, 1)).astype(np.uint16))
    header = hdu.header
    found = celestial(pose, a.width, a.height)
    header["OBJECT"] = ("MOON", "")
    for name, value, comment in found.cards:
        header[name] = (value, comment)
    sigma = pose.sigma_pct_radius / 100 * np.degrees(1.0)
    for axis in (1, 2):
        header[f"CRDER{axis}"] = (float(sigma), "[deg] one sigma, mid-disc")
    header["SUNLON"] = (pose.sub_solar_lon_deg, "[deg] sub-solar longitude")
    header["SUNLAT"] = (pose.sub_solar_lat_deg, "[deg] sub-solar latitude")
    time = time_to_state(a)
    if time is not None:
        header["DATE-OBS"] = time.utc.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S")
        header["MJD-OBS"] = round((time.utc.timestamp() - _MJD_0) / 86400, 6)
        header["TIMESYS"], header["TIMEUNIT"] = "UTC", "s"
        header["TIMRDER"] = (60 * time.sigma_minutes, "[s] one sigma of DATE-OBS")
    if credit and credit.isascii() and credit.isprintable():
        header["AUTHOR"] = credit
    elif credit:
        header["COMMENT"] = "The author's name has letters that no FITS header has: see the list beside this."
    header["COMMENT"] = "Mean-Earth frame. BZERO undone, pixels are linear light, 65535 is white."
    header["COMMENT"] = (
        "Rows run upwards: row 1 is the picture's lowest. Lists beside this (CSV, GeoJSON) count y "
        "downwards from 0 at the top: row = NAXIS2 - y, column = x + 1."
    )
    if found.sip:
        header["COMMENT"] = (
            f"Lens distortion by polynomials: at most {found.residual_px:.3f} px, "
            f"{100 * found.residual_px / pose.radius_px:.4f} % of the disc's radius off."
        )
    out = io.BytesIO()
    hdu.writeto(out, checksum=True)
    return out.getvalue()

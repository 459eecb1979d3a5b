"""Detail finer than the maps hold: the picture's own power, frequency by frequency, on windows of low Sun.

For pictures sharper than the maps. The Moon's relief in slanting light has a power that falls nearly as a power law
(exponent about 3 on stacked photographs, display values, periods of 6 to 25 km). Air and lens blur it, the sensor adds
grain that is even over all frequencies, what is done to the finished picture filters both alike, and rounding adds an
even floor:

    power = (ground * f^-3 * blur1(f) + grain) * blur2(f) * mask(f) + floor

They are fitted together. The grain's own fall tells what was done afterwards: a blur of the picture lowers it and
counts; an unsharp mask lifts both and does not count. Two widths come of it: that of the Gaussian blur, and that of the
period at which the ground sinks into grain and floor.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from scipy.optimize import least_squares

from moondesk.quality.texture import FWHM, WIDTH_OF_PERIOD, look_up, places
from moondesk.records import MOON_RADIUS_KM, ByteArray, FloatArray, NotFound, Pose

#: Samples along a window's side; longest period that counts, km; power law of the sharp Moon.
SIDE, LONGEST_KM, EXPONENT = 128, 22.0, 3.0
#: What a bin's power may be off the law by, logarithm.
UNEVEN = 0.15
#: Blur of the finished picture (pixels, sigma) and amount of an unsharp mask that are expected before looking; and the
#: blur that a camera's own making of pixels leaves (common practice): less of it in the grain is taken for sharpening.
AFTER_PX, MASK, CAMERA_PX = 1.0, 1.0, 1.0
#: Floor of a picture that was coded, in units of mere rounding (common practice: half a grey level).
FLOOR, FLATTEST = 3.0, 0.01
#: Finest spacing of samples, km: no picture from the ground resolves two of them (0.4 km is 0.2 arcsec).
FINEST_KM = 0.4
BINS = 24


@dataclass(frozen=True)
class Detail:
    """blur_km, noise_km: the two widths (full width at half maximum of a Gaussian), km at the disc's centre."""

    blur_km: float
    noise_km: float


def measure_detail(grey: ByteArray, pose: Pose) -> Detail | NotFound:
    """grey: (H, W) luma; pose: in its pixels. Only for scales at which periods below 22 km are sampled."""
    height, width = grey.shape
    km_per_px = MOON_RADIUS_KM / pose.radius_px
    pitch = max(1.0, FINEST_KM / km_per_px)
    side = min(SIDE, int(min(height, width) / pitch))
    spacing = pitch * km_per_px
    if side * spacing < LONGEST_KM or 6 * spacing > LONGEST_KM:
        return NotFound("detail", "The scale does not suit a look at finer detail than the maps hold.", "")
    hann = np.hanning(side + 2)[1:-1]
    taper = np.outer(hann, hann)
    offset = (np.arange(side) - side // 2) * pitch
    total, used = np.zeros((side, side // 2 + 1)), 0
    for a, b in places(pose, width, height, side * pitch / 2):
        x, y = np.meshgrid(round(a) + offset, round(b) + offset)  # between pixels the finest would be smoothed
        shown = look_up(grey, x[None], y[None], pitch)[0]
        if (shown > 0.975).mean() > 0.02:
            continue
        flat = shown - cv2.GaussianBlur(shown, (0, 0), side / 10)
        total += np.abs(np.fft.rfft2(flat * taper)) ** 2
        used += 1
    if not used:
        return NotFound("detail", "No lit part without burnt-out places is large enough to look at.", "")
    radial = np.hypot(np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None, :])
    edges = np.geomspace(3.0 / side, 0.5, BINS + 1)
    which = np.digitize(radial, edges) - 1
    inside = (which >= 0) & (which < BINS)
    number = np.maximum(np.bincount(which[inside], minlength=BINS), 1)
    power = np.bincount(which[inside], total[inside], BINS) / number
    frequency = np.bincount(which[inside], radial[inside], BINS) / number / spacing
    short = frequency > 1.0 / LONGEST_KM  # a bin without any frequency stands at 0
    # of a pixel rounded to a grey level: variance 1 / 12
    rounding = float((taper**2).sum()) * used / 12.0 / 255.0**2
    power = np.maximum(power, FLATTEST * rounding)  # a drawn surface may be flat to the last bit
    return _fit(frequency[short], power[short], number[short] * used, rounding, spacing)


def _fit(f: FloatArray, power: FloatArray, modes: FloatArray, rounding: float, spacing_km: float) -> Detail | NotFound:
    """f: cycles per km; power: of as many windows as were added up; modes: in each bin."""
    measured, weight = np.log(power), 1.0 / np.hypot(UNEVEN, 1.0 / np.sqrt(modes))
    bend = 4.0 * np.pi**2 * f**2
    first = float(measured[0] + EXPONENT * np.log(f[0]))

    def parts(p: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Ground, grain and floor, logarithms."""
        mask = 2.0 * np.log1p(p[5] * (1.0 - np.exp(-0.5 * bend * np.exp(2.0 * p[6]))))
        ground = p[0] - EXPONENT * np.log(f) - (p[2] + p[3]) * bend + mask
        return ground, p[1] - p[3] * bend + mask, np.full(len(f), p[4])

    def misfit(p: FloatArray) -> FloatArray:
        shown = np.logaddexp.reduce(parts(p))
        held = [
            p[3] / (AFTER_PX * spacing_km) ** 2,
            (p[4] - np.log(FLOOR * rounding)) / 0.5,
            p[5] / MASK,
            (p[6] - np.log(2.0 * spacing_km)) / 0.5,
        ]
        return np.concatenate([(shown - measured) * weight, held])

    low = [-np.inf, -np.inf, 0.0, 0.0, np.log(rounding), 0.0, -np.inf]
    scale = [1.0, 1.0, spacing_km**2, spacing_km**2, 1.0, 1.0, 1.0]
    best = None
    for blur_km in (0.8 * spacing_km, 2.0 * spacing_km):
        start = [
            first,
            float(measured[-1]),
            blur_km**2,
            0.1 * spacing_km**2,
            np.log(FLOOR * rounding) + 0.1,
            0.3,
            np.log(2.0 * spacing_km),
        ]
        found = least_squares(misfit, start, bounds=(low, np.inf), x_scale=scale)
        best = found if best is None or found.cost < best.cost else best
    assert best is not None
    p = best.x
    _, grain, floor = parts(p)
    above = np.log(power) - np.logaddexp(grain, floor) - np.log(2.0)
    sunk = np.flatnonzero(above < 0)
    if len(sunk) and sunk[0] == 0:
        return NotFound("detail", "The texture sinks into noise before it is finer than the maps.", "")
    k = int(sunk[0]) if len(sunk) else len(f) - 1
    share = float(np.clip(above[k - 1] / max(above[k - 1] - above[k], 1e-9), 0.0, 1.0))
    lost = f[k - 1] ** (1.0 - share) * f[k] ** share
    blur = np.sqrt(p[2] + max(p[3], (CAMERA_PX * spacing_km) ** 2))
    return Detail(FWHM * float(blur), WIDTH_OF_PERIOD / float(lost))

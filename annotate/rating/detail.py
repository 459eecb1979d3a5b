"""Detail finer than the maps hold: the picture's own power, frequency by frequency, on windows of low Sun.

For close-ups without a limb. The Moon's relief in slanting light has a power that falls nearly as a power law
(exponent about 3 on stacked photographs, display values, periods of 6 to 25 km); what falls faster is blur, what no
longer falls is noise. Two widths come of it: that of the Gaussian blur that bends the law, the noise taken off, and
that of the period at which the texture sinks into the noise. The first cannot be fooled by noise in the mean, the
second not by sharpening; the worse counts.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from annotate.rating.texture import WIDTH_OF_PERIOD, look_up, places
from annotate.records import MOON_RADIUS_KM, ByteArray, NotFound, Pose

#: Samples along a window's side; longest period that counts, km; power law of the sharp Moon.
SIDE, LONGEST_KM, EXPONENT = 128, 22.0, 3.0
#: Finest spacing of samples, km: no picture from the ground resolves two of them (0.4 km is 0.2 arcsec).
FINEST_KM = 0.4
BINS = 15


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
    offset = (np.arange(side) - (side - 1) / 2) * pitch
    total, used = np.zeros((side, side // 2 + 1)), 0
    for a, b in places(pose, width, height, side * pitch / 2):
        x, y = np.meshgrid(a + offset, b + offset)
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
    noise = float(power[-2:].min())
    short = (1.0 / frequency < LONGEST_KM) & (frequency > 0)
    clear = short & (power > 3.0 * noise)
    if clear.sum() < 4:
        return NotFound("detail", "The texture sinks into noise before it is finer than the maps.", "")
    above = np.log(power[clear] - noise) + EXPONENT * np.log(frequency[clear])
    slope = float(np.polyfit(frequency[clear] ** 2, above, 1)[0])
    blur = 2.3548 * float(np.sqrt(max(-slope, 0.0) / (4 * np.pi**2)))
    sunk = np.flatnonzero(short & (power < 2.0 * noise))
    k = int(sunk[0]) if len(sunk) else BINS - 1
    share = float(np.clip(np.log(power[k - 1] / (2 * noise)) / max(np.log(power[k - 1] / power[k]), 1e-6), 0, 1))
    lost = frequency[k - 1] ** (1 - share) * frequency[k] ** share
    return Detail(blur, WIDTH_OF_PERIOD / float(lost))

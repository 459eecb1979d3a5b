"""How fine the surface itself shows: the picture's texture against the relit Moon's, frequency by frequency.

Square windows of the lit disc are compared with what the light there predicts. From the cross-spectrum come, per
frequency, the *gain* (cross over the model's own power: noise adds nothing to it in the mean) and the *coherence*
(cross over both powers). No filter changes the coherence: sharpening lifts signal and noise alike, so what the
noise hid stays hidden. The period at which it falls is the finest texture that the picture truly holds.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.moon.geometry import disc_axes, lift, pixel_to_disc, unit_vector
from moondesk.records import MOON_RADIUS_KM, ByteArray, Float32Array, FloatArray, NotFound, Pose
from moondesk.visibility.discernible import predict

#: Samples along a window's side, most windows, and finest spacing of samples: the maps hold nothing finer, km.
SIDE, MOST, FINEST_KM = 96, 9, 2.0
#: Sun's height and cosine of the view over which a place counts.
LEAST_SUN_DEG, LEAST_VIEW = 2.0, 0.3
BURNT = 0.975
#: Samples that the period of what is lost spans.
SAMPLES = 4.0
#: Share of the coherence at large that is left where texture counts as lost (half of the amplitude is noise).
LOST = 0.53
#: Where sharp pictures lose coherence because the maps end, km (measured: 12 to 14 on scenes and photographs).
MAP_KM = 13.0
#: A Gaussian blur's full width at half maximum over the period at which its coherence is lost (measured on scenes).
WIDTH_OF_PERIOD = 0.85
#: A Gaussian's full width at half maximum over its sigma.
FWHM = 2.3548
#: Gains are believed at periods longer than the first, km, a rise of them above the second: below, the maps themselves
#: are softer than the Moon.
GAIN_KM, LIFT_KM = 18.0, 25.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Spectrum:
    """Per radial bin: frequency (cycles per km at the disc's centre), gain relative to the lowest bins, coherence
    0..1, modes in the bin. windows: how many were compared; spacing_km: of their samples."""

    frequency: FloatArray
    gain: FloatArray
    coherence: FloatArray
    modes: FloatArray
    windows: int
    spacing_km: float


def places(pose: Pose, width: int, height: int, half_px: float) -> list[tuple[float, float]]:
    """Centres of windows inside the frame that are mostly lit, those with the lowest Sun first, well apart."""
    reach = pose.radius_px
    step = max(half_px, 2.0)
    around = int(np.ceil(reach / step))
    grid = np.arange(-around, around + 1) * step
    x, y = (g.ravel() for g in np.meshgrid(pose.x + grid, pose.y + grid))
    low, high = min(half_px, (width - 1) / 2), min(half_px, (height - 1) / 2)
    framed = (x >= low) & (y >= high) & (x <= width - 1 - low) & (y <= height - 1 - high)
    x, y = x[framed], y[framed]
    if not len(x):
        return []
    u, v = pixel_to_disc(pose, x, y)
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    with np.errstate(invalid="ignore"):
        sine = lift(u, v, axes, pose.distance_radii) @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
    view = np.sqrt(np.maximum(1 - u * u - v * v, 0))
    good = np.isfinite(sine) & (sine > np.sin(np.radians(LEAST_SUN_DEG))) & (view > LEAST_VIEW)
    # a low Sun draws relief, a square view keeps it; a window at the very terminator is half dark
    worth = np.where(good, view * (0.35 + np.exp(-(((np.nan_to_num(sine) - 0.25) / 0.25) ** 2))), 0.0)
    chosen: list[tuple[float, float]] = []
    for k in np.argsort(-worth):
        if worth[k] <= 0 or len(chosen) >= MOST:
            break
        if all(max(abs(x[k] - a), abs(y[k] - b)) > 1.2 * half_px for a, b in chosen):
            chosen.append((float(x[k]), float(y[k])))
    return chosen


def spectrum(grey: ByteArray, pose: Pose, pitch: float) -> Spectrum | NotFound:
    """grey: (H, W) luma; pitch: full-resolution pixels per sample."""
    height, width = grey.shape
    km_per_px = MOON_RADIUS_KM / pose.radius_px
    side = int(min(SIDE, max(2 * round(1.0 * pose.radius_px / pitch), 16)))
    centres = places(pose, width, height, side * pitch / 2)
    if not centres:
        return NotFound("texture", "No part of the lit disc is large enough to compare.", "")
    offset = (np.arange(side) - (side - 1) / 2) * pitch
    x = np.stack([a + np.broadcast_to(offset, (side, side)) for a, _ in centres])
    y = np.stack([b + np.broadcast_to(offset[:, None], (side, side)) for _, b in centres])
    shown = look_up(grey, x, y, pitch)
    model, usable = model_at(pose, x, y)
    usable &= (x >= 0) & (y >= 0) & (x <= width - 1) & (y <= height - 1) & (shown < BURNT)
    return _compare(shown, model, usable.astype(np.float32), side, pitch * km_per_px)


def look_up(grey: ByteArray, x: FloatArray, y: FloatArray, pitch: float) -> Float32Array:
    """Display values 0..1 at the points; where they are more than a pixel apart, means over cells."""
    out = np.empty(x.shape, np.float32)
    for k in range(len(x)):
        if pitch <= 1.3:
            out[k] = cv2.remap(
                grey,
                x[k].astype(np.float32),
                y[k].astype(np.float32),
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REPLICATE,
            )
            continue
        # two sub-samples or more a side of the cell
        n = int(min(np.ceil(pitch), 6))
        side = x.shape[1]
        sub = ((np.arange(side * n) + 0.5) / n - 0.5 - (side - 1) / 2) * pitch
        cx, cy = x[k].mean(), y[k].mean()
        fine = cv2.remap(
            grey,
            np.broadcast_to((cx + sub).astype(np.float32), (side * n, side * n)),
            np.broadcast_to((cy + sub)[:, None].astype(np.float32), (side * n, side * n)),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        out[k] = cv2.resize(fine.astype(np.float32), (side, side), interpolation=cv2.INTER_AREA)
    return out / np.float32(255.0)


def model_at(pose: Pose, x: FloatArray, y: FloatArray) -> tuple[Float32Array, np.ndarray]:
    """Root of the predicted radiance at pixels (K, n, n), and where the disc is there and lit."""
    u, v = pixel_to_disc(pose, x, y)
    axes = disc_axes(pose.libration_lat_deg, pose.libration_lon_deg)
    with np.errstate(invalid="ignore"):
        points = lift(u, v, axes, pose.distance_radii)
    on = (u * u + v * v < 0.97) & np.isfinite(points[..., 0])
    count, side = x.shape[0], x.shape[1]
    flat = np.where(on[..., None], points, axes[2]).reshape(count * side, side, 3)
    light = predict(np.asarray(flat, np.float32), axes, pose).reshape(x.shape)
    return np.sqrt(np.maximum(light, 0)), on


def _compare(
    shown: Float32Array, model: Float32Array, usable: Float32Array, side: int, km: float
) -> Spectrum | NotFound:
    hann = np.hanning(side + 2)[1:-1].astype(np.float32)
    taper = hann[:, None] * hann[None, :]
    broad = max(side / 10, 2.0)
    fx = np.fft.fftfreq(side)
    radial = np.hypot(fx[:, None], np.fft.rfftfreq(side)[None, :])
    edges = np.concatenate([[1.5 / side], np.geomspace(2.5 / side, 0.5, 13)])
    which = np.digitize(radial, edges) - 1
    inside = (which >= 0) & (which < len(edges) - 1)
    bins = len(edges) - 1
    cross, own, theirs, n = (np.zeros(bins) for _ in range(4))
    used = 0
    for p, m, w in zip(shown, model, usable, strict=True):
        soft = cv2.GaussianBlur(cv2.erode(w, np.ones((3, 3), np.uint8), borderValue=0), (0, 0), 1.5) * w
        if soft.mean() < 0.35:
            continue
        weight = soft * taper
        mass = cv2.GaussianBlur(soft, (0, 0), broad) + 1e-3
        p, m = (q - cv2.GaussianBlur(q * soft, (0, 0), broad) / mass for q in (p, m))
        fp, fm = np.fft.rfft2(p * weight), np.fft.rfft2(m * weight)
        both = fp * np.conj(fm)
        # what the pose leaves: the shift at the correlation's peak, within two samples
        peak = np.fft.fftshift(np.fft.irfft2(both * np.exp(-((radial / 0.25) ** 2)), s=(side, side)))
        mid = side // 2
        near = peak[mid - 2 : mid + 3, mid - 2 : mid + 3]
        dy, dx = np.unravel_index(int(np.argmax(near)), near.shape)
        dy, dx = dy - 2, dx - 2
        both = both * np.exp(2j * np.pi * (fx[:, None] * dy + np.fft.rfftfreq(side)[None, :] * dx))
        scale = 1.0 / max(float(np.sum(np.abs(fm[inside]) ** 2)), 1e-12)
        idx = which[inside]
        cross += scale * np.bincount(idx, both.real[inside], bins)
        own += scale * np.bincount(idx, np.abs(fp[inside]) ** 2, bins)
        theirs += scale * np.bincount(idx, np.abs(fm[inside]) ** 2, bins)
        n += np.bincount(idx, minlength=bins)
        used += 1
    if not used:
        return NotFound("texture", "Too little of the lit disc is neither burnt out nor cut off.", "")
    number = np.maximum(np.bincount(which[inside], minlength=bins), 1)
    middle = np.bincount(which[inside], radial[inside], bins) / number
    full = n > 0
    gain, coherence = cross / np.maximum(theirs, 1e-15), cross / np.sqrt(np.maximum(own * theirs, 1e-20))
    return Spectrum(
        frequency=middle[full] / km,
        gain=gain[full],
        coherence=coherence[full],
        modes=n[full],
        windows=used,
        spacing_km=km,
    )


@dataclass(frozen=True, kw_only=True)
class Texture:
    """lost_km: period at which the picture's texture stops following the Moon's. width_km: full width at half maximum
    of a Gaussian blur that loses it there, the maps' own share taken off. gain_km: the same width from the gain's fall,
    nan where none was measured; lift: how far the gain rises above 1 on the way, a sign of sharpening."""

    lost_km: float
    width_km: float
    gain_km: float
    lift: float
    windows: int


def measure_texture(grey: ByteArray, pose: Pose) -> Texture | NotFound:
    """What the surface shows. grey: (H, W) luma of the picture, pose: in its pixels.

    Sampled twice: first by scale, then so that what was lost the first time spans SAMPLES. Were the spacing taken from
    the blur, sharpening would change it; were it in pixels, an enlargement would.
    """
    km_per_px = MOON_RADIUS_KM / pose.radius_px
    finest = max(FINEST_KM / km_per_px, 0.5)
    pitch = max(finest, pose.radius_px / 350.0)
    found, lost = spectrum(grey, pose, pitch), None
    for _ in range(2):
        lost = None if isinstance(found, NotFound) else _lost_km(found)
        # where nothing was found a wider look may find it
        pitch = 2.0 * pitch if lost is None else max(lost / SAMPLES / km_per_px, finest)
        again = spectrum(grey, pose, min(pitch, 2.0 * pose.radius_px / SIDE))
        found = again if isinstance(again, Spectrum) or lost is None else found
        if lost is not None:
            break
    if isinstance(found, NotFound):
        return found
    lost = _lost_km(found)
    if lost is None:
        return NotFound("texture", "The surface does not follow the Moon's: nothing of it can be made out.", "")
    width = WIDTH_OF_PERIOD * float(np.sqrt(max(lost**2 - MAP_KM**2, 0.0)))
    gain, lift = _gain(found)
    return Texture(lost_km=lost, width_km=width, gain_km=gain, lift=lift, windows=found.windows)


def _lost_km(found: Spectrum) -> float | None:
    """Period at which the coherence falls below LOST of what it is at large; None where it never was any."""
    period = 1.0 / found.frequency
    soft = np.convolve(np.pad(found.coherence, 1, mode="edge"), [0.25, 0.5, 0.25], mode="valid")
    level = LOST * float(soft[: max(len(soft) // 2, 3)].max())
    if level < 0.2:
        return None
    below = np.flatnonzero(soft < level)
    k = int(below[0]) if len(below) else len(soft) - 1
    if k == 0 or not len(below):
        return float(period[k])
    share = (soft[k - 1] - level) / max(soft[k - 1] - soft[k], 1e-9)
    return float(np.exp((1 - share) * np.log(period[k - 1]) + share * np.log(period[k])))


def _gain(found: Spectrum) -> tuple[float, float]:
    """Width (km) of the Gaussian that the gain falls like, and its rise above its lowest bins."""
    base = max(float(np.average(found.gain[:4], weights=found.modes[:4])), 1e-6)
    gain = found.gain / base
    good = (1.0 / found.frequency > GAIN_KM) & (gain > 0.12) & (found.coherence > 0.25)
    long = good & (1.0 / found.frequency > LIFT_KM)
    lift = max(float(gain[long].max()) - 1.0, 0.0) if long.any() else 0.0
    if good.sum() < 4:
        return float("nan"), lift
    k2, c = found.frequency[good] ** 2, found.coherence[good]
    weight = np.sqrt(found.modes[good] * c**2 / np.maximum(1 - c**2, 0.02))
    slope = float(np.polyfit(k2, np.log(gain[good]), 1, w=weight)[0])
    return FWHM * float(np.sqrt(max(-slope, 0.0) / (2 * np.pi**2))), lift

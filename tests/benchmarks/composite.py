"""The audience's composite from rendered nights: python -m tests.benchmarks.composite --count 5 --seed 1

Twelve pictures of one evening, each of another viewer: other minute, place, turn, hand, scale, blur, noise and tone;
placed by the product from their bytes, their blur measured by it too. Noise is what distinguishes a picture, or the
composite, from the same made of noiseless renders, after both are brought to the middle single's blur. The resolution
is the width of the limb's edge (moondesk.quality.edge), in the composite and in each member resampled into the frame.
"""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import timedelta

import cv2
import numpy as np

from moondesk.ephemeris.aspect import aspect_at
from moondesk.files.picture import decode_rgb
from moondesk.pipeline import annotate_picture
from moondesk.quality.edge import Edge, measure_edge
from moondesk.quality.measurement import Quality, measure_quality
from moondesk.quality.resolution import Resolution
from moondesk.quality.texture import FWHM
from moondesk.records import MOON_RADIUS_KM, Known, Place
from moondesk.stacking.composite import Composite, composite, stack
from moondesk.stacking.registered import StackMember, register
from moondesk.stacking.weights import weigh
from tests.benchmarks.tables import markdown
from tests.scenes import render
from tests.scenes.families import spec_of
from tests.scenes.rendering import north_on_screen


def night(seed: int, count: int = 12):
    """Specs of one evening's pictures."""
    rng = np.random.default_rng(seed)
    first = spec_of("clean", seed)
    while not 40 < aspect_at(first.when_utc, first.place).phase_angle_deg < 115:
        seed += 1000
        first = spec_of("clean", seed)
    specs = []
    for _ in range(count):
        when = first.when_utc + timedelta(minutes=float(rng.uniform(-70, 70)))
        place = Place(
            float(np.clip(first.place.latitude_deg + rng.uniform(-4, 4), -60, 60)),
            first.place.longitude_deg + float(rng.uniform(-4, 4)),
        )
        aspect = aspect_at(when, place)
        mirrored = bool(rng.random() < 0.4)
        film = replace(
            first.film,
            gain=float(rng.uniform(0.7, 0.95)),
            shot=float(rng.uniform(0.03, 0.06)),
            read=float(rng.uniform(0.002, 0.006)),
            contrast=float(rng.uniform(0, 0.3)),
            sharpen=float(rng.uniform(0, 0.3)),
            grain_px=0.0,
        )
        specs.append(
            replace(
                first,
                when_utc=when,
                place=place,
                mirrored=mirrored,
                radius_px=float(rng.uniform(280, 480)),
                north_screen_deg=north_on_screen(aspect, float(rng.uniform(0, 360)), mirrored),
                x=800.0,
                y=600.0,
                width=1600,
                height=1200,
                fine=False,
                film=film,
                optics=replace(first.optics, blur_px=float(rng.uniform(0.9, 2.6))),
                tags=replace(first.tags, orientation=1),
                seed=int(rng.integers(1 << 30)),
                received_utc=when,
                aspect=None,
            )
        )
    return specs


def member_of(number: int, spec) -> tuple[StackMember, object] | None:
    data = render(spec).data
    a = annotate_picture(data, Known(taken_utc=spec.when_utc, place=spec.place, received_utc=spec.when_utc))
    rgb = decode_rgb(data)
    quality = measure_quality(rgb, a)
    resolution = quality.resolution if isinstance(quality, Quality) else None
    if not a.sure or a.pose is None or not isinstance(resolution, Resolution):
        return None
    return StackMember(number, rgb, a.pose, resolution.blur_km), a


def noise_between(noisy: np.ndarray, clean: np.ndarray, lit: np.ndarray, blur_px: float, to_px: float) -> float:
    """Deviation of a picture from the same one without noise, at the blur to_px, share of the middle light."""
    off = (noisy - clean) * lit
    off = cv2.GaussianBlur(off, (0, 0), float(np.sqrt(max(to_px**2 - blur_px**2, 0.25))))
    off -= cv2.GaussianBlur(off, (0, 0), 4 * to_px)  # exposure and tone are matched anew, which is no noise
    inside = cv2.erode(lit.astype(np.uint8), np.ones((25, 25), np.uint8)) > 0
    return float(off[inside].std()) / float(np.median(clean[inside]))


def limb_width_px(linear: np.ndarray, pose, guess: float) -> float:
    white = float(np.percentile(linear[linear > 0], 99.7)) * 1.05
    v = np.clip(linear / white, 0, 1)
    shown = np.where(v <= 0.0031308, 12.92 * v, 1.055 * np.maximum(v, 1e-9) ** (1 / 2.4) - 0.055)
    edge = measure_edge(np.rint(255 * shown).astype(np.uint8), pose, guess)
    return FWHM * edge.sigma_px if isinstance(edge, Edge) else float("nan")


def measured(seed: int, bad: bool) -> list:
    specs = night(seed)
    members = [m for m in (member_of(k, s) for k, s in enumerate(specs)) if m]
    many = [m for m, _ in members]
    wrong = []
    if bad:
        a = many[0]
        wrong = [replace(a, id=100, pose=replace(a.pose, x=a.pose.x + 0.12 * a.pose.radius_px))]
        cloudy = cv2.GaussianBlur(np.random.default_rng(seed).random((1200, 1600)).astype(np.float32), (0, 0), 40)
        cloudy = np.clip(2.5 * (cloudy - cloudy.min()) / np.ptp(cloudy) - 0.7, 0, 1)[..., None]
        veiled = np.clip(many[1].rgb * (0.15 + 0.5 * cloudy) + 90 * cloudy, 0, 255).astype(np.uint8)
        wrong.append(replace(many[1], id=101, rgb=veiled))
    found = composite([*many, *wrong])
    if not isinstance(found, Composite):
        return [seed, len(many), "-", found.reason, "-", "-", "-", "-"]
    used = [m for m in many if m.id in found.used]
    size = found.linear.shape[0]
    every = register(used, size)
    silent = [replace(m, rgb=decode_rgb(render(noiseless(specs[m.id])).data)) for m in used]
    clean = register(silent, size)
    blur = np.array([m.blur_km for m in used]) / FWHM / MOON_RADIUS_KM * found.pose.radius_px
    lit = every.lit & np.all(every.usable, axis=0) & np.all(clean.usable, axis=0)
    to_px, best = float(np.median(blur)), float(blur.min())
    singles = [
        noise_between(a, b, lit, s, to_px)
        for a, b, s in zip(every.light, clean.light, blur, strict=True)
        if s <= to_px * 1.001
    ]
    shares = weigh(every, blur)
    without = stack(clean, shares)
    mine = noise_between(found.linear, without, lit, best, to_px)
    fine = fineness(without, clean.light[int(np.argmin(blur))], lit, best)
    widths = [limb_width_px(one, every.pose, s) for one, s in zip(every.light, blur, strict=True)]
    width = limb_width_px(found.linear, found.pose, best)
    return [
        seed,
        len(used),
        ", ".join(f"{k}: {w[:34]}" for k, w in found.rejected) or "-",
        f"{np.median(singles) / mine:.2f}",
        f"{found.gain.times:.2f}",
        f"{width:.2f}",
        f"{np.nanmin(widths):.2f}",
        f"{fine:.2f}",
    ]


def fineness(mine: np.ndarray, best: np.ndarray, lit: np.ndarray, blur_px: float) -> float:
    """Radial power where the best single keeps half to a tenth of its power, over its own; contrast matched."""
    ys, xs = np.nonzero(cv2.erode(lit.astype(np.uint8), np.ones((15, 15), np.uint8)))
    cy, cx, n = int(np.median(ys)), int(np.median(xs)), 128
    hann = np.outer(np.hanning(2 * n), np.hanning(2 * n))
    radial = np.hypot(np.fft.fftfreq(2 * n)[:, None], np.fft.rfftfreq(2 * n)[None])
    power = []
    for one in (mine, best):
        part = one[cy - n : cy + n, cx - n : cx + n].astype(float)
        power.append(np.abs(np.fft.rfft2((part - part.mean()) * hann)) ** 2)
    half, tenth = (float(np.sqrt(np.log(k) / (4 * np.pi**2)) / blur_px) for k in (2.0, 10.0))
    fine, broad = (radial > half) & (radial < tenth), (radial > 0.01) & (radial < 0.03)
    return float(power[0][fine].sum() / power[1][fine].sum() / (power[0][broad].sum() / power[1][broad].sum()))


def noiseless(spec):
    return replace(spec, film=replace(spec.film, shot=0.0, read=0.0), tags=replace(spec.tags, quality=100))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.composite", description=__doc__)
    parser.add_argument("--count", type=int, default=5)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    cv2.setNumThreads(1)
    rows = [measured(args.seed * 100 + n, bad) for n in range(args.count) for bad in (False, True)]
    print(
        markdown(
            (
                "night",
                "pictures",
                "rejected",
                "noise of the middle single over the composite's",
                "as told",
                "limb, px",
                "best single's limb, px",
                "fine power over the best single's",
            ),
            rows,
        )
    )


if __name__ == "__main__":
    main()

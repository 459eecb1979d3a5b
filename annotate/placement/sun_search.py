"""Where the Sun stood on the Moon, from the picture: the relit disc compared with the picture for each candidate Sun.

A brightness threshold is not the terminator, and the display's tone curve would shift it by hours (figures D). So the
tone curve is fitted along: a cubic in the square root of the predicted radiance, and a tilt across the disc. Light that
is not the Moon's (haze, a bright sky, the Moon's own glow) adds to it before the tone curve: d sqrt(I + s) = s / (2
sqrt(I)), so that it enters as terms over the root. What is left unexplained, least at the true Sun, is the measure.

    every sixth hour on few pixels -> hour by hour on the frame -> parabola through the least
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from moondesk.ephemeris.sky_hypotheses import SunTrack
from moondesk.moon.geometry import unit_vector
from moondesk.moon.relight import SUN_DIAMETER_DEG, DiscModel, frame_grid, limb_darkening_weight
from moondesk.records import Float32Array, FloatArray

#: Pixels with the Sun lower than this carry sky, halo and earthshine, not sunlight.
NIGHT_DEG = -8.0
#: The very limb is left out (square of the radius).
OUTER = 0.95
#: The whole track is searched on pixels so many to the radius; finer frames than the second are compared at every
#: other pixel.
COARSE_PX, FINE_PX = 40.0, 80.0
#: Steps of the track that the coarse search takes at once.
COARSE_STEPS = 6
#: The coarse search tries the whole track where it has gone more than so many steps of its own.
NEAR = 2
#: Fewer pixels give no time.
LEAST_PIXELS = 200
#: Stray light weighs as the root of the Moon's own, held off zero by this much (white is about 1).
ROOT_FLOOR = 0.2
#: Widths of the Moon's glow in air and lens, radii.
GLOW_RADII = (0.3, 0.7)
#: From this phase angle on the Earth's light in the dark part counts as stray light too.
EARTHSHINE_DEG = 105.0
#: Holds terms apart that the pixels cannot tell apart.
RIDGE = 1e-5
#: Cells to the radius in which what is left is looked at for what hangs together.
CELLS = 3
#: Half width of the stretch that the parabola is laid through, steps.
HALF = 3
#: One sigma of the light by itself: where the unexplained share has grown by this part of itself.
GROWTH = 0.0036
#: What all pixels share, degrees of the Sun: relief and law; more for a thin crescent, whose terminator lies near the
#: limb, growing from the first phase angle by this much until the second.
#: Over 256 rendered scenes 84 % of the errors lie within one sigma, 99 % within two, none beyond 2.3.
SHARED_DEG, CRESCENT_DEG, CRESCENT_PHASES_DEG = 0.25, 0.5, (95.0, 140.0)
#: A disc of this radius, px as sharp as they come, tells no better than one degree: craters melt into one another.
SMALL_PX, SHARP_PX = 50.0, 0.8


@dataclass(frozen=True, eq=False, kw_only=True)
class LightFit:
    """index: fractional position on the track; unexplained: share of the variance left there (0..1); sigma: one
    standard deviation in track steps, what relief and law may be wrong by and how what is left hangs together
    included; at_edge: the best lies at an end of the track; uneven: what is left in the mean of cells of a third of the
    radius, rms, as a share of the scatter of the picture itself."""

    index: float
    unexplained: float
    sigma: float
    at_edge: bool
    uneven: float = 0.0


@dataclass(frozen=True, eq=False)
class NorthUp:
    """A picture in the model's north-up frame. values: (N, N) as displayed; inside: (N, N) whether it reaches there."""

    values: Float32Array
    inside: np.ndarray


def fit_light(
    picture: NorthUp, model: DiscModel, track: SunTrack, start: int, blur_px: float = 1.0, near: bool = False
) -> LightFit:
    """Best Sun of a track for a picture.

    start: index on the track whose Sun says, at first, which pixels lie in the night; done again with the Sun found.
    near: the best is looked for about start alone, stepwise downhill, else over the whole track first.
    """
    count = len(track.lon_deg)
    index = min(max(start, 0), count - 1)
    if not near:
        grid = sorted({*range(0, count, COARSE_STEPS), count - 1})
        stride = max(round(model.radius_px / COARSE_PX), 1)
        smooth = picture
        if stride > 1:
            smooth = NorthUp(np.asarray(cv2.blur(picture.values, (stride, stride)), np.float32), picture.inside)
        for _ in range(3):
            look = _Look(smooth, model, track, index, None, stride)
            best = look.downhill(index, COARSE_STEPS)
            if abs(best - index) > NEAR * COARSE_STEPS:  # a clock so far off may lead into a hollow of its own
                best = min(grid, key=look.unexplained)
            still, index = abs(best - index) <= COARSE_STEPS, best
            if still:
                break
    for _ in range(3):
        fit = _Look(picture, model, track, index, blur_px, 2 if model.radius_px > FINE_PX else 1).least()
        if abs(round(fit.index) - index) <= HALF:
            break
        index = round(fit.index)
    return fit


class _Look:
    """The picture beside the disc lit by candidate Suns, with the night as the Sun of the track's index `at` has it.

    blur_px: of the picture, given to the prediction too (None: none). stride: only every such pixel is compared.
    """

    def __init__(
        self, picture: NorthUp, model: DiscModel, track: SunTrack, at: int, blur_px: float | None, stride: int
    ) -> None:
        self.track, self.at, self.blur_px, self.radius_px = track, at, blur_px, model.radius_px
        self.left: dict[int, float] = {}
        u, v, centre = frame_grid(model.radius_px)
        sun = unit_vector(track.lat_deg[at], track.lon_deg[at]).astype(np.float32)
        day = model.inside & (model.vertical @ sun > np.sin(np.radians(NIGHT_DEG)))
        use = day & picture.inside & (u * u + v * v < OUTER)
        kept = np.zeros_like(use)
        kept[centre % stride :: stride, centre % stride :: stride] = True
        use &= kept
        lit = np.flatnonzero(use if blur_px is None else day)
        self.shape, self.lit, self.use = use.shape, lit, np.flatnonzero(use)
        values = picture.values.ravel()[self.use]
        self.enough = values.size >= LEAST_PIXELS and float(values.var()) > 1e-8
        if not self.enough:
            return
        self.vertical, self.normal = model.vertical.reshape(-1, 3)[lit], model.normal.reshape(-1, 3)[lit]
        self.mu, self.albedo = model.mu.ravel()[lit], model.albedo.ravel()[lit]
        self.horizon, self.observer = model.horizon_deg.reshape(-1, 2)[lit], model.observer
        self.values = values - values.mean()
        glow = self._glow(sun, model.radius_px)
        u, v = u.ravel()[self.use], v.ravel()[self.use]
        side = int(2 * CELLS + 1)
        self.cell = np.floor((u + 1) * CELLS).astype(int) * side + np.floor((v + 1) * CELLS).astype(int)
        self.tilt = np.stack([u, v])
        self.law = np.stack([u, v, np.sqrt(1 - u * u - v * v), glow[-1]])
        self.stray = np.stack([np.ones_like(u), u, v, *glow])
        self.phase_deg = float(np.degrees(np.arccos(np.clip(model.observer @ sun, -1, 1))))
        if self.phase_deg > EARTHSHINE_DEG:
            self.stray = np.vstack([self.stray, model.albedo.ravel()[self.use]])

    def least(self) -> LightFit:
        """The least of the curve downhill from `at`, and the parabola through it."""
        count = len(self.track.lon_deg)
        if not self.enough:
            return LightFit(index=float(self.at), unexplained=1.0, sigma=float(count), at_edge=True)
        best = self.downhill(self.at, 1)
        near = range(max(best - HALF, 0), min(best + HALF, count - 1) + 1)
        steps = np.array(near)
        values = np.array([self.unexplained(k) for k in near])
        index, sigma = float(best), float(HALF)
        if len(near) >= 5:
            bend, slope, _ = np.polyfit(steps - best, values, 2)
            if bend > 0:
                index = float(np.clip(best - np.clip(slope / (2 * bend), -HALF, HALF), 0, count - 1))
                sigma = float(np.sqrt(GROWTH * values.min() / bend))
        together, uneven = self._together(best, index - best) if len(near) >= 3 else (0.0, 0.0)
        sigma = float(np.sqrt(sigma**2 + (self._shared_deg() / self._step_deg()) ** 2 + together**2))
        return LightFit(
            index=index, unexplained=float(values.min()), sigma=sigma, at_edge=best in (0, count - 1), uneven=uneven
        )

    def _together(self, best: int, off: float) -> tuple[float, float]:
        """One sigma of the index, steps, where residuals of one cell hang together (the cluster-robust variance of
        least squares: Liang & Zeger 1986), and `LightFit.uneven`."""
        last = len(self.track.lon_deg) - 1
        low, high = max(best - 1, 0), min(best + 1, last)
        slope = (self._residual(high) - self._residual(low)) / (high - low)
        left = self._residual(best) + off * slope
        cells = self.cell.max() + 1
        count = np.bincount(self.cell, minlength=cells)
        pull = np.bincount(self.cell, left * slope, cells)
        mean = np.bincount(self.cell, left, cells)[count > 0] / count[count > 0]
        weight = count[count > 0] / count.sum()
        uneven = float(np.sqrt((weight * mean**2).sum() / self.values.var()))
        return float(np.sqrt((pull**2).sum()) / max(float((slope**2).sum()), 1e-12)), uneven

    def _shared_deg(self) -> float:
        first, last = CRESCENT_PHASES_DEG
        thin = CRESCENT_DEG * float(np.clip((self.phase_deg - first) / (last - first), 0.0, 1.0))
        detail_px = self.radius_px / max((self.blur_px or 0.0) / SHARP_PX, 1.0)
        return float(np.sqrt(SHARED_DEG**2 + thin**2 + min((SMALL_PX / detail_px) ** 3, 1.0) ** 2))

    def _step_deg(self) -> float:
        """Degrees of the Sun's longitude from one index of the track to the next."""
        lon = self.track.lon_deg
        return abs(float((lon[1] - lon[0] + 180.0) % 360.0 - 180.0)) if len(lon) > 1 else 1.0

    def downhill(self, start: int, step: int) -> int:
        """The least that is come to from an index: among those HALF to either side, or among single larger steps."""
        best, before = start, -1
        while best != before:
            before = best
            reach = range(best - HALF * step, best + HALF * step + 1, step) if step == 1 else (best - step, best + step)
            best = min((best, *(k for k in reach if 0 <= k < len(self.track.lon_deg))), key=self.unexplained)
        return best

    def unexplained(self, k: int) -> float:
        """Share of the picture's variance that the best tone curve and stray light leave under the Sun of index k."""
        if not self.enough:
            return 1.0
        if k not in self.left:
            _, _, toward, weights = self._fitted(k)
            total = float(self.values @ self.values)
            self.left[k] = max(1.0 - float(toward @ weights) / total, 1e-9)
        return self.left[k]

    def _residual(self, k: int) -> Float32Array:
        """What they leave of each compared pixel."""
        terms, scale, _, weights = self._fitted(k)
        return np.asarray(self.values - (scale * weights) @ terms, np.float32)

    def _fitted(self, k: int) -> tuple[Float32Array, FloatArray, FloatArray, FloatArray]:
        """Terms (n, pixels) under the Sun of index k, what scales them to one, their products with the picture and
        their weights, both of the scaled ones."""
        sun = unit_vector(self.track.lat_deg[k], self.track.lon_deg[k]).astype(np.float32)
        radiance = self._radiance(sun)
        if self.blur_px is not None:
            whole = np.asarray(cv2.GaussianBlur(self._frame(radiance), (0, 0), self.blur_px), np.float32)
            radiance = whole.ravel()[self.use]
        x = np.sqrt(radiance)
        terms = np.vstack([x, x * x, x * x * x, self.tilt, x * self.law, self.stray / (x + ROOT_FLOOR)])
        terms -= terms.mean(axis=1, keepdims=True)
        gram = (terms @ terms.T).astype(float)
        scale = 1 / np.sqrt(np.diag(gram) + 1e-9)
        toward = scale * (terms @ self.values)
        gram = gram * np.outer(scale, scale) + RIDGE * np.eye(len(scale))
        return terms, scale, toward, np.linalg.solve(gram, toward)

    def _frame(self, values: Float32Array) -> Float32Array:
        whole = np.zeros(self.shape, np.float32)
        whole.ravel()[self.lit] = values
        return whole

    def _glow(self, sun: Float32Array, radius_px: float) -> list[Float32Array]:
        """The Moon's glow about itself, by widths, at the compared pixels; made small, it has no detail."""
        whole = self._frame(self._radiance(sun))
        step = max(radius_px / 24.0, 1.0)
        size = max(round(self.shape[0] / step), 8)
        small = cv2.resize(whole, (size, size), interpolation=cv2.INTER_AREA)
        wide = [
            cv2.GaussianBlur(small, (0, 0), w * radius_px / step, borderType=cv2.BORDER_CONSTANT) for w in GLOW_RADII
        ]
        back = [cv2.resize(g, self.shape[::-1], interpolation=cv2.INTER_LINEAR) for g in wide]
        return [np.asarray(b, np.float32).ravel()[self.use] for b in back]

    def _radiance(self, sun: Float32Array) -> Float32Array:
        """As `relight.light`, on the pixels of the day alone."""
        phase = float(np.degrees(np.arccos(np.clip(self.observer @ sun, -1, 1))))
        weight = np.float32(limb_darkening_weight(phase))
        mu0 = np.maximum(self.normal @ sun, np.float32(0))
        lit = self.albedo * mu0 * (2 * weight / (mu0 + self.mu) + (1 - weight))
        altitude = (self.vertical @ sun) * np.float32(180 / np.pi)
        easterly = self.vertical[:, 0] * sun[1] > self.vertical[:, 1] * sun[0]
        horizon = np.where(easterly, self.horizon[:, 0], self.horizon[:, 1])
        share = (altitude - horizon) * np.float32(1 / SUN_DIAMETER_DEG) + np.float32(0.5)
        return np.asarray(lit * np.clip(share, np.float32(0), np.float32(1)), np.float32)

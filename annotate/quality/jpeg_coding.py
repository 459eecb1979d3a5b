"""How coarse a JPEG and its noise left the surface: from which frequency on nearly nothing stands out.

A coder (ITU-T T.81) writes 8 x 8 blocks as cosine terms, rounded to steps that are the coarser the finer the term. What
is smaller than half a step is gone, and no blur or noise tells of it afterwards: the block's edges even look like
detail. On the coder's own grid those terms are empty but for the rounding to grey levels. A picture that was turned or
scaled since shows none of this. Noise fills the empty terms again, and tells nothing either: it has the same deviation
in each term as in a pixel, and what does not stand out of it counts as empty too.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.fft import dctn

from moondesk.moon.geometry import disc_axes, lift, pixel_to_disc, unit_vector
from moondesk.records import ByteArray, Pose

BoolArray = NDArray[np.bool_]

#: Size of a block, pixels, and most blocks that are looked at.
BLOCK, MOST = 8, 3000
#: A term counts as written where it is larger than this, grey levels (rounding leaves a deviation of 0.29 in each, of
#: which four are passed by nothing), and a frequency as kept where more than this share of its terms is.
WRITTEN, KEPT = 1.2, 0.1
#: So many deviations of the noise a term must have: of noise alone 7 % have them, fewer than make a frequency count as
#: kept. And so many for judging the focus, so that noise seldom gains what the coder loses (fitted on 68 scenes).
STANDS_OUT, STANDS_WELL_OUT = 1.8, 3.5
#: Height of the Sun from which a block counts as lit, degrees.
LEAST_SUN_DEG = 3.0
_RADIAL = np.hypot(*np.meshgrid(np.arange(BLOCK), np.arange(BLOCK), indexing="ij")) / (2 * BLOCK)
#: Terms of about one frequency, cycles per pixel: 1/16, 2/16 ... 7/16.
_RINGS = np.rint(_RADIAL * 2 * BLOCK).astype(int)


def sunlit_blocks(grey: ByteArray, pose: Pose) -> BoolArray:
    """Blocks of the lit disc: (H // 8, W // 8). pose: in the picture's pixels."""
    middle = (BLOCK - 1) / 2
    x = np.arange(grey.shape[1] // BLOCK) * BLOCK + middle
    y = np.arange(grey.shape[0] // BLOCK) * BLOCK + middle
    u, v = pixel_to_disc(pose, *np.meshgrid(x, y))
    with np.errstate(invalid="ignore"):
        points = lift(u, v, disc_axes(pose.libration_lat_deg, pose.libration_lon_deg), pose.distance_radii)
        sine = points @ unit_vector(pose.sub_solar_lat_deg, pose.sub_solar_lon_deg)
        return np.asarray((sine > np.sin(np.radians(LEAST_SUN_DEG))) & (u * u + v * v < 0.9))


def coded_periods_px(grey: ByteArray, lit: BoolArray, noise: float = 0.0) -> tuple[float, float]:
    """Periods (pixels) of the finest terms that the coder kept and that stand out, and well out, of the noise; 0 where
    all do, or nothing can be said.

    grey: (H, W) luma from the whole picture's top left corner, or from one that lies whole blocks off; lit: (H // 8,
    W // 8), blocks of the lit disc; noise: one standard deviation of a pixel, display values (0..1).
    """
    rows, cols = np.nonzero(lit)
    if len(rows) < 12:
        return 0.0, 0.0
    chosen = np.linspace(0, len(rows) - 1, min(len(rows), MOST)).astype(int)
    rows, cols = rows[chosen], cols[chosen]
    high, wide = grey.shape[0] // BLOCK, grey.shape[1] // BLOCK
    blocks = grey[: high * BLOCK, : wide * BLOCK].reshape(high, BLOCK, wide, BLOCK)[rows, :, cols, :]
    terms = np.abs(dctn(blocks.astype(np.float32), axes=(1, 2), norm="ortho"))
    grey_levels = 255.0 * noise
    return (
        _period_of_kept_terms(terms > max(WRITTEN, STANDS_OUT * grey_levels)),
        _period_of_kept_terms(terms > max(WRITTEN, STANDS_WELL_OUT * grey_levels)),
    )


def _period_of_kept_terms(terms: BoolArray) -> float:
    """terms: (blocks, 8, 8), those that count as kept."""
    kept = np.array([terms[:, k == _RINGS].mean() for k in range(1, BLOCK)])
    below = np.flatnonzero(kept < KEPT)
    if not len(below):
        return 0.0
    k = int(below[0])
    if k == 0:
        return 2.0 * BLOCK
    # between the last ring that was kept and the first that was not
    share = np.log(kept[k - 1] / KEPT) / max(np.log(kept[k - 1] / max(kept[k], 1e-4)), 1e-6)
    return float(2 * BLOCK / (k + min(share, 1.0)))

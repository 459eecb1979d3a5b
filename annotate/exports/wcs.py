"""A pose as the celestial coordinate keywords of FITS, for a body that is looked at from outside.

Sources: Calabretta & Greisen 2002 (A&A 395, 1077), section 5.1.1 for the projection AZP; Marmo, Hare, Erard et al. 2018
(Earth and Space Science 5, 640) for the axes SELN and SELT and the body's radii; Shupe et al. 2005 (ASP Conf. 347, 491)
for SIP. AZP with its point of projection at -d radii is the perspective from a distance of d, so that only a tilt
and a lens are approximated, by polynomials of fifth degree over what the frame shows of the disc.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from moondesk.moon.geometry import disc_to_pixel, pixel_to_disc
from moondesk.records import MOON_RADIUS_KM, FloatArray, Pose

DEGREE = 5
#: Points across the frame at which the polynomials are fitted.
GRID = 60


@dataclass(frozen=True, eq=False, kw_only=True)
class Celestial:
    """FITS pixels count from 1 and upwards: (x + 1, height - y). sip: powers (p, q) of the pixels right and up of the
    reference pixel, with the coefficients of each keyword, A, B and for the way back AP, BP; empty without a lens term.

    residual_px: the largest distance between these keywords and the pose, over the disc in the frame.
    """

    reference: tuple[float, float]
    #: Degrees of the projection's plane a pixel, right and up; rows: to lunar east and north.
    matrix: FloatArray
    lat_deg: float
    lon_deg: float
    distance_radii: float
    sip: tuple[tuple[str, tuple[tuple[int, int, float], ...]], ...] = ()
    residual_px: float = 0.0

    def downwards(self, height: int) -> Celestial:
        """The same for rows that count downwards, as arrays of pictures have them: (x + 1, y + 1)."""
        odd = {"A": 0, "AP": 0, "B": 1, "BP": 1}  # what goes into y changes its sign once more
        return replace(
            self,
            reference=(self.reference[0], height + 1 - self.reference[1]),
            matrix=self.matrix * np.array([1.0, -1.0]),
            sip=tuple(
                (name, tuple((p, q, -c if (q + odd[name]) % 2 else c) for p, q, c in terms)) for name, terms in self.sip
            ),
        )

    @property
    def cards(self) -> tuple[tuple[str, str | float, str], ...]:
        """(keyword, value, comment) in order."""
        kind = "AZP-SIP" if self.sip else "AZP"
        (a, b), (c, d) = self.matrix.tolist()
        told: list[tuple[str, str | float, str]] = [
            ("CTYPE1", f"SELN-{kind}", "selenographic longitude"),
            ("CTYPE2", f"SELT-{kind}", "selenographic latitude"),
            ("CUNIT1", "deg", ""),
            ("CUNIT2", "deg", ""),
            ("CRPIX1", self.reference[0], "pixel of the disc's centre"),
            ("CRPIX2", self.reference[1], ""),
            ("CRVAL1", self.lon_deg, "[deg] sub-observer point"),
            ("CRVAL2", self.lat_deg, "[deg]"),
            ("CD1_1", a, ""),
            ("CD1_2", b, ""),
            ("CD2_1", c, ""),
            ("CD2_2", d, ""),
            ("PV2_1", -self.distance_radii, "[radii] observer, this side"),
            ("PV2_2", 0.0, "[deg] no tilt"),
            ("LONPOLE", 180.0, "[deg] lunar north is up"),
            ("WCSNAME", "IAU_2015:30100", "Moon, sphere, east positive"),
            *((f"{axis}_RADIUS", 1000 * MOON_RADIUS_KM, "[m]") for axis in "ABC"),
        ]
        for name, terms in self.sip:
            told.append((f"{name}_ORDER", DEGREE, ""))
            told += [(f"{name}_{p}_{q}", value, "") for p, q, value in terms]
        return tuple(told)


def celestial(pose: Pose, width: int, height: int) -> Celestial:
    """Keywords of a world coordinate system for a picture of `width` and `height` pixels.

    Source: Calabretta & Greisen 2002, equations 20 to 22; SIP where the pose has a lens or tilt. See the module.

    >>> [name for name, *_ in celestial(pose, 1000, 800).cards][:2], celestial(pose, 1000, 800).reference
    (['CTYPE1', 'CTYPE2'], (501.0, 400.0))
    """
    plain = replace(pose, radial_k1=0.0, tilt=0.0, tangential=0.0)
    columns = [np.subtract(disc_to_pixel(plain, *at), (pose.x, pose.y)) for at in ((1.0, 0.0), (0.0, 1.0))]
    to_pixels = np.diag([1.0, -1.0]) @ np.stack(columns, axis=1)  # disc units to pixels right and up
    # R = (180/pi)(d-1) cos(theta) / (d - sin(theta)) (Calabretta & Greisen, equation 20), against u in `geometry`
    d = pose.distance_radii
    matrix = math.degrees(math.sqrt((d - 1) / (d + 1))) * np.linalg.inv(to_pixels)
    x0, y0 = (float(v) for v in disc_to_pixel(pose, 0.0, 0.0))
    made = Celestial(
        reference=(x0 + 1, height - y0),
        matrix=matrix,
        lat_deg=pose.libration_lat_deg,
        lon_deg=pose.libration_lon_deg,
        distance_radii=d,
    )
    bent = pose.radial_k1 or pose.tilt or pose.tangential
    return _with_lens(made, pose, plain, width, height, (x0, y0)) if bent else made


def _with_lens(
    made: Celestial, pose: Pose, plain: Pose, width: int, height: int, centre: tuple[float, float]
) -> Celestial:
    xs, ys = np.meshgrid(np.linspace(0, width - 1, GRID), np.linspace(0, height - 1, GRID))
    u, v = pixel_to_disc(pose, xs, ys)
    on = np.hypot(u, v) <= 1
    seen = np.stack([xs[on] - centre[0], centre[1] - ys[on]], axis=1)
    px, py = disc_to_pixel(plain, u[on], v[on])
    flat = np.stack([px - pose.x, pose.y - py], axis=1)
    forth = _fit_polynomials(seen, flat, pose.radius_px)
    linear = np.array([[forth[(1, 0)][k], forth[(0, 1)][k]] for k in (0, 1)])
    inverse = np.linalg.inv(linear)
    bent = {powers: inverse @ both for powers, both in forth.items() if sum(powers) > 1}
    # the way back goes from pixels that the linear part alone would give
    straight = flat @ inverse.T
    back = _fit_polynomials(straight, seen, pose.radius_px)
    back = {powers: both - np.array([powers == (1, 0), powers == (0, 1)], float) for powers, both in back.items()}
    told = seen + sum(np.outer(seen[:, 0] ** p * seen[:, 1] ** q, both) for (p, q), both in bent.items())
    residual = float(np.hypot(*(told - straight).T).max(initial=0.0))
    sip = tuple(
        (name, tuple((p, q, float(both[k])) for (p, q), both in terms.items()))
        for name, terms, k in (("A", bent, 0), ("B", bent, 1), ("AP", back, 0), ("BP", back, 1))
    )
    return replace(made, matrix=made.matrix @ linear, sip=sip, residual_px=residual)


def _fit_polynomials(of: FloatArray, wanted: FloatArray, unit: float) -> dict[tuple[int, int], FloatArray]:
    """Coefficients, without a constant, of the polynomials that lead from points (n, 2) to points (n, 2)."""
    powers = [(p, n - p) for n in range(1, DEGREE + 1) for p in range(n, -1, -1)]
    scaled = of / unit
    table = np.stack([scaled[:, 0] ** p * scaled[:, 1] ** q for p, q in powers], axis=1)
    found, *_ = np.linalg.lstsq(table, wanted, rcond=None)
    return {(p, q): row / unit ** (p + q) for (p, q), row in zip(powers, found, strict=True)}

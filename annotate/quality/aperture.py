"""Finer detail than the stated aperture can give: then another instrument took the picture, or another person.

The image of a point by a round aperture of D mm is 116.8 / D arcsec wide at half of its height (1.03 lambda / D, the
Airy pattern, 550 nm). That is also, within 1 %, the limit that W. R. Dawes found at the eyepiece, 4.56 / D(inch) =
115.8 / D arcsec (Mem. R. Astron. Soc. 35, 1867); Rayleigh's, the first dark ring, is 138 / D. Sharpening narrows a
point's image, at most by about a half on bright subjects (common practice), and the measured width has its own
uncertainty: both are granted before anything is said.
"""

from __future__ import annotations

import numpy as np

from moondesk.quality.measurement import Quality
from moondesk.quality.resolution import Resolution

DAWES_ARCSEC_MM = 115.8
#: How much finer than the limit a picture may be without a word, and sigmas of its measured width besides.
MARGIN, SIGMAS = 2.0, 2.0
#: The clear opening of a phone's own lens is smaller than this, mm (common practice: 3 to 10).
PHONE_MM = 15.0


def limit_arcsec(aperture_mm: float) -> float:
    """Dawes' limit of an aperture in mm, arcsec. Raises ValueError for an aperture that is none.

    >>> round(limit_arcsec(116.0), 3)
    0.998
    """
    if not (np.isfinite(aperture_mm) and aperture_mm > 0):
        raise ValueError(f"an aperture of {aperture_mm} mm is none")
    return DAWES_ARCSEC_MM / aperture_mm


def equipment_limit(quality: Quality, aperture_mm: float, what: str = "") -> str:
    """One sentence where the picture is finer than that aperture can give, else empty.

    what: the instrument for the sentence; "a 60 mm aperture" where empty. For a phone's own lens give PHONE_MM.
    """
    limit = limit_arcsec(aperture_mm)
    if not isinstance(quality.resolution, Resolution):
        return ""
    arcsec = np.degrees(quality.resolution.km / quality.distance_km) * 3600.0
    if arcsec * MARGIN * np.exp(SIGMAS * quality.resolution.ln_sigma) >= limit:
        return ""
    name = what or f"a {aperture_mm:g} mm aperture"
    return (
        f"Finer detail than {name} can give: about {arcsec:.1f} arcseconds, where {limit:.1f} are its limit. "
        "Ask what the picture was taken with."
    )

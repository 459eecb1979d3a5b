"""UTC to the two clocks an ephemeris needs: TT for where the Moon and Sun are, UT1 for how the Earth is turned.

Leap seconds and Earth orientation come from the tables of the IERS as installed beside astropy (package
astropy-iers-data), read once; nothing is ever downloaded, and no setting of astropy is touched.

What the limits of those tables cost:

* UT1 is measured up to the package's date and predicted by the IERS for about a year beyond. After that the last
  value is held. UTC keeps UT1 within 0.9 s by its rule, so altitude, azimuth and parallactic angle are then off by
  at most 0.004 degree (0.9 s of Earth rotation) and libration by less than 0.0001 degree (0.4 km of the observer's
  place, at the Moon's distance).
* A leap second not yet announced in the table shifts TT by 1 s: 0.0002 degree on the Moon.
* Before 1972 UTC is read as UT1 and TT - UTC is held at its value of 1972, 42.184 s. It was 29 s in 1950, so the Moon
  is off by up to 0.002 degree there (0.007 in 1900).
* Polar motion (below 0.5 arcsec) is left out: 15 m of the observer's place.
"""

from __future__ import annotations

from functools import cache
from importlib.resources import files

import numpy as np

from moondesk.records import FloatArray

#: Unix time of J2000.0 read as a UTC calendar date (2000 Jan 1, 12:00).
_J2000_UNIX = 946_728_000.0
_MJD_OF_UNIX_ZERO = 40587.0
#: TT - TAI, exact by definition (IAU 1991).
_TT_MINUS_TAI_S = 32.184
#: 1900 Jan 1 and 2100 Jan 1: the span for which the errors above, and those of `ephemeris`, are known.
_FIRST_UNIX, _LAST_UNIX = -2_208_988_800.0, 4_102_444_800.0


def _freeze(values: list[float]) -> FloatArray:
    array = np.array(values, float)
    array.setflags(write=False)
    return array


@cache
def _leap_seconds() -> tuple[FloatArray, FloatArray]:
    """(unix seconds of each step, TAI - UTC in seconds from then on), from 1972."""
    text = files("astropy_iers_data").joinpath("data", "Leap_Second.dat").read_text(encoding="ascii")
    rows = [line.split() for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    steps = [(float(row[0]) - _MJD_OF_UNIX_ZERO) * 86400.0 for row in rows]
    return _freeze(steps), _freeze([float(row[4]) for row in rows])


@cache
def _ut1_minus_utc() -> tuple[FloatArray, FloatArray]:
    """(days of TAI since the epoch of Unix time, UT1 - TAI in seconds), daily from 1973.

    UT1 - TAI has no steps, so it may be interpolated straight across a leap second.
    Columns as in the IERS's ReadMe.finals2000A: 8-15 MJD, 59-68 UT1-UTC of Bulletin A, 155-165 that of Bulletin B,
    which is the final one where it exists.
    """
    text = files("astropy_iers_data").joinpath("data", "finals2000A.all").read_text(encoding="ascii")
    rows = [
        (float(line[7:15]) - _MJD_OF_UNIX_ZERO, float(line[154:165].strip() or line[58:68]))
        for line in text.splitlines()
        if line[58:68].strip()
    ]
    days = np.array([row[0] for row in rows])
    leap = tai_minus_utc_s(days * 86400.0)
    return _freeze(list(days)), _freeze(list(np.array([row[1] for row in rows]) - leap))


def tai_minus_utc_s(unix_seconds: FloatArray) -> FloatArray:
    """TAI - UTC, seconds, at Unix seconds (N,); the value of 1972 before that year.

    >>> tai_minus_utc_s(np.array([0.0, 1.8e9])).tolist()
    [10.0, 37.0]
    """
    steps, offsets = _leap_seconds()
    return offsets[np.clip(np.searchsorted(steps, unix_seconds, side="right") - 1, 0, None)]


def tt_days(unix_seconds: FloatArray) -> FloatArray:
    """Terrestrial time of Unix seconds (N,), as days since J2000.0 (JD 2451545.0).

    Raises: ValueError outside 1900-2100 or for a nan.

    >>> (tt_days(np.array([946727935.816])).round(9) + 0.0).tolist()  # 2000 January 1, 11:58:55.816 UTC is 12:00 TT
    [0.0]
    """
    if not np.all((unix_seconds >= _FIRST_UNIX) & (unix_seconds <= _LAST_UNIX)):
        raise ValueError("the ephemeris covers the years 1900 to 2100 only")
    return (unix_seconds - _J2000_UNIX + tai_minus_utc_s(unix_seconds) + _TT_MINUS_TAI_S) / 86400.0


def unix_of_tt_days(days: FloatArray) -> FloatArray:
    """Inverse of `tt_days`, to a microsecond except inside a leap second.

    >>> unix_of_tt_days(np.array([0.0])).round(3).tolist()
    [946727935.816]
    """
    guess = days * 86400.0 + _J2000_UNIX - _TT_MINUS_TAI_S
    return guess - tai_minus_utc_s(guess - tai_minus_utc_s(guess))


def ut1_days(unix_seconds: FloatArray) -> FloatArray:
    """UT1 of Unix seconds (N,) as days since JD 2451545.0; held beyond the table as the module says.

    >>> (86400 * ut1_days(np.array([946728000.0]))).round(2).tolist()  # UT1 - UTC at 2000 January 1, 12:00, s
    [0.36]
    """
    days, ut1_minus_tai = _ut1_minus_utc()
    leap = tai_minus_utc_s(unix_seconds)
    at = unix_seconds / 86400.0
    ut1_minus_utc = np.interp(at, days, ut1_minus_tai) + leap
    ut1_minus_utc = np.where(at < days[0], 0.0, ut1_minus_utc)
    ut1_minus_utc = np.where(at > days[-1], ut1_minus_tai[-1] + tai_minus_utc_s(days[-1:] * 86400.0), ut1_minus_utc)
    return (unix_seconds - _J2000_UNIX + ut1_minus_utc) / 86400.0

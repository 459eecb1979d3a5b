"""How the Moon stands for an instant and an observer: a UTC time and a place in, an `Aspect` out. No picture.

Sources
* Moon: Meeus, Astronomical Algorithms (2nd ed. 1998, ch. 47) as `erfa.moon98`, which states 2.9 arcsec rms and
  18.3 arcsec at worst against ELP/MPP02 over 1950-2100. Earth and Sun: `erfa.epv00` (VSOP2000, below 0.01 arcsec here).
* Lunar orientation: the series of the IAU working group's 2009 report (Archinal et al. 2011, Celest. Mech. Dyn. Astr.
  109, 101, table 2), mean-Earth frame. NAIF gives its difference from the integrated rotation of DE440 as 0.0051
  degree (155 m) at most, 0.0024 in the mean.
* Precession and nutation IAU 2000B (1 mas), UT1 and leap seconds see `timescales`, place on the WGS 84 ellipsoid.

Light time and aberration. What is seen at t left the Moon one light time (1.28 s) earlier. Its apparent direction,
light time and stellar aberration together, is to first order in v/c the *relative* vector Moon minus observer at
t - light time, and the Moon is then turned as it was at t - light time; that is what is computed. (The vector between
the observer at t and the Moon at t - light time in the Solar System's frame, without aberration, would be 20.5 arcsec
off, and its length, which some tables print as the distance, by up to 38 km.) The sub-solar point likewise is where the
Sun appears to stand seen from the moving Moon; without that aberration it would lie up to 20.5 arcsec = 0.0057 degree
away. Left out: bending of light, polar motion, and refraction.

Against DE421 with its integrated lunar rotation the module keeps 0.01 degree in libration, axis and sub-solar point
(tests/core/test_ephemeris.py says what is left). place None means the Earth's centre.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta

import erfa
import numpy as np
from numpy.typing import ArrayLike

from moondesk.ephemeris.timescales import tt_days, ut1_days
from moondesk.records import MOON_RADIUS_KM, Aspect, FloatArray, Place

_J2000_JD = 2451545.0
_AU_KM = 149_597_870.7  # IAU 2012 resolution B2, exact
_LIGHT_KM_S = 299_792.458
#: Light time at the mean distance of 384,400 km. The true one differs by 0.09 s at most: 0.05 arcsec on the Moon.
MOON_LIGHT_DAYS = 384_400.0 / _LIGHT_KM_S / 86400.0
#: Earth rotation, radians per day of UT1 (IAU 2000 Earth rotation angle).
_EARTH_TURN_RAD_DAY = 2.0 * np.pi * 1.00273781191135448

# Archinal et al. 2011, table 2. Arguments E1..E13: degrees at J2000, degrees a day.
_E0 = np.array(
    [125.045, 250.089, 260.008, 176.625, 357.529, 311.589, 134.963, 276.617, 34.226, 15.134, 119.743, 239.961, 25.053]
)
_E1 = np.array(
    [
        -0.0529921,
        -0.1059842,
        13.0120009,
        13.3407154,
        0.9856003,
        26.4057084,
        13.0649930,
        0.3287146,
        1.7484877,
        -0.1589763,
        0.0036096,
        0.1643573,
        12.9590088,
    ]
)
# Amplitudes in degrees of sin E (right ascension of the pole, prime meridian) and cos E (declination), E1..E13.
_POLE_RA = np.array([-3.8787, -0.1204, 0.0700, -0.0172, 0, 0.0072, 0, 0, 0, -0.0052, 0, 0, 0.0043])
_POLE_DEC = np.array([1.5419, 0.0239, -0.0278, 0.0068, 0, -0.0029, 0.0009, 0, 0, 0.0008, 0, 0, -0.0009])
_MERIDIAN = np.array(
    [3.5610, 0.1208, -0.0642, 0.0158, 0.0252, -0.0066, -0.0047, -0.0046, 0.0028, 0.0052, 0.0040, 0.0019, -0.0044]
)


@dataclass(frozen=True, eq=False, kw_only=True)
class AspectTable:
    """`Aspect` for many instants: the same fields as read-only float arrays of shape (N,), in the same units.

    parallactic_deg, altitude_deg, azimuth_deg are None without a place. `table[i]` is one Aspect.
    """

    unix_seconds: FloatArray
    place: Place | None
    libration_lat_deg: FloatArray
    libration_lon_deg: FloatArray
    sub_solar_lat_deg: FloatArray
    sub_solar_lon_deg: FloatArray
    axis_pa_deg: FloatArray
    bright_limb_pa_deg: FloatArray
    parallactic_deg: FloatArray | None
    phase_angle_deg: FloatArray
    illuminated_fraction: FloatArray
    elongation_deg: FloatArray
    semidiameter_arcsec: FloatArray
    distance_km: FloatArray
    altitude_deg: FloatArray | None
    azimuth_deg: FloatArray | None
    colongitude_deg: FloatArray

    def __post_init__(self) -> None:
        for item in fields(self):
            value = getattr(self, item.name)
            if isinstance(value, np.ndarray):
                value.setflags(write=False)

    def __len__(self) -> int:
        return len(self.unix_seconds)

    def __getitem__(self, index: int) -> Aspect:
        values: dict[str, float | None] = {}
        for item in fields(self)[2:]:
            column = getattr(self, item.name)
            values[item.name] = None if column is None else float(column[index])
        return Aspect(when_utc=utc_of(float(self.unix_seconds[index])), place=self.place, **values)  # type: ignore[arg-type]


def aspect_at(when_utc: datetime, place: Place | None) -> Aspect:
    """How the Moon stands at an instant, for a place or, where place is None, for the Earth's centre.

    Parameters: an aware datetime; geodetic place.
    Returns: angles in degrees: axis_pa_deg in -180..180, bright_limb_pa_deg, azimuth_deg (from north through east) and
    colongitude_deg (90 - sub-solar longitude) in 0..360, parallactic_deg in -180..180; distance in km.
    Raises: ValueError for a naive datetime or a year outside 1900-2099. Sources and what is neglected: see the module.

    >>> aspect = aspect_at(datetime(2026, 10, 17, 19, 14, 35, tzinfo=UTC), Place(48.2, 16.4))
    >>> [round(value, 1) for value in (aspect.libration_lat_deg, aspect.libration_lon_deg, aspect.colongitude_deg)]
    [5.3, -2.0, 352.2]
    """
    return aspects_at(np.array([unix_seconds_of(when_utc)]), place)[0]


def unix_seconds_of(when_utc: datetime) -> float:
    """Unix seconds of an aware datetime. Raises ValueError for a naive one, whose zone nobody knows.

    >>> unix_seconds_of(datetime(1970, 1, 2, tzinfo=UTC))
    86400.0
    """
    if when_utc.tzinfo is None:
        raise ValueError(f"the time {when_utc.isoformat()} has no time zone")
    return when_utc.timestamp()


def utc_of(unix_seconds: float) -> datetime:
    """Aware UTC datetime of Unix seconds; unlike datetime.fromtimestamp also before 1970 on every system.

    >>> utc_of(-86400.0).isoformat()
    '1969-12-31T00:00:00+00:00'
    """
    return datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=unix_seconds)


def aspects_at(unix_seconds: ArrayLike, place: Place | None) -> AspectTable:
    """`aspect_at` for N instants at once, given as Unix seconds of shape (N,): a table of (N,) columns, same units.

    >>> start = unix_seconds_of(datetime(2026, 10, 17, tzinfo=UTC))
    >>> aspects_at(start + np.array([0.0, 43200.0, 86400.0]), None).illuminated_fraction.round(2).tolist()
    [0.35, 0.39, 0.44]
    """
    unix = np.array(unix_seconds, float)
    if unix.ndim != 1:
        raise ValueError(f"unix_seconds must have the shape (N,), not {unix.shape}")
    tt = tt_days(unix)
    seen = tt - MOON_LIGHT_DAYS
    bodies = moon_and_sun(seen)
    to_date = erfa.pnm00b(_J2000_JD, tt)
    if place is None:
        observer = np.zeros((len(unix), 3))
        sidereal = np.zeros(len(unix))
    else:
        sidereal = erfa.gst06(_J2000_JD, ut1_days(unix), _J2000_JD, tt, to_date)
        observer = _observer_km(place, sidereal - MOON_LIGHT_DAYS * _EARTH_TURN_RAD_DAY, to_date)

    moon = bodies.moon_km - observer
    distance = _norm(moon)
    pole, body = lunar_axes(seen)
    lib_lat, lib_lon = _lat_lon(_rotate(body, -moon))
    sun_lat, sun_lon = _lat_lon(_rotate(body, bodies.sun_from_moon_km))
    phase = _angle(-moon, bodies.sun_from_moon_km)

    moon_date = _rotate(to_date, moon) / distance[:, None]
    east, north = _sky_axes(moon_date)
    altitude: FloatArray | None = None
    azimuth: FloatArray | None = None
    parallactic: FloatArray | None = None
    if place is not None:
        zenith = _zenith(place, sidereal)
        parallactic = _position_angle(zenith, east, north)
        altitude = np.degrees(np.arcsin(np.clip(_dot(zenith, moon_date), -1.0, 1.0)))
        azimuth = _position_angle(moon_date, *_sky_axes(zenith)) % 360.0
    return AspectTable(
        unix_seconds=unix,
        place=place,
        libration_lat_deg=lib_lat,
        libration_lon_deg=lib_lon,
        sub_solar_lat_deg=sun_lat,
        sub_solar_lon_deg=sun_lon,
        axis_pa_deg=_position_angle(_rotate(to_date, pole), east, north),
        # towards the Sun as it stands from the Moon: on the sky the same great circle as towards the Sun itself
        bright_limb_pa_deg=_position_angle(_rotate(to_date, bodies.sun_from_moon_km), east, north) % 360.0,
        parallactic_deg=parallactic,
        phase_angle_deg=phase,
        illuminated_fraction=(1.0 + np.cos(np.radians(phase))) / 2.0,
        elongation_deg=_angle(moon, bodies.sun_km - observer),
        semidiameter_arcsec=np.degrees(np.arcsin(MOON_RADIUS_KM / distance)) * 3600.0,
        distance_km=distance,
        altitude_deg=altitude,
        azimuth_deg=azimuth,
        colongitude_deg=(90.0 - sun_lon) % 360.0,
    )


@dataclass(frozen=True, eq=False)
class Bodies:
    """Moon and Sun in the GCRS, km, shape (N, 3): from the Earth's centre, and the Sun as it appears from the Moon."""

    moon_km: FloatArray
    sun_km: FloatArray
    sun_from_moon_km: FloatArray


def moon_and_sun(tt_days_seen: FloatArray) -> Bodies:
    """Where the bodies appear, for TT days since J2000 at which the light left the Moon.

    The Moon's vector is the geometric one of that instant, the Sun's the relative vector one solar light time earlier
    (see the module: light time and aberration in one, to first order in v/c).
    """
    moon = erfa.moon98(_J2000_JD, tt_days_seen)
    earth, _ = erfa.epv00(_J2000_JD, tt_days_seen)  # heliocentric
    moon_p, moon_v = moon["p"] * _AU_KM, moon["v"] * _AU_KM
    earth_p, earth_v = earth["p"] * _AU_KM, earth["v"] * _AU_KM
    light_days = (_norm(earth_p) / _LIGHT_KM_S / 86400.0)[:, None]
    sun = earth_v * light_days - earth_p
    return Bodies(moon_p, sun, sun - moon_p + moon_v * light_days)


def lunar_axes(tt_days_seen: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The Moon's north pole (N, 3) in the GCRS, and the rotation (N, 3, 3) from the GCRS to the mean-Earth frame."""
    d = np.asarray(tt_days_seen, float)  # TDB in the report; it is within 2 ms of TT
    centuries = d / 36525.0
    e = np.radians(_E0 + np.multiply.outer(d, _E1))
    sin_e, cos_e = np.sin(e), np.cos(e)
    ra = np.radians(269.9949 + 0.0031 * centuries + sin_e @ _POLE_RA)
    dec = np.radians(66.5392 + 0.0130 * centuries + cos_e @ _POLE_DEC)
    meridian = np.radians(38.3213 + 13.17635815 * d - 1.4e-12 * d * d + sin_e @ _MERIDIAN)
    zero = np.zeros_like(ra)
    pole = np.stack([np.cos(dec) * np.cos(ra), np.cos(dec) * np.sin(ra), np.sin(dec)], axis=-1)
    node = np.stack([-np.sin(ra), np.cos(ra), zero], axis=-1)  # of the Moon's equator on that of the GCRS
    side = np.cross(pole, node)
    c, s = np.cos(meridian)[:, None], np.sin(meridian)[:, None]
    return pole, np.stack([c * node + s * side, c * side - s * node, pole], axis=-2)


def _observer_km(place: Place, sidereal_rad: FloatArray, to_date: FloatArray) -> FloatArray:
    """The observer from the Earth's centre in the GCRS, km, for the given apparent sidereal time at Greenwich."""
    x, y, z = erfa.gd2gc(1, np.radians(place.longitude_deg), np.radians(place.latitude_deg), place.height_m) / 1000.0
    c, s = np.cos(sidereal_rad), np.sin(sidereal_rad)
    of_date = np.stack([c * x - s * y, s * x + c * y, np.full_like(c, z)], axis=-1)
    return _rotate(np.swapaxes(to_date, -1, -2), of_date)


def _zenith(place: Place, sidereal_rad: FloatArray) -> FloatArray:
    """Geodetic zenith, true equator and equinox of date, shape (N, 3)."""
    lat, local = np.radians(place.latitude_deg), sidereal_rad + np.radians(place.longitude_deg)
    return np.stack([np.cos(lat) * np.cos(local), np.cos(lat) * np.sin(local), np.full_like(local, np.sin(lat))], -1)


def _sky_axes(direction: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Unit vectors to the east and north on the sky at a direction of length 1, shape (N, 3) each."""
    ra = np.arctan2(direction[:, 1], direction[:, 0])
    east = np.stack([-np.sin(ra), np.cos(ra), np.zeros_like(ra)], axis=-1)
    return east, np.cross(direction, east)


def _position_angle(vector: FloatArray, east: FloatArray, north: FloatArray) -> FloatArray:
    return np.degrees(np.arctan2(_dot(vector, east), _dot(vector, north)))


def _rotate(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    rotated: FloatArray = np.einsum("...ij,...j->...i", matrix, vector)
    return rotated


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    product: FloatArray = np.einsum("...i,...i->...", a, b)
    return product


def _norm(vector: FloatArray) -> FloatArray:
    return np.sqrt(_dot(vector, vector))


def _angle(a: FloatArray, b: FloatArray) -> FloatArray:
    """Angle between vectors, degrees; by the arc tangent, exact near 0 and 180 too."""
    return np.degrees(np.arctan2(_norm(np.cross(a, b)), _dot(a, b)))


def _lat_lon(vector: FloatArray) -> tuple[FloatArray, FloatArray]:
    lat = np.degrees(np.arctan2(vector[:, 2], np.hypot(vector[:, 0], vector[:, 1])))
    return lat, np.degrees(np.arctan2(vector[:, 1], vector[:, 0]))

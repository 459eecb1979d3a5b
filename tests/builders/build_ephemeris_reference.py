"""Makes tests/reference/de421_aspects.csv: the Moon's aspect at 200 random instants and places, by independent means.

    python tests/builders/build_ephemeris_reference.py tests/reference/de421_aspects.csv

Independent of `moondesk.ephemeris`: positions are those of JPL's DE421, the Moon's rotation is the one integrated with
it (NAIF's moon_pa_de421_1900-2050.bpc, turned to the mean-Earth frame by moon_080317.tf), light time, aberration, Earth
rotation and frames are skyfield's own. Needs skyfield, skyfield-data (DE421) and lunarsky, whose wheel carries the two
NAIF files and of which no code is run (`pip install --no-deps lunarsky`).
"""

from __future__ import annotations

import csv
import importlib.util
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from skyfield.api import load, load_file, wgs84
from skyfield.planetarylib import PlanetaryConstants

FIELDS = (
    "libration_lat_deg", "libration_lon_deg", "sub_solar_lat_deg", "sub_solar_lon_deg", "axis_pa_deg",
    "bright_limb_pa_deg", "parallactic_deg", "phase_angle_deg", "elongation_deg", "distance_km", "altitude_deg",
    "azimuth_deg",
)  # fmt: skip


def missing_files() -> str | None:
    """Why the reference cannot be computed here, or None."""
    for package, names in (
        ("skyfield_data", ["data/de421.bsp"]),
        ("lunarsky", ["data/pck/moon_pa_de421_1900-2050.bpc", "data/fk/satellites/moon_080317.tf"]),
    ):
        if not (spec := importlib.util.find_spec(package)) or not spec.origin:
            return f"package {package} is not installed"
        for name in names:
            if not (Path(spec.origin).parent / name).is_file():
                return f"package {package} lacks {name}"
    return None


def _data(package: str, name: str) -> Path:
    spec = importlib.util.find_spec(package)
    assert spec is not None
    assert spec.origin is not None
    return Path(spec.origin).parent / name


class Reference:
    """DE421 and the lunar frames ('MOON_ME_DE421' mean-Earth, 'MOON_PA_DE421' principal axes)."""

    def __init__(self, eph, constants) -> None:
        self.eph = eph
        self.ts = load.timescale(builtin=True)
        self.frames = {name: constants.build_frame_named(name) for name in ("MOON_ME_DE421", "MOON_PA_DE421")}

    def aspect(self, when_utc: datetime, lat: float, lon: float, height_m: float, centre: bool = False) -> dict:
        """One row; centre: from the Earth's centre (nan where a horizon is needed)."""
        earth, moon, sun = self.eph["earth"], self.eph["moon"], self.eph["sun"]
        t = self.ts.from_datetime(when_utc)
        observer = earth if centre else earth + wgs84.latlon(lat, lon, height_m)
        astrometric = observer.at(t).observe(moon)
        seen = self.ts.tt_jd(t.tt - astrometric.light_time)
        apparent = astrometric.apparent()
        towards = apparent.position.km / np.linalg.norm(apparent.position.km)
        body = self.frames["MOON_ME_DE421"].rotation_at(seen)
        lib_lat, lib_lon = _lat_lon(body @ -towards)
        from_moon = moon.at(seen).observe(sun).apparent().position.km
        sun_lat, sun_lon = _lat_lon(body @ from_moon)
        sun_seen = observer.at(t).observe(sun).apparent().position.km
        row = {
            "libration_lat_deg": lib_lat, "libration_lon_deg": lib_lon,
            "sub_solar_lat_deg": sun_lat, "sub_solar_lon_deg": sun_lon,
            "axis_pa_deg": _position_angle(t.M @ body[2], t.M @ towards),
            "bright_limb_pa_deg": _position_angle(t.M @ sun_seen, t.M @ towards) % 360.0,
            "parallactic_deg": np.nan,
            "phase_angle_deg": _angle(-towards, from_moon),
            "elongation_deg": _angle(towards, sun_seen),
            # geometric: the length of an apparent vector carries the aberration too, 1e-4 of it
            "distance_km": np.linalg.norm(moon.at(t).position.km - observer.at(t).position.km),
            "altitude_deg": np.nan, "azimuth_deg": np.nan,
        }  # fmt: skip
        if not centre:
            altitude, azimuth, _ = apparent.altaz()
            hour, dec, _ = apparent.hadec()
            h, phi = hour.radians, np.radians(lat)
            # atan2(sin H, tan phi cos d - sin d cos H), multiplied by cos phi
            q = np.arctan2(np.cos(phi) * np.sin(h), np.sin(phi) * np.cos(dec.radians)
                           - np.cos(phi) * np.sin(dec.radians) * np.cos(h))  # fmt: skip
            row |= {"altitude_deg": altitude.degrees, "azimuth_deg": azimuth.degrees, "parallactic_deg": np.degrees(q)}
        return row

    def moon_to_earth_km(self, jd_tdb: float, frame: str) -> np.ndarray:
        """Geometric vector from Moon to Earth in a lunar frame, km."""
        t = self.ts.tdb_jd(jd_tdb)
        vector = (self.eph["earth"] - self.eph["moon"]).at(t).position.km
        return self.frames[frame].rotation_at(t) @ vector


@contextmanager
def opened() -> Iterator[Reference]:
    """The reference with its files, closed afterwards."""
    eph = load_file(str(_data("skyfield_data", "data/de421.bsp")))
    constants = PlanetaryConstants()
    with (
        _data("lunarsky", "data/fk/satellites/moon_080317.tf").open("rb") as text,
        _data("lunarsky", "data/pck/moon_pa_de421_1900-2050.bpc").open("rb") as binary,
    ):
        constants.read_text(text)
        constants.read_binary(binary)
        try:
            yield Reference(eph, constants)
        finally:
            eph.close()


def cases() -> Iterator[tuple[datetime, float, float, float]]:
    """200 instants of 1990-2045 and places evenly over the globe up to 4 km high: (when, latitude, longitude, m)."""
    rng = np.random.default_rng(20090317)
    start, end = datetime(1990, 1, 1, tzinfo=UTC), datetime(2045, 1, 1, tzinfo=UTC)
    for _ in range(200):
        when = start + timedelta(seconds=int(rng.uniform(0, (end - start).total_seconds())))
        lat, lon = np.degrees(np.arcsin(rng.uniform(-1, 1))), rng.uniform(-180, 180)
        yield when, round(float(lat), 4), round(float(lon), 4), round(float(rng.uniform(0, 4000)))


def _lat_lon(vector: np.ndarray) -> tuple[float, float]:
    x, y, z = vector
    return float(np.degrees(np.arctan2(z, np.hypot(x, y)))), float(np.degrees(np.arctan2(y, x)))


def _position_angle(vector: np.ndarray, at: np.ndarray) -> float:
    """Position angle at a direction of the great circle towards another vector, from the third axis through east."""
    ra, dec = np.arctan2(at[1], at[0]), np.arcsin(at[2] / np.linalg.norm(at))
    ra2, dec2 = np.arctan2(vector[1], vector[0]), np.arcsin(vector[2] / np.linalg.norm(vector))
    return float(np.degrees(np.arctan2(
        np.cos(dec2) * np.sin(ra2 - ra),
        np.sin(dec2) * np.cos(dec) - np.cos(dec2) * np.sin(dec) * np.cos(ra2 - ra),
    )))  # fmt: skip


def _angle(a: np.ndarray, b: np.ndarray) -> float:
    return float(np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b)))


def main(target: str) -> None:
    if why := missing_files():
        sys.exit(why)
    with opened() as reference, open(target, "w", newline="", encoding="ascii") as out:
        out.write("# Made by tests/builders/build_ephemeris_reference.py: JPL DE421 and its lunar rotation,\n")
        out.write("# mean-Earth frame, through skyfield; topocentric, apparent, true equator and equinox of date.\n")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(["utc", "latitude_deg", "longitude_deg", "height_m", *FIELDS])
        for when, lat, lon, height in cases():
            row = reference.aspect(when, lat, lon, height)
            writer.writerow([when.isoformat(), lat, lon, height, *(f"{row[name]:.5f}" for name in FIELDS)])


if __name__ == "__main__":
    main(sys.argv[1])

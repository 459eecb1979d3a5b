"""Rebuilds annotate/data/features.csv, the package's own table of named features, from public data given by path.

    python tests/builders/build_catalogue.py GAZETTEER.csv ALBEDO.png [--out annotate/data/features.csv]

GAZETTEER.csv: IAU/USGS Gazetteer of Planetary Nomenclature, Moon (public domain), with the columns name, feature_type,
lat, lon_east and diameter_km. Names, places and sizes carry over as facts; kinds, English meanings, parents and the
derived columns are made here, and the gazetteer's wording on the origin of names is not read.
ALBEDO.png: Clementine UVVIS 750 nm mosaic (NASA/USGS, public domain), grey, equirectangular, row 0 at latitude +90,
column 0 at longitude -180; only the three derived columns `tone`, `rays` and `alone` come from it and from the places.

The heading records the SHA-256 of both inputs. Same inputs, same bytes. Rows without coordinates are left out and
counted. A missing size, or a size of 0, becomes 0: "size unknown" (Mons Agnes and Planitia Descensus): the place is
still right, and every rule that asks for a size passes over it.
"""

from __future__ import annotations

import csv
import hashlib
import io
import math
import unicodedata
from pathlib import Path

import click
import numpy as np
from PIL import Image
from scipy.ndimage import map_coordinates

OUT = Path(__file__).resolve().parents[2] / "annotate" / "data" / "features.csv"
COLUMNS = ("name", "kind", "meaning", "lat", "lon", "size_km", "parent", "satellites", "tone", "rays", "alone")
RADIUS_KM = 1737.4

#: Gazetteer type (its first word) -> plain English. Mountains are split by name, astronauts' names by the table below.
KINDS = {
    "Crater": "crater", "Satellite": "crater", "Rima": "rille", "Dorsum": "ridge", "Mare": "sea", "Oceanus": "ocean",
    "Lacus": "lake", "Sinus": "bay", "Palus": "marsh", "Planitia": "plain", "Catena": "crater chain",
    "Vallis": "valley", "Promontorium": "cape", "Rupes": "scarp", "Statio": "landing site", "Albedo": "bright patch",
}  # fmt: skip

#: Features that Apollo crews named and that are no craters (a group of small craters counts as crater). What each is
#: follows from its name and from the crews' traverse maps (NASA mission reports); from memory for the last three.
ASTRONAUT_KINDS = {
    "Apennine Front": "mountain", "Bear Mountain": "mountain", "Family Mountain": "mountain",
    "Mount Marilyn": "mountain", "North Massif": "mountain", "South Massif": "mountain", "Stone Mountain": "mountain",
    "Sculptured Hills": "mountain range", "Smoky Mountains": "mountain range", "Scarp": "scarp",
    "Taurus-Littrow Valley": "valley", "Wessex Cleft": "valley", "Plain": "plain", "Tortilla Flat": "plain",
    "Light Mantle": "bright patch", "Terrace": "plain",
}  # fmt: skip

#: English meanings, ours, from the Latin words. Every sea, ocean, lake, bay, marsh and plain has one.
MEANINGS = {
    "Oceanus Procellarum": "Ocean of Storms", "Planitia Descensus": "Plain of Descent",
    "Mare Anguis": "Serpent Sea", "Mare Australe": "Southern Sea", "Mare Cognitum": "Sea That Has Become Known",
    "Mare Crisium": "Sea of Crises", "Mare Fecunditatis": "Sea of Fertility", "Mare Frigoris": "Sea of Cold",
    "Mare Humboldtianum": "Humboldt's Sea", "Mare Humorum": "Sea of Moisture", "Mare Imbrium": "Sea of Rains",
    "Mare Ingenii": "Sea of Cleverness", "Mare Insularum": "Sea of Islands", "Mare Marginis": "Sea of the Edge",
    "Mare Moscoviense": "Moscow Sea", "Mare Nectaris": "Sea of Nectar", "Mare Nubium": "Sea of Clouds",
    "Mare Orientale": "Eastern Sea", "Mare Serenitatis": "Sea of Serenity", "Mare Smythii": "Smyth's Sea",
    "Mare Spumans": "Foaming Sea", "Mare Tranquillitatis": "Sea of Tranquillity", "Mare Undarum": "Sea of Waves",
    "Mare Vaporum": "Sea of Vapours",
    "Lacus Aestatis": "Lake of Summer", "Lacus Autumni": "Lake of Autumn", "Lacus Bonitatis": "Lake of Goodness",
    "Lacus Doloris": "Lake of Sorrow", "Lacus Excellentiae": "Lake of Excellence",
    "Lacus Felicitatis": "Lake of Happiness", "Lacus Gaudii": "Lake of Joy", "Lacus Hiemalis": "Winter Lake",
    "Lacus Lenitatis": "Lake of Gentleness", "Lacus Luxuriae": "Lake of Luxury", "Lacus Mortis": "Lake of Death",
    "Lacus Oblivionis": "Lake of Forgetfulness", "Lacus Odii": "Lake of Hatred",
    "Lacus Perseverantiae": "Lake of Perseverance", "Lacus Solitudinis": "Lake of Solitude",
    "Lacus Somniorum": "Lake of Dreams", "Lacus Spei": "Lake of Hope", "Lacus Temporis": "Lake of Time",
    "Lacus Timoris": "Lake of Fear", "Lacus Veris": "Lake of Spring",
    "Sinus Aestuum": "Seething Bay", "Sinus Amoris": "Bay of Love", "Sinus Asperitatis": "Bay of Roughness",
    "Sinus Concordiae": "Bay of Harmony", "Sinus Fidei": "Bay of Trust", "Sinus Honoris": "Bay of Honour",
    "Sinus Iridum": "Bay of Rainbows", "Sinus Lunicus": "Lunik Bay", "Sinus Medii": "Central Bay",
    "Sinus Roris": "Bay of Dew", "Sinus Successus": "Bay of Success",
    "Palus Epidemiarum": "Marsh of Epidemics", "Palus Putredinis": "Marsh of Decay", "Palus Somni": "Marsh of Sleep",
    "Montes Alpes": "Alps", "Montes Apenninus": "Apennines", "Montes Carpatus": "Carpathians",
    "Montes Caucasus": "Caucasus", "Montes Cordillera": "Cordillera", "Montes Jura": "Jura Mountains",
    "Montes Pyrenaeus": "Pyrenees", "Montes Recti": "Straight Range", "Montes Taurus": "Taurus Mountains",
    "Mons Pico": "The Peak", "Rupes Altai": "Altai Scarp", "Rupes Recta": "Straight Wall",
    "Vallis Alpes": "Alpine Valley", "Vallis Schröteri": "Schröter's Valley",
    "Statio Tranquillitatis": "Tranquillity Base",
}  # fmt: skip

Row = dict[str, object]


def folded(text: str) -> str:
    """Lower case without accents: the table's order, the same on every machine."""
    plain = unicodedata.normalize("NFKD", text)
    return "".join(c for c in plain if not unicodedata.combining(c)).casefold()


def kind_of(name: str, feature_type: str) -> str:
    """The plain-English kind; an unknown gazetteer type is an error, never a guess."""
    if feature_type.startswith("Astronaut"):
        return ASTRONAUT_KINDS.get(name, "crater")
    if feature_type.startswith("Mons"):
        return "mountain range" if name.startswith("Montes ") else "mountain"
    word = feature_type.split(",")[0].split()[0]
    if word not in KINDS:
        raise click.ClickException(f"{name}: no kind for the gazetteer's type {feature_type!r}; add it to KINDS")
    return KINDS[word]


def vectors(lat: np.ndarray, lon: np.ndarray) -> np.ndarray:
    b, l0 = np.radians(lat), np.radians(lon)
    return np.stack([np.cos(b) * np.cos(l0), np.cos(b) * np.sin(l0), np.sin(b)], axis=-1)


def read_gazetteer(text: str) -> tuple[list[Row], int]:
    """Rows with coordinates, in the table's order, and how many were left out for want of coordinates."""
    rows: list[Row] = []
    left_out = 0
    for source in csv.DictReader(io.StringIO(text)):
        if not source["lat"].strip() or not source["lon_east"].strip():
            left_out += 1
            continue
        name, size = source["name"].strip(), float(source["diameter_km"] or 0.0)
        lon = (float(source["lon_east"]) + 180.0) % 360.0 - 180.0
        rows.append({
            "name": name, "kind": kind_of(name, source["feature_type"]), "meaning": MEANINGS.get(name, ""),
            "lat": float(source["lat"]), "lon": round(180.0 if lon == -180.0 else lon, 4), "size_km": size,
            "lettered": source["feature_type"].startswith("Satellite"), "parent": "", "satellites": 0,
        })  # fmt: skip
    rows.sort(key=lambda row: (folded(str(row["name"])), str(row["name"])))
    wanting = [r["name"] for r in rows if r["kind"] in ("sea", "ocean", "lake", "bay", "marsh", "plain")
               and not r["meaning"] and r["name"] not in ASTRONAUT_KINDS]  # fmt: skip
    if wanting:
        raise click.ClickException(f"no English meaning for {wanting}; add it to MEANINGS")
    return rows, left_out


def set_parents(rows: list[Row]) -> None:
    """The named feature that each lettered one belongs to, and their number.

    The parent's name is the lettered name without its letters ("Copernicus A"). Where no feature has that very name
    it is the nearest one that has it after its Latin type ("Pico B": Mons Pico; "Alpes A": Montes or Vallis Alpes).
    """
    named = [r for r in rows if not r["lettered"]]
    by_name = {str(r["name"]): r for r in named}
    by_end: dict[str, list[Row]] = {}
    for r in named:
        _, _, rest = str(r["name"]).partition(" ")
        by_end.setdefault(rest, []).append(r)
    for r in rows:
        if not r["lettered"]:
            continue
        stem = str(r["name"]).removesuffix(" Inner").removesuffix(" Outer").rpartition(" ")[0]
        found = [by_name[stem]] if stem in by_name else by_end.get(stem, [])
        if not found:
            raise click.ClickException(f"{r['name']}: no named feature is called {stem!r}")
        here = vectors(np.array(r["lat"]), np.array(r["lon"]))
        parent = max(found, key=lambda p: float(here @ vectors(np.array(p["lat"]), np.array(p["lon"]))))
        r["parent"] = parent["name"]
        parent["satellites"] = int(str(parent["satellites"])) + 1


#: Rings on which the map is read, in radii of the feature, and readings per ring.
RINGS = np.array([0.0, 0.2, 0.4, 0.6, 0.8, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 4.0, 8.0, 9.0, 10.0])
AROUND = 36
#: Kinds measured against the whole Moon instead of their ring: their outlines are far from round.
FLAT = ("sea", "ocean", "lake", "bay", "marsh", "plain")


def ring_means(albedo: np.ndarray, lat: np.ndarray, lon: np.ndarray, size_km: np.ndarray) -> np.ndarray:
    """Mean map value on each of RINGS around each feature, shape (N, len(RINGS))."""
    b, l0 = np.radians(lat)[:, None, None], np.radians(lon)[:, None, None]
    d = np.minimum(RINGS * (size_km[:, None] / 2 / RADIUS_KM), np.pi)[:, :, None]
    t = np.arange(AROUND) * (2 * np.pi / AROUND)
    sine = np.sin(b) * np.cos(d) + np.cos(b) * np.sin(d) * np.cos(t)
    east = np.arctan2(np.sin(t) * np.sin(d) * np.cos(b), np.cos(d) - np.sin(b) * sine)
    height, width = albedo.shape
    y = (90.0 - np.degrees(np.arcsin(np.clip(sine, -1, 1)))) * (height / 180.0) - 0.5
    x = ((np.degrees(l0 + east) + 180.0) % 360.0) * (width / 360.0) - 0.5
    return np.asarray(map_coordinates(albedo, [y, x], order=1, mode="grid-wrap").mean(axis=-1))


def set_derived(rows: list[Row], albedo: np.ndarray) -> None:
    """The columns that prominence needs, in whole percent (see `annotate.prominence` for their use).

    tone: how much brighter (+) or darker (-) the feature is than the ring of 1.25 to 2 radii around it, percent of
    that ring; flat dark kinds: than the mean of the map over all the sphere.
    rays: how much the ring of 1.25 to 4 radii is brighter than that of 8 to 10, percent of the map's mean, but no
    more than the inside is brighter than the former: a bright crater in a bright splash. Craters only.
    alone: distance to the nearest crater of at least 0.7 of its size, percent of its own size, at most 999.
    """
    lat, lon, size = (np.array([float(str(r[key])) for r in rows]) for key in ("lat", "lon", "size_km"))
    weights = np.cos(np.radians(90.0 - (np.arange(albedo.shape[0]) + 0.5) * 180.0 / albedo.shape[0]))
    whole = float(albedo.mean(axis=1) @ weights / weights.sum())
    area = np.maximum(RINGS, 0.1)
    rings = np.concatenate([ring_means(albedo, lat[i : i + 500], lon[i : i + 500], size[i : i + 500])
                            for i in range(0, len(rows), 500)])  # fmt: skip

    def mean(low: float, high: float) -> np.ndarray:
        chosen = (low <= RINGS) & (high >= RINGS)
        return np.asarray(rings[:, chosen] @ area[chosen] / area[chosen].sum())

    inside, around, splash, far = mean(0, 0.8), mean(1.25, 2.0), mean(1.25, 4.0), mean(8.0, 10.0)
    flat = np.array([r["kind"] in FLAT for r in rows])
    crater = np.array([r["kind"] == "crater" for r in rows])
    tone = np.where(flat, (inside - whole) / whole, (inside - around) / around)
    rays = np.where(crater, np.clip(np.minimum(splash - far, inside - splash) / whole, 0.0, None), 0.0)

    alone = np.zeros(len(rows))
    order = np.flatnonzero(crater & (size > 0))
    order = order[np.argsort(-size[order], kind="stable")]
    points, sizes = vectors(lat[order], lon[order]), size[order]
    for rank, index in enumerate(order):
        rivals = int(np.searchsorted(-sizes, -0.7 * sizes[rank], side="right"))
        cosines = points[:rivals] @ points[rank]
        cosines[rank] = -1.0
        nearest = math.acos(min(1.0, float(cosines.max()))) * RADIUS_KM if rivals > 1 else 2 * RADIUS_KM
        alone[index] = min(nearest / sizes[rank], 9.99)
    for r, *values in zip(rows, tone, rays, alone, size, strict=True):
        known = values.pop() > 0
        r["tone"], r["rays"], r["alone"] = ([round(100 * float(v)) for v in values] if known else [0, 0, 0])


def table_text(rows: list[Row], left_out: int, gazetteer_sha: str, albedo_sha: str) -> str:
    out = io.StringIO()
    out.write("# Named features of the Moon. Made by tests/builders/build_catalogue.py; do not edit by hand.\n")
    out.write("# Names, places, sizes: IAU/USGS Gazetteer of Planetary Nomenclature (public domain), "
              f"SHA-256 {gazetteer_sha}\n")  # fmt: skip
    out.write("# tone, rays: Clementine UVVIS 750 nm mosaic (NASA/USGS, public domain), "
              f"SHA-256 {albedo_sha}\n")  # fmt: skip
    out.write(f"# {len(rows)} features; left out for want of coordinates: {left_out}. ")
    out.write("Empty kind: crater; empty number: 0.\n")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for r in rows:
        cells = []
        for column in COLUMNS:
            value = r[column]
            text = f"{value:.2f}".rstrip("0").rstrip(".") if isinstance(value, float) else str(value)
            if column not in ("lat", "lon", "size_km") and text in ("0", "crater"):
                text = ""
            cells.append("0" if text == "-0" else text)
        writer.writerow(cells)
    return out.getvalue()


def build(gazetteer: bytes, albedo_png: bytes) -> str:
    """The whole table as text, from the bytes of both inputs."""
    rows, left_out = read_gazetteer(gazetteer.decode("utf-8-sig"))
    set_parents(rows)
    with Image.open(io.BytesIO(albedo_png)) as image:
        albedo = np.asarray(image.convert("L"), dtype=np.float64)
    set_derived(rows, albedo)
    return table_text(rows, left_out, hashlib.sha256(gazetteer).hexdigest(), hashlib.sha256(albedo_png).hexdigest())


@click.command(help="Rebuild the package's table of features.")
@click.argument("gazetteer", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("albedo", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), default=OUT, show_default=False)
def main(gazetteer: Path, albedo: Path, out: Path) -> None:
    text = build(gazetteer.read_bytes(), albedo.read_bytes())
    out.write_bytes(text.encode("utf-8"))
    heading = [line for line in text.splitlines() if line.startswith("#")]
    click.echo("\n".join(heading[1:]))
    click.echo(f"{out.name}: {len(text.encode('utf-8')) / 1000:.0f} kB")


if __name__ == "__main__":
    main()

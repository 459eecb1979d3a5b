"""Rebuilds annotate/data/features.csv, the package's own table of named features, from public data given by path.

    python tests/builders/build_catalogue.py GAZETTEER.csv ALBEDO.png HEIGHTS.tif [--out annotate/data/features.csv]

GAZETTEER.csv: IAU/USGS Gazetteer of Planetary Nomenclature, Moon (public domain), with the columns name, feature_type,
lat, lon_east and diameter_km. Names, places and sizes carry over as facts; kinds, English meanings, parents and the
derived columns are made here, and the gazetteer's wording on the origin of names is not read.
ALBEDO.png: Clementine UVVIS 750 nm mosaic (NASA/USGS, public domain), grey; HEIGHTS.tif: LRO LOLA LDEM (NASA, public
domain), metres. Both equirectangular, row 0 at latitude +90, column 0 at longitude -180; only the derived columns come
from them (catalogue_columns.py says how).

The heading records the SHA-256 of the inputs. Same inputs, same bytes. Rows without coordinates are left out and
counted. A missing size, or a size of 0, becomes 0: "size unknown" (Mons Agnes and Planitia Descensus): the place is
still right, and every rule that asks for a size passes over it.
"""

from __future__ import annotations

import csv
import hashlib
import io
import unicodedata
from pathlib import Path

import click
import numpy as np
from catalogue_columns import NAMES, derived, vectors
from PIL import Image

OUT = Path(__file__).resolve().parents[2] / "annotate" / "data" / "features.csv"
COLUMNS = ("name", "kind", "meaning", "lat", "lon", "size_km", "parent", "satellites", *NAMES)

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


def set_derived(rows: list[Row], albedo: np.ndarray, heights_m: np.ndarray) -> None:
    lat, lon, size = (np.array([float(str(r[key])) for r in rows]) for key in ("lat", "lon", "size_km"))
    columns = derived([str(r["kind"]) for r in rows], lat, lon, size, albedo, heights_m)
    for name, values in columns.items():
        for r, value in zip(rows, values, strict=True):
            r[name] = int(value)


def table_text(rows: list[Row], left_out: int, gazetteer: bytes, albedo: bytes, heights: bytes) -> str:
    """The file: a heading of comment lines, then the table."""
    out = io.StringIO()
    out.write("# Named features of the Moon. Made by tests/builders/build_catalogue.py; do not edit by hand.\n")
    for what, data in (
        ("Names, places, sizes: IAU/USGS Gazetteer of Planetary Nomenclature (public domain)", gazetteer),
        ("tone, rays: Clementine UVVIS 750 nm mosaic (NASA/USGS, public domain)", albedo),
        ("relief: LRO LOLA LDEM (NASA, public domain)", heights),
    ):
        out.write(f"# {what}, SHA-256 {hashlib.sha256(data).hexdigest()}\n")
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


def build(gazetteer: bytes, albedo_png: bytes, heights_tif: bytes) -> str:
    """The whole table as text, from the bytes of the inputs."""
    rows, left_out = read_gazetteer(gazetteer.decode("utf-8-sig"))
    set_parents(rows)
    with Image.open(io.BytesIO(albedo_png)) as image:
        albedo = np.asarray(image.convert("L"), dtype=np.float64)
    with Image.open(io.BytesIO(heights_tif)) as image:
        heights = np.asarray(image, dtype=np.float64)
    set_derived(rows, albedo, heights)
    return table_text(rows, left_out, gazetteer, albedo_png, heights_tif)


FILE = click.Path(exists=True, dir_okay=False, path_type=Path)


@click.command(help="Rebuild the package's table of features.")
@click.argument("gazetteer", type=FILE)
@click.argument("albedo", type=FILE)
@click.argument("heights", type=FILE)
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path), default=OUT)
def main(gazetteer: Path, albedo: Path, heights: Path, out: Path) -> None:
    text = build(gazetteer.read_bytes(), albedo.read_bytes(), heights.read_bytes())
    out.write_bytes(text.encode("utf-8"))
    click.echo("\n".join(line for line in text.splitlines() if line.startswith("#")))
    click.echo(f"{out.name}: {len(text.encode('utf-8')) / 1000:.0f} kB")


if __name__ == "__main__":
    main()

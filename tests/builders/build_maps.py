"""Rebuilds the package's reference maps from the agencies' data, given by path.

    python tests/builders/build_maps.py ALBEDO.png RELIEF.tif

ALBEDO.png: Clementine UVVIS 750 nm mosaic (NASA, USGS), equirectangular, longitude -180..180, already on the LRO
frame (the published mosaic lies 0.147 degrees south and 0.165 degrees east of it). RELIEF.tif: LRO LOLA LDEM (NASA),
1440 x 720, metres above 1737.4 km. Writes annotate/data/albedo.png, relief.png, horizon.png and maps.json (SHA-256 of
what went in, grids, credits).
"""

from __future__ import annotations

import argparse
import hashlib
import json
from pathlib import Path

import cv2
import numpy as np

DATA = Path(__file__).parents[2] / "annotate" / "data"
#: Relief is kept in steps of 10 m above -10 km: half a step is a slope error of 0.04 degrees between two cells.
STEP_M, BASE_M = 10, -10_000
MOON_RADIUS_M = 1_737_400.0
#: The horizon is kept in steps of 0.4 degrees, from -5 degrees.
HORIZON_STEP_DEG, HORIZON_BASE_DEG = 0.4, -5.0


def horizon(relief_m: np.ndarray, bearing_east: bool) -> np.ndarray:
    """Elevation (degrees) of the local horizon due east or due west of every cell, looking 8 degrees of arc far.

    The Sun never strays more than 1.6 degrees from the Moon's equator, so that it rises and sets within 3.5 degrees of
    due east and west up to 60 degrees of latitude: two directions serve for all cast shadows there.
    """
    rows, cols = relief_m.shape
    lat = np.radians(90.0 - (np.arange(rows) + 0.5) * 180.0 / rows)[:, None]
    lon = np.radians(-180.0 + (np.arange(cols) + 0.5) * 360.0 / cols)[None, :]
    wide = np.hstack([relief_m[:, -cols // 2 :], relief_m, relief_m[:, : cols // 2]]).astype(np.float32)
    own = MOON_RADIUS_M + relief_m
    best = np.full(relief_m.shape, -90.0)
    for arc in np.radians(np.concatenate([np.arange(0.25, 3.0, 0.125), np.arange(3.0, 8.0, 0.25)])):
        lat2 = np.arcsin(np.sin(lat) * np.cos(arc))
        step = np.arctan2(np.sin(arc) * np.cos(lat), np.cos(arc) - np.sin(lat) * np.sin(lat2))
        lon2 = lon + (step if bearing_east else -step)
        col = (np.degrees(lon2) + 180.0) / 360.0 * cols - 0.5 + cols // 2
        row = np.broadcast_to((90.0 - np.degrees(lat2)) / 180.0 * rows - 0.5, col.shape)
        there = MOON_RADIUS_M + cv2.remap(
            wide, col.astype(np.float32), row.astype(np.float32), cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        )
        best = np.maximum(best, np.degrees(np.arctan2(there * np.cos(arc) - own, there * np.sin(arc))))
    return best


def quantised_horizon(relief_m: np.ndarray, bearing_east: bool) -> np.ndarray:
    return np.clip(np.rint((horizon(relief_m, bearing_east) - HORIZON_BASE_DEG) / HORIZON_STEP_DEG), 0, 255).astype(
        np.uint8
    )


def write_png(name: str, image: np.ndarray) -> None:
    ok, packed = cv2.imencode(".png", image, [cv2.IMWRITE_PNG_COMPRESSION, 9])
    if not ok:
        raise RuntimeError(f"{name} could not be packed")
    (DATA / name).write_bytes(packed.tobytes())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("albedo", type=Path)
    parser.add_argument("relief", type=Path)
    args = parser.parse_args()
    albedo = cv2.imread(str(args.albedo), cv2.IMREAD_GRAYSCALE)
    relief = cv2.imread(str(args.relief), cv2.IMREAD_UNCHANGED).astype(np.float64)
    steps = np.rint((relief - BASE_M) / STEP_M).astype(np.uint16)
    kept_relief_m = steps * float(STEP_M) + BASE_M
    write_png("albedo.png", albedo)
    write_png("relief.png", steps)
    east, west = (quantised_horizon(kept_relief_m, east) for east in (True, False))
    write_png("horizon.png", np.vstack([east, west]))
    about = {
        "albedo": {
            "sha256_of_source": hashlib.sha256(args.albedo.read_bytes()).hexdigest(),
            "credit": "Clementine UVVIS 750 nm mosaic (NASA, USGS), public domain",
            "grid": "equirectangular, longitude -180..180, row 0 north; value proportional to normal albedo",
        },
        "relief": {
            "sha256_of_source": hashlib.sha256(args.relief.read_bytes()).hexdigest(),
            "credit": "LRO LOLA LDEM (NASA), public domain",
            "grid": f"metres above 1737.4 km = {BASE_M} + {STEP_M} * value",
        },
        "horizon": {
            "grid": "from relief: upper half due east, lower half due west; "
            f"degrees = {HORIZON_BASE_DEG} + {HORIZON_STEP_DEG} * value"
        },
    }
    (DATA / "maps.json").write_text(json.dumps(about, indent=1) + "\n")


if __name__ == "__main__":
    main()

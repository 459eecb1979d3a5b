"""Examples in docstrings do what they say. They know a few names beside their module's own, see `NAMES`."""

from __future__ import annotations

import doctest
import importlib
import pkgutil
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

import moondesk
from moondesk.records import FieldStop, Place, Pose

#: Parts of the core whose functions have examples. `pose`: a disc about (500, 400) of 300 px radius, north up, seen from
#: over (0, 0), the Sun over (0, 90 E).
PARTS = ("codec", "comparison", "ephemeris", "exports", "library", "moon", "placement", "quality", "records", "shadows")
NAMES = {
    "np": np,
    "UTC": UTC,
    "datetime": datetime,
    "replace": replace,
    "FieldStop": FieldStop,
    "Place": Place,
    "SAMPLE": Path(__file__).parents[2] / "sample_submissions" / "20261017_211435.jpg",
    "pose": Pose(
        x=500.0,
        y=400.0,
        radius_px=300.0,
        north_screen_deg=0.0,
        mirrored=False,
        libration_lat_deg=0.0,
        libration_lon_deg=0.0,
        sub_solar_lat_deg=0.0,
        sub_solar_lon_deg=90.0,
    ),
}
MODULES = [
    module.name
    for module in pkgutil.walk_packages(moondesk.__path__, "moondesk.")
    if module.name.split(".")[1] in PARTS
]


def examples(name: str) -> list[doctest.DocTest]:
    finder = doctest.DocTestFinder(exclude_empty=True)
    return [test for test in finder.find(importlib.import_module(name), extraglobs=NAMES) if test.examples]


@pytest.mark.parametrize("name", MODULES)
def test_examples_do_what_they_say(name):
    for test in examples(name):
        told: list[str] = []
        doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(test, out=told.append)
        assert not told, "".join(told)


def test_there_are_examples():
    assert sum(len(examples(name)) for name in MODULES) >= 55

"""How long an aspect takes: pytest -m slow tests/core/test_ephemeris_speed.py

Measured on two shared cores of a small server, Python 3.11, numpy 2.4: 0.45 ms for one photograph, 4 to 7 ms for a
hundred instants, 0.1 s once for reading the tables of leap seconds and UT1.
"""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest

from moondesk.ephemeris.aspect import aspect_at, aspects_at
from moondesk.records import Place

PLACE = Place(48.0, 16.0, 200.0)
WHEN = datetime(2026, 2, 24, 19, 30, tzinfo=UTC)

pytestmark = pytest.mark.slow


def test_one_aspect_takes_at_most_20_ms(benchmark) -> None:
    benchmark.pedantic(aspect_at, (WHEN, PLACE), rounds=100, warmup_rounds=3)
    assert benchmark.stats.stats.median < 0.020


def test_a_hundred_instants_take_at_most_20_ms(benchmark) -> None:
    times = WHEN.timestamp() + 3600.0 * np.arange(100)
    benchmark.pedantic(aspects_at, (times, PLACE), rounds=50, warmup_rounds=3)
    assert benchmark.stats.stats.median < 0.020

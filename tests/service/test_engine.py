"""The version of what places pictures is made of numbers that people raise, and of nothing else."""

from __future__ import annotations

from moondesk import revisions
from moondesk.service.jobs.engine import engine_version, load_engine, product_version


def test_the_version_is_that_of_placements_and_of_what_is_measured_beside_them(monkeypatch):
    assert engine_version() == f"{revisions.PLACEMENT}.{revisions.MEASURES}"
    assert load_engine().version == engine_version()
    assert product_version()


def test_a_mark_of_an_earlier_release_is_never_the_version_of_today():
    assert len(engine_version()) < 12
    assert "." in engine_version()  # those were hex digits alone

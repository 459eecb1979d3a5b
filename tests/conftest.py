"""Shared by all tests. Lying in the package `tests`, it makes `from tests.scenes import ...` work everywhere.

Where MOONDESK_NO_SKIPS is set, a test that skips is a failure: everything that tests want is there to be run.

Allowed to skip even then is what no package brings: data that lie beside the project (MOONDESK_SHARED), and the
libraries and processor that placements were recorded with.
"""

from __future__ import annotations

import os
from collections.abc import Iterable

import pytest

#: Parts of the reasons that may still be given.
ALLOWED = ("MOONDESK_SHARED", "folder of test scenes", "frame files", "recorded with other libraries")


#: Parts of the names of files that wait long for others, programs that are killed and browsers: they begin first, so that
#: nothing stands in line behind them at the end.
LONG = (
    "watch",
    "killed",
    "kit_command",
    "whole_threads",
    "browser",
    "walls",
    "drawn_again",
    "first_release",
    "test_package",
    "serving",
    "replies",
    "rundown",
)


def pytest_configure(config: pytest.Config) -> None:
    """Files are given out in the order below, and not the ones with the most tests first: the longest have few."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_xdist_auto_num_workers() -> int:
    """One process more than there are cores: a third of the time is waiting, for browsers, servers and programs."""
    return (os.cpu_count() or 1) + 1


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """In the order of files, the long ones first."""
    order = {part: k for k, part in enumerate(LONG)}
    items.sort(key=lambda item: min((k for part, k in order.items() if part in item.path.name), default=len(LONG)))


def forbidden_skips(reasons: Iterable[str]) -> list[str]:
    return sorted({r for r in reasons if not any(part in r for part in ALLOWED)})


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Of the whole run, also where it is shared among processes."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if not os.environ.get("MOONDESK_NO_SKIPS") or reporter is None:
        return
    skipped = forbidden_skips(
        report.longrepr[2] if isinstance(report.longrepr, tuple) else str(report.longrepr)
        for report in reporter.stats.get("skipped", ())
    )
    if skipped:
        reporter.write_line("")
        for reason in skipped:
            reporter.write_line(f"skipped though nothing may skip here: {reason}", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED

"""A real browser, and an application that it can reach. Needs Playwright and Chromium; without them its tests skip."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from servers import running

sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra: test)")

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
needs_chromium = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on the path")

#: No sandbox: tests may run as root. The rest keeps the browser from talking to anybody.
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@contextmanager
def chromium() -> Iterator[Any]:
    """A browser, ended afterwards."""
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


@contextmanager
def served(app: Any) -> Iterator[str]:
    """Its address, without a slash at its end; see `running`."""
    with running(app) as server:
        yield f"http://127.0.0.1:{server.effective_port}"


def listen_to(page: Any, complaints: list[str]) -> None:
    """Keep what the browser complains of: messages of its console, faults of scripts, answers that are errors."""
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("response", lambda r: r.status >= 400 and complaints.append(f"{r.url}: {r.status}"))

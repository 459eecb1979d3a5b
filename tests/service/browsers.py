"""A real browser, and an application that it can reach. Needs Playwright and Chromium; without them its tests skip."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from servers import running

sync_api = pytest.importorskip("playwright.sync_api", reason="Playwright is not installed (extra: test)")

#: What is waited for comes when it comes: a machine at work on much else is no fault of the page.
sync_api.expect.set_options(timeout=30_000)
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


#: The browser of the module whose tests run, with what ends it.
_open: list[tuple[Any, Any]] = []


@contextmanager
def chromium() -> Iterator[Any]:
    """The module's browser, started when it is first wanted; what was opened in it is closed afterwards."""
    if not _open:
        playwright = sync_api.sync_playwright().start()
        _open.append((playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS)), playwright))
    browser, _ = _open[0]
    before = list(browser.contexts)
    yield browser
    for context in browser.contexts:
        if context not in before:
            context.close()


def end_browser() -> None:
    """End the module's browser, if it has one: the next module may have a loop of its own."""
    while _open:
        browser, playwright = _open.pop()
        browser.close()
        playwright.stop()


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

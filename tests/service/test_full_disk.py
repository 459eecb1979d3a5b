"""The desk as it is run, on a disk that takes nothing any more: what is there is read, and the page on air goes on.

The system refuses every write to a file of the desk's process (RLIMIT_FSIZE 0), from when it has begun to serve.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from fakes import add_edition

from moondesk.service.store.records import EditionPlan
from moondesk.service.store.storage import Storage

resource = pytest.importorskip("resource")
pytestmark = pytest.mark.skipif(not hasattr(resource, "prlimit"), reason="limits of another process are Linux'")
ROOT = Path(__file__).resolve().parents[2]


def ask(port, path, body=None, **headers):
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    line.request("POST" if body else "GET", path, body, headers)
    answer = line.getresponse()
    told = answer.status, answer.read().decode(), answer.headers["Set-Cookie"] or ""
    line.close()
    return told


def test_on_a_full_disk_the_desk_is_read_and_the_page_on_air_steps(tmp_path):
    with Storage(tmp_path / "data") as storage:
        add_edition(storage, EditionPlan(number=12))
    command = [
        sys.executable,
        "-m",
        "moondesk.service",
        "serve",
        "--no-work",
        "--port",
        "0",
        "--data",
        str(tmp_path / "data"),
    ]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    ) as desk:
        try:
            port = int(re.search(r"127\.0\.0\.1:(\d+)", desk.stdout.readline())[1])
            _, page, cookie = ask(port, "/add")
            token = re.search(r'name="token" value="([^"]+)"', page)[1]
            cookie = cookie.partition(";")[0]
            assert ask(port, "/air/12/state")[0] == 200
            resource.prlimit(desk.pid, resource.RLIMIT_FSIZE, (0, 0))
            for _ in range(2):  # the connection of the request before was closed meanwhile
                for path in ("/", "/air/12/state", "/editions", "/static/desk.css"):
                    assert ask(port, path)[0] == 200, path
            now = json.loads(ask(port, "/air/12/state")[1])["now"]
            step = {"step": {"item": 1, "count": 2}}
            told = ask(
                port,
                "/air/12/state",
                json.dumps({"state": step, "at": now}),
                Cookie=cookie,
                **{"X-Form-Token": token, "Content-Type": "application/json"},
            )
            assert (told[0], json.loads(told[1])["state"]) == (200, step), told
            assert json.loads(ask(port, "/air/12/state")[1])["state"] == step
            status, page, _ = ask(
                port,
                "/air/links",
                f"token={token}&label=mixer",
                Cookie=cookie,
                **{"Content-Type": "application/x-www-form-urlencoded"},
            )
            assert (status, "Is the disk full" in page) == (503, True)
        finally:
            desk.terminate()
            desk.communicate(timeout=30)

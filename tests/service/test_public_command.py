"""`moondesk receive`: the upload page from the command line."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import urllib.request

from click.testing import CliRunner

from moondesk.service.cli.main import main


def test_it_serves_the_form_and_says_where(tmp_path):
    command = [sys.executable, "-m", "moondesk.service", "receive", "--data", str(tmp_path / "data"), "--port", "0"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}
    ) as process:
        try:
            address = re.search(r"http://127\.0\.0\.1:\d+/", process.stdout.readline()).group()
            with urllib.request.urlopen(address, timeout=10) as answer:
                assert answer.status == 200
                assert b"Send us your Moon" in answer.read()
        finally:
            process.terminate()


def test_what_cannot_be_used_is_a_sentence(tmp_path):
    wrong = CliRunner().invoke(main, ["receive", "--data", str(tmp_path), "--host", "moon.example.org"])
    assert (wrong.exit_code, "is no address to listen on" in wrong.stderr) == (2, True)
    (tmp_path / "moondesk.toml").write_text("[public]\nproxies = '127.0.0.1'\n")
    wrong = CliRunner().invoke(main, ["receive", "--data", str(tmp_path)])
    assert (wrong.exit_code, "[public] proxies: it is a list" in wrong.stderr) == (2, True)

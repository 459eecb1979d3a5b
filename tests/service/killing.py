"""A program that is run many times and killed at given instants: what it loads is loaded once, each run is a fork of that."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType

ROOT = Path(__file__).resolve().parents[2]
#: Reads one line for each run: its arguments, where its words and complaints go. Answers with how it ended.
STEM = """
import json, os, sys, traceback
from datetime import UTC, datetime
from moondesk.service.intake import intake, watch
from moondesk.service.jobs.executors import InProcess
from moondesk.service.programme.letter.reading import read_letter
from moondesk.service.programme.mail_text import parts_of
for text in ("Good evening, here is my Moon. With a 6 inch Dobsonian. You may show it.", "hello"):
    read_letter("Moon 3", "Sender 3", parts_of(text), datetime(2026, 3, 26, tzinfo=UTC))
source = compile(sys.argv[1], "taker", "exec")
for line in sys.stdin:
    arguments, out, err = json.loads(line)
    pid = os.fork()
    if pid == 0:
        for path, number in ((out, 1), (err, 2)):
            os.dup2(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC), number)
        sys.argv, ended = ["taker", *arguments], 0
        try:
            exec(source, {"__name__": "taker"})
        except BaseException:
            traceback.print_exc()
            ended = 1
        sys.stdout.flush()
        os._exit(ended)
    print(os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]), flush=True)
"""


@dataclass(frozen=True)
class Run:
    """returncode: negative where a signal ended it, as `subprocess` has it."""

    returncode: int
    stdout: str
    stderr: str


class Stem:
    """Runs `source`, Python whose arguments stand in sys.argv; its mails are read in its own process."""

    def __init__(self, source: str) -> None:
        self._folder = tempfile.TemporaryDirectory()
        self._stem = subprocess.Popen(
            [sys.executable, "-c", STEM, source],
            cwd=ROOT,
            text=True,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "PYTHONPATH": str(ROOT)},
        )

    def run(self, *arguments: object) -> Run:
        assert self._stem.stdin
        assert self._stem.stdout
        out, err = (Path(self._folder.name, name) for name in ("out", "err"))
        self._stem.stdin.write(json.dumps([list(map(str, arguments)), str(out), str(err)]) + "\n")
        self._stem.stdin.flush()
        return Run(int(self._stem.stdout.readline()), out.read_text(), err.read_text())

    def __enter__(self) -> Stem:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        assert self._stem.stdin
        assert self._stem.stdout
        self._stem.stdin.close()
        self._stem.wait(30)
        self._stem.stdout.close()
        self._folder.cleanup()

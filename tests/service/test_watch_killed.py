"""The watcher killed at any instant between a mail's receipt and its commit, mark and note: nothing lost or doubled.

As in test_killed the instants are seeded and counted in calls of the shell's own functions, and in those of the
libraries that they call; the seeds go through STEPS in turn, so that each is struck five times. pytest -m slow runs 50
of them against each server, the quick tests one.
"""

from __future__ import annotations

import hashlib
import json
import random
import sys
from pathlib import Path

import pytest
from imap_double import MailServer
from imap_servers import Dovecot, why_no_dovecot
from killing import Stem
from odd_mails import LIMIT, odd_mails, submissions

from moondesk.service.store.backup import check
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import each_submission

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
#: The functions between a mail's receipt and its note, in which, or in what they call, the watcher is killed.
STEPS = (
    "Mailbox.fetch",
    "Intake.take",
    "Reader.arrival",
    "Media.put",
    "write_whole",
    "add_submission",
    "Storage.writing",
    "Mailbox.mark",
    "note",
    "begin",
)
TAKER = """
import json, os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from moondesk.service.settings.config import Config, IntakeLimits
from moondesk.service.intake.imap import MailboxAccount
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.reading import Reader
from moondesk.service.intake.watch import Watch
from moondesk.service.jobs.executors import InProcess
from moondesk.service.store.media import Media
from moondesk.service.store.storage import Storage

port, data, last, count = int(sys.argv[1]), Path(sys.argv[2]), int(sys.argv[3]), 0
met = {}

def step(frame, event, _):
    global count
    if "service" in frame.f_code.co_filename and not any(part in frame.f_code.co_filename for part in ("programme", "lexicons")):
        count += 1
        met.setdefault(frame.f_code.co_qualname, []).append(count)
        if count == last:
            os.write(2, frame.f_code.co_qualname.encode())
            os.kill(os.getpid(), signal.SIGKILL)

def now():
    return datetime(2026, 3, 26, 8, 0, tzinfo=UTC)

config = Config(data_dir=data, limits=IntakeLimits(mail_bytes=int(sys.argv[4])))
sys.setprofile(step)
with Storage(data) as storage:
    def intake():
        return Intake(
            storage=storage,
            media=Media(data),
            edition=open_edition(storage, config, now(), lambda _: None),
            config=config,
            now=now,
            reader=Reader(InProcess()),
        )
    for item in Watch(
        account=MailboxAccount(host="127.0.0.1", user="bo", port=port, plain=True),
        password="secret",
        intake=intake,
        say=print,
        stopped=lambda: False,
        pause=lambda _: None,
    ).run(once=True):
        pass
sys.setprofile(None)
print(json.dumps(met))
"""


@pytest.fixture(
    scope="module",
    params=[
        "double",
        pytest.param(
            "dovecot", marks=[pytest.mark.slow, pytest.mark.skipif(bool(why_no_dovecot()), reason=why_no_dovecot())]
        ),
    ],
)
def server(request):
    with (MailServer if request.param == "double" else Dovecot)(odd_mails()) as opened:
        yield opened


@pytest.fixture(scope="module")
def watch(server):
    with Stem(TAKER) as stem:
        yield lambda data, last_step=0: stem.run(server.port, data, last_step, LIMIT)


def taken(data: Path) -> list[tuple[str, tuple[str | None, ...]]]:
    with Storage(data) as storage:
        return sorted(
            (s.submission.arrival.key, tuple(e.sha256 for e, _ in s.pictures)) for s in each_submission(storage)
        )


@pytest.fixture(scope="module")
def whole(watch, tmp_path_factory):
    """A run that nobody disturbed: what it took, and when it was in which function."""
    data = tmp_path_factory.mktemp("whole") / "data"
    done = watch(data)
    assert done.returncode == 0, done.stderr
    met = json.loads(done.stdout.splitlines()[-1])
    assert set(STEPS) <= set(met)
    return taken(data), met


@pytest.mark.parametrize("seed", [0, *(pytest.param(k, marks=pytest.mark.slow) for k in range(1, 50))])
def test_killed(watch, whole, tmp_path, seed):
    expected, met = whole
    steps = max(k for counts in met.values() for k in counts)
    assert len(expected) == submissions()
    rng = random.Random(seed)
    data = tmp_path / "data"
    killed = watch(data, rng.choice(met[STEPS[seed % len(STEPS)]]))
    assert killed.returncode == -9
    print("killed in", killed.stderr)
    if seed % 3 == 0:  # and once more, on the way back
        watch(data, rng.randrange(1, steps))
    done = watch(data)
    assert done.returncode == 0, done.stderr
    assert taken(data) == expected
    assert check(data).problems == ()
    for path in (data / "originals").rglob("*"):
        if path.is_file():
            assert hashlib.sha256(path.read_bytes()).hexdigest() == path.name

"""The taker killed at any instant between receipt and commit: the next run finds nothing lost and doubles nothing.

The instants are seeded and counted in calls of the shell's own functions, so that every step is reached: pytest -m slow
runs 50 of them, the quick tests four.
"""

from __future__ import annotations

import hashlib
import io
import mailbox
import random
import sys
import zipfile
from email.message import EmailMessage
from pathlib import Path

import pytest
from fakes import jpeg_with_gps, png
from killing import Stem

from moondesk.service.store.backup import check
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import each_submission

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
TAKER = """
import os, signal, sys
from datetime import UTC, datetime
from pathlib import Path
from moondesk.service.settings.config import Config
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.reading import Reader
from moondesk.service.jobs.executors import InProcess
from moondesk.service.store.media import Media
from moondesk.service.store.storage import Storage

last, count = int(sys.argv[3]), 0

def step(frame, event, _):
    global count
    if "service" in frame.f_code.co_filename and not any(part in frame.f_code.co_filename for part in ("programme", "lexicons")):
        count += 1
        if count == last:
            os.kill(os.getpid(), signal.SIGKILL)

def now():
    return datetime(2026, 3, 26, 8, 0, tzinfo=UTC)

config = Config(data_dir=Path(sys.argv[2]))
sys.setprofile(step)
with Storage(config.data_dir) as storage:
    edition = open_edition(storage, config, now(), lambda _: None)
    intake = Intake(storage=storage, media=Media(config.data_dir), edition=edition, config=config, now=now, reader=Reader(InProcess()))
    for item in intake.take_path(Path(sys.argv[1])):
        pass
sys.setprofile(None)
print(count)
"""


@pytest.fixture(scope="module")
def mails(tmp_path_factory):
    """Every kind of source, some of it odd."""
    folder = tmp_path_factory.mktemp("arriving")
    directory, box = mailbox.Maildir(folder / "box"), mailbox.mbox(folder / "evening.mbox")
    for k in range(6):
        message = EmailMessage()
        message["From"] = f"Sender {k} <s{k}@example.org>"
        message.set_content("With a 6 inch Dobsonian. You may show it.")
        message.add_attachment(png(shade=k), maintype="image", subtype="png", filename=f"{k}.png")
        if k % 2:
            directory.add(message)
        else:
            box.add(message)
    box.close()
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        archive.writestr("a.png", png(shade=40))
        archive.writestr("b.jpg", jpeg_with_gps())
    (folder / "more.zip").write_bytes(buffer.getvalue())
    (folder / "loose.png").write_bytes(png(shade=50))
    (folder / "odd.eml").write_bytes(b"From: (((((\nSubject: =?x?Q?=ZZ?=\n\n\0\n")
    (folder / "page.jpg").write_bytes(b"<html>not a picture</html>")
    return folder


@pytest.fixture(scope="module")
def take(mails):
    with Stem(TAKER) as stem:
        yield lambda data, last_step=0: stem.run(mails, data, last_step)


def taken(data: Path) -> list[tuple[str, tuple[str | None, ...]]]:
    with Storage(data) as storage:
        return sorted(
            (s.submission.arrival.key, tuple(e.sha256 for e, _ in s.pictures)) for s in each_submission(storage)
        )


@pytest.fixture(scope="module")
def whole(take, tmp_path_factory):
    """A run that nobody disturbed: what it took, and in how many steps."""
    data = tmp_path_factory.mktemp("whole") / "data"
    done = take(data)
    assert done.returncode == 0, done.stderr
    return taken(data), int(done.stdout)


def instants(count: int) -> list[int]:
    """Seeds; the first of them strike early, while the store itself is made."""
    return list(range(count))


def killed_and_taken_again(take, whole, tmp_path, seed):
    expected, steps = whole
    assert len(expected) == 10
    rng = random.Random(seed)
    data = tmp_path / "data"
    at = rng.randrange(1, steps if seed % 4 else steps // 10)
    assert take(data, at).returncode == -9
    if seed % 3 == 0:  # and once more, on the way back
        take(data, rng.randrange(1, steps))
    done = take(data)
    assert done.returncode == 0, done.stderr
    assert taken(data) == expected
    assert check(data).problems == ()
    for path in (data / "originals").rglob("*"):
        if path.is_file():
            assert hashlib.sha256(path.read_bytes()).hexdigest() == path.name


@pytest.mark.parametrize("seed", instants(4))
def test_killed(take, whole, tmp_path, seed):
    killed_and_taken_again(take, whole, tmp_path, seed)


@pytest.mark.slow
@pytest.mark.parametrize("seed", instants(54)[4:])
def test_killed_at_fifty_more_instants(take, whole, tmp_path, seed):
    killed_and_taken_again(take, whole, tmp_path, seed)

"""Several programs place from one queue, and are killed: every picture is placed, none of them twice."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

import fakes
import pytest
from fakes import add_edition

from moondesk.service.store.records import Arrival, EditionPlan, Enclosure
from moondesk.service.store.strays import faults
from moondesk.service.store.submissions import add_submission

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="there is no SIGKILL")
ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)
PLACER = """
import sys
from datetime import UTC, datetime
from pathlib import Path
import fakes
from moondesk.service.settings.config import Config
from moondesk.service.store.storage import Storage
from moondesk.service.jobs import waiting
from moondesk.service.store.media import Media

waiting.LEASE_SECONDS, waiting.RENEW_SECONDS = 3.0, 1.0
if __name__ == "__main__":
    data = Path(sys.argv[1])
    with Storage(data) as storage:
        config = Config(data_dir=data, workers=int(sys.argv[2]))
        for picture, _ in waiting.place_waiting(storage, Media(data), config, fakes.load, "fake 1",
                                                lambda: datetime.now(UTC)):
            print(picture.id, flush=True)
"""


def start(data: Path, workers: int) -> subprocess.Popen[str]:
    path = os.pathsep.join([str(ROOT), str(Path(__file__).parent)])
    return subprocess.Popen(
        [sys.executable, "-c", PLACER, str(data), str(workers)],
        cwd=ROOT,
        text=True,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={**os.environ, "PYTHONPATH": path},
    )


@pytest.mark.parametrize("seed", [0, *(pytest.param(k, marks=pytest.mark.slow) for k in range(1, 10))])
def test_three_at_once_of_whom_two_are_killed(storage, media, config, seed):
    rng = random.Random(seed)
    edition = add_edition(storage, EditionPlan(number=1))
    for k in range(40):
        data = fakes.png(80 + k)
        add_submission(
            storage,
            edition.id,
            Arrival(
                key=f"file:{k:064x}",
                source="folder",
                origin=f"{k}.png",
                enclosures=(
                    Enclosure(
                        given_name=f"{k}.png", size_bytes=len(data), sha256=media.put(data), media_type="image/png"
                    ),
                ),
            ),
            NOW,
        )

    def placed() -> int:
        return int(storage.read("select count(*) as n from annotations")[0]["n"])

    placers = [start(config.data_dir, workers) for workers in (0, 2 if seed % 2 else 0, 0)]
    for placer, count in zip(placers, sorted(rng.sample(range(1, 35), 2)), strict=False):
        until = time.monotonic() + 60
        while placed() < count and time.monotonic() < until:
            time.sleep(0.01)
        placer.kill()
        placer.communicate()
    _, said = placers[2].communicate(timeout=60)
    assert placers[2].returncode == 0, said
    time.sleep(3.1)  # what the killed ones had is free by then
    last = start(config.data_dir, 0)
    _, said = last.communicate(timeout=60)
    assert last.returncode == 0, said
    rows = storage.read("select count(*) as n, count(distinct picture_id) as m from annotations")
    assert rows == [{"n": 40, "m": 40}]
    assert storage.read("select * from jobs") == []
    assert faults(storage) == ()

from __future__ import annotations

import functools
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from fakes import jpeg_with_gps, png

from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.media import Media
from moondesk.service.store.storage import Storage

# Children read no code but the product's, what is installed, and what this names: the tests have functions run in them.
os.environ["PYTHONPATH"] = os.pathsep.join(
    dict.fromkeys([str(Path(__file__).parent), *filter(None, os.environ.get("PYTHONPATH", "").split(os.pathsep))])
)

TABLE = """file,received_utc,taken_utc,latitude,longitude,place,name,credit,equipment,consent
a.png,2026-03-25T21:00:00Z,,48.2,16.4,Vienna,Ilse,Ilse from Vienna,6 inch,yes by form
b.jpg,not a time,,95,16,,Bo,,,
gone.jpg,,,,,,,,,
"""


@pytest.fixture(scope="module", autouse=True)
def _one_browser_a_module():
    """Also ended, so that no later module finds its loop running."""
    yield
    if "browsers" in sys.modules:
        sys.modules["browsers"].end_browser()


@pytest.fixture
def folder(tmp_path):
    """A folder as it arrives: two pictures with their table, one more without a row, odd files."""
    path = tmp_path / "folder"
    (path / "sub").mkdir(parents=True)
    (path / "a.png").write_bytes(png())
    (path / "b.jpg").write_bytes(jpeg_with_gps())
    (path / "sub" / "c.png").write_bytes(png(shade=30))
    (path / "page.jpg").write_bytes(b"<html><body>not a picture</body></html>")
    (path / "README.md").write_text("about")
    (path / ".hidden.png").write_bytes(png(shade=1))
    (path / "submissions.csv").write_text(TABLE, encoding="utf-8-sig")
    return path


@pytest.fixture
def config(tmp_path):
    return Config(data_dir=tmp_path / "data", programme=Programme("The Evening Sky", "Europe/Vienna"))


@pytest.fixture
def storage(config):
    with Storage(config.data_dir) as opened:
        yield opened


@pytest.fixture
def media(config):
    return Media(config.data_dir)


@pytest.fixture
def bubblewrap(request):
    """Skips a test for walls by bubblewrap where that is not installed, or may not do its work."""
    if request.node.callspec.params.get("walls") == "bubblewrap" and not bubblewrap_works():
        pytest.skip("bubblewrap is not installed, or this system lets it do nothing")


@functools.cache
def bubblewrap_works() -> bool:
    program = shutil.which("bwrap")
    return (
        program is not None
        and subprocess.run([program, "--unshare-all", "--ro-bind", "/", "/", "true"], capture_output=True).returncode
        == 0
    )

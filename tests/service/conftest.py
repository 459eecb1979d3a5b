from __future__ import annotations

import pytest
from fakes import jpeg_with_gps, png

from service.config import Config, Programme
from service.store.storage import Storage
from service.work.media import Media

TABLE = """file,received_utc,taken_utc,latitude,longitude,place,name,credit,equipment,consent
a.png,2026-03-25T21:00:00Z,,48.2,16.4,Vienna,Ilse,Ilse from Vienna,6 inch,yes by form
b.jpg,not a time,,95,16,,Bo,,,
gone.jpg,,,,,,,,,
"""


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
    return Config(tmp_path / "data", Programme("The Evening Sky", "Europe/Vienna"))


@pytest.fixture
def storage(config):
    with Storage(config.data_dir) as opened:
        yield opened


@pytest.fixture
def media(config):
    return Media(config.data_dir)

"""A further way by which pictures come is a row and the module that has the things: all else follows from the row."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import fakes
import pytest

from moondesk.service.arrivals import ARRIVAL_WAYS, Way
from moondesk.service.intake import reading
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.jobs.executors import InProcess
from moondesk.service.programme.permission import permission
from moondesk.service.settings.config import IntakeLimits
from moondesk.service.store.erasures import old_mails
from moondesk.service.store.settings import load_config
from moondesk.service.store.submissions import each_submission

NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


@pytest.fixture(params=[False, True], ids=["files", "mails"])
def way(request, monkeypatch):
    made = Way(name="feed", words="from a feed", section="feed", keys=("address",), is_mail=request.param)
    monkeypatch.setitem(ARRIVAL_WAYS, made.name, made)
    return made


def test_what_it_brings_bears_its_name_and_words_and_says_yes_to_nothing(way):
    data = b"From: a@b\r\n\r\nhello" if way.is_mail else fakes.png()
    received = ReceivedItem(data=data, origin="1", name="a.png", source="feed")
    arrival, contents = reading.Reader(InProcess()).arrival(received, "feed:1", IntakeLimits())
    assert (arrival.source, arrival.way.words) == ("feed", "from a feed")
    assert contents[0] == data
    assert not permission(arrival).given
    assert not permission(
        arrival, entry_terms="Terms of 2026"
    ).given  # nobody has entered by a way that does not say so


def test_it_is_stored_and_listed(way, storage, media, config):
    intake = Intake(
        storage=storage,
        media=media,
        edition=open_edition(storage, config, NOW, lambda _: None),
        config=config,
        now=lambda: NOW,
        reader=reading.Reader(InProcess()),
    )
    data = b"From: a@b\r\n\r\nhello" if way.is_mail else fakes.png()
    assert intake.take(ReceivedItem(data=data, origin="1", name="a.png", source="feed")).outcome == "taken"
    (listed,) = each_submission(storage)
    assert listed.submission.arrival.way == way
    assert len(old_mails(storage, NOW + timedelta(days=1))) == way.is_mail


def test_it_has_its_section_of_the_settings(way, tmp_path):
    (tmp_path / "moondesk.toml").write_text('[feed]\naddress = "https://example.org/feed"\n')
    assert load_config(tmp_path).ways["feed"] == {"address": "https://example.org/feed"}


def test_every_way_has_words_of_its_own():
    assert len({way.words for way in ARRIVAL_WAYS.values()}) == len(ARRIVAL_WAYS)
    assert {name: way.name for name, way in ARRIVAL_WAYS.items()} == {name: name for name in ARRIVAL_WAYS}

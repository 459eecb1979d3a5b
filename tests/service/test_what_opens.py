"""What this installation opens is what people are invited to send, and what it lacks is said."""

from __future__ import annotations

import importlib.metadata
import importlib.util

import pytest
from click.testing import CliRunner

from moondesk.files.formats import FORMATS
from moondesk.files.formats.heif import HeicFile
from moondesk.service.cli.main import main
from moondesk.service.intake import picture_formats
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.public.app import create_public_app


@pytest.fixture(params=[True, False], ids=["with HEIC", "without"])
def heic(request, monkeypatch):
    """An installation with what opens HEIC and one without; neither with camera raw."""
    found = {"pillow_heif": object() if request.param else None, "rawpy": None}
    monkeypatch.setattr(
        importlib.util,
        "find_spec",
        lambda name, of=importlib.util.find_spec: found[name] if name in found else of(name),
    )
    monkeypatch.setattr(importlib.metadata, "version", lambda _: "1.8.1")
    return request.param


def test_the_upload_pages_list_only_what_this_installation_opens(config, storage, heic):
    for client, address in ((create_public_app(config).test_client(), "/"), (create_app(config).test_client(), "/add")):
        text = client.get(address).text
        assert ("HEIC" in text, ".heic" in text) == (heic, heic), address
        assert "camera raw" not in text
        assert ".cr2" not in text
        assert "image/*" not in text  # a phone would send HEIC under it
        assert picture_formats.words() in text
        assert picture_formats.accept_attribute() in text
        assert f" or {FORMATS[-2].words}" in text  # camera raw, the last, is missing here


def test_an_unsafe_release_counts_as_none(monkeypatch):
    monkeypatch.setattr(importlib.util, "find_spec", lambda _: object())
    monkeypatch.setattr(importlib.metadata, "version", lambda _: "1.6.9")
    assert not HeicFile.extra.is_usable()
    assert any("moondesk[heic]" in sentence for sentence in picture_formats.missing_extras())


@pytest.mark.parametrize("command", [["serve"], ["receive"], ["watch"], ["demo"]])
def test_a_missing_extra_is_said_at_the_start(tmp_path, monkeypatch, heic, command):
    monkeypatch.setattr("moondesk.service.cli.serve.serve_desk", lambda *_, **__: None)
    monkeypatch.setattr("moondesk.service.cli.receive.public_server", _ends)
    monkeypatch.setattr("tempfile.mkdtemp", _ends)
    args = [*command, *(["--data", str(tmp_path)] if command != ["demo"] else [])]
    result = CliRunner().invoke(main, args)
    assert ("pip install 'moondesk[heic]'" in result.stderr) is (not heic)
    assert "pip install 'moondesk[raw]'" in result.stderr


def _ends(*_, **__):
    raise SystemExit(0)

"""A desk with pictures, accounts and a program's token, for the tests of the API."""

from __future__ import annotations

import shutil
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace

import fakes
from desk_people import NOW, make_account
from flask import Flask
from waitress import create_server

from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.settings.config import Programme
from moondesk.service.store import logins
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app

PROGRAMME = Programme("The Evening Sky", "Europe/Vienna")
TABLE = """file,received_utc,taken_utc,latitude,longitude,place,name,credit,equipment,consent
a.png,2026-03-25T21:00:00Z,,48.2,16.4,Vienna,Ilse,Ilse from Vienna,6 inch,yes by form
b.jpg,not a time,,95,16,,Bo,,,
"""


@dataclass(frozen=True)
class ApiDesk:
    """ids: of pictures by the names of their files. token: of a helper's program."""

    app: Flask
    ids: dict[str, int]
    token: str

    @property
    def headers(self) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.token}"}


class Program:
    """A program that asks with its token."""

    def __init__(self, desk):
        self.client, self.headers = desk.app.test_client(), desk.headers

    def ask(self, path, method="GET", body=None, match=None, **how):
        headers = {**self.headers, **({"If-Match": match} if match is not None else {}), **how.pop("headers", {})}
        if body is not None:
            how["json"] = body
        return self.client.open(f"/api{path}", method=method, headers=headers, **how)

    def get(self, path):
        answer = self.ask(path)
        assert answer.status_code == 200, answer.text
        assert answer.content_type == "application/json"
        return answer.json


def is_problem(answer, status, words=""):
    """RFC 9457: the members, the media type, and a sentence that helps."""
    assert answer.status_code == status, answer.text
    assert answer.content_type == "application/problem+json"
    told = answer.json
    assert told["status"] == status
    assert {"type", "title", "detail"} <= set(told)
    assert words in answer.text, answer.text
    return told


def fill_folder(folder) -> None:
    """Pictures with their table, as those of the common fixture."""
    folder.mkdir(parents=True)
    (folder / "a.png").write_bytes(fakes.png())
    (folder / "b.jpg").write_bytes(fakes.jpeg_with_gps())
    (folder / "c.png").write_bytes(fakes.png(shade=30))
    (folder / "page.jpg").write_bytes(b"<html><body>not a picture</body></html>")
    (folder / "submissions.csv").write_text(TABLE, encoding="utf-8-sig")


def copied(desk: ApiDesk, config) -> ApiDesk:
    """The same desk over a copy of its data folder."""
    shutil.copytree(desk.app.extensions["moondesk.config"].data_dir, config.data_dir)
    return replace(desk, app=application(config))


def open_desk(folder, config) -> ApiDesk:
    """Placed, unsure, refused, not-the-Moon and waiting pictures of edition 1."""
    (folder / "d.png").write_bytes(fakes.png(fakes.NOT_MOON))
    (folder / "e.png").write_bytes(fakes.png(fakes.UNSURE))
    with Storage(config.data_dir) as storage:
        media, edition = Media(config.data_dir), open_edition(storage, config, NOW, lambda _: None)
        list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
        list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
        (folder / "waiting.png").write_bytes(fakes.png(shade=200))
        list(Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder))
        ids = {p.picture.enclosure.given_name: p.picture.id for p in list_pictures(storage, edition.id)}
        make_account(config.data_dir, "Ada", "presenter")
        account = make_account(config.data_dir, "Bo", "helper")
        token = logins.add_token(storage, account.id, "a program", "helper", NOW, "Bo")
    return ApiDesk(application(config), ids, token)


def application(config) -> Flask:
    """The desk with the stand-in for the core, also where something is drawn when it is asked for."""
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(fakes.load, 60, InProcess())
    return app


@contextmanager
def served(app: Flask) -> Iterator[str]:
    """The application behind the server that the desk uses, on a free port of this machine; its address."""
    server = create_server(app, host="127.0.0.1", port=0, ident=None, threads=2)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.close()
        thread.join(10)

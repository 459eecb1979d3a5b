"""A desk whose pictures came by mail, for the tests of consent and of letters."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from email.message import EmailMessage
from pathlib import Path

import fakes
from fakes import add_edition

from moondesk.service.intake.intake import Intake
from moondesk.service.intake.reading import Reader
from moondesk.service.intake.sources import ReceivedItem
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.store import rundowns
from moondesk.service.store.editions import list_editions
from moondesk.service.store.media import Media
from moondesk.service.store.records import EditionPlan
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
AIR = datetime(2026, 3, 26, 20, 0, tzinfo=UTC)
#: Of each picture, pixels.
SIZE = 300
TERMS = "By sending a picture you let us show it."


def load():
    """The stand-in for the core, for pictures that are larger than a signature's."""
    return replace(
        fakes.load(), annotate=lambda data, known: replace(fakes.annotate_picture(data, known), width=SIZE, height=SIZE)
    )


def mail(sender: str, body: str, subject: str = "", shade: int | None = None, size: int = SIZE, **heads: str) -> bytes:
    """A mail; shade: of its picture, None: it has none. heads: more header lines, - written _."""
    name = sender.partition("@")[0].capitalize()
    message = EmailMessage()
    message["From"], message["Subject"] = f"{name} <{sender}>", subject
    message["Date"], message["Message-ID"] = "Thu, 26 Mar 2026 17:00:00 +0000", f"<{abs(hash((sender, body)))}@x.org>"
    for head, value in heads.items():
        del message[head.replace("_", "-")]
        message[head.replace("_", "-")] = value
    message.set_content(body)
    if shade is not None:
        message.add_attachment(fakes.png(size, size, shade=shade), maintype="image", subtype="png", filename="moon.png")
    return message.as_bytes()


def with_terms(config):
    return replace(config, entry_terms=TERMS)


def taken(storage: Storage, config, *raw: bytes, edition: int = 12) -> list[int]:
    """Take mails into an edition and place their pictures; the ids of their submissions."""
    found = next((e for e in list_editions(storage) if e.plan.number == edition), None) or add_edition(
        storage, EditionPlan(number=edition, air_utc=AIR)
    )
    media = Media(config.data_dir)
    intake = Intake(
        storage=storage, media=media, edition=found, config=config, now=lambda: NOW, reader=Reader(InProcess())
    )
    for k, data in enumerate(raw):
        intake.take(ReceivedItem(data=data, origin=f"{k}.eml", name=f"{k}.eml", source="mail"))
    list(place_waiting(storage, media, config, load, "fake 1", lambda: NOW, InProcess()))
    return [row["id"] for row in storage.read("select id from submissions order by id")][-len(raw) :]


def taken_file(storage: Storage, config, path: Path) -> None:
    edition = list_editions(storage)[0]
    media = Media(config.data_dir)
    list(
        Intake(
            storage=storage, media=media, edition=edition, config=config, now=lambda: NOW, reader=Reader(InProcess())
        ).take_path(path)
    )
    list(place_waiting(storage, media, config, load, "fake 1", lambda: NOW, InProcess()))


def picture_of(storage: Storage, submission_id: int) -> int:
    return storage.read("select id from pictures where submission_id = ? order by id", [submission_id])[0]["id"]


def pick(storage: Storage, picture_id: int) -> int:
    edition = list_editions(storage)[0]
    return rundowns.add(storage, edition.id, picture_id, "Ada", NOW).item_id


def application(config):
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(load, 60, InProcess())
    return app

"""One person's whole record as one ZIP: their files, what is known of them as JSON, and a README in words."""

from __future__ import annotations

import json
import os
import tempfile
import zipfile
from contextlib import suppress
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from moondesk.codec import annotation_to_json
from moondesk.service.errors import DeskError, NotStoredError, StorageError
from moondesk.service.jobs.missing_pictures import redraw_missing
from moondesk.service.programme.words import status_words
from moondesk.service.store.person import PersonRecord
from moondesk.service.store.records import StoredAnnotation
from moondesk.service.studio import Studio

README = """\
What {programme} has stored of you
Written on {day} for: {senders}

person.json    everything that is known of what you sent, one entry for each mail or form: what you wrote, what was read
               from your words, what you agreed to or refused and when, questions that you were asked and your answers,
               replies to you, what people at the programme decided about your pictures, and when they were on air
files/         what you sent, exactly as it came: mails, forms, pictures; and the frames in which they were on air
labelled/      your pictures with the names that the program put on them
annotations/   how each picture was placed on the Moon, in full, for programs

{counts}

Names of people at the programme are left out, and so is what other people sent. Of what somebody else passed on there are
the pictures, not that person's mail. Times are UTC. Safety copies hold the same until they are made anew.
You may ask that anything here is put right, or that all of it is erased.{contact}
"""


def write_person(studio: Studio, record: PersonRecord, senders: tuple[str, ...], out: Path, now: datetime) -> list[str]:
    """Write the archive, whole or not at all, readable by its owner alone; sentences about what could not be added.
    Raises StorageError."""
    problems: list[str] = []
    try:
        handle, aside = tempfile.mkstemp(dir=out.parent, prefix=".part-", suffix=".zip")
        try:
            with os.fdopen(handle, "wb") as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
                _write(archive, studio, record, senders, now, problems)
            os.replace(aside, out)
        except BaseException:
            with suppress(OSError):
                os.unlink(aside)
            raise
    except OSError as error:
        raise StorageError(f"{out} cannot be written: {error.strerror}.", "Name another place with --out.") from error
    return problems


def _write(
    archive: zipfile.ZipFile,
    studio: Studio,
    record: PersonRecord,
    senders: tuple[str, ...],
    now: datetime,
    problems: list[str],
) -> None:
    for one in record.files:
        try:
            archive.write(studio.media.path(one.sha256), f"files/{one.name}")
        except (NotStoredError, FileNotFoundError):
            problems.append(f"{one.name} is missing from the store.")
    for picture_id, stored in record.annotations.items():
        archive.writestr(f"annotations/{picture_id}.json", annotation_to_json(stored.annotation))
        try:
            path = redraw_missing(studio.storage, studio.media, studio.run, picture_id, "labelled")
        except DeskError as error:
            path = None
            problems.append(f"The labelled picture {picture_id} could not be drawn: {error}")
        if path is not None:
            archive.write(path, f"labelled/{picture_id}.png")
    whole = {
        "programme": studio.config.programme.name,
        "written_utc": now.astimezone(UTC).isoformat(),
        "person": list(senders),
        "submissions": [_with_summaries(s, record) for s in record.submissions],
        "files": [asdict(one) for one in record.files],
    }
    archive.writestr("person.json", json.dumps(whole, ensure_ascii=False, indent=1))
    archive.writestr("README.txt", readme(studio, record, senders, now))


def readme(studio: Studio, record: PersonRecord, senders: tuple[str, ...], now: datetime) -> str:
    pictures = [p for s in record.submissions for p in s["pictures"]]
    lines = [
        f"{len(record.submissions)} mails or forms, {len(pictures)} pictures.",
        *(
            f"- {(s['received_utc'] or s['stored_utc'])[:16].replace('T', ' ')}: {s['subject'] or 'no subject'}; "
            f"{len(s['pictures'])} pictures; {_consent_words(s)}"
            for s in record.submissions
        ),
    ]
    contact = studio.config.public.contact
    return README.format(
        programme=studio.config.programme.name,
        day=now.astimezone(UTC).date().isoformat(),
        senders=", ".join(senders),
        counts="\n".join(lines),
        contact=f" Ask: {contact}." if contact else "",
    )


def _consent_words(told: dict[str, Any]) -> str:
    if not told["consents"]:
        return "nothing is noted about showing it"
    last = told["consents"][-1]
    return f"showing it: {last['state']}, noted {last['noted_utc'][:16].replace('T', ' ')}"


def _with_summaries(told: dict[str, Any], record: PersonRecord) -> dict[str, Any]:
    pictures = [{**p, "annotation": _summary(record.annotations.get(p["id"]))} for p in told["pictures"]]
    return {**told, "pictures": pictures}


def _summary(stored: StoredAnnotation | None) -> dict[str, Any] | None:
    if stored is None:
        return None
    a = stored.annotation
    return {
        "made_utc": stored.made_utc.isoformat(),
        "status": status_words(a.status, a.sure),
        "reason": a.reason,
        "taken_utc": a.time.utc.isoformat() if a.time else None,
        "features": len(a.features),
        "whole": f"annotations/{stored.picture_id}.json",
    }

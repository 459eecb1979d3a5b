"""Rows of the store to records: the way back from what `storage` wrote. Pure; no SQL here."""

from __future__ import annotations

import json
import zlib
from collections.abc import Sequence
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from moondesk.codec import annotation_from_json, annotation_to_json
from moondesk.records import Annotation, ClockVerdict, EveningVerdict, Place, Status
from moondesk.service.store.decided import DecidedChange, apply_decisions
from moondesk.service.store.messages import message_of, read_list, read_sentences, words_of
from moondesk.service.store.records import (
    AnnotationSummary,
    Arrival,
    ConsentRecord,
    Edition,
    EditionPlan,
    Enclosure,
    ListedPicture,
    ListedSubmission,
    SentPicture,
    Submission,
    Suggestion,
)


def pack(annotation: Annotation) -> bytes:
    """An annotation as the store keeps it: JSON, deflated. Takes 25 ms, so that workers do it, each for its own."""
    return zlib.compress(annotation_to_json(annotation).encode(), 6)


@lru_cache(maxsize=32)  # a plan on air reads the same few with each view
def unpack(data: bytes) -> Annotation:
    """Raises zlib.error or ValueError for what `pack` did not make."""
    return annotation_from_json(zlib.decompress(data).decode())


def time_text(when: datetime | None) -> str | None:
    """ISO 8601 with offset; ValueError for a time without one."""
    if when is not None and when.tzinfo is None:
        raise ValueError(f"a time without zone: {when}")
    return when.isoformat() if when else None


#: For queries: the statuses of what cannot be a picture of the Moon.
NOT_USABLE = ", ".join(f"'{s}'" for s in Status if not s.facts.usable)


def text_time(text: str | None) -> datetime | None:
    return datetime.fromisoformat(text) if text else None


def edition_of(row: dict[str, Any]) -> Edition:
    evenings = tuple(date.fromisoformat(e) for e in json.loads(row["evenings"]))
    return Edition(
        row["id"],
        EditionPlan(
            number=row["number"],
            kind=row["kind"],
            recording_utc=text_time(row["recording_utc"]),
            air_utc=text_time(row["air_utc"]),
            evenings=evenings,
            day_number=row["day_number"],
        ),
    )


def picture_of(row: dict[str, Any]) -> SentPicture:
    submission = submission_of(row)
    return SentPicture(row["p_id"], submission, submission.arrival.enclosures[0])


def submission_of(row: dict[str, Any]) -> Submission:
    """The submission of a row with the one picture that is in it, if any."""
    enclosures = (
        ()
        if row["p_id"] is None
        else (
            Enclosure(
                given_name=row["given_name"],
                size_bytes=row["size_bytes"],
                sha256=row["sha256"],
                media_type=row["media_type"],
                refusal=read_sentences(row["refused"] or ""),
            ),
        )
    )
    place = None
    if row["latitude_deg"] is not None:
        place = Place(row["latitude_deg"], row["longitude_deg"], row["height_m"] or 0.0)
    arrival = Arrival(
        key=row["key"],
        source=row["source"],
        origin=row["origin"],
        enclosures=enclosures,
        received_utc=text_time(row["received_utc"]),
        sender_name=row["sender_name"],
        sender_address=row["sender_address"],
        answer_to=row["answer_to"],
        credit_line=row["credit_line"],
        subject=row["subject"],
        message_id=row["message_id"],
        taken_utc=text_time(row["taken_utc"]),
        place=place,
        place_name=row["place_name"],
        equipment=row["equipment"],
        consent=row["consent"],
        remarks=read_list(row["remarks"]),
        suggestions=tuple(_suggestion(values) for values in json.loads(row["suggestions"])),
        channel=row["channel"],
        link=row["link"],
        receipt=row["receipt"],
        consents=tuple(_consent(values) for values in json.loads(row["consents"])),
        words_read=row["words_read"],
        held_by=tuple(json.loads(row["held_by"])),
    )
    arrival = apply_decisions(arrival, (DecidedChange(*values) for values in json.loads(row["decisions"])))
    return Submission(row["s_id"], row["edition_id"], datetime.fromisoformat(row["stored_utc"]), arrival)


def submission_from_rows(of_one: Sequence[dict[str, Any]]) -> ListedSubmission:
    """One submission from the rows of its pictures in their order, or from its own row where it has none."""
    first = of_one[0]
    rows = [row for row in of_one if row["p_id"] is not None]
    pictures = [picture_of(row) for row in rows]
    submission = submission_of(first)
    return ListedSubmission(
        submission=submission,
        edition_number=first["edition_number"],
        pictures=tuple((p.enclosure, row["status"]) for p, row in zip(pictures, rows, strict=True)),
        consents=submission.arrival.consents,
        picture_ids=tuple(p.id for p in pictures),
        quarantined=tuple(message_of(row["quarantined"] or "").words() for row in rows),
        version_of=tuple(row["version_of"] for row in rows),
        asked=tuple(_questions(row["asked"]) for row in rows),
        letter=first["letter"] or "",
        letter_read_utc=text_time(first["letter_read_utc"]),
        letter_read_by=first["letter_read_by"] or "",
    )


def listed_picture_of(row: dict[str, Any]) -> ListedPicture:
    """The same record for the same row: a page reads a thousand, of which few have changed since it was last read."""
    return _listed_picture(tuple(row), tuple(row.values()))


@lru_cache(maxsize=4096)
def _listed_picture(names: tuple[str, ...], values: tuple[Any, ...]) -> ListedPicture:
    row = dict(zip(names, values, strict=True))
    versions, asked = row["versions"], _questions(row["asked"])
    if row["status"] is None:
        return ListedPicture(picture_of(row), None, versions, asked)
    return ListedPicture(
        picture_of(row),
        AnnotationSummary(
            status=Status(row["status"]),
            sure=bool(row["sure"]),
            reason=words_of(row["reason"]),
            taken_utc=text_time(row["a_taken_utc"]),
            time_source=row["time_source"],
            clock_verdict=ClockVerdict(row["clock_verdict"]),
            best_seen=tuple(json.loads(row["best_seen"])),
            derived_key=row["derived_key"],
            quality=row["quality"] or "",
            camera=row["camera"] or "",
            evening=EveningVerdict(row["evening"]) if row["evening"] else None,
        ),
        versions,
        asked,
    )


def _questions(kept: str) -> tuple[str, ...]:
    """who: of the first of the two pictures, where the question stands beside the other one."""
    pairs = [(message_of(words), who) for words, who in json.loads(kept)]
    return tuple((said if who is None else said.beside_other(who)).words() for said, who in pairs)


def consent_row(submission_id: int, record: ConsentRecord) -> dict[str, Any]:
    return {
        "submission_id": submission_id,
        "picture_id": record.picture_id,
        "state": record.state,
        "kind": record.kind,
        "evidence": record.evidence,
        "message_id": record.message_id,
        "noted_by": record.noted_by,
        "noted_utc": time_text(record.noted_utc),
        "guardian": int(record.guardian),
        "minor": None if record.minor is None else int(record.minor),
    }


def _suggestion(values: Sequence[Any]) -> Suggestion:
    """values: as the listings' queries put them together."""
    field, value, words, source, letter_id, noted_utc, message_id = values
    return Suggestion(field, value, words, source, letter_id, text_time(noted_utc), message_id or "")


def _consent(values: Sequence[Any]) -> ConsentRecord:
    """values: as the listings' queries put them together."""
    state, kind, evidence, message_id, noted_by, noted_utc, picture_id, guardian, minor = values
    return ConsentRecord(
        state=state,
        kind=kind,
        evidence=evidence,
        message_id=message_id,
        noted_by=noted_by,
        noted_utc=text_time(noted_utc),
        picture_id=picture_id,
        guardian=bool(guardian),
        minor=None if minor is None else bool(minor),
    )


def sender_key(address: str) -> str:
    """A sender as letters and pictures are joined: the last address in a From line, case folded; '' for none."""
    words = [word.strip("<>()[],;:\"'") for word in address.split()]
    return next((word.casefold() for word in reversed(words) if "@" in word.strip("@")), "")

"""The store's records as the API tells them: one function for each object of `schemas`. Pure; times are UTC with Z."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from itertools import zip_longest
from typing import Any

from moondesk.exports.json_line import json_line
from moondesk.records import Annotation
from moondesk.service.programme.certainty import certainty
from moondesk.service.programme.credit import credit_of, teller_of
from moondesk.service.programme.equipment import equipment_of
from moondesk.service.programme.listing import listed_line, picture_status
from moondesk.service.programme.permission import Permission
from moondesk.service.store.decided import Decision
from moondesk.service.store.records import (
    Arrival,
    ConsentRecord,
    Counts,
    Edition,
    ListedPicture,
    ListedSubmission,
    Pair,
    QueueCounts,
    SentPicture,
    StoredAnnotation,
)

#: Of a file without a name, in the placement's line.
NAMELESS = "picture"


def utc(when: datetime | None) -> str | None:
    return when.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z") if when else None


def number(value: float | None, decimals: int) -> float | None:
    """Rounded; null for what is no finite number: JSON has no word for it."""
    return None if value is None or not math.isfinite(value) else round(float(value), decimals) + 0.0


def edition(found: Edition) -> dict[str, Any]:
    plan = found.plan
    return {
        "number": plan.number,
        "kind": plan.kind,
        "recording_utc": utc(plan.recording_utc),
        "air_utc": utc(plan.air_utc),
        "evenings": [e.isoformat() for e in plan.evenings],
        "day_number": plan.day_number,
    }


def edition_counts(found: Edition, counts: Counts) -> dict[str, Any]:
    return {
        "edition": edition(found),
        "pictures": {
            "total": counts.total,
            "sure": counts.sure,
            "unsure": counts.unsure,
            "not_placed": counts.not_placed,
            "refused": counts.refused,
            "waiting": counts.waiting,
        },
    }


def submission(listed: ListedSubmission, entry_terms: str) -> dict[str, Any]:
    """The object of `moondesk list --jsonl` with the ids of its pictures, and when it was stored."""
    line = listed_line(listed, entry_terms)
    pictures = [{"id": k, **p} for k, p in zip_longest(listed.picture_ids, line["pictures"])]
    if line["letter"]:
        line["letter"] |= {"read_utc": utc(listed.letter_read_utc)}
    return {
        **line,
        "received_utc": utc(listed.submission.arrival.received_utc),
        "stored_utc": utc(listed.submission.stored_utc),
        "pictures": pictures,
    }


def picture_row(listed: ListedPicture, edition_number: int | None) -> dict[str, Any]:
    found, summary = listed.picture, listed.summary
    arrival = found.submission.arrival
    return {
        "id": found.id,
        "submission_id": found.submission.id,
        "edition": edition_number,
        "given_name": found.enclosure.given_name,
        "sender_name": arrival.sender_name,
        "credit_line": credit_of(arrival).name,
        "place_name": arrival.place_name,
        "received_utc": utc(arrival.received_utc),
        "status": picture_status(found.enclosure, summary.status if summary else None),
        "sure": bool(summary and summary.sure),
        "evening": (summary.evening if summary else "") or None,
        "reason": found.enclosure.refused or (summary.reason if summary else None) or None,
        "taken_utc": utc(summary.taken_utc) if summary else None,
        "taken_source": (summary.time_source if summary else "") or None,
        "clock_verdict": (summary.clock_verdict if summary else "") or None,
        "best_seen": list(summary.best_seen) if summary else [],
        "other_versions": listed.versions,
        "questions": list(listed.asked),
    }


def picture(
    found: SentPicture,
    edition_number: int,
    stored: StoredAnnotation | None,
    versions: Mapping[str, Any],
    decisions: Sequence[Decision],
    may: Permission,
    images: Mapping[str, str],
) -> dict[str, Any]:
    """versions: by `versions`. decisions: those of `decisions_of`. may: by `permission_of`."""
    arrival, enclosure = found.submission.arrival, found.enclosure
    a = stored.annotation if stored else None
    return {
        "id": found.id,
        "submission_id": found.submission.id,
        "edition": edition_number,
        "given_name": enclosure.given_name,
        "media_type": enclosure.media_type,
        "size_bytes": enclosure.size_bytes,
        "sha256": enclosure.sha256,
        "status": picture_status(enclosure, a.status if a else None),
        "refused": enclosure.refused,
        "sender_name": arrival.sender_name,
        "sender_address": arrival.sender_address,
        "credit_line": credit_of(arrival).name,
        "received_utc": utc(arrival.received_utc),
        "place_name": arrival.place_name,
        "place": _place(arrival),
        "equipment": _equipment(arrival),
        "placement": placement(found, a),
        "placed": {"utc": utc(stored.made_utc), "engine": stored.engine_version} if stored else None,
        "width_px": a.width if a else None,
        "height_px": a.height if a else None,
        "certainty": [{"tone": s.tone, "about": s.about, "words": s.words} for s in certainty(a, teller_of(arrival))]
        if a
        else [],
        "clock_words": a.clock.words if a else "",
        "time_candidates": _candidates(a) if a else [],
        "evenings": [
            {"utc": utc(e.utc), "sigma_hours": number(e.sigma_hours, 3), "probability": number(e.probability, 4)}
            for e in a.evenings
        ]
        if a
        else [],
        "versions": versions,
        "decisions": [
            {"id": d.id, "kind": d.kind, "what": dict(d.what), "made_by": d.who, "made_utc": utc(d.made_utc)}
            for d in _standing(decisions)
        ],
        **consents(found, may),
        "images": dict(images),
    }


def placement(found: SentPicture, a: Annotation | None) -> dict[str, Any] | None:
    """The JSON line of `moondesk place`; None while the picture waits."""
    enclosure = found.enclosure
    return json_line(enclosure.given_name or NAMELESS, enclosure.sha256 or "", a) if a else None


def features(found: SentPicture, a: Annotation | None, min_seen: float) -> dict[str, Any]:
    line = placement(found, a)
    rows = sorted(
        (f for f in (line["features"] if line else ()) if (f["seen"] or 0.0) >= min_seen),
        key=lambda f: -(f["seen"] or 0.0),
    )
    return {
        "picture_id": found.id,
        "status": picture_status(found.enclosure, a.status if a else None),
        "sure": bool(a and a.sure),
        "features": rows,
    }


def versions(picture_id: int, best_id: int, ids: Sequence[int], pairs: Sequence[Pair]) -> dict[str, Any]:
    """ids: of all versions, itself among them."""
    return {
        "best_id": best_id,
        "ids": list(ids),
        "questions": [
            {"pair_id": p.id, "other_picture_id": p.picture_id + p.other_id - picture_id, "words": p.words}
            for p in pairs
            if p.open
        ],
    }


def consents(found: SentPicture, may: Permission) -> dict[str, Any]:
    """The consent that counts for a picture, and all the notes that are about it."""
    records = [r for r in found.submission.arrival.consents if r.picture_id in (None, found.id)]
    return {"consent": consent(may), "consents": [_record(r) for r in records]}


def consent(may: Permission) -> dict[str, Any]:
    found = may.consent
    return {
        "state": found.state,
        "kind": found.kind or None,
        "evidence": found.evidence,
        "minor": found.minor,
        "guardian": found.guardian,
        "noted_by": found.noted_by,
        "may_be_shown": may.given,
        "stops": list(may.stops),
        "held_by": list(may.held_by),
    }


def progress(counts: QueueCounts, last_minute: int) -> dict[str, Any]:
    return {
        "waiting": counts.waiting,
        "being_placed": counts.leased,
        "put_aside": counts.quarantined,
        "placed_last_minute": last_minute,
    }


def _record(r: ConsentRecord) -> dict[str, Any]:
    return {
        "state": r.state,
        "kind": r.kind,
        "evidence": r.evidence,
        "message_id": r.message_id,
        "noted_by": r.noted_by,
        "noted_utc": utc(r.noted_utc),
        "guardian": r.guardian,
        "minor": r.minor,
        "picture_id": r.picture_id,
    }


def _place(arrival: Arrival) -> dict[str, Any] | None:
    place = arrival.place
    return (
        {"latitude_deg": place.latitude_deg, "longitude_deg": place.longitude_deg, "height_m": place.height_m}
        if place
        else None
    )


def _equipment(arrival: Arrival) -> dict[str, Any]:
    found = equipment_of(arrival)
    return {
        "aperture_mm": found.aperture_mm,
        "eyepiece_mm": found.eyepiece_mm,
        "kind": found.kind or None,
        "words": found.words,
    }


def _candidates(a: Annotation) -> list[dict[str, Any]]:
    shown = a.clock.picture_utc
    return [
        {
            "utc": utc(c.utc),
            "sigma_minutes": number(c.sigma_minutes, 2),
            "source": c.source,
            "hours_after_picture": number((c.utc - shown).total_seconds() / 3600, 3) if shown else None,
        }
        for c in a.taken.candidates
    ]


def _standing(decisions: Sequence[Decision]) -> list[Decision]:
    """Of each kind the last one that was not taken back."""
    return sorted({d.kind: d for d in decisions if d.undone_utc is None}.values(), key=lambda d: d.id)

"""The store's records as the API tells them: an object of `schemas` is filled by the names of its fields. Pure.

`fill` takes what a record calls as the schema does; what is called otherwise, counted or rounded is given by name. A
field that nobody has is an error here, so an answer never lacks what the document promises. Times are UTC with Z.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from itertools import zip_longest
from typing import Any

from moondesk.exports.json_line import json_line
from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.records import Notes
from moondesk.records import Annotation, NotFound
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.certainty_words import certainty
from moondesk.service.programme.credit import credit_of, credit_words, teller_of
from moondesk.service.programme.equipment import equipment_of
from moondesk.service.programme.listing import picture_status, submission_object
from moondesk.service.programme.permission import Permission, permission_of
from moondesk.service.programme.rundown import cautions_of
from moondesk.service.settings.config import Config
from moondesk.service.store.decided import Decision
from moondesk.service.store.records import (
    AnnotationSummary,
    Counts,
    Edition,
    Enclosure,
    ListedPicture,
    ListedSubmission,
    Pair,
    QueueCounts,
    SentPicture,
    StoredAnnotation,
)
from moondesk.service.store.rundown_items import Rundown, RundownItem
from moondesk.service.web.api.schemas import SCHEMAS, Schema

#: Of a file without a name, in the placement's line.
NAMELESS = "picture"


def fill(name: str, *sources: object, **given: Any) -> dict[str, Any]:
    """An object of the schemas: each field as given, else as the first of the sources that has it."""
    return _object(SCHEMAS[name], sources, given)


def _object(schema: Schema, sources: Sequence[object], given: Mapping[str, Any]) -> dict[str, Any]:
    parts: Mapping[str, Schema] = schema["properties"]
    if wrong := given.keys() - parts.keys():
        raise TypeError(f"the schema has no field {', '.join(sorted(wrong))}")
    return {name: _value(part, given[name] if name in given else _of(sources, name)) for name, part in parts.items()}


def _of(sources: Sequence[object], name: str) -> Any:
    for source in sources:
        if hasattr(source, name):
            return getattr(source, name)
    raise TypeError(f"nobody says what {name} is")


def _value(schema: Schema, value: Any) -> Any:
    """A value as JSON has it; a record as the object that its schema describes."""
    if value is None or isinstance(value, str | int | float | dict):
        return value
    if isinstance(value, datetime):
        return utc(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, list | tuple):
        return [_value(schema["items"], one) for one in value]
    part = next((part for part in schema.get("anyOf", ()) if "$ref" in part), schema)
    return _object(SCHEMAS[part["$ref"].rpartition("/")[2]] if "$ref" in part else part, (value,), {})


def utc(when: datetime | None) -> str | None:
    return when.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z") if when else None


def number(value: float | None, decimals: int) -> float | None:
    """Rounded; null for what is no finite number: JSON has no word for it."""
    return None if value is None or not math.isfinite(value) else round(float(value), decimals) + 0.0


# --- editions, submissions ------------------------------------------------------------------------------------------


def edition(found: Edition) -> dict[str, Any]:
    return fill("Edition", found.plan)


def edition_counts(found: Edition, counts: Counts) -> dict[str, Any]:
    return fill("EditionCounts", edition=found.plan, pictures=counts)


def submission(listed: ListedSubmission, entry_terms: str) -> dict[str, Any]:
    """The object of `moondesk list --jsonl` with the ids of its pictures, and when it was stored."""
    line = submission_object(listed, entry_terms)
    pictures = [{"id": k, **p} for k, p in zip_longest(listed.picture_ids, line["pictures"])]
    if line["letter"]:
        line["letter"] |= {"read_utc": utc(listed.letter_read_utc)}
    return {
        **line,
        "received_utc": utc(listed.submission.arrival.received_utc),
        "stored_utc": utc(listed.submission.stored_utc),
        "pictures": pictures,
    }


# --- pictures -------------------------------------------------------------------------------------------------------


def picture_row(listed: ListedPicture, edition_number: int | None) -> dict[str, Any]:
    found, summary = listed.picture, listed.summary
    return fill(
        "PictureRow",
        found,
        found.enclosure,
        found.submission.arrival,
        **_standing(found.enclosure, summary),
        submission_id=found.submission.id,
        edition=edition_number,
        credit_line=credit_of(found.submission.arrival).name,
        reason=found.enclosure.refused or (summary.reason if summary else None) or None,
        taken_utc=summary.taken_utc if summary else None,
        taken_source=(summary.time_source if summary else "") or None,
        clock_verdict=(summary.clock_verdict if summary else "") or None,
        other_versions=listed.versions,
        questions=listed.asked,
    )


def _standing(enclosure: Enclosure, summary: AnnotationSummary | None) -> dict[str, Any]:
    """What lists and the rundown tell of a placing."""
    return {
        "status": picture_status(enclosure, summary.status if summary else None),
        "sure": bool(summary and summary.sure),
        "evening": (summary.evening if summary else "") or None,
        "best_seen": summary.best_seen if summary else (),
    }


def picture(
    found: SentPicture, stored: StoredAnnotation | None, decisions: Sequence[Decision], may: Permission, **given: Any
) -> dict[str, Any]:
    """decisions: those of `decisions_of`. may: by `permission_of`. given: edition (its number), images (addresses), and
    versions (by `versions`)."""
    arrival, enclosure = found.submission.arrival, found.enclosure
    a = stored.annotation if stored else None
    equipment = equipment_of(arrival)
    return fill(
        "Picture",
        found,
        enclosure,
        arrival,
        submission_id=found.submission.id,
        status=picture_status(enclosure, a.status if a else None),
        credit_line=credit_of(arrival).name,
        equipment=fill("Equipment", equipment, kind=equipment.kind or None),
        placement=placement(found, a),
        placed={"utc": utc(stored.made_utc), "engine": stored.engine_version} if stored else None,
        width_px=a.width if a else None,
        height_px=a.height if a else None,
        certainty=certainty(a, teller_of(arrival)) if a else (),
        clock_words=a.clock.words if a else "",
        time_candidates=_candidates(a) if a else (),
        evenings=[
            {"utc": utc(e.utc), "sigma_hours": number(e.sigma_hours, 3), "probability": number(e.probability, 4)}
            for e in (a.evenings if a else ())
        ],
        decisions=[
            {"id": d.id, "kind": d.kind, "what": dict(d.what), "made_by": d.who, "made_utc": utc(d.made_utc)}
            for d in _last_of_each_kind(decisions)
        ],
        **consents(found, may),
        **given,
    )


def placement(found: SentPicture, a: Annotation | None) -> dict[str, Any] | None:
    """The JSON line of `moondesk place`; None while the picture waits."""
    enclosure = found.enclosure
    return json_line(enclosure.given_name or NAMELESS, enclosure.sha256 or "", a) if a else None


def features(found: SentPicture, a: Annotation | None, min_seen: float) -> dict[str, Any]:
    line = placement(found, a)
    rows = [f for f in (line["features"] if line else ()) if (f["seen"] or 0.0) >= min_seen]
    return fill(
        "Features",
        picture_id=found.id,
        status=picture_status(found.enclosure, a.status if a else None),
        sure=bool(a and a.sure),
        features=sorted(rows, key=lambda f: -(f["seen"] or 0.0)),
    )


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
    return fill("ConsentNoted", consent=consent(may), consents=records)


def consent(may: Permission) -> dict[str, Any]:
    return fill("Consent", may.consent, may, kind=may.consent.kind or None, may_be_shown=may.given)


def progress(counts: QueueCounts, last_minute: int) -> dict[str, Any]:
    return fill(
        "Progress", counts, being_placed=counts.leased, put_aside=counts.quarantined, placed_last_minute=last_minute
    )


def notes(
    picture_id: int, found: Notes | NotFound, language: Language, claim: str, checked: Checked | None
) -> dict[str, Any]:
    """Sentences in the programme's language with what each is about."""
    write, kept = language.write, found if isinstance(found, Notes) else Notes(())
    return fill(
        "Notes",
        picture_id=picture_id,
        language=language.code,
        problem=None if isinstance(found, Notes) else f"{found.reason} {found.advice}".strip(),
        notes=[{"topic": n.topic, "about": n.about or None, "text": write(n.said)} for n in kept.notes],
        themes=[
            {
                "key": t.key,
                "title": write(t.title),
                "features": list(t.features),
                "sentences": [write(s) for s in t.sentences],
            }
            for t in kept.themes
        ],
        claim=checked
        and {
            "claim": claim,
            "verdict": checked.verdict,
            "text": write(checked.said),
            "tolerance": None if checked.tolerance is None else write(checked.tolerance),
        },
    )


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


def _last_of_each_kind(decisions: Sequence[Decision]) -> list[Decision]:
    """Those that were not taken back."""
    return sorted({d.kind: d for d in decisions if d.undone_utc is None}.values(), key=lambda d: d.id)


# --- the rundown ----------------------------------------------------------------------------------------------------


def rundown(found: Rundown, edition: Edition, pictures: Mapping[int, ListedPicture], config: Config) -> dict[str, Any]:
    """pictures: those of the items, by id; an item whose picture was erased at this moment is left out."""
    return fill(
        "Rundown",
        found,
        edition=edition.plan.number,
        seconds_for_pictures=found.seconds,
        items=[
            item(i, place, pictures[i.picture_id], config)
            for place, i in enumerate(found.items, 1)
            if i.picture_id in pictures
        ],
        taken_out=found.out,
    )


def item(found: RundownItem, place: int, listed: ListedPicture, config: Config) -> dict[str, Any]:
    """place: 1 for the first."""
    credit, _, missing = credit_words(found, listed)
    may = permission_of(listed, config.entry_terms)
    return fill(
        "RundownItem",
        found,
        **_standing(listed.picture.enclosure, listed.summary),
        place=place,
        credit_shown=credit,
        credit_missing=missing,
        may_go_on_air=may.given,
        stops=may.stops,
        cautions=cautions_of(found, listed),
        consent=consent(may),
        better_picture_id=found.better_id,
    )

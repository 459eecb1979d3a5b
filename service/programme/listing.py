"""One line for a submission, as `moondesk list` prints it: a JSON object, or words. Pure.

    {"id", "source", "message_id", "subject", "sender_name", "sender_address", "credit_line", "received_utc",
     "equipment": {"aperture_mm", "eyepiece_mm", "kind", "words"}, "consent": {"state", "kind", "evidence"},
     "may_go_on_air", "held_by": [], "letter": null or {"kind", "read_utc", "read_by"}, "flags": [],
     "pictures": [{"sha256", "given_name", "media_type", "status", "version_of", "refused"}], "edition"}

Nothing is left out of an object: what is not known is null, or "" where it is a text. may_go_on_air: by what was said
of all; held_by: ids of letters from its sender that nobody has read; letter: of a mail that is one itself. flags:
sentences about what could not be read, or needs a look. status: "refused", "waiting" (to be placed), else that of its
placement. version_of: hash of the best of its versions, null for that itself.
"""

from __future__ import annotations

from itertools import zip_longest
from typing import Any

from moondesk.service.programme.consent.wording import Consent
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.equipment import equipment_of
from moondesk.service.programme.permission import STOP, WORDS, permission
from moondesk.service.store.records import Enclosure, ListedSubmission

UNNAMED = "The sender asks not to be named."
MINOR = "A child seems to have taken the picture: a guardian's consent is needed."


def submission_object(listed: ListedSubmission, entry_terms: str = "") -> dict[str, Any]:
    """The object of one submission; keys in the order above. entry_terms: see `permission.standing_consent`."""
    arrival = listed.submission.arrival
    equipment, credit = equipment_of(arrival), credit_of(arrival)
    may = permission(arrival, None, entry_terms, twins=listed.twins)
    consent = may.consent
    aside = [
        f"{e.given_name} is put aside: {why}"
        for (e, _), why in zip(listed.pictures, listed.quarantined, strict=False)
        if why
    ]
    held = [f"{STOP} {WORDS['letter']}"] if may.held_by and listed.pictures else []
    twin = [f"{STOP} {WORDS['twin']}"] if "twin" in may.reasons else []
    flags = [
        *held,
        *twin,
        *map(str, arrival.remarks),
        *([MINOR] if consent.minor and not consent.guardian else []),
        *([UNNAMED] if credit.unnamed else []),
        *_of_single(listed, consent, entry_terms),
        *aside,
        *(
            f"{e.given_name}: {words}"
            for (e, _), asked in zip(listed.pictures, listed.asked, strict=False)
            for words in asked
        ),
    ]
    return {
        "id": listed.submission.id,
        "source": arrival.source,
        "message_id": arrival.message_id or None,
        "subject": arrival.subject,
        "sender_name": arrival.sender_name,
        "sender_address": arrival.sender_address,
        "credit_line": credit.name,
        "received_utc": arrival.received_utc.isoformat() if arrival.received_utc else None,
        "equipment": {
            "aperture_mm": equipment.aperture_mm,
            "eyepiece_mm": equipment.eyepiece_mm,
            "kind": equipment.kind or None,
            "words": equipment.words,
        },
        "consent": {"state": consent.state, "kind": consent.kind or None, "evidence": consent.evidence},
        "may_go_on_air": may.given,
        "held_by": list(may.held_by),
        "letter": _letter(listed),
        "flags": flags,
        "pictures": [
            {
                "sha256": e.sha256,
                "given_name": e.given_name,
                "media_type": e.media_type,
                "status": picture_status(e, status),
                "version_of": version_of,
                "refused": e.refused,
            }
            for (e, status), version_of in zip_longest(listed.pictures, listed.version_of)
        ],
        "edition": listed.edition_number,
    }


def _of_single(listed: ListedSubmission, whole: Consent, entry_terms: str) -> list[str]:
    """Sentences about pictures whose consent is another than that of the whole submission."""
    arrival = listed.submission.arrival
    of_each = [
        (e.given_name, permission(arrival, k, entry_terms).consent)
        for (e, _), k in zip(listed.pictures, listed.picture_ids, strict=False)
    ]
    return [
        f"{name}: consent {one.state} ({one.evidence or one.kind})."
        for name, one in of_each
        if (one.state, one.evidence) != (whole.state, whole.evidence)
    ]


def _letter(listed: ListedSubmission) -> dict[str, Any] | None:
    if not listed.letter:
        return None
    read = listed.letter_read_utc
    return {
        "kind": listed.letter,
        "read_utc": read.isoformat() if read else None,
        "read_by": listed.letter_read_by or None,
    }


def submission_words(listed: ListedSubmission, entry_terms: str = "") -> str:
    """The same for reading: number, sender, when received, consent, pictures."""
    line = submission_object(listed, entry_terms)
    sender = line["sender_name"] or line["sender_address"] or "(sender unknown)"
    when = f"{line['received_utc']:.16}".replace("T", " ") + " UTC" if line["received_utc"] else "not dated"
    pictures = "; ".join(f"{p['given_name']}: {p['refused'] or p['status']}" for p in line["pictures"])
    if listed.letter:
        read = f", read by {listed.letter_read_by}" if listed.letter_read_utc else ", nobody has read it"
        pictures = "; ".join(
            filter(None, ("an automatic mail" if listed.letter == "machine" else f"a letter{read}", pictures))
        )
    return f"{line['id']:>5}  {sender:28.28}  {when:20}  consent {line['consent']['state']:9}  {pictures}"


def picture_status(enclosure: Enclosure, status: str | None) -> str:
    return "refused" if enclosure.refused else status or "waiting"

"""Pictures put in at the desk: what was typed with them, as a `SubmissionForm` or a sentence for each wrong field. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from moondesk.service.intake.forms import SubmissionForm
from moondesk.service.programme.consent.wording import consent_in_table
from moondesk.service.store.records import ConsentKind, ConsentRecord, ConsentState
from moondesk.service.texts import clean_text
from moondesk.service.web.public.form import NAME_CHARACTERS, PLACE_CHARACTERS, WORDS_CHARACTERS, local_time

LINK_CHARACTERS = 500
#: What may be noted of consent: (value, words, state, kind); the value "" notes nothing.
CONSENTS: tuple[tuple[str, str, ConsentState, ConsentKind], ...] = (
    ("written", "Given in writing, where it was sent", "given", "mail"),
    ("phone", "Given by phone", "given", "phone"),
    ("person", "Given in person", "given", "person"),
    ("asked", "Asked, no answer yet", "asked", "mail"),
    ("refused", "Refused", "refused", "mail"),
)
NOT_NOTED = "Nobody has asked yet"
_LINK = re.compile(r"https?://[^\s\"<>]+")


@dataclass(frozen=True, kw_only=True)
class Dropped:
    """The form's fields as typed."""

    name: str = ""
    channel: str = ""
    link: str = ""
    place: str = ""
    taken: str = ""
    zone: str = ""
    equipment: str = ""
    consent: str = ""
    words: str = ""
    noted_by: str = ""
    guardian: str = ""


@dataclass(frozen=True)
class DropReading:
    """form None: `complaints` says by field what is wrong."""

    typed: Dropped
    form: SubmissionForm | None
    complaints: Mapping[str, str]


def drop_values_of(fields: Mapping[str, str]) -> Dropped:
    return Dropped(**{name: fields.get(name, "")[:2_000].replace("\0", "") for name in Dropped.__dataclass_fields__})


def read_drop(fields: Mapping[str, str], form_id: str, programme_zone: str) -> DropReading:
    """The form that was sent. The handle stands in the credit exactly as given."""
    typed, wrong, remarks = drop_values_of(fields), {}, []
    texts = {}
    for name, most in (
        ("name", NAME_CHARACTERS),
        ("channel", NAME_CHARACTERS),
        ("link", LINK_CHARACTERS),
        ("place", PLACE_CHARACTERS),
        ("equipment", WORDS_CHARACTERS),
        ("words", WORDS_CHARACTERS),
        ("noted_by", NAME_CHARACTERS),
    ):
        texts[name] = clean_text(getattr(typed, name), 2_000)
        if len(texts[name]) > most:
            wrong[name] = f"Please keep it to {most} characters; it has {len(texts[name])}."
    if not texts["name"]:
        wrong["name"] = "Please type the handle or name of the sender."
    if texts["link"] and "link" not in wrong and not _LINK.fullmatch(texts["link"]):
        wrong["link"] = "A link begins with https:// and has no spaces."
    taken: datetime | None = None
    if typed.taken.strip():
        try:
            taken, remark = local_time(typed.taken, typed.zone or programme_zone)
            remarks += [remark] if remark else []
        except ValueError as error:
            wrong["taken"] = str(error)
    consent = _consent(typed, texts, wrong) if typed.consent else None
    if wrong:
        return DropReading(typed, None, wrong)
    return DropReading(
        typed,
        SubmissionForm(
            source="desk",
            form_id=form_id,
            name=texts["name"],
            place_name=texts["place"],
            taken_utc=taken,
            equipment=texts["equipment"],
            consent=consent,
            channel=texts["channel"],
            link=texts["link"],
            remarks=tuple(remarks),
        ),
        {},
    )


def _consent(typed: Dropped, texts: Mapping[str, str], wrong: dict[str, str]) -> ConsentRecord | None:
    """What is to be noted; what stands in its way is put into `wrong`."""
    choice = next((c for c in CONSENTS if c[0] == typed.consent), None)
    if choice is None:
        wrong["consent"] = "Please choose one of the list."
        return None
    _, _, state, kind = choice
    if not texts["noted_by"]:
        wrong["noted_by"] = "Please say who notes this."
    if state == "given" and not texts["words"]:
        wrong["words"] = "Please note the words in which it was given."
    elif state == "given" and consent_in_table(f"by phone: {texts['words']}").state != "given":
        wrong["words"] = "These words are no clear yes. Please note those that are, or choose that it was asked."
    child = bool(typed.guardian)
    return ConsentRecord(
        state=state,
        kind=kind,
        evidence=texts["words"],
        noted_by=texts["noted_by"],
        guardian=child,
        minor=True if child else None,
    )

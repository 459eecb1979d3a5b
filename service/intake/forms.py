"""A form to a submission: what was typed and ticked, and its files, read one after the other from where they were put.

    Form, SentFile... -> each original kept -> Arrival -> one transaction

From the bytes of a file on it is the same path as a mail's attachments take. What was typed is kept as an original too
(a JSON text), whose hash is the submission's key: the same form sent twice, because the line broke before the answer
came, is one submission with one receipt.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from typing import IO, Literal

from moondesk.sentences import Sentence, sentence
from moondesk.service.errors import NotStoredError
from moondesk.service.intake.archives import is_archive
from moondesk.service.intake.intake import Intake
from moondesk.service.intake.reading import Story
from moondesk.service.store.media import sha256_of
from moondesk.service.store.receipts import receipt_hash
from moondesk.service.store.records import Arrival, ConsentRecord, Enclosure, Suggestion
from moondesk.service.store.submissions import add_submission, has_submission
from moondesk.service.texts import clean_text

FROM_FORM = "form"
ORIGINS = {"form": "upload page", "desk": "desk"}
#: Of a form's own words, by field: what may take back the consent that was ticked.
TAKING_BACK = {"consent": ("refused", "unclear"), "withdrawal": ("yes",)}
UNNAMED = "The form's name was left empty: show it without one."


@dataclass(frozen=True, kw_only=True)
class SubmissionForm:
    """One form, its values checked. source: the public page, or the desk's own; texts are single lines."""

    source: Literal["form", "desk"]
    #: Given out with the page; tells two forms with the same words apart.
    form_id: str
    #: Credit exactly as to be shown; empty where unnamed.
    name: str = ""
    unnamed: bool = False
    address: str = ""
    place_name: str = ""
    taken_utc: datetime | None = None
    equipment: str = ""
    #: The words ticked or noted, and by whom; see `ConsentRecord`.
    consent: ConsentRecord | None = None
    channel: str = ""
    link: str = ""
    remarks: tuple[Sentence, ...] = ()
    #: In the sender's own words, of several lines; read as a mail's words are.
    story: str = ""
    #: In which the form was shown.
    language: str = ""


@dataclass(frozen=True)
class SentFile:
    """A file of a form, wherever it was put aside; name: as given, text only."""

    name: str
    file: IO[bytes]


@dataclass(frozen=True)
class FormTaken:
    """What became of a form. "refused": nothing of it can be used and nothing was kept; `enclosures` say why."""

    outcome: Literal["taken", "known", "refused"]
    enclosures: tuple[Enclosure, ...]
    key: str = ""


def take_form(
    intake: Intake, form: SubmissionForm, files: Iterable[SentFile], token_of: Callable[[str], str] | None = None
) -> FormTaken:
    """Take a form. token_of: the token of the receipt link for a submission's key; None: no receipt is given.

    One file is held in memory at a time. Of the public page's files only pictures are kept, none that is refused.
    """
    enclosures: dict[str, Enclosure] = {}
    files = tuple(files)
    for sent in files:
        for enclosure in _keep_file(intake, form, sent):
            enclosures.setdefault(enclosure.sha256 or f"{len(enclosures)}", enclosure)
    listed = tuple(enclosures.values())
    if not any(e.refused is None for e in listed):
        return FormTaken("refused", listed)
    record = _record(form, listed)
    key = f"form:{sha256_of(record)}"
    if has_submission(intake.storage, key):
        return FormTaken("known", listed, key)
    intake.media.put(record)
    story = intake.reader.story(form.story, form.name)
    arrival = _arrival(form, key, listed, intake.now(), receipt_hash(token_of(key)) if token_of else None, story)
    stored = add_submission(intake.storage, intake.edition.id, arrival, intake.now())
    intake.media.put(record)
    if not all(_is_there(intake, e) for e in listed):  # somebody has just erased the same file, sent before
        for sent in files:
            _keep_file(intake, form, sent)
    return FormTaken("known" if stored is None else "taken", listed, key)


def _is_there(intake: Intake, enclosure: Enclosure) -> bool:
    if enclosure.sha256 is None:
        return True
    try:
        return intake.media.path(enclosure.sha256).is_file()
    except NotStoredError:
        return False


def _keep_file(intake: Intake, form: SubmissionForm, sent: SentFile) -> list[Enclosure]:
    """The enclosures of one file, their bytes kept."""
    most = intake.config.limits.picture_bytes
    sent.file.seek(0)
    data, name = sent.file.read(most + 1), clean_text(sent.name, 120) or "picture without a name"
    if len(data) > most:
        why = sentence("larger_than", megabytes=most // 1_000_000), sentence("send_smaller")
        return [Enclosure(given_name=name, size_bytes=sent.file.seek(0, 2), sha256=None, media_type=None, refusal=why)]
    if form.source == "form" and is_archive(data):
        why = sentence("no_pictures_alone"), sentence("choose_pictures")
        return [Enclosure(given_name=name, size_bytes=len(data), sha256=None, media_type=None, refusal=why)]
    found, contents = intake.reader.opened(name, data, intake.config.limits)
    if form.source == "form":
        found = [
            Enclosure(given_name=e.given_name, size_bytes=e.size_bytes, sha256=None, media_type=None, refusal=e.refusal)
            if e.refused
            else e
            for e in found
        ]
    wanted = {e.sha256 for e in found}
    for content in (data, *contents):
        if sha256_of(content) in wanted:
            intake.media.put(content)
    return found


def _record(form: SubmissionForm, enclosures: tuple[Enclosure, ...]) -> bytes:
    """What was typed, as the bytes to keep; nothing in it depends on when it came."""
    said = {k: v.isoformat() if isinstance(v, datetime) else v for k, v in asdict(form).items() if k != "consent"}
    if form.consent:
        said["consent"] = form.consent.evidence
    said["files"] = [[e.given_name, e.sha256] for e in enclosures]
    return json.dumps(said, ensure_ascii=False, sort_keys=True).encode()


def _arrival(
    form: SubmissionForm, key: str, enclosures: tuple[Enclosure, ...], now: datetime, receipt: str | None, story: Story
) -> Arrival:
    suggestions = [replace(fact, source=FROM_FORM) for fact in story.facts]
    if form.unnamed:
        suggestions.append(Suggestion("unnamed", "yes", UNNAMED, FROM_FORM))
    if form.language:
        suggestions.append(Suggestion("language", form.language, "", FROM_FORM))
    consent = form.consent
    doubted = any(fact.value in TAKING_BACK.get(fact.field, ()) for fact in story.facts)
    if consent is not None and doubted:  # the tick says yes, their own words perhaps no: a person reads them first
        consent = replace(consent, state="asked")
    if consent is not None and not consent.minor and any(fact.field == "minor" for fact in story.facts):
        consent = replace(consent, minor=None)  # nobody ticked it: the words stand
    return Arrival(
        key=key,
        source=form.source,
        origin=ORIGINS[form.source],
        enclosures=enclosures,
        received_utc=now,
        sender_name=form.name,
        sender_address=form.address,
        credit_line="" if form.unnamed else form.name,
        taken_utc=form.taken_utc,
        place_name=form.place_name,
        equipment=form.equipment,
        consent="" if doubted else _consent_cell(form.consent),
        remarks=form.remarks,
        suggestions=tuple(suggestions),
        channel=form.channel,
        link=form.link,
        receipt=receipt,
        consents=(consent,) if consent else (),
        text=story.text,
        words_read=story.words_read if story.text else "",
    )


#: How a record's kind is said in a table's cell, see `consent.wording.consent_in_table`.
_BY = {"form": "by form", "phone": "by phone", "person": "in person", "mail": "in writing", "table": "by table"}


def _consent_cell(record: ConsentRecord | None) -> str:
    """The consent as a table's cell would say it."""
    if record is None:
        return ""
    said = {"given": "Yes", "refused": "No", "asked": "Asked"}[record.state]
    words = record.evidence
    if record.kind == "form":
        words = words.partition(" (")[0]  # a guardian's name is not to be read as words
    return f"{said}, {_BY[record.kind]}" + (f": {words}" if words else "")

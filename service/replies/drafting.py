"""Drafts from the store: what is known of a sender and a picture by now, in the sender's language or the programme's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from functools import cache
from zoneinfo import ZoneInfo

from moondesk.checks.evening import time_to_state
from moondesk.moon.catalogue import all_features
from moondesk.records import Annotation
from moondesk.service.languages import ENGLISH, REPLY_LANGUAGES
from moondesk.service.languages.catalogue import Language, LocalName
from moondesk.service.programme.equipment import class_of
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.programme.permission import permission_of, reasons_not_to_air
from moondesk.service.programme.ranking import CLASSES
from moondesk.service.replies.about import TakenOn
from moondesk.service.replies.draft import Circumstances, Draft, draft_of
from moondesk.service.replies.letter_draft import LetterIs, letter_draft
from moondesk.service.replies.voices import Voice, suggested
from moondesk.service.settings.config import Config
from moondesk.service.store.aired import edition_aired, submission_aired
from moondesk.service.store.feature_names import language_of
from moondesk.service.store.measured import measured_quality
from moondesk.service.store.records import Arrival, ListedPicture, StoredAnnotation
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import count_earlier


def picture_draft(
    storage: Storage,
    config: Config,
    listed: ListedPicture,
    stored: StoredAnnotation | None,
    language: str = "",
    voice: Voice | None = None,
    ask: tuple[date, ...] | None = None,
) -> Draft:
    """language: code of the one to write in, "" for the sender's; voice: None for the one that follows; ask: see
    `draft_of`."""
    arrival, of = listed.picture.submission.arrival, listed.picture.submission.id
    consent = permission_of(listed, config.entry_terms).consent
    shown_utc = submission_aired(storage, of)
    aired = shown_utc.astimezone(ZoneInfo(config.programme.zone)).date() if shown_utc else None
    return draft_of(
        config.programme.name,
        listed.picture,
        stored.annotation if stored else None,
        Circumstances(
            quality=measured_quality(stored.quality) if stored else None,
            equipment=CLASSES.get(class_of(listed)),
            taken=_taken_on(stored.annotation, config) if stored else None,
            earlier=count_earlier(storage, of),
            minor=consent.minor,
            refused=consent.state == "refused" or suggested(arrival, "withdrawal") is not None,
            voice=voice,
            aired=aired,
            left=None if aired else _left_on(storage, config, listed),
        ),
        *languages_for(storage, config, arrival, language),
        ask=ask,
    )


def _left_on(storage: Storage, config: Config, listed: ListedPicture) -> date | None:
    """The day of the programme that was on air without it; None where it may not be shown, or that was not yet."""
    begun = edition_aired(storage, listed.picture.submission.edition_id)
    if begun is None or reasons_not_to_air(listed, config.entry_terms):
        return None
    if listed.picture.submission.stored_utc > begun:
        return None  # it came too late, and goes with a later programme
    return begun.astimezone(ZoneInfo(config.programme.zone)).date()


def draft_for_letter(
    storage: Storage, config: Config, arrival: Arrival, what: LetterIs, language: str = "", voice: Voice | None = None
) -> Draft:
    languages = languages_for(storage, config, arrival, language)
    return letter_draft(config.programme.name, arrival, what, *languages, voice=voice)


def senders_language(arrival: Arrival) -> str:
    """Code of the language of the sender's words, without its region; "" where nobody has read it."""
    return (suggested(arrival, "language") or "").replace("_", "-").partition("-")[0].casefold()


def languages_for(storage: Storage, config: Config, arrival: Arrival, language: str = "") -> Sequence[Language]:
    """In which a reply is tried: the one asked for, or the sender's; then the programme's."""
    codes = dict.fromkeys((language or senders_language(arrival), config.programme.language))
    return tuple(_with_names(language_of(storage, code)) for code in codes if code in REPLY_LANGUAGES)


def _with_names(language: Language) -> Language:
    """English has no catalogue: the seas' meanings stand beside their names, as in other languages."""
    return replace(language, names={**_meanings(), **language.names}) if language.code == ENGLISH else language


@cache
def _meanings() -> dict[str, LocalName]:
    return {f.name: LocalName(f.meaning) for f in all_features() if f.meaning and f.meaning not in f.name}


def _taken_on(a: Annotation, config: Config) -> TakenOn | None:
    time = time_to_state(a)
    if time is None:
        return None
    return TakenOn(
        time.utc.astimezone(ZoneInfo(config.programme.zone)).date(), load_calendar(config).evening(time.utc).day_number
    )

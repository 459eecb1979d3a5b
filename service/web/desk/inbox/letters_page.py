"""Letters to be read: what is shown of one, of all, and of a mail's text beside its picture. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from moondesk.service.programme.permission import permission_of
from moondesk.service.programme.words import time_words
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.letters import Letter
from moondesk.service.store.records import LetterPart, ListedPicture
from moondesk.service.web.desk.inbox.questions_page import QuestionRow

EXCERPT = 280
NOT_KEPT = "Its text is not kept any more: look for the mail in the programme's own mailbox."
NO_WORDS = "There are no words in it."


@dataclass(frozen=True, kw_only=True)
class LetterCard:
    """A letter in a list. holds: how many pictures it holds."""

    id: int
    sender: str
    address: str
    subject: str
    when: str
    excerpt: str
    holds: int
    told: str


@dataclass(frozen=True)
class LetterText:
    """A mail's text for a page. parts: what is quoted, and signatures, is folded; missing: why there is none."""

    parts: tuple[LetterPart, ...] = ()
    missing: str = ""


@dataclass(frozen=True, kw_only=True)
class HeldPicture:
    """A picture of whom a letter is from. edition: of the rundown that it stands in, and its item there, if any."""

    picture_id: int
    sender: str
    given_name: str
    derived_key: str | None
    standing: str
    edition: int | None
    item_id: int | None


@dataclass(frozen=True, kw_only=True)
class LettersPage:
    programme: Programme
    token: str
    unread: tuple[LetterCard, ...]
    done: tuple[LetterCard, ...]
    note: str
    questions: tuple[QuestionRow, ...]


@dataclass(frozen=True, kw_only=True)
class LetterPage:
    """read: who has read it when, "" while nobody has. mailto: an answer for the reader's own mail program."""

    programme: Programme
    token: str
    id: int
    machine: bool
    sender: str
    address: str
    subject: str
    when: str
    text: LetterText
    read: str
    holds: bool
    pictures: tuple[HeldPicture, ...]
    forget: str
    mailto: str
    questions: tuple[QuestionRow, ...]


def card_of(letter: Letter, parts: Sequence[LetterPart] | None, holds: int, zone: str) -> LetterCard:
    own = " ".join(" ".join(p.text for p in parts or () if p.kind == "own").split())
    if not own:
        own = " ".join(" ".join(p.text for p in parts or ()).split()) or (NO_WORDS if parts is not None else "")
    told = "Automatic mail" if letter.kind == "machine" else read_words(letter, zone)
    return LetterCard(
        id=letter.id,
        sender=letter.sender_name or letter.sender_address or "Unknown sender",
        address=letter.sender_address if letter.sender_name else "",
        subject=letter.subject,
        when=_when(letter, zone),
        excerpt=own if len(own) <= EXCERPT else f"{own[:EXCERPT].rsplit(' ', 1)[0]} …",
        holds=holds,
        told=told,
    )


def letter_page(
    config: Config,
    token: str,
    letter: Letter,
    text: LetterText,
    pictures: Sequence[ListedPicture],
    places: Mapping[int, tuple[int, int]],
    questions: tuple[QuestionRow, ...] = (),
) -> LetterPage:
    """pictures: those of its sender; places: edition and item of those that stand in a rundown, by picture."""
    zone, address = config.programme.zone, letter.sender_address
    answer = letter.answer_to or address
    subject = f"Re: {letter.subject}" if letter.subject else f"Your letter to {config.programme.name}"
    return LetterPage(
        programme=config.programme,
        token=token,
        id=letter.id,
        machine=letter.kind == "machine",
        sender=letter.sender_name or address or "Unknown sender",
        address=address,
        subject=letter.subject,
        when=_when(letter, zone),
        text=text,
        read=read_words(letter, zone),
        holds=letter.holds,
        pictures=tuple(_held_picture(p, config, *places.get(p.picture.id, (None, None))) for p in pictures),
        forget=f"moondesk forget {address}" if address else "",
        mailto=f"mailto:{quote(answer, safe='@')}?subject={quote(subject)}" if answer else "",
        questions=questions,
    )


def text_view(parts: Sequence[LetterPart] | None) -> LetterText:
    """None: it is not kept."""
    if parts is None:
        return LetterText(missing=NOT_KEPT)
    return LetterText(tuple(parts)) if parts else LetterText(missing=NO_WORDS)


def read_words(letter: Letter, zone: str) -> str:
    """Who has read it, and when; empty while nobody has."""
    return f"Read by {letter.read_by}, {time_words(letter.read_utc, zone)}" if letter.read_utc else ""


def _held_picture(listed: ListedPicture, config: Config, edition: int | None, item_id: int | None) -> HeldPicture:
    found, summary = listed.picture, listed.summary
    may = permission_of(listed, config.entry_terms)
    arrival = found.submission.arrival
    return HeldPicture(
        picture_id=found.id,
        sender=arrival.sender_name or arrival.sender_address,
        given_name=found.enclosure.given_name,
        derived_key=summary.derived_key if summary and summary.status.facts.opens else None,
        standing=" ".join(may.stops) or "May go on air.",
        edition=edition,
        item_id=item_id,
    )


def _when(letter: Letter, zone: str) -> str:
    return time_words(letter.received_utc or letter.stored_utc, zone)

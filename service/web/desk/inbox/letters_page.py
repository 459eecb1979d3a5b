"""Letters to be read: what is shown of one, of all, and of a mail's text beside its picture. Pure."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import quote

from moondesk.service.programme.permission import permission_of
from moondesk.service.programme.words import time_words
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.letters import Letter
from moondesk.service.store.records import LetterPart, ListedPicture
from moondesk.service.store.withdrawals import Going
from moondesk.service.web.desk.inbox.questions_page import QuestionRow

EXCERPT = 280
#: Shown on both sides of what was searched for, characters.
AROUND = 120
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
class FoundLetter:
    """A letter that holds what was searched for. around: (text, whether it is what was searched for)."""

    sender: str
    subject: str
    around: tuple[tuple[str, bool], ...]
    letter_id: int | None
    picture_id: int | None


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


@dataclass(frozen=True)
class HeldSubmission:
    """What a letter may take back; words: what came with it, and when."""

    id: int
    words: str
    pictures: tuple[HeldPicture, ...]


@dataclass(frozen=True, kw_only=True)
class ErasePage:
    """To be said once more. goes: sentences of what goes; stays: of what does not."""

    programme: Programme
    token: str
    id: int
    sender: str
    submissions: tuple[int, ...]
    goes: tuple[str, ...]
    stays: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class LettersPage:
    programme: Programme
    token: str
    unread: tuple[LetterCard, ...]
    done: tuple[LetterCard, ...]
    note: str
    questions: tuple[QuestionRow, ...]
    #: What letters were searched for, and those that hold it.
    find: str = ""
    found: tuple[FoundLetter, ...] = ()


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
    #: What it may take back: submissions with their pictures. erased: it was done, and when the letter goes itself.
    taken_back: tuple[HeldSubmission, ...]
    erased: str
    answered: bool


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
    taken_back: Sequence[int] = (),
    answered: bool = False,
) -> LetterPage:
    """taken_back: submissions that it may take back; answered: whether there is an answer, a draft at least. pictures: those of its sender; places: edition and item of those that stand in a rundown, by picture."""
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
        taken_back=() if letter.outcome == "erased" else _held_submissions(taken_back, pictures, config),
        erased=erased_words(letter, zone),
        answered=answered,
    )


def erase_page(config: Config, token: str, letter: Letter, ids: tuple[int, ...], going: Going) -> ErasePage:
    goes = [
        f"{_count(going.submissions, 'submission')} with {_count(going.pictures, 'picture')}: originals, what was drawn "
        "and measured, words, consents and corrections."
    ]
    if going.rundowns:
        goes.append(
            f"Their places in the rundown of edition {', '.join(map(str, going.rundowns))}, and on the page on air at once."
        )
    if going.aired:
        goes.append(f"Credit and frame of {_count(going.aired, 'picture')} that was on air; the time alone stays.")
    if going.replies or going.questions:
        goes.append(f"{_count(going.replies, 'reply', 'replies')} and {_count(going.questions, 'question')} by a link.")
    goes.append("Every composite, month and animation that they are part of; made again, it is made without them.")
    goes.append("This letter, with its own pictures if it has any, once its answer was sent, or after two weeks.")
    stays = [
        "What has been broadcast, and files that were exported before: delete them where they lie. Exports made later "
        "have nothing of these."
    ]
    if going.backups:
        stays.append(
            f"The backups in {', '.join(going.backups)} hold them until they are made anew; restored as they are, they "
            "are erased again."
        )
    return ErasePage(
        programme=config.programme,
        token=token,
        id=letter.id,
        sender=letter.sender_name or letter.sender_address or "Unknown sender",
        submissions=ids,
        goes=tuple(goes) if ids else (),
        stays=tuple(stays) if ids else (),
    )


def _count(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or f'{one}s'}"


def _held_submissions(
    ids: Sequence[int], pictures: Sequence[ListedPicture], config: Config
) -> tuple[HeldSubmission, ...]:
    found = []
    for submission_id in ids:
        mine = [p for p in pictures if p.picture.submission.id == submission_id]
        of = mine[0].picture.submission if mine else None
        when = time_words(of.arrival.received_utc or of.stored_utc, config.programme.zone) if of else "another version"
        found.append(
            HeldSubmission(
                submission_id,
                f"{_count(len(mine), 'picture')}, {when}" if of else when,
                tuple(_held_picture(p, config, None, None) for p in mine),
            )
        )
    return tuple(found)


def words_around(text: str, words: str) -> tuple[tuple[str, bool], ...]:
    """The neighbourhood of the first of some words in a text, in pieces: those words, and what stands between."""
    wanted = re.compile("|".join(re.escape(w) for w in words.split()) or r"(?!)", re.IGNORECASE)
    first = wanted.search(text)
    start = max(0, (first.start() if first else 0) - AROUND)
    piece = " ".join(text[start : start + 2 * AROUND + 60].split())
    found: list[tuple[str, bool]] = [("… ", False)] if start else []
    at = 0
    for match in wanted.finditer(piece):
        found += [(piece[at : match.start()], False), (match.group(0), True)]
        at = match.end()
    return (*(pair for pair in found if pair[0]), (piece[at:], False))


def text_view(parts: Sequence[LetterPart] | None) -> LetterText:
    """None: it is not kept."""
    if parts is None:
        return LetterText(missing=NOT_KEPT)
    return LetterText(tuple(parts)) if parts else LetterText(missing=NO_WORDS)


def read_words(letter: Letter, zone: str) -> str:
    """Who has read it, and when; empty while nobody has."""
    if letter.read_utc and letter.outcome == "not_meant":
        return f"Not meant so, noted by {letter.read_by}, {time_words(letter.read_utc, zone)}"
    return f"Read by {letter.read_by}, {time_words(letter.read_utc, zone)}" if letter.read_utc else ""


def erased_words(letter: Letter, zone: str) -> str:
    """Who has erased what it took back, and when it goes itself; empty where nobody has."""
    if letter.outcome != "erased" or letter.read_utc is None or letter.erase_utc is None:
        return ""
    return (
        f"Erased by {letter.read_by}, {time_words(letter.read_utc, zone)}. The letter goes too, once its answer was sent, "
        f"at the latest {time_words(letter.erase_utc, zone)}."
    )


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

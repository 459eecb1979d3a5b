"""Questions that a sender answers by a link: asked at the desk, answered on the audience's page without an account.

A link's token is random; the store has its SHA-256 alone, so that no copy of the store opens a question. A question ends
with its time, when it is taken back at the desk, and with its submission. An answer may be changed while the question is
open: all are kept, word for word, and the last one counts. What an answer means is said by `programme.questions`.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from moondesk.service.errors import NotStoredError
from moondesk.service.store.decided import DecidedChange
from moondesk.service.store.decisions import insert_changes
from moondesk.service.store.queue import insert_again
from moondesk.service.store.records import ConsentRecord, QuestionKind, Suggestion
from moondesk.service.store.rows import text_time, time_text
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import insert_consent

#: Of a link's token: 192 bits, which nobody guesses.
TOKEN_BYTES = 24


@dataclass(frozen=True, kw_only=True)
class Answer:
    """choice: see `programme.questions`; value: what was typed or chosen beside it, for people. asked, words: the
    question's and the button's words as they stood on the page, in `language`."""

    choice: str
    value: str
    asked: str
    words: str
    language: str
    when_utc: datetime


@dataclass(frozen=True, kw_only=True)
class Question:
    """picture_ids: what is shown with it; picture_id: the one that it is about, None: all of the submission."""

    id: int
    submission_id: int
    picture_id: int | None
    picture_ids: tuple[int, ...]
    kind: QuestionKind
    language: str
    made_by: str
    made_utc: datetime
    expires_utc: datetime
    revoked_utc: datetime | None
    revoked_by: str
    #: When the first of its pictures was on air.
    aired_utc: datetime | None
    answers: tuple[Answer, ...]

    @property
    def answer(self) -> Answer | None:
        """The one that counts."""
        return self.answers[-1] if self.answers else None

    def open(self, now: datetime) -> bool:
        return self.revoked_utc is None and now < self.expires_utc


@dataclass(frozen=True, kw_only=True)
class Consequences:
    """What follows of an answer. unnamed: the sender asks not to be named."""

    consent: ConsentRecord | None = None
    changes: tuple[DecidedChange, ...] = ()
    unnamed: Suggestion | None = None


def token_hash(token: str) -> str:
    """What the store knows a token by."""
    return hashlib.sha256(token.encode()).hexdigest()


def ask(
    storage: Storage,
    submission_id: int,
    picture_id: int | None,
    kind: QuestionKind,
    language: str,
    who: str,
    now: datetime,
    days: int,
    asked: ConsentRecord | None = None,
) -> tuple[int, str]:
    """Keep a question; its id, and the token for its link, which cannot be had again.

    asked: that a consent was asked for. Raises NotStoredError where the submission has no such picture.
    """
    token = secrets.token_urlsafe(TOKEN_BYTES)
    with storage.writing():
        mine = {r["id"] for r in storage.read("select id from pictures where submission_id = ?", [submission_id])}
        if not mine or picture_id not in (None, *mine):
            raise NotStoredError("There is no such picture any more.", "Go back to the list.")
        question_id = storage.insert(
            "questions",
            {
                "submission_id": submission_id,
                "picture_id": picture_id,
                "kind": kind,
                "token": token_hash(token),
                "language": language,
                "made_by": who,
                "made_utc": time_text(now),
                "expires_utc": time_text(now + timedelta(days=days)),
            },
        )
        if asked is not None:
            insert_consent(storage, submission_id, replace(asked, noted_utc=now))
    return question_id, token


def question_of_token(storage: Storage, token: str, now: datetime) -> Question | None:
    """The question of a link; None where there is none, or it has ended."""
    found = _questions(storage, "q.token = ?", [token_hash(token)])
    return found[0] if found and found[0].open(now) else None


def question(storage: Storage, question_id: int) -> Question:
    """Raises NotStoredError."""
    for found in _questions(storage, "q.id = ?", [question_id]):
        return found
    raise NotStoredError("There is no such question.", "Go back to the picture.")


def questions_of(storage: Storage, submission_ids: Sequence[int]) -> tuple[Question, ...]:
    """All of these submissions, the newest first."""
    return _questions(
        storage, "q.submission_id in (select value from json_each(?))", [json.dumps(list(submission_ids))]
    )


def latest_questions(storage: Storage, most: int) -> tuple[Question, ...]:
    """The newest of all."""
    return _questions(storage, f"q.id in (select id from questions order by id desc limit {int(most)})", [])


def revoke(storage: Storage, question_id: int, who: str, now: datetime) -> None:
    """End a question; what was answered stays. Raises NotStoredError."""
    question(storage, question_id)
    with storage.writing() as execute:
        execute(
            "update questions set revoked_utc = ?, revoked_by = ? where id = ? and revoked_utc is null",
            [time_text(now), who, question_id],
        )


def answer(storage: Storage, question_id: int, given: Answer, then: Consequences, who: str) -> bool:
    """Keep an answer with all that follows of it, or nothing. False: the question has ended meanwhile."""
    with storage.writing():
        rows = _questions(storage, "q.id = ?", [question_id])
        if not rows or not rows[0].open(given.when_utc):
            return False
        (found,) = rows
        storage.insert(
            "answers",
            {
                "question_id": found.id,
                "choice": given.choice,
                "value": given.value,
                "asked": given.asked,
                "words": given.words,
                "language": given.language,
                "when_utc": time_text(given.when_utc),
            },
        )
        if then.consent is not None:
            insert_consent(storage, found.submission_id, replace(then.consent, noted_utc=given.when_utc))
        s = then.unnamed
        if s is not None and not storage.read(
            "select 1 from suggestions where submission_id = ? and field = ?", [found.submission_id, s.field]
        ):
            storage.insert(
                "suggestions",
                {
                    "submission_id": found.submission_id,
                    "field": s.field,
                    "value": s.value,
                    "words": s.words,
                    "source": s.source,
                },
            )
        if then.changes:
            insert_changes(storage, found.picture_ids[0], then.changes, who, given.when_utc)
            if any(change.kind == "time" for change in then.changes):
                insert_again(storage, found.picture_ids)
    return True


def _questions(storage: Storage, where: str, values: Sequence[Any]) -> tuple[Question, ...]:
    rows = storage.read(
        f"""
        select q.*,
               (select json_group_array(id) from (select id from pictures p where p.submission_id = q.submission_id and
                (q.picture_id is null or p.id = q.picture_id) and p.refused is null order by p.position)) as pictures,
               (select min(aired_utc) from pictures p where p.submission_id = q.submission_id and
                (q.picture_id is null or p.id = q.picture_id)) as aired,
               (select json_group_array(json_array(choice, value, asked, words, language, when_utc)) from
                (select * from answers where question_id = q.id order by id)) as given
        from questions q where {where} order by q.id desc
        """,
        values,
    )
    return tuple(_question(row) for row in rows)


def _question(row: dict[str, Any]) -> Question:
    pictures = tuple(json.loads(row["pictures"]))
    return Question(
        id=row["id"],
        submission_id=row["submission_id"],
        picture_id=row["picture_id"],
        picture_ids=pictures or ((row["picture_id"],) if row["picture_id"] else ()),
        kind=row["kind"],
        language=row["language"],
        made_by=row["made_by"],
        made_utc=datetime.fromisoformat(row["made_utc"]),
        expires_utc=datetime.fromisoformat(row["expires_utc"]),
        revoked_utc=text_time(row["revoked_utc"]),
        revoked_by=row["revoked_by"],
        aired_utc=text_time(row["aired"]),
        answers=tuple(
            Answer(
                choice=choice,
                value=value,
                asked=asked,
                words=words,
                language=language,
                when_utc=datetime.fromisoformat(when),
            )
            for choice, value, asked, words, language, when in json.loads(row["given"])
        ),
    )

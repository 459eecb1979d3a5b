"""All that is stored of one person, as plain values: for whoever asks what is known of them.

Nothing of other people: who of the programme noted something is not named, pairs with other people's pictures are left
out, and of a mail in which somebody else passed the person's picture on there are the picture and what was made of it,
not that mail.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from moondesk.sentences import join_words
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.messages import message_of, read_list, words_of
from moondesk.service.store.records import StoredAnnotation
from moondesk.service.store.senders import fold_sender
from moondesk.service.store.storage import Storage

#: In place of the name of somebody at the desk.
PROGRAMME = "the programme"
#: Columns that are the store's own, or another person's.
_LEFT_OUT = {"sender_key", "receipt", "token", "edition_id", "letter_id", "leased_by", "words_read", "version_of"}
_WHO = ("noted_by", "who", "undone_by", "decided_by", "made_by", "revoked_by", "read_by", "added_by", "out_by")


@dataclass(frozen=True, kw_only=True)
class PersonFile:
    """A file of the person's. role: "mail", "form", "picture", "frame"; picture_id: of the last two."""

    name: str
    sha256: str
    role: str
    picture_id: int | None = None


@dataclass(frozen=True, kw_only=True)
class PersonRecord:
    """submissions: in the order in which they came, with all that hangs on them. annotations: by picture."""

    submissions: tuple[dict[str, Any], ...]
    files: tuple[PersonFile, ...]
    annotations: dict[int, StoredAnnotation]


def person_record(storage: Storage, submission_ids: Sequence[int], senders: Sequence[str]) -> PersonRecord:
    """senders: the addresses and names that are the person's."""
    staff = {row["name"] for row in storage.read("select name from accounts")} | {"desk"}
    found = _Reader(storage, staff, {fold_sender(s) for s in senders})
    told = tuple(found.submission(k) for k in sorted(submission_ids))
    return PersonRecord(submissions=told, files=tuple(found.files), annotations=found.annotations)


class _Reader:
    def __init__(self, storage: Storage, staff: set[str], senders: set[str]) -> None:
        self.storage, self.staff, self.senders = storage, staff, senders
        self.files: list[PersonFile] = []
        self.annotations: dict[int, StoredAnnotation] = {}

    def submission(self, k: int) -> dict[str, Any]:
        (row,) = self.storage.read(
            "select s.*, e.number as edition from submissions s join editions e on e.id = s.edition_id where s.id = ?",
            [k],
        )
        own = fold_sender(row["sender_address"] or row["sender_name"]) in self.senders
        if not own:  # somebody else passed it on, or a form did
            row = {**row, **dict.fromkeys(("sender_name", "sender_address", "answer_to", "subject", "message_id"), "")}
            row["remarks"] = "[]"
        told = self._plain({**row, "remarks": [join_words((s,)) for s in read_list(row["remarks"])]})
        told["passed_on_by_somebody_else"] = not own
        kind, _, sha = row["key"].partition(":")
        kept = not self.storage.read("select 1 from mails_erased where submission_id = ?", [k])
        if own and kept and kind in ("mail", "form"):
            name = f"{k}-mail.eml" if kind == "mail" else f"{k}-form.json"
            self.files.append(PersonFile(name=name, sha256=sha, role=kind))
        told["text"] = self._text(k) if own else []
        told["suggestions"] = self._rows("suggestions where submission_id = ? and letter_id is null", k) if own else []
        told["consents"] = self._rows("consents where submission_id = ?", k)
        told["letter"] = self._rows("letters where submission_id = ?", k)
        told["questions"] = [
            {**question, "answers": self._rows("answers where question_id = ?", question["id"])}
            for question in self._rows("questions where submission_id = ?", k)
        ]
        told["replies"] = [
            {**reply, "words": message_of(str(reply["words"])).words()}
            for reply in self._rows("replies where submission_id = ?", k)
        ]
        told["pictures"] = [
            self._picture(k, picture) for picture in self._rows("pictures where submission_id = ?", k, "position")
        ]
        return told

    def _picture(self, submission_id: int, row: dict[str, Any]) -> dict[str, Any]:
        picture_id = row["id"]
        if row["sha256"] and not (row["media_type"] or "").startswith("message/"):
            name = f"{submission_id}-{row['position'] + 1}-{_safe(row['given_name'])}"
            self.files.append(PersonFile(name=name, sha256=row["sha256"], role="picture", picture_id=picture_id))
        stored = read_annotation(self.storage, picture_id)
        if stored is not None:
            self.annotations[picture_id] = stored
        aired = self._rows("aired where picture_id = ?", picture_id)
        for line in aired:
            if line["frame"]:
                self.files.append(
                    PersonFile(
                        name=f"{picture_id}-on-air-{line['id']}.png",
                        sha256=line["frame"],
                        role="frame",
                        picture_id=picture_id,
                    )
                )
        return {
            **row,
            "refused": words_of(row["refused"] or ""),
            "decisions": [
                {**d, "what": json.loads(d["what"])} for d in self._rows("decisions where picture_id = ?", picture_id)
            ],
            "rundown": self._rows("rundown_items where picture_id = ?", picture_id),
            "aired": aired,
            "air_log": self._rows("air_log where picture_id = ?", picture_id),
        }

    def _text(self, k: int) -> list[Any]:
        rows = self.storage.read("select parts from mail_texts where submission_id = ?", [k])
        return [{"kind": kind, "text": text} for kind, text in json.loads(rows[0]["parts"])] if rows else []

    def _rows(self, of: str, value: int, order: str = "rowid") -> list[dict[str, Any]]:
        rows = self.storage.read(f"select * from {of} order by {order}", [value])
        return [self._plain(row) for row in rows]

    def _plain(self, row: dict[str, Any]) -> dict[str, Any]:
        told = {name: value for name, value in row.items() if name not in _LEFT_OUT}
        return {k: PROGRAMME if k in _WHO and v in self.staff else v for k, v in told.items()}


def _safe(name: str) -> str:
    """A name of a file on any system."""
    kept = "".join(c if c.isalnum() or c in "-_." else "_" for c in name)[-60:].lstrip(".")
    return kept or "picture"

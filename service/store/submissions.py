"""Submissions by the page: for programs that leaf through an edition, however much it holds."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from moondesk.service.errors import NotStoredError
from moondesk.service.store.listings import submissions_sql
from moondesk.service.store.records import ListedSubmission
from moondesk.service.store.rows import listed_submission

if TYPE_CHECKING:
    from moondesk.service.store.storage import Storage


def submissions_after(storage: Storage, edition_id: int, after_id: int, most: int) -> tuple[ListedSubmission, ...]:
    """An edition's submissions stored after one (0: from the first), at most so many, in the order of their ids."""
    rows = storage.read(
        "select id from submissions where edition_id = ? and id > ? order by id limit ?", [edition_id, after_id, most]
    )
    return _listed(storage, [row["id"] for row in rows])


def submission(storage: Storage, submission_id: int) -> ListedSubmission:
    """One submission. Raises NotStoredError."""
    for found in _listed(storage, [submission_id]):
        return found
    raise NotStoredError(f"There is no submission {submission_id}.", "Go back to the list.")


def _listed(storage: Storage, submission_ids: Sequence[int]) -> tuple[ListedSubmission, ...]:
    rows = storage.read(
        submissions_sql("where s.id in (select value from json_each(?))") + "order by listed.s_id, listed.position",
        [json.dumps(list(submission_ids))],
    )
    return tuple(listed_submission(list(group)) for _, group in groupby(rows, key=lambda row: row["s_id"]))

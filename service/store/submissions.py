"""Submissions by the page: for programs that leaf through an edition, however much it holds."""

from __future__ import annotations

import json
from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from service.errors import NotStoredError
from service.store.records import ListedPicture, ListedSubmission

if TYPE_CHECKING:
    from service.store.storage import Storage


def submissions_after(storage: Storage, edition_id: int, after_id: int, most: int) -> tuple[ListedSubmission, ...]:
    """An edition's submissions stored after one (0: from the first), at most so many, in the order of their ids."""
    rows = storage.read("select id from submissions where edition_id = ? and id > ? order by id limit ?",
                        [edition_id, after_id, most])
    return _listed(storage, [row["id"] for row in rows])


def submission(storage: Storage, submission_id: int) -> ListedSubmission:
    """One submission. Raises NotStoredError."""
    for found in _listed(storage, [submission_id]):
        return found
    raise NotStoredError(f"There is no submission {submission_id}.", "Go back to the list.")


def _listed(storage: Storage, submission_ids: Sequence[int]) -> tuple[ListedSubmission, ...]:
    rows = storage.read(
        """
        select p.id, p.submission_id, e.number, j.quarantined,
               (select sha256 from pictures where id = p.version_of) as version_of
        from pictures p join submissions s on s.id = p.submission_id join editions e on e.id = s.edition_id
        left join jobs j on j.picture_id = p.id
        where p.submission_id in (select value from json_each(?)) order by p.submission_id, p.position
        """, [json.dumps(list(submission_ids))])
    pictures = {p.picture.id: p for p in storage.listed_by([row["id"] for row in rows])}
    found = []
    for _, group in groupby(rows, key=lambda row: row["submission_id"]):
        # what is erased between the two looks is left out
        of_one = [(row, pictures[row["id"]]) for row in group if row["id"] in pictures]
        if of_one:
            first = of_one[0][1].picture.submission
            found.append(ListedSubmission(
                first, of_one[0][0]["number"], tuple((p.picture.enclosure, _status(p)) for _, p in of_one),
                first.arrival.consents, tuple(p.picture.id for _, p in of_one),
                tuple(row["quarantined"] or "" for row, _ in of_one),
                tuple(row["version_of"] for row, _ in of_one), tuple(p.asked for _, p in of_one)))
    return tuple(found)


def _status(picture: ListedPicture) -> str | None:
    return picture.summary.status if picture.summary else None

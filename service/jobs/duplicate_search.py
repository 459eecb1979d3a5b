"""Looking for copies of what was placed, beside the placing and in the same workers: they open untrusted files.

    sketch stored with an annotation -> waits -> the few worth comparing, by the heads of all sketches (here)
    -> their pixels, in a child -> pairs stored, the picture noted as compared

Durable: what a killed program left waiting is taken up by the next that places. Two that compare the same picture find
the same pairs; each pair is stored once.
"""

from __future__ import annotations

import contextlib
import logging
from collections.abc import Collection, Iterator, Sequence
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import TYPE_CHECKING

from moondesk.service.jobs.child_pool import Run
from moondesk.service.jobs.duplicate_rules import (
    CopyCandidate,
    Finding,
    closer_look,
    first_look,
    sender_key,
    sort_findings,
    worth_comparing,
)
from moondesk.service.jobs.executors import attend
from moondesk.service.store import versions
from moondesk.service.store.records import Pair, SketchRow

if TYPE_CHECKING:
    from moondesk.records import Annotation, ByteArray
    from moondesk.service.store.storage import Storage

log = logging.getLogger(__name__)


def make_sketch(rgb: ByteArray) -> bytes:
    """What is kept of a picture, packed. rgb: (H, W, 3) uint8 as displayed."""
    import numpy as np
    from PIL import Image

    from moondesk.duplicates.fingerprint import sketch

    return sketch(np.asarray(Image.fromarray(rgb).convert("L"))).packed()


def sketch_row(picture_id: int, sketch: bytes, annotation: Annotation) -> SketchRow:
    """The row of a picture that was just placed."""
    pose = annotation.pose if annotation.sure else None
    stance = (
        (pose.north_screen_deg, pose.mirrored, pose.libration_lat_deg, pose.libration_lon_deg, pose.sub_solar_lon_deg)
        if pose
        else None
    )
    return SketchRow(picture_id=picture_id, sketch=sketch, stance=stance, clock=annotation.taken.local_text)


class Copies:
    """The comparisons of one program that places. One connection, one thread.

    pool: where files may be opened. originals: folder of the originals, as the workers see it.
    """

    def __init__(self, storage: Storage, pool: Executor, originals: Path, ahead: int) -> None:
        self._storage, self._pool, self._originals, self._ahead = storage, pool, originals, ahead
        #: Of all pictures with a sketch, its head alone: 20,000 take some 30 MB.
        self._heads: dict[int, CopyCandidate] = {}
        #: Given out once in this run, however it ended: one that ends its worker must not end them all.
        self._tried: set[int] = set()
        self._given: dict[Future[tuple[Finding, ...]], int] = {}

    @property
    def given(self) -> Collection[Future[tuple[Finding, ...]]]:
        """What is being compared."""
        return self._given.keys()

    def give_out(self) -> None:
        """Have pictures that wait for it compared, at most `ahead` at a time."""
        while (room := self._ahead - len(self._given)) > 0:
            fresh = versions.waiting_ids(self._storage, room, self._tried)
            if not fresh:
                return
            for picture_id in fresh:
                self._tried.add(picture_id)
                for new, chosen in self._worth_comparing(picture_id):
                    self._given[attend(self._pool, compare, new, chosen, self._originals)] = picture_id

    def settle(self, future: Future[tuple[Finding, ...]]) -> None:
        """Store what one comparison came to."""
        picture_id = self._given.pop(future)
        try:
            found = future.result()
        except Exception as error:  # a picture that is not compared is still placed: the others go on
            log.warning("picture %d could not be compared with others: %s", picture_id, error)
            versions.settle(self._storage, picture_id, (), failed=True)
            return
        versions.settle(self._storage, picture_id, [_pair(f) for f in found])

    def _worth_comparing(self, picture_id: int) -> Iterator[tuple[CopyCandidate, tuple[CopyCandidate, ...]]]:
        """The picture with those that may be the same; where there are none, that is noted and nothing given."""
        from moondesk.duplicates.fingerprint import HEAD_BYTES

        ids = versions.ids_with_sketch(
            self._storage
        )  # several programs place, in any order: no number tells what is new
        for row in versions.sketch_rows(self._storage, sorted(ids - self._heads.keys()), HEAD_BYTES):
            self._heads[row.picture_id] = candidate_of(row)
        for gone in self._heads.keys() - ids:
            del self._heads[gone]
        for row in versions.sketch_rows(self._storage, [picture_id]):
            new = candidate_of(row)
            self._heads[picture_id] = new
            chosen = [h.picture_id for h in worth_comparing(new, list(self._heads.values()))]
            others = tuple(candidate_of(r) for r in versions.sketch_rows(self._storage, chosen)) if chosen else ()
            if others:
                yield new, others
            else:
                versions.settle(self._storage, picture_id, ())


def compare(run: Run, new: CopyCandidate, chosen: Sequence[CopyCandidate], originals: Path) -> tuple[Finding, ...]:
    """Where the originals are: what the new picture repeats of the chosen ones. Their bytes go to a child together,
    those of the few alone that are worth opening."""
    senders = {h.picture_id: h.sender for h in chosen}
    first, opened = run(first_look, new, tuple(chosen))
    files = {}
    for held in (new, *(h for h in chosen if h.picture_id in opened)):
        with contextlib.suppress(OSError):
            files[held.sha256] = (originals / held.sha256[:2] / held.sha256).read_bytes()
    closer = run(closer_look, new, tuple(h for h in chosen if h.picture_id in opened), files) if opened else ()
    found = (*first, *closer)
    for one in found:  # what a child tells of others' pictures is about these two, and merges one sender's alone
        own = bool(new.sender) and senders.get(one.other_id) == new.sender
        about = one.picture_id == new.picture_id and one.other_id in senders
        if not about or one.better not in (one.picture_id, one.other_id) or (one.kind == "version_of" and not own):
            raise ValueError("an answer about other pictures than those that were compared")
    return sort_findings(found)


def candidate_of(row: SketchRow) -> CopyCandidate:
    from moondesk.duplicates.fingerprint import ViewingGeometry, unpack_sketch

    stance = None
    if row.stance:
        north, mirrored, lat, lon, sun = row.stance
        stance = ViewingGeometry(
            north_screen_deg=north,
            mirrored=mirrored,
            libration_lat_deg=lat,
            libration_lon_deg=lon,
            sub_solar_lon_deg=sun,
        )
    # a handle is one sender's only on its channel
    handle = f"{row.channel} {row.sender_name}" if row.channel and row.sender_name else ""
    return CopyCandidate(
        picture_id=row.picture_id,
        sha256=row.sha256,
        sender=sender_key(row.sender_address, handle),
        sender_name=row.sender_name,
        sketch=unpack_sketch(row.sketch),
        stance=stance,
        clock=row.clock,
    )


def _pair(finding: Finding) -> Pair:
    unexplained = finding.unexplained if finding.unexplained == finding.unexplained else None
    return Pair(
        picture_id=finding.picture_id,
        other_id=finding.other_id,
        kind=finding.kind,
        better_id=finding.better,
        message=finding.message,
        unexplained=unexplained,
    )

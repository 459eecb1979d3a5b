"""Whether a new picture is one that is stored already: a version of it, or a pair about which a human is asked.

    sketches and placements of all -> worth_comparing (a few) -> previews, then pixels compared -> Finding ...

A copy is merged by the tool only where the pixels prove it, the sender is the same and the two files' own clocks do not
contradict it. Everything else that looks like a copy is a question. Pure: the caller (`duplicate_search`) gives the
originals' bytes and stores what comes out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from moondesk.service.store.messages import StoredMessage, message

if TYPE_CHECKING:  # the command line starts without the core
    from moondesk.duplicates.fingerprint import Sketch, ViewingGeometry
    from moondesk.duplicates.likeness import Likeness
    from moondesk.duplicates.raster import PixelRaster

#: Pictures that are compared because they look alike, at most; 98 % of the copies are among the first 12 of 20,000.
MOST_ALIKE = 12
#: Less alike than this is not compared, few as there may be.
LEAST_ALIKE = 0.8
#: Pictures of the same sender that are compared, the newest first; the first few whatever they look like.
MOST_OF_SENDER, WHATEVER = 12, 4
#: Pictures whose placement allows it that are compared, the most alike first.
MOST_PLACED = 12
#: Of all these so many are opened, of the sender's and of others': each costs a sixth of a second at 12 megapixels.
MOST_OPENED, MOST_OPENED_OF_OTHERS = 8, 4

Kind = Literal["version_of", "ask"]


@dataclass(frozen=True, kw_only=True)
class CopyCandidate:
    """What is held of one picture for this. sender: see `sender_key`; "" for an unknown one. stance: only where
    the placement is sure. clock: the reading of the file's own clock (`TimeReadings.local_text`); None where it has none."""

    picture_id: int
    sha256: str
    sender: str
    sender_name: str = ""
    sketch: Sketch | None = None
    stance: ViewingGeometry | None = None
    clock: str | None = None


@dataclass(frozen=True, kw_only=True)
class Finding:
    """kind "version_of": the two are one picture. "ask": message is a question for the presenter. better: id of the one
    to show. unexplained: see `moondesk.duplicates.likeness`; nan for the same bytes."""

    kind: Kind
    picture_id: int
    other_id: int
    better: int
    message: StoredMessage
    unexplained: float = float("nan")

    @property
    def words(self) -> str:
        return self.message.words()


def sender_key(address: str, handle: str = "") -> str:
    """What makes two submissions those of one sender: the address, else the handle on its channel; never a name."""
    return " ".join((address.strip() or handle.strip()).casefold().split())


def first_look(new: CopyCandidate, stored: Sequence[CopyCandidate]) -> tuple[tuple[Finding, ...], tuple[int, ...]]:
    """What repeats the same bytes, and the ids of those that are worth opening; by sketches and placements alone."""
    others = [h for h in stored if h.picture_id != new.picture_id]
    same_bytes = [h for h in others if h.sha256 == new.sha256]
    known = {h.picture_id for h in same_bytes}
    chosen = [h for h in worth_comparing(new, others) if h.picture_id not in known]
    return tuple(_same_bytes(new, h) for h in same_bytes), tuple(h.picture_id for h in _candidates(new, chosen))


def closer_look(new: CopyCandidate, chosen: Sequence[CopyCandidate], files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """What the new picture repeats of those; files: their bytes by SHA-256, of as many as are at hand."""
    return tuple(_compare(new, chosen, files))


def sort_findings(found: Sequence[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(found, key=lambda f: (f.kind != "version_of", f.other_id)))


def worth_comparing(new: CopyCandidate, stored: Sequence[CopyCandidate]) -> list[CopyCandidate]:
    """The few stored pictures that may be worth a look: those of the same bytes, the sender's newest, the most alike,
    and of those whose placements allow a copy the most alike. Sketches need their heads only."""
    from moondesk.duplicates.fingerprint import alike, may_be_copies

    others = [h for h in stored if h.picture_id != new.picture_id]
    chosen = {h.picture_id: h for h in others if h.sha256 == new.sha256}
    chosen.update((h.picture_id, h) for h in _of_sender(new, others)[:MOST_OF_SENDER])
    if new.sketch is None:
        return list(chosen.values())
    drawn = [h for h in others if h.sketch is not None]
    likeness = alike(new.sketch, [h.sketch for h in drawn if h.sketch is not None])
    order = [int(i) for i in np.argsort(-likeness, kind="stable")]
    first = [drawn[i] for i in order[:MOST_ALIKE] if likeness[i] >= LEAST_ALIKE]
    chosen.update((h.picture_id, h) for h in first)
    if new.stance is not None:
        stance = new.stance
        placed = [drawn[i] for i in order if (p := drawn[i].stance) is not None and may_be_copies(stance, p)]
        chosen.update((h.picture_id, h) for h in placed[:MOST_PLACED])
    return list(chosen.values())


def _of_sender(new: CopyCandidate, others: Sequence[CopyCandidate]) -> list[CopyCandidate]:
    """The same sender's, the newest first."""
    return sorted((h for h in others if new.sender and h.sender == new.sender), key=lambda h: -h.picture_id)


def _candidates(new: CopyCandidate, chosen: Sequence[CopyCandidate]) -> list[CopyCandidate]:
    """Less those whose previews cannot be laid on the new one's, and those beyond the limits, in their order; the
    sender's newest few stay, whatever they show."""
    from moondesk.duplicates.fingerprint import may_overlap_by

    drawing, own = new.sketch, [h.picture_id for h in _of_sender(new, chosen)]
    left = {True: MOST_OPENED, False: MOST_OPENED_OF_OTHERS}
    kept = []
    for held in chosen:
        mine = held.picture_id in own
        if left[mine] > 0 and (drawing is None or held.sketch is None or held.picture_id in own[:WHATEVER]
                               or may_overlap_by(drawing, held.sketch)):  # fmt: skip
            left[mine] -= 1
            kept.append(held)
    return kept


def _compare(new: CopyCandidate, chosen: Sequence[CopyCandidate], files: Mapping[str, bytes]) -> list[Finding]:
    from moondesk.duplicates.likeness import compare

    mine = _raster(new.sha256, files)
    if mine is None:
        return []
    found: list[Finding] = []
    for other in chosen:
        theirs = _raster(other.sha256, files)
        if theirs is None:
            continue
        likeness = compare(mine, theirs)
        if likeness.likelihood != "different":
            found.append(_judge(new, other, likeness))
    return found


def _raster(sha256: str, files: Mapping[str, bytes]) -> PixelRaster | None:
    from moondesk.duplicates.raster import read_raster
    from moondesk.records import NotFound

    data = files.get(sha256)
    raster = read_raster(data) if data is not None else None
    return None if raster is None or isinstance(raster, NotFound) else raster


def _judge(new: CopyCandidate, other: CopyCandidate, likeness: Likeness) -> Finding:
    better = _better(new, other, likeness)
    one_sender = bool(new.sender) and new.sender == other.sender
    clocks_differ = new.clock is not None and other.clock is not None and new.clock != other.clock
    kind: Kind = "ask"
    if likeness.likelihood == "same" and one_sender and not clocks_differ:
        kind, said = "version_of", message("same_picture", **_how(likeness))
    elif likeness.likelihood == "same" and clocks_differ:
        said = message("same_pixels_other_clock", theirs=other.clock, mine=new.clock)
    elif likeness.likelihood == "same":
        said = message("same_picture_of_other", who=other.sender_name, **_how(likeness))
    elif one_sender:
        said = message("copy_or_next_frame")
    else:
        said = message("perhaps_copy_of_other", who=other.sender_name)
    return Finding(
        kind=kind,
        picture_id=new.picture_id,
        other_id=other.picture_id,
        better=better,
        message=said,
        unexplained=likeness.unexplained,
    )


def _better(new: CopyCandidate, other: CopyCandidate, likeness: Likeness) -> int:
    """The one with more resolution; of equal resolution the less cut, then the one whose clock was not stripped."""
    if likeness.scale > 1.01 or new.sketch is None or other.sketch is None:
        return (new, other)[likeness.finer].picture_id
    areas = [h.sketch.width * h.sketch.height for h in (new, other) if h.sketch is not None]
    worth = [(area, h.clock is not None, 1 - abs(likeness.finer - i))
             for i, (area, h) in enumerate(zip(areas, (new, other), strict=True))]  # fmt: skip
    return new.picture_id if worth[0] > worth[1] else other.picture_id


def _same_bytes(new: CopyCandidate, other: CopyCandidate) -> Finding:
    better = min(new.picture_id, other.picture_id)
    if new.sender and new.sender == other.sender:
        return Finding(
            kind="version_of",
            picture_id=new.picture_id,
            other_id=other.picture_id,
            better=better,
            message=message("same_file"),
        )
    return Finding(kind="ask", picture_id=new.picture_id, other_id=other.picture_id, better=better,
                   message=message("same_file_of_other", who=other.sender_name))  # fmt: skip


def _how(likeness: Likeness) -> dict[str, str]:
    """In what the copy differs, as far as it can be said in few words."""
    ways = {}
    if likeness.scale > 1.01:
        ways["percent"] = f"{100 / likeness.scale:.0f}"
    if likeness.framing in ("cut", "free"):
        ways["framing"] = "cut"
    if likeness.flipped or likeness.turned:
        ways["turn"] = "mirrored" if likeness.flipped else "turned"
    return ways

"""A sender's own card for a feed or a story: only of a surely placed picture that may be shown, with the name as the
sender wants it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from moondesk.notes.messages import say
from moondesk.records import Annotation, NotFound
from moondesk.revisions import FRAMES, STACKING
from moondesk.service.jobs.checked_pictures import Picture
from moondesk.service.jobs.engine import Engine
from moondesk.service.jobs.frame_files import png
from moondesk.service.jobs.missing_pictures import at_hand, drop_if_forgotten
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.frame_request import FrameOptions, lines_of, request_of
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.media import write_whole
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import StoredAnnotation
from moondesk.service.studio import Studio

if TYPE_CHECKING:
    from moondesk.stacking.card import CardWords

Shape = Literal["feed", "story"]
SHAPES: tuple[Shape, ...] = ("feed", "story")


@dataclass(frozen=True, kw_only=True)
class PlannedCard:
    """A card that can be made. mark: sixteen hex digits for all that is seen of it; sha256: of the original."""

    mark: str
    sha256: str
    stored: StoredAnnotation
    words: CardWords
    shape: Shape
    offered: tuple[str, ...]


def card_of(studio: Studio, picture_id: int, shape: Shape) -> bytes | NotFound:
    """PNG, kept with the picture's own files; NotFound says why there is no card of it."""
    planned = plan_card(studio, picture_id, shape)
    if isinstance(planned, NotFound):
        return planned
    stored, sha = planned.stored, planned.sha256
    kept = studio.media.derived_folder(sha, stored.derived_key) / f"card-{planned.mark}.png"
    if kept.is_file():
        return kept.read_bytes()
    photo = at_hand(studio.media, studio.run, sha, stored.derived_key, stored.annotation)
    if photo is None:
        return NotFound("card", "The picture is not at hand any more.", "Place it anew.")
    made: bytes | NotFound = studio.run(
        paint_card, photo.read_bytes(), stored.annotation, planned.words, shape, planned.offered
    )
    if isinstance(made, NotFound):
        return made
    for old in kept.parent.glob("card-*.png"):
        old.unlink(missing_ok=True)
    write_whole(kept, made)
    drop_if_forgotten(studio.media, sha, stored.derived_key)
    return made


def plan_card(studio: Studio, picture_id: int, shape: Shape) -> PlannedCard | NotFound:
    """What a card is made of, without drawing it; NotFound says why there is none."""
    from moondesk.stacking.card import CardWords

    listed = next(iter(list_by_id(studio.storage, [picture_id])), None)
    if listed is None:
        return NotFound("card", f"There is no picture {picture_id}.", "Look for its number on its page.")
    stops = reasons_not_to_air(listed, studio.config.entry_terms)
    if stops:
        return NotFound("card", stops[0], "See the picture's page.")
    stored, arrival = read_annotation(studio.storage, picture_id), listed.picture.submission.arrival
    sha, own = listed.picture.enclosure.sha256, credit_of(arrival)
    if stored is None or sha is None or not stored.annotation.sure:
        return NotFound("card", "It is not certain how this picture lies on the Moon.", "Correct it on its page.")
    if not own.name or own.unnamed or own.doubt:
        return NotFound(
            "card",
            "The sender asks not to be named." if own.unnamed else "Nobody has said how the sender is to be named.",
            "A card has its sender's name, or there is none.",
        )
    wanted = request_of(
        stored.annotation,
        own.name,
        lines_of(stored.annotation, arrival.equipment, studio.calendar),
        FrameOptions(format="vertical"),
        studio.config.programme.place,
        studio.language,
    )
    if isinstance(wanted, NotFound):
        return wanted
    words = CardWords(
        programme=studio.config.programme.name,
        credit=own.name,
        lines=wanted.texts.lines,
        thanks=studio.language.write(say("Thank you for your picture!")),
        texts=wanted.texts,
    )
    told = f"{FRAMES} {STACKING} {stored.derived_key} {shape} {words!r} {wanted.offered!r}"
    return PlannedCard(
        mark=hashlib.sha256(told.encode()).hexdigest()[:16],
        sha256=sha,
        stored=stored,
        words=words,
        shape=shape,
        offered=wanted.offered,
    )


def paint_card(
    engine: Engine, photo: bytes, annotation: Annotation, words: CardWords, shape: Shape, offered: tuple[str, ...]
) -> Picture | NotFound:
    """Runs in a child."""
    from moondesk.stacking.card import card

    made = card(engine.decode_rgb(photo), annotation, words, shape, offered)
    return made if isinstance(made, NotFound) else Picture(png(made))

"""Every sentence of an episode as it stands with the truth: computed, true, doubtful, false, or the presenter's own. Pure.

A sentence that was composed is known by its exact words; one that was changed or typed is read as a claim about the
picture that stands where it is spoken, and without one about the Moon of that evening.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from typing import Literal

from moondesk.notes.claim_reading import read_claims
from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.claim_words import items_of, languages
from moondesk.notes.claims import check_claim
from moondesk.notes.messages import Message
from moondesk.records import Annotation
from moondesk.script.marks import Spoken, Unread, read_text
from moondesk.script.records import Cue
from moondesk.service.store.episode_items import EpisodeItem, Source, Value

#: "own": nothing is claimed in it that could be checked.
State = Literal["computed", "true", "doubtful", "false", "own"]
#: A mirrored picture, or one whose north lies further than this from up, is not shown with north up as it was sent.
UPRIGHT_DEG = 15.0
#: What is told of a picture as it is shown, which nobody can tell where none is.
_OF_THE_FRAME = {"orientation", "upward", "seen"}

#: Sentences are read again with every key that is pressed.
_read = lru_cache(4096)(read_claims)

#: What holds in any light: of a picture that is not placed too.
_OF_THE_GROUND = {
    "size", "compare_km", "compare", "rank", "beside", "between", "near", "shore", "inside", "position", "namesake",
    "landing", "order", "apart", "truth",
}  # fmt: skip

COMPUTED = "Composed from what was computed."
NO_CLAIM = "No claim in it: these words are yours."
CHANGED = "It was computed before the pictures or the evening were changed: write the text again, or check it."
UNCHECKED = "Not understood, and there is a measure in it: nobody has checked it."
NO_PICTURE = "No picture stands here."
NOT_PLACED = "The picture is not placed: nobody can tell what stands where in it."
SENT_SO = "The picture is shown as it was sent: not turned, and mirrored where its optics did so."


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What is spoken of. number: of the picture, 0 for the evening's Moon; basis: mark of what is known of it; when: its
    time, None where nobody knows it; annotation: None where it has not been placed."""

    number: int
    annotation: Annotation | None
    when: datetime | None
    basis: str


@dataclass(frozen=True, kw_only=True)
class Stand:
    """What stands on air at a place of the text, as far as checks need it. about: the feature last spoken of."""

    picture: int = 0
    as_sent: bool = False
    about: str = ""


@dataclass(frozen=True, kw_only=True)
class CheckedSentence:
    """sentence: its number in the text; said: how it is; values: of a composed one; read_as: where "there" or "it" was
    read as a feature; picture: number of the one that it was checked against, 0: the evening's Moon."""

    sentence: int
    text: str
    state: State
    said: Message | str
    facts: tuple[str, ...] = ()
    values: tuple[Value, ...] = ()
    read_as: str = ""
    picture: int = 0


@dataclass(frozen=True, kw_only=True)
class CheckedText:
    """parts: as read; sentences: by number; after: what stands at its end."""

    parts: tuple[Spoken | Cue | Unread, ...]
    sentences: tuple[CheckedSentence, ...]
    after: Stand


Claims = Callable[[str, Ground], Checked]


def check_text(
    text: str, sources: Sequence[Source], ground: Callable[[int], Ground], before: Stand, claims: Claims | None = None
) -> CheckedText:
    """ground: of a picture's number; before: what stands as the text begins; claims: how a claim is checked, where
    somebody keeps what was checked before."""
    parts, known = read_text(text), {source.sentence: source for source in sources}
    whole: dict[int, list[str]] = {}
    for part in parts:
        if isinstance(part, Spoken):
            whole.setdefault(part.sentence, []).append(part.text)
    stand, found = before, {}
    for part in parts:
        if isinstance(part, Cue):
            stand = after_cue(stand, part)
        elif isinstance(part, Spoken) and part.sentence not in found:
            words = " ".join(" ".join(whole[part.sentence]).split())
            one = check_sentence(words, known.get(words), ground, stand, claims or claim_about)
            found[part.sentence] = replace(one, sentence=part.sentence)
            named = _named_in(one.read_as or words)
            stand = replace(stand, about=named[0] if len(named) == 1 else "" if named else stand.about)
    return CheckedText(parts=parts, sentences=tuple(found.values()), after=stand)


def stands_before(items: Sequence[EpisodeItem], item_id: int) -> Stand:
    """What stands as an item begins."""
    stand = Stand()
    for item in items:
        if item.id == item_id:
            break
        for part in read_text(item.text):
            if isinstance(part, Cue):
                stand = after_cue(stand, part)
    return replace(stand, about="")


def after_cue(stand: Stand, cue: Cue) -> Stand:
    if cue.show in ("nothing", "tomorrow"):  # neither shows the picture's own light
        return replace(stand, picture=0 if cue.show == "nothing" else stand.picture)
    picture = cue.picture or stand.picture
    sent = cue.show == "as sent" or (cue.show == "credit" and stand.as_sent and not cue.picture)
    return replace(stand, picture=picture, as_sent=sent, about=cue.feature or stand.about)


def check_sentence(
    words: str, source: Source | None, ground: Callable[[int], Ground], stand: Stand, claims: Claims
) -> CheckedSentence:
    about = ground(stand.picture)
    if source is not None and source.basis == ground(source.picture).basis:
        return CheckedSentence(
            sentence=0,
            text=words,
            state="computed",
            said=COMPUTED,
            facts=source.facts,
            values=source.values,
            picture=source.picture,
        )
    read_as = ""
    state: State
    said: Message | str
    against = about if about.annotation is not None else ground(0)
    checked = claims(words, against)
    if checked.verdict == "not understood" and stand.about:
        meant = _with_subject(words, stand.about)
        if meant != words and _read(meant).claims:
            read_as, checked = meant, claims(meant, against)
    state, said = _state_of(read_as or words, checked, about, stand)
    if source is not None and state in ("own", "doubtful"):
        state, said = "doubtful", CHANGED
    return CheckedSentence(
        sentence=0, text=words, state=state, said=said, read_as=read_as, picture=about.number,
        facts=source.facts if source else (), values=source.values if source else (),
    )  # fmt: skip


def claim_about(words: str, about: Ground) -> Checked:
    assert about.annotation is not None
    return check_claim(words, about.annotation, about.when)


def _state_of(words: str, checked: Checked, about: Ground, stand: Stand) -> tuple[State, Message | str]:
    reading = _read(words)
    if not reading.claims:
        amounts = [i.amount.unit for list_ in languages() for i in items_of(words, list_) if i.amount is not None]
        if reading.features and checked.verdict == "not understood":
            return ("doubtful" if amounts else "own"), checked.said
        if any(unit != "number" for unit in amounts):  # "send me two pictures" claims nothing
            return "doubtful", UNCHECKED
        return "own", NO_CLAIM
    kinds = {claim.kind for claim in reading.claims}
    if kinds & _OF_THE_FRAME and not about.number:
        return "doubtful", NO_PICTURE
    if about.annotation is None and not kinds <= _OF_THE_GROUND:
        return "doubtful", NOT_PLACED
    if checked.verdict == "true" and kinds & {"orientation", "upward"} and stand.as_sent and _turned(about):
        return "doubtful", SENT_SO
    return _STATES[checked.verdict], checked.said


_STATES: Mapping[str, State] = {
    "true": "true", "roughly": "doubtful", "cannot tell": "doubtful", "not understood": "own", "false": "false"}  # fmt: skip


def _named_in(words: str) -> tuple[str, ...]:
    """Features that a sentence is surely about: those of its claims, and those whose names stand in it as they are."""
    reading = _read(words)
    sure = [f.name for claim in reading.claims for f in claim.subjects]
    return tuple(dict.fromkeys([*sure, *(f.name for f in reading.features if f.name in words)]))


def _turned(about: Ground) -> bool:
    pose = about.annotation.pose if about.annotation else None
    return pose is not None and (pose.mirrored or abs((pose.north_screen_deg + 180.0) % 360.0 - 180.0) > UPRIGHT_DEG)


#: Words that stand for what the sentence before spoke of, and what stands in their place.
_MEANT = (
    (re.compile(r"^(It|This one|This)\b(?='s|’s)?"), "{name}"),
    (re.compile(r"\b[Ii]ts\b"), "{name}'s"),
    (re.compile(r"\b(over|on|in|of) it\b"), r"\1 {name}"),
    (re.compile(r"\bthere\b"), "over {name}"),
)


def _with_subject(words: str, name: str) -> str:
    for pattern, meant in _MEANT:
        found, count = pattern.subn(meant.replace("{name}", name), words, count=1)
        if count:
            return found
    return words

"""An episode as records: items of the running order with what is said in them, and where each composed sentence comes
from. Pure: no SQL, no clock.

What a change tells, with what stood before and after it as text:

    text, title, kind, seconds, sources, out     of an item; out: "1" while it is taken out
    order                                        JSON: ids of the items in their order
    words_per_minute, template                   of the episode

Changes of one version were made together, and are undone together.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from moondesk.service.store.decisions import ChangedMeanwhileError

if TYPE_CHECKING:
    from moondesk.script.records import ItemKind

FIELDS = ("kind", "title", "text", "seconds")
MOST_ITEMS, MOST_TEXT, MOST_TITLE = 60, 20_000, 120
#: A name's words that are looked for by themselves have more letters than this: "de", "da" are in every sentence.
SHORT = 2


@dataclass(frozen=True, kw_only=True)
class Value:
    """A number or a name of a sentence. name: what it is; shown: as it is spoken, "" for what only stands behind it;
    exact: as it was computed."""

    name: str
    shown: str
    exact: str


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a composed sentence comes from. sentence: as it was written, spaces single; facts: what it tells, see
    `Line`; template: its wording; picture: number of the one that stood, 0 for none; basis: mark of what it was
    computed from: another mark means that this has changed since."""

    sentence: str
    facts: tuple[str, ...] = ()
    template: str = ""
    values: tuple[Value, ...] = ()
    picture: int = 0
    basis: str = ""


@dataclass(frozen=True, kw_only=True)
class EpisodeItem:
    """kind: "" for one that is neither of the usual; text: with its marks, as typed; seconds: its length, None: by its
    words."""

    id: int
    position: int
    kind: ItemKind | str
    title: str
    text: str = ""
    seconds: int | None = None
    sources: tuple[Source, ...] = ()
    out: bool = False


@dataclass(frozen=True, kw_only=True)
class ItemDraft:
    """An item that is to be made, or of an item what is to be written: its id, or 0."""

    kind: ItemKind | str
    title: str
    text: str = ""
    seconds: int | None = None
    sources: tuple[Source, ...] = ()
    id: int = 0


@dataclass(frozen=True, kw_only=True)
class KeptEpisode:
    """items: those that stand, in order; numbers: item of the rundown by the number that the marks call it by, None for
    one that is gone for good. words_per_minute: None: nobody has said."""

    edition_id: int
    version: int = 0
    words_per_minute: int | None = None
    template: str = ""
    spoken_utc: datetime | None = None
    items: tuple[EpisodeItem, ...] = ()
    out: tuple[EpisodeItem, ...] = ()
    numbers: Mapping[int, int | None] = field(default_factory=dict)

    def item(self, item_id: int) -> EpisodeItem | None:
        return next((i for i in (*self.items, *self.out) if i.id == item_id), None)


class EpisodeChangedError(ChangedMeanwhileError):
    """Nothing was changed. theirs: what stands in the field now, and who put it there."""

    def __init__(self, sentence: str, advice: str, theirs: str | None = None, who: str = "") -> None:
        super().__init__(sentence, advice)
        self.theirs, self.who = theirs, who


def sources_text(sources: Iterable[Source]) -> str:
    return json.dumps([asdict(source) for source in sources], ensure_ascii=False)


def read_sources(text: str) -> tuple[Source, ...]:
    return tuple(
        Source(**{**told, "facts": tuple(told["facts"]), "values": tuple(Value(**v) for v in told["values"])})
        for told in json.loads(text)
    )


def own_sentences(text: str, sources: Iterable[Source]) -> tuple[str, ...]:
    """The sentences of a text that nobody composed: they are the presenter's own."""
    known = {source.sentence for source in sources}
    return tuple(words for words in _sentences(text).values() if words not in known)


def names_any(words: str, whole: Collection[str], single: Collection[str] = ()) -> bool:
    """Whether words hold one of these texts, in any case, or one of these words by itself."""
    folded = " ".join(words.split()).casefold()
    if any(text.casefold() in folded for text in whole if text.strip()):
        return True
    wanted = {word.casefold() for word in single}
    # a name takes on endings in many languages, so what begins with it counts too
    return any(word.startswith(name) for word in re.findall(r"\w+", folded) for name in wanted)


def words_of_names(names: Iterable[str]) -> frozenset[str]:
    """The words by which people are called: without the "de" and "da" that stand in any sentence."""
    return frozenset(w for name in names for w in re.findall(r"\w+", name) if len(w) > SHORT and w[0].isupper())


def without(text: str, drop: Callable[[str], bool]) -> str:
    """A text without the sentences, and what stands in brackets and is no mark, of which that is true; marks stay."""
    from moondesk.script.marks import Spoken, Unread, read_text  # loads the core

    sentences = _sentences(text)
    gone = [
        (part.start, part.end)
        for part in read_text(text)
        if (isinstance(part, Spoken) and drop(sentences[part.sentence]))
        or (isinstance(part, Unread) and drop(part.text))
    ]
    if not gone:
        return text
    for start, end in reversed(gone):
        text = f"{text[:start]}{text[end:].lstrip(' ')}"
    return re.sub(r"[ \t]*\n[ \t]*\n\s*", "\n\n", text).strip()


def move_to(order: Sequence[int], item_id: int, after_id: int) -> list[int]:
    """An order with one of them right after another; 0: before all."""
    rest = [k for k in order if k != item_id]
    where = rest.index(after_id) + 1 if after_id else 0
    return [*rest[:where], item_id, *rest[where:]]


def _sentences(text: str) -> dict[int, str]:
    """Sentences by their number, spaces single."""
    from moondesk.script.marks import Spoken, read_text

    joined: dict[int, list[str]] = {}
    for part in read_text(text):
        if isinstance(part, Spoken):
            joined.setdefault(part.sentence, []).append(part.text)
    return {number: " ".join(" ".join(parts).split()) for number, parts in joined.items()}

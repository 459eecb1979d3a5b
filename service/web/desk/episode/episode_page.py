"""The page of an episode: items in running order with their texts, sentence by sentence as they stand with the truth. Pure."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from moondesk.ephemeris.phases import phases_around
from moondesk.notes.messages import Message, in_english
from moondesk.script.marks import Spoken, count_words, write_cue
from moondesk.script.orders import TITLES, orders
from moondesk.script.records import Cue, OrderTemplate
from moondesk.service.programme.editions import EditionView
from moondesk.service.programme.episode_check import CheckedSentence, CheckedText, State
from moondesk.service.programme.episode_steps import CueStep
from moondesk.service.programme.rundown import length_words
from moondesk.service.programme.spoken_text import seconds_of
from moondesk.service.settings.config import Programme
from moondesk.service.store.episode_items import EpisodeItem, KeptEpisode, own_sentences
from moondesk.service.store.episodes import LastChange

#: What the items are called until somebody names them.
KINDS: Mapping[str, str] = {**{kind: in_english(said) for kind, said in TITLES.items()}, "": "Something else"}
#: How a sentence stands, in words, and its sign beside the colour.
STATES: Mapping[State, tuple[str, str]] = {
    "computed": ("Computed", ""),
    "true": ("True", ""),
    "doubtful": ("Doubtful", "?"),
    "false": ("False", "≠"),
    "own": ("Your own words", ""),
}
_IAU = "the IAU's gazetteer of planetary nomenclature"
#: What facts of a topic are computed from, for whoever asks where a number comes from; "": nothing is told by it.
HOW: Mapping[str, str] = {
    "size": f"diameters of {_IAU}",
    "rank": f"diameters of {_IAU}, among the craters of the near side",
    "like": f"the diameter of {_IAU}, and the distance of two towns along a great circle",
    "beside": f"places of {_IAU}",
    "about": "books on the Moon (G. Heiken and others, Lunar Sourcebook, 1991), from memory",
    "near": "",
    "people": "the namesakes' own list, each against two sources",
    "group": "the namesakes' own list, each against two sources",
    "idea": "the idea's own computation for this evening, with the sources that it names",
    "more": "the idea's own computation for this evening, with the sources that it names",
    "turned": "how the picture was placed: its north against up, and whether it is mirrored",
    "phase": "instants of the principal phases (ephemeris)",
    "calendar": "instants of the principal phases (ephemeris)",
    "advice": "common practice of observers",
    "hour": "when the edition is on air",
    "stop": "",
    "walk": "",
}
OTHERWISE = "where Sun, Moon and observer stand at that time (ephemeris), over a level mean sphere"
#: What an undo would take back, by field.
FIELDS = {
    "text": "text",
    "title": "title",
    "kind": "kind",
    "seconds": "length",
    "sources": "text",
    "out": "items",
    "order": "order",
    "words_per_minute": "rate",
    "template": "running order",
}


@dataclass(frozen=True, kw_only=True)
class PartView:
    """A piece of the text. kind: say, mark, unread, break. state: of the sentence; why: what a mark cannot show; last:
    whether its sentence ends with it."""

    kind: str
    text: str
    sentence: int = 0
    state: str = ""
    sign: str = ""
    why: str = ""
    last: bool = False


@dataclass(frozen=True, kw_only=True)
class SentenceView:
    """What a sentence rests on. correct: of a false one, what is true; rows: (what, as spoken, as computed); hows: where
    that comes from."""

    number: int
    text: str
    state: str
    label: str
    said: str
    correct: str
    read_as: str
    rows: tuple[tuple[str, str, str], ...]
    hows: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ItemView:
    id: int
    place: int
    kind: str
    kind_words: str
    title: str
    text: str
    #: As typed, "" where it goes by its words; length: as it is counted.
    fixed: str
    length: str
    words: int
    parts: tuple[PartView, ...]
    sentences: tuple[SentenceView, ...]
    #: Marks that the frames cannot show: (mark, why, advice).
    unshown: tuple[tuple[str, str, str], ...]
    has_own: bool
    withheld: bool
    up_after: int | None
    down_after: int | None


@dataclass(frozen=True, kw_only=True)
class Total:
    """length: of all items; given: the time there is, "" where nobody has said; share: percent of it."""

    words: int
    length: str
    given: str
    share: float | None
    verdict: str
    too_long: bool


@dataclass(frozen=True, kw_only=True)
class EpisodePage:
    """out: (id, title) of items taken out; last: what an undo takes back; asks: item whose own words would be written
    over, with its title; numbers: (number, sender) of the pictures."""

    programme: Programme
    edition: EditionView
    version: int
    mark: str
    token: str
    notice: str
    alarm: bool
    items: tuple[ItemView, ...]
    out: tuple[tuple[int, str], ...]
    total: Total
    rate: int
    orders: tuple[tuple[str, str], ...]
    order: str
    kinds: tuple[tuple[str, str], ...]
    last: str
    last_version: int
    asks: tuple[int, str] | None
    numbers: tuple[tuple[int, str], ...]
    can_write: bool


def item_view(
    item: EpisodeItem,
    place: int,
    checked: CheckedText,
    steps: Sequence[CueStep],
    rate: int,
    write: Callable[[Message], str],
    around: tuple[int | None, int | None],
    withheld: bool,
) -> ItemView:
    """around: after which items it is to stand to go one place up, or down; None: it cannot."""
    words = count_words(item.text)
    return ItemView(
        id=item.id,
        place=place,
        kind=item.kind,
        kind_words=KINDS.get(item.kind, KINDS[""]),
        title=item.title,
        text=item.text,
        fixed="" if item.seconds is None else length_words(item.seconds),
        length=length_words(round(seconds_of(words, item.seconds, rate))),
        words=words,
        parts=_parts(checked, steps),
        sentences=tuple(_sentence(one, write) for one in checked.sentences),
        unshown=tuple((write_cue(s.cue), s.why.reason, s.why.advice) for s in steps if s.why is not None),
        has_own=bool(own_sentences(item.text, item.sources)),
        withheld=withheld,
        up_after=around[0],
        down_after=around[1],
    )


def total_of(items: Sequence[EpisodeItem], rate: int, given: int | None) -> Total:
    words = sum(count_words(item.text) for item in items)
    seconds = sum(seconds_of(count_words(item.text), item.seconds, rate) for item in items)
    if not given:
        return Total(words=words, length=length_words(round(seconds)), given="", share=None, verdict="", too_long=False)
    over = round(seconds - given)
    verdict = (
        f"{length_words(abs(over))} {'too long' if over > 0 else 'left'}"
        if over
        else "exactly as long as there is time"
    )
    return Total(
        words=words,
        length=length_words(round(seconds)),
        given=length_words(given),
        share=100.0 * seconds / given,
        verdict=verdict,
        too_long=over > 0,
    )


def orders_of(usual: Sequence[OrderTemplate], own: Sequence[OrderTemplate]) -> tuple[tuple[str, str], ...]:
    """(name, words) of running orders, the programme's own first."""
    return (
        *((order.name, f"{order.name} (your own)") for order in own),
        *((order.name, f"{order.name}{_days(order)}") for order in usual),
    )


def usual_order(when: datetime) -> str:
    """The name of the running order that the Moon's age asks for."""
    age = phases_around(when).age_days
    return next((order.name for order in orders() if order.days[0] <= age < order.days[1]), "")


def _days(order: OrderTemplate) -> str:
    """For which ages of the Moon it is the usual one; "" for one that is for none."""
    first, last = order.days
    return f", days {first:g} to {last:g}" if first < 30.0 else ""


def last_words(kept: KeptEpisode, last: LastChange | None) -> str:
    """What an undo would take back."""
    if last is None:
        return ""
    fields = dict.fromkeys(FIELDS.get(field, field) for _, field in last.fields)
    titles = dict.fromkeys(
        title_of(item) for item_id, _ in last.fields if item_id is not None for item in [kept.item(item_id)] if item
    )
    of = f" of {', '.join(list(titles)[:2])}{' and others' if len(titles) > 2 else ''}" if titles else ""
    return f"{' and '.join(list(fields)[:2])}{of}, by {last.who}"


def title_of(item: EpisodeItem) -> str:
    return item.title or KINDS.get(item.kind, KINDS[""])


def _parts(checked: CheckedText, steps: Sequence[CueStep]) -> tuple[PartView, ...]:
    by_number = {s.sentence: s for s in checked.sentences}
    last = {part.sentence: part for part in checked.parts if isinstance(part, Spoken)}
    found: list[PartView] = []
    paragraph, marks = 0, iter(steps)
    for part in checked.parts:
        if isinstance(part, Cue):
            step = next(marks, None)
            why = "" if step is None or step.why is None else step.why.reason
            found.append(PartView(kind="mark", text=write_cue(part)[1:-1], why=why))
        elif isinstance(part, Spoken):
            if part.paragraph != paragraph:
                at = len(found)
                while at and found[at - 1].kind == "mark":  # a mark belongs to the words after it
                    at -= 1
                if at:
                    found.insert(at, PartView(kind="break", text=""))
                paragraph = part.paragraph
            state = by_number[part.sentence].state
            found.append(
                PartView(kind="say", text=part.text, sentence=part.sentence, state=state, sign=STATES[state][1],
                         last=last[part.sentence] is part)
            )  # fmt: skip
        else:
            found.append(PartView(kind="unread", text=part.text))
    return tuple(found)


def _sentence(one: CheckedSentence, write: Callable[[Message], str]) -> SentenceView:
    said = one.said if isinstance(one.said, str) else write(one.said)
    return SentenceView(
        number=one.sentence,
        text=one.text,
        state=one.state,
        label=STATES[one.state][0],
        said=said,
        correct=said if one.state == "false" else "",
        read_as=one.read_as,
        rows=tuple((v.name.replace("_", " "), v.shown, v.exact) for v in sorted(one.values, key=lambda v: not v.shown)),
        hows=tuple(dict.fromkeys(told for fact in one.facts for told in _how(fact))),
    )


def _how(fact: str) -> tuple[str, ...]:
    topic, _, about = fact.partition(":")
    how = HOW.get(topic, OTHERWISE)
    return (f"{topic.capitalize()}{f', {about}' if about else ''}: {how}.",) if how else ()

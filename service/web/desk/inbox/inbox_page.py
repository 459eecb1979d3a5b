"""The inbox's page: what came in for an edition, in groups, narrowed by what is asked for. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from moondesk.service.programme.credit import sender_of, teller_of
from moondesk.service.programme.editions import EditionView
from moondesk.service.programme.equipment import CLASS_WORDS, EquipmentClass, class_of
from moondesk.service.programme.evenings import Calendar, older_words
from moondesk.service.programme.ranking import Rating
from moondesk.service.programme.sorting import GROUPS, Group, SortedPicture
from moondesk.service.programme.words import (
    date_words,
    dated_words,
    evening_tone,
    hour_words,
    join_names,
    status_words,
    time_words,
    tone_of,
)
from moondesk.service.settings.config import Programme
from moondesk.service.store.records import ListedPicture
from moondesk.service.web.desk.inbox.letters_page import LetterCard

PER_PAGE = 60
#: Pictures that are sorted and ranked for one page; of more only the last received.
MOST = 1000
ORDERS = (("rank", "Best first"), ("time", "Newest first"))


@dataclass(frozen=True, kw_only=True)
class InboxQuery:
    """What the inbox is narrowed to, as it stands in the address. edition: a number, "all", or "" for the next on air.

    day: of the lunation, None: any. rest: pictures not featured in so many editions, 0: all. left: instead of what came
    in for the edition, what is left of the earlier ones.
    """

    edition: str = ""
    words: str = ""
    day: int | None = None
    feature: str = ""
    equipment: str = ""
    place: str = ""
    first_time: bool = False
    rest: int = 0
    order: Literal["rank", "time"] = "rank"
    page: int = 1
    left: bool = False

    @property
    def narrowed(self) -> bool:
        return replace(self, edition="", order="rank", page=1, left=False) != InboxQuery()

    def address(self, **change: object) -> str:
        """The query of a page that asks the same, but for what is changed."""
        asked = replace(self, **change)  # type: ignore[arg-type]
        values = {
            "edition": asked.edition,
            "q": asked.words,
            "day": asked.day,
            "shows": asked.feature,
            "with": asked.equipment,
            "place": asked.place,
            "first": "1" if asked.first_time else "",
            "rest": asked.rest or "",
            "order": "" if asked.order == "rank" else asked.order,
            "left": "1" if asked.left else "",
            "page": asked.page if asked.page > 1 else "",
        }
        return urlencode({k: v for k, v in values.items() if v not in ("", None)})


@dataclass(frozen=True, kw_only=True)
class Card:
    """A picture in the inbox. tone: "sure", "unsure", "unplaced", "refused" or "waiting"; it names the mark's look."""

    picture_id: int
    sender: str
    given_name: str
    when: str
    #: "Day 7" of the lunation of the picture's own evening, and that evening; empty while no time is known.
    day: str
    evening: str
    status: str
    tone: str
    #: How well its evening is known, and its mark; empty where that was not judged. older: it is not of these days.
    dated: str
    dated_tone: str
    older: str
    detail: str
    place_name: str
    equipment: str
    newcomer: bool
    versions: int
    concerns: tuple[str, ...]
    rated: Rating | None
    #: Version mark of the derived pictures; None where there is no thumbnail.
    derived_key: str | None
    can_be_picked: bool


@dataclass(frozen=True)
class CardGroup:
    group: Group
    title: str
    #: In all, also on other pages.
    count: int
    cards: tuple[Card, ...]


@dataclass(frozen=True)
class FilterChoice:
    """A filter's field. options: (value, words)."""

    name: str
    label: str
    value: str
    options: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class PlacingProgress:
    """The work in words; empty where nothing waits. latest: grows with every picture that is placed."""

    words: str = ""
    latest: int = 0


@dataclass(frozen=True, kw_only=True)
class InboxPage:
    """edition None: nothing has come in yet, or all editions are looked through."""

    programme: Programme
    edition: EditionView | None
    editions: tuple[tuple[str, str], ...]
    asked: InboxQuery
    choices: tuple[FilterChoice, ...]
    tally: tuple[tuple[Group, str, int], ...]
    groups: tuple[CardGroup, ...]
    #: Said where not all that fits was looked through.
    note: str
    progress: PlacingProgress
    pages: int
    #: Whether anything at all is stored.
    anything: bool
    #: Number of the edition that pictures are picked for; ids of those that stand in its rundown; token of the forms.
    picks_for: int | None
    picked: frozenset[int]
    token: str
    #: Letters that nobody has read, of all editions, and how many more there are.
    letters: tuple[LetterCard, ...] = ()
    more_letters: int = 0
    #: How many are left of earlier editions, in words; empty: none, or all editions are looked through.
    left: str = ""
    #: How many the upload page turned away of late; empty: none.
    turned_away: str = ""


@dataclass(frozen=True, kw_only=True)
class InboxCard:
    """A picture with all by which the inbox narrows and orders. day: of its own evening."""

    sorted: SortedPicture
    equipment: EquipmentClass
    day: int | None
    newcomer: bool
    rested: bool
    rated: Rating | None = None


def words_for_turned_away(counts: Mapping[str, int]) -> str:
    """What the upload page turned away in a day, by reason; see `moondesk.service.store.turned_away`."""
    why = {"often": "because too many came at once", "room": "because there was no room for them"}
    total = sum(counts.values())
    if not total:
        return ""
    parts = " and ".join(f"{counts[k]:,} {words}" for k, words in why.items() if counts.get(k))
    forms = "1 form was" if total == 1 else f"{total:,} forms were"
    return (
        f"{forms} turned away at the upload page since this time yesterday: {parts}. Their senders were asked to "
        "try again later."
    )


def item_of(
    sorted_: SortedPicture, calendar: Calendar, newcomer: bool, rested: bool, rated: Rating | None
) -> InboxCard:
    summary = sorted_.listed.summary
    day = calendar.evening(summary.taken_utc).day_number if summary and summary.taken_utc else None
    return InboxCard(
        sorted=sorted_, equipment=class_of(sorted_.listed), day=day, newcomer=newcomer, rested=rested, rated=rated
    )


def narrow(items: Iterable[InboxCard], asked: InboxQuery) -> list[InboxCard]:
    """Those that fit, in their groups' order, within a group as asked; items come newest first."""
    fit = [
        i
        for i in items
        if (asked.day is None or i.day == asked.day)
        and (not asked.equipment or i.equipment == asked.equipment.removeprefix("-"))
        and (not asked.rest or i.rested)
    ]
    place = {group: k for k, (group, _) in enumerate(GROUPS)}
    if asked.order == "time":
        return sorted(fit, key=lambda i: place[i.sorted.group])
    return sorted(fit, key=lambda i: (place[i.sorted.group], -(i.rated.total if i.rated else -1.0)))


def groups_of(items: Sequence[InboxCard], asked: InboxQuery, calendar: Calendar) -> tuple[CardGroup, ...]:
    """The groups of one page; those with nothing on it are left out."""
    shown = items[(asked.page - 1) * PER_PAGE : asked.page * PER_PAGE]
    found = []
    for group, title in GROUPS:
        cards = tuple(card_of(i, calendar) for i in shown if i.sorted.group == group)
        if cards:
            found.append(CardGroup(group, title, sum(i.sorted.group == group for i in items), cards))
    return tuple(found)


def card_of(item: InboxCard, calendar: Calendar) -> Card:
    listed = item.sorted.listed
    arrival, enclosure, summary = listed.picture.submission.arrival, listed.picture.enclosure, listed.summary
    when = day = evening_words = detail = dated = dated_mark = older = ""
    key = None
    if enclosure.refused:
        status, tone = "Cannot be used", "refused"
    elif summary is None:
        status, tone, detail = "Waiting", "waiting", "It is placed when its turn comes."
    else:
        status, tone = status_words(summary.status, summary.sure), tone_of(summary.status, summary.sure)
        detail = f"Best seen: {join_names(summary.best_seen[:3])}." if summary.best_seen else ""
        if summary.taken_utc:
            when, day, evening_words = _evening(listed, calendar)
        if summary.status.facts.is_named:
            dated = dated_words(summary.evening, summary.time_source, teller_of(arrival))
            dated_mark, older = evening_tone(summary.evening, summary.time_source), older_words(listed)
        key = summary.derived_key if summary.status.facts.opens else None
    return Card(
        picture_id=listed.picture.id,
        sender=sender_of(arrival),
        given_name=enclosure.given_name,
        when=when,
        day=day,
        evening=evening_words,
        status=status,
        tone=tone,
        dated=dated,
        dated_tone=dated_mark,
        older=older,
        detail=detail,
        place_name=arrival.place_name,
        equipment=dict(CLASS_WORDS)[item.equipment] if item.equipment else "",
        newcomer=item.newcomer,
        versions=listed.versions,
        concerns=item.sorted.concerns,
        rated=item.rated,
        derived_key=key,
        can_be_picked=item.sorted.group in ("ready", "look"),
    )


def _evening(listed: ListedPicture, calendar: Calendar) -> tuple[str, str, str]:
    assert listed.summary is not None
    assert listed.summary.taken_utc is not None
    taken, zone = listed.summary.taken_utc, calendar.zone
    evening = calendar.evening(taken)
    same = taken.astimezone(ZoneInfo(zone)).date() == evening.date  # its date stands above it then
    return (
        hour_words(taken, zone) if same else time_words(taken, zone),
        "" if evening.day_number is None else f"Day {evening.day_number}",
        f"Evening of {date_words(evening.date)}",
    )


def choices_of(
    asked: InboxQuery, items: Iterable[InboxCard], features: Sequence[tuple[str, int | None]], places: Sequence[str]
) -> tuple[FilterChoice, ...]:
    """The filters with what they can be set to here."""
    days = sorted({i.day for i in items if i.day is not None} | ({asked.day} if asked.day is not None else set()))
    names = [(n, n if k is None else f"{n} ({k})") for n, k in features]
    if asked.feature and asked.feature not in dict(names):
        names.insert(0, (asked.feature, f"{asked.feature} (0)"))
    classes: Mapping[str, str] = dict(CLASS_WORDS)
    return (
        FilterChoice(
            "day", "Day of the lunation", str(asked.day or ""), (("", "Any day"), *((str(d), f"Day {d}") for d in days))
        ),
        FilterChoice("shows", "Shows in good light", asked.feature, (("", "Anything"), *names)),
        FilterChoice(
            "with", "Taken with", asked.equipment, (("", "Anything"), *((c or "-", w) for c, w in classes.items()))
        ),
        FilterChoice("place", "From", asked.place, (("", "Anywhere"), *((p, p) for p in places))),
        FilterChoice(
            "rest",
            "Featured",
            str(asked.rest or ""),
            (("", "Whenever"), ("3", "Not in the last 3 editions"), ("10", "Not in the last 10 editions")),
        ),
        FilterChoice("order", "Order", asked.order, ORDERS),
    )

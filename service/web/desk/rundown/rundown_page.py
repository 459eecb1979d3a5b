"""The page of a rundown: what goes on air in which order, what cannot yet, and what others did. Pure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from moondesk.service.programme.credit import credit_words, sender_of, teller_of
from moondesk.service.programme.editions import EditionView, edition_view
from moondesk.service.programme.evenings import Calendar
from moondesk.service.programme.permission import permission_of, reasons_not_to_air
from moondesk.service.programme.rundown import (
    WAYS,
    ConsentReading,
    ConsentView,
    ItemForm,
    cautions_of,
    consent_view,
    form_of,
    length_words,
    when_words,
)
from moondesk.service.programme.words import dated_words, evening_tone, status_words, time_words, tone_of
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.store.rundown_items import Added, Rundown, RundownChange, RundownItem

HISTORY = 8
#: Of the fields of an item's form, and the form's field for each.
FORM_FIELDS = {"seconds": "length", "credit_line": "credit", "pronunciation": "pronunciation", "note": "note"}
FIELD_WORDS = {
    "seconds": "the length",
    "credit_line": "the credit",
    "pronunciation": "the pronunciation",
    "note": "the note",
}


@dataclass(frozen=True, kw_only=True)
class ItemTrouble:
    """What is wrong with a form that was sent: shown in the item's form again, with what was typed.

    theirs: by field of the form, a sentence with what another put there meanwhile.
    """

    item_id: int
    typed: ItemForm | None = None
    complaints: Mapping[str, str] = field(default_factory=dict)
    theirs: Mapping[str, str] = field(default_factory=dict)
    consent: ConsentReading | None = None


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What the page says of what was just sent. trouble: with one of the forms; alarm: the notice is of something that
    was not done; time_typed: None unless the programme's time was typed."""

    notice: str = ""
    trouble: ItemTrouble | None = None
    alarm: bool = False
    time_typed: str | None = None


@dataclass(frozen=True, kw_only=True)
class Stored:
    """The rundown as the store has it. pictures: of all items, those taken out among them, by id; fresh: what has just
    come in; mark: see `RundownPage`."""

    edition: Edition
    rundown: Rundown
    pictures: Mapping[int, ListedPicture]
    changes: Sequence[RundownChange]
    fresh: Sequence[ListedPicture]
    mark: str


@dataclass(frozen=True, kw_only=True)
class ItemView:
    """One picture of the rundown. place: 1 for the first; length, starts: minutes and seconds."""

    item_id: int
    picture_id: int
    place: int
    sender: str
    #: Version mark of the derived pictures; None where there is no thumbnail.
    derived_key: str | None
    status: str
    tone: str
    #: How well its evening is known, and its mark.
    dated: str
    dated_tone: str
    when: str
    #: Exactly as it will be shown; empty: no name is shown. credit_note: where it comes from, or what is wrong.
    credit: str
    credit_note: str
    credit_missing: bool
    length: str
    #: When it begins, counted over what can go on air; empty where it cannot.
    starts: str
    pronunciation: str
    note: str
    #: What may be told of it, as kept at its page.
    story: str
    consent: ConsentView
    #: Why it cannot go on air, and what to look at before it does.
    stops: tuple[str, ...]
    #: Letters of its sender that wait to be read; whether its consent is among the reasons.
    held_by: tuple[int, ...]
    wants_consent: bool
    #: Whether it came with words that are to be read first.
    wants_reading: bool
    cautions: tuple[str, ...]
    #: The items after which it is to stand to go one place up or down; None: it cannot.
    up_after: int | None
    down_after: int | None
    has_better: bool
    aired: str
    added: str
    typed: ItemForm
    complaints: Mapping[str, str]
    theirs: Mapping[str, str]
    consent_typed: ConsentReading
    #: Which of its forms stands open: "edit", "consent" or "".
    open: str


@dataclass(frozen=True)
class OutView:
    """A picture that was taken out."""

    item_id: int
    picture_id: int
    sender: str
    told: str


@dataclass(frozen=True, kw_only=True)
class JustIn:
    """A picture that came in and may be picked from here. stop: why it could not go on air as it is."""

    picture_id: int
    sender: str
    derived_key: str | None
    status: str
    tone: str
    when: str
    stop: str


@dataclass(frozen=True, kw_only=True)
class Total:
    """How long it all is. share: of the programme's time, in percent, None where that is not told."""

    ready: str
    count: int
    waiting: str
    waiting_count: int
    time: str
    verdict: str
    too_long: bool
    share: float | None


@dataclass(frozen=True, kw_only=True)
class RundownPage:
    """mark: another text after whatever changes the page. notice: what was just done, or why it was not (alarm)."""

    programme: Programme
    edition: EditionView
    token: str
    version: int
    mark: str
    items: tuple[ItemView, ...]
    out: tuple[OutView, ...]
    total: Total
    withdrawn: str
    history: tuple[str, ...]
    notice: str
    alarm: bool
    time_typed: str
    ways: tuple[tuple[str, str], ...]
    #: Ids of what can go on air and is not noted as having been.
    to_note: tuple[int, ...]
    just_in: tuple[JustIn, ...]


@dataclass(frozen=True)
class Picked:
    """What is told where somebody picked, away from the rundown: notice is a sentence with all of it."""

    notice: str
    credit: str
    stops: tuple[str, ...]


def pick_words(added: Added, item: RundownItem, listed: ListedPicture, entry_terms: str) -> Picked:
    credit, note, missing = credit_words(item, listed)
    stops = reasons_not_to_air(listed, entry_terms)
    told = (
        f"Credit: {credit}." if credit else f"Credit {note[:1].lower()}{note[1:]}" if missing else ("No name is shown.")
    )
    stands = {"already": "stood already", "back": "is back", "added": "stands"}[added.how]
    name = sender_of(listed.picture.submission.arrival)
    return Picked(" ".join((f"{name} {stands} at place {added.place}.", told, *stops)), credit, stops)


def rundown_page(stored: Stored, answer: Answer, config: Config, calendar: Calendar, token: str) -> RundownPage:
    found, pictures = stored.rundown, stored.pictures
    items: list[ItemView] = []
    at = 0
    for n, item in enumerate(found.items):
        view = _item(stored, n, at, answer.trouble, config, calendar)
        at += 0 if view.stops else item.seconds
        items.append(view)
    senders = {i.id: sender_of(pictures[i.picture_id].picture.submission.arrival) for i in (*found.items, *found.out)}
    zone = config.programme.zone
    out = tuple(
        OutView(
            i.id,
            i.picture_id,
            senders[i.id],
            f"taken out by {i.out_by}, {time_words(i.out_utc, zone) if i.out_utc else ''}",
        )
        for i in found.out
    )
    return RundownPage(
        programme=config.programme,
        edition=edition_view(stored.edition, calendar),
        token=token,
        version=found.version,
        mark=stored.mark,
        items=tuple(items),
        out=out,
        total=total_of(found, [not v.stops for v in items]),
        withdrawn=_withdrawal_words(found.withdrawn),
        history=tuple(change_words(c, senders, zone) for c in stored.changes),
        notice=answer.notice,
        alarm=answer.alarm or answer.trouble is not None,
        time_typed=answer.time_typed
        if answer.time_typed is not None
        else length_words(found.seconds)
        if found.seconds
        else "",
        ways=WAYS,
        to_note=tuple(v.item_id for v in items if not v.stops and not v.aired),
        just_in=tuple(_just_in(listed, config.entry_terms, calendar) for listed in stored.fresh),
    )


def _item(stored: Stored, n: int, at: int, trouble: ItemTrouble | None, config: Config, calendar: Calendar) -> ItemView:
    """The n-th of the rundown, from 0; at: seconds before it."""
    item, ids = stored.rundown.items[n], [i.id for i in stored.rundown.items]
    listed = stored.pictures[item.picture_id]
    arrival, summary = listed.picture.submission.arrival, listed.summary
    zone = config.programme.zone
    consent = consent_view(listed.picture, config.programme, config.entry_terms)
    may = permission_of(listed, config.entry_terms)
    stops = may.stops
    credit, credit_note, missing = credit_words(item, listed)
    mine = trouble if trouble and trouble.item_id == item.id else ItemTrouble(item_id=item.id)
    asked = mine.consent or ConsentReading(
        record=None, complaint="", words=consent.suggested, way="mail" if consent.suggested else "phone"
    )
    dated, dated_mark = evening_of(listed)
    return ItemView(
        item_id=item.id,
        picture_id=item.picture_id,
        place=n + 1,
        sender=sender_of(arrival),
        derived_key=summary.derived_key if summary and summary.status.facts.opens else None,
        status=status_words(summary.status, summary.sure) if summary else "Waiting",
        tone=tone_of(summary.status, summary.sure) if summary else "waiting",
        dated=dated,
        dated_tone=dated_mark,
        when=when_words(listed, calendar),
        credit=credit,
        credit_note=credit_note,
        credit_missing=missing,
        length=length_words(item.seconds),
        starts="" if stops else length_words(at),
        pronunciation=item.pronunciation,
        note=item.note,
        story=arrival.story,
        consent=consent,
        stops=stops,
        held_by=may.held_by,
        wants_consent=any(r not in ("letter", "twin", "unusable") for r in may.reasons),
        wants_reading=arrival.way.is_mail and bool({"unclear", "suggested"} & set(may.reasons)),
        cautions=cautions_of(item, listed),
        up_after=(ids[n - 2] if n > 1 else 0) if n else None,
        down_after=ids[n + 1] if n + 1 < len(ids) else None,
        has_better=item.better_id is not None and item.aired_utc is None,
        aired=f"Was on air, {time_words(item.aired_utc, zone)}" if item.aired_utc else "",
        added=f"Picked by {item.added_by}, {time_words(item.added_utc, zone)}",
        typed=mine.typed or form_of(item, arrival),
        complaints=mine.complaints,
        theirs=mine.theirs,
        consent_typed=asked,
        open="consent" if mine.consent else "edit" if mine.typed else "",
    )


def evening_of(listed: ListedPicture) -> tuple[str, str]:
    """How well a placed picture's evening is known, in words, and the mark for it; both empty for others."""
    summary = listed.summary
    if summary is None or not summary.status.facts.is_named:
        return "", ""
    return (
        dated_words(summary.evening, summary.time_source, teller_of(listed.picture.submission.arrival)),
        evening_tone(summary.evening, summary.time_source),
    )


def _just_in(listed: ListedPicture, entry_terms: str, calendar: Calendar) -> JustIn:
    summary = listed.summary
    return JustIn(
        picture_id=listed.picture.id,
        sender=sender_of(listed.picture.submission.arrival),
        derived_key=summary.derived_key if summary else None,
        status=status_words(summary.status, summary.sure) if summary else "Waiting",
        tone=tone_of(summary.status, summary.sure) if summary else "waiting",
        when=when_words(listed, calendar),
        stop=" ".join(reasons_not_to_air(listed, entry_terms)),
    )


def total_of(found: Rundown, ready: Sequence[bool]) -> Total:
    """ready: for each item whether it can go on air; only those count."""
    on_air = sum(i.seconds for i, r in zip(found.items, ready, strict=True) if r)
    rest = sum(i.seconds for i, r in zip(found.items, ready, strict=True) if not r)
    time = found.seconds
    verdict = ""
    if time is not None:
        left = time - on_air
        verdict = (
            "fills the time exactly"
            if not left
            else f"{length_words(left)} left"
            if left > 0
            else f"{length_words(-left)} too long"
        )
    return Total(
        ready=length_words(on_air),
        count=sum(ready),
        waiting=length_words(rest),
        waiting_count=len(ready) - sum(ready),
        time=length_words(time) if time is not None else "",
        verdict=verdict,
        too_long=time is not None and on_air > time,
        share=min(100.0, 100 * on_air / time) if time else None,
    )


def change_words(change: RundownChange, senders: Mapping[int, str], zone: str) -> str:
    """A line of the history."""
    name = senders.get(change.item_id or 0, "a picture")
    if change.what in FIELD_WORDS:
        did = f"set {FIELD_WORDS[change.what]} of {name} to {value_words(change.what, change.after)}"
    elif change.what == "time":
        did = (
            f"set the time for pictures to {length_words(int(change.after))}"
            if change.after
            else "took the time for pictures away"
        )
    else:
        did = {
            "added": f"picked {name}",
            "taken_out": f"took out {name}",
            "put_back": f"put back {name}",
            "moved": f"moved {name}",
            "picture_id": f"took the better version of {name}",
            "aired": f"noted that {name} was {'on air' if change.after else 'not on air'}",
        }[change.what]
    return f"{change.who} {did}, {time_words(change.when_utc, zone)}"


def value_words(what: str, value: int | str | None) -> str:
    """A field's value as it is told to people."""
    if what in ("seconds", "time"):
        return length_words(int(value)) if value is not None else "nothing"
    if what == "credit_line" and value is None:
        return "that of the sender"
    return f"“{value}”" if value else "no name" if what == "credit_line" else "nothing"


def _withdrawal_words(count: int) -> str:
    if not count:
        return ""
    return (
        "One picture was withdrawn by its sender and is gone."
        if count == 1
        else f"{count} pictures were withdrawn by their senders and are gone."
    )

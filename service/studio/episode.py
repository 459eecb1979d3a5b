"""What is known of an edition before its script is written: its evening, its pictures as they may be shown, what earlier
episodes told."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from moondesk.checks.evening import time_to_state
from moondesk.ideas.plan import plan_over_lunation
from moondesk.ideas.tonight import Tonight, predict_tonight, tonight_of
from moondesk.notes.records import NotesNight
from moondesk.records import Annotation, NotFound, Place
from moondesk.script.compose import compose
from moondesk.script.orders import order_for
from moondesk.script.records import Episode, EpisodePicture, OrderTemplate, Script, Told
from moondesk.service.errors import BadInputError
from moondesk.service.programme.credit import credit_words
from moondesk.service.programme.equipment import class_of, equipment_words
from moondesk.service.programme.evenings_to_come import air_of, evening_air
from moondesk.service.programme.permission import permission, reasons_not_to_air
from moondesk.service.programme.told_episodes import told_by
from moondesk.service.store import episodes
from moondesk.service.store.aired import appearances
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.pictures import list_by_id
from moondesk.service.store.records import Edition, ListedPicture, sender_key
from moondesk.service.store.rundown_items import RundownItem
from moondesk.service.store.rundowns import rundown
from moondesk.service.studio import Studio

#: An idea is not told again within so many days: a lunation, and none left out.
IDEA_DAYS = 27
#: What a beginner may have (common practice): not the classes of larger telescopes and of those nobody told.
SIMPLE = ("phone", "compact", "small")


def episode_of(studio: Studio, edition: Edition) -> Episode:
    """Raises BadInputError for an edition without an evening."""
    if not edition.plan.evenings:
        raise BadInputError(
            f"Edition {edition.plan.number} has no evening yet.", "Say at the desk which evening it is about."
        )
    day, place = max(edition.plan.evenings), studio.config.programme.place
    sky = predict_tonight(_night(studio, day).utc, place)
    pictures = _pictures(studio, edition)
    history = _history(studio, edition)
    bare = Episode(
        number=edition.plan.number,
        programme=studio.config.programme.name,
        day=day,
        utc=sky.when,
        sky=sky,
        pictures=pictures,
        lead=_lead(studio, edition, pictures),
        before=_night(studio, history[-1].day) if history else None,
        following=_night(studio, day + timedelta(days=1)),
        history=history,
    )
    return replace(bare, idea=_idea(studio, bare))


def script_of(
    studio: Studio, edition: Edition, seconds: float, words_per_minute: float, order: OrderTemplate | None = None
) -> Script:
    """order: None: the usual one of the Moon's age. Raises BadInputError for an edition without an evening."""
    episode = episode_of(studio, edition)
    return compose(episode, order or order_for(episode), seconds, words_per_minute, studio.language.spoken.write)


def _night(studio: Studio, day: date) -> NotesNight:
    air = air_of(list_editions(studio.storage), studio.calendar)
    return NotesNight(day, evening_air(day, air, studio.calendar.zone)[0])


def _history(studio: Studio, edition: Edition) -> tuple[Told, ...]:
    plans = {e.plan.number: e.plan for e in list_editions(studio.storage)}
    spoken = episodes.spoken_before(studio.storage, edition.plan.number)
    every = [told_by(plans[number], kept) for number, kept in spoken]
    return tuple(replace(told, utc=_night(studio, told.day).utc) for told in every if told is not None)


def _pictures(studio: Studio, edition: Edition) -> tuple[EpisodePicture, ...]:
    """Those that may go on air and were looked at, by the numbers that marks call them by."""
    storage, found = studio.storage, rundown(studio.storage, edition.id)
    numbers = episodes.number_pictures(storage, edition.id, [item.id for item in found.items])
    listed = {p.picture.id: p for p in list_by_id(storage, [i.picture_id for i in found.items])}
    before = {a.sender for a in appearances(storage, before=edition.plan.number)}
    made = []
    for item in found.items:
        one = listed.get(item.picture_id)
        stored = read_annotation(storage, item.picture_id)
        if one is None or stored is None or reasons_not_to_air(one, studio.config.entry_terms):
            continue
        made.append(_picture(studio, numbers[item.id], item, one, stored.annotation, before))
    return tuple(made)


def _picture(
    studio: Studio, number: int, item: RundownItem, listed: ListedPicture, annotation: Annotation, before: set[str]
) -> EpisodePicture:
    arrival = listed.picture.submission.arrival
    place = arrival.place or studio.config.programme.place
    time = time_to_state(annotation)
    sender = sender_key(arrival.sender_address, arrival.sender_name)
    words = equipment_words(arrival)
    return EpisodePicture(
        number=number,
        credit=credit_words(item, listed)[0],
        about=_about(annotation, place),
        annotation=annotation,
        when=time.utc if time is not None else None,
        place=arrival.place,
        place_name=arrival.place_name,
        instrument=words,
        simple=class_of(listed) in SIMPLE,
        phone=class_of(listed) == "phone",
        newcomer=bool(sender and before) and sender not in before,
        child=permission(arrival, listed.picture.id, studio.config.entry_terms).consent.minor,
        story=arrival.story,
    )


def _about(annotation: Annotation, place: Place | None) -> Tonight | NotFound:
    time = time_to_state(annotation)
    if time is None:
        return NotFound("script", "It is not known when it was taken.", "Enter the time, if its sender knows it.")
    return tonight_of(annotation, time.utc, place)


def _lead(studio: Studio, edition: Edition, pictures: tuple[EpisodePicture, ...]) -> int:
    """The first that is placed and of the edition's evening, one of the whole Moon before one of a part."""
    able = [p for p in pictures if isinstance(p.about, Tonight) and p.when is not None
            and studio.calendar.evening(p.when).date in edition.plan.evenings]  # fmt: skip
    able.sort(key=lambda p: not (isinstance(p.about, Tonight) and p.about.whole))
    return able[0].number if able else 0


def _idea(studio: Studio, episode: Episode) -> str:
    """Of the evenings from this one to the next new Moon the plan that tells most; this evening's as its picture shows it."""
    told = {t.idea for t in episode.history if (episode.day - t.day).days <= IDEA_DAYS}
    left = max(1, min(30, round(29.53 - episode.sky.age_days) + 1))
    nights = [
        predict_tonight(_night(studio, episode.day + timedelta(days=k)).utc, episode.sky.place) for k in range(1, left)
    ]
    first = episode.about
    plan = plan_over_lunation([first, *(t for t in nights if t.when > first.when)], told)
    idea = next(p.idea for p in plan.evenings if p.when == first.when)
    return idea.key if idea is not None else ""

"""The idea of the evening, as `moondesk.ideas` tells it: the short telling, and as much of the long one as there is time."""

from __future__ import annotations

from dataclasses import replace

from moondesk.ideas.library import IDEAS, tell
from moondesk.ideas.records import Part, Telling
from moondesk.moon.catalogue import named
from moondesk.notes.messages import Message, Name
from moondesk.notes.messages import Part as MessagePart
from moondesk.script.evening import lead_cue
from moondesk.script.records import Episode, Line, Passage, Show
from moondesk.script.stops import PLURAL_KINDS, called
from moondesk.script.wordings import begun, ways_of

SHOWS: dict[str, Show] = {"as sent": "as sent", "turned": "turned", "lines": "lines", "spotlight": "light"}


def write_idea(episode: Episode) -> tuple[Passage, ...]:
    """None where the episode has no idea, or its light cannot show it."""
    idea = next((i for i in IDEAS if i.key == episode.idea), None)
    told = tell(idea, episode.about) if idea is not None else None
    if idea is None or not isinstance(told, Telling):
        return ()
    is_shown = bool(episode.lead) and told.short[0].screen != "as sent"
    links = ("idea.link", "idea.link_picture") if is_shown else ("idea.link",)
    fact = f"idea:{idea.key}"
    said = [
        Passage(key="idea:link", must=True, ways=ways_of(*links)),
        Passage(key="idea", must=True, ways=(_lines(episode, told.short, fact),)),
    ]
    if told.more:
        said.append(
            Passage(key="idea:more", worth=0.9, after="idea", ways=(_lines(episode, told.more, f"more:{idea.key}"),))
        )
    return tuple(said)


def _lines(episode: Episode, parts: tuple[Part, ...], fact: str) -> tuple[Line, ...]:
    return tuple(
        Line(
            said=_as_called(said),
            facts=(fact,),
            cue=lead_cue(episode, SHOWS[part.screen], part.feature) if k == 0 else None,
        )
        for part in parts
        for k, said in enumerate(part.said)
    )


def _as_called(said: Message) -> Message:
    """The same with places called as on the walk: "the Sea of Crises" for Mare Crisium."""
    values = {name: _called(value) for name, value in dict(said.values).items()}
    return replace(said, values=tuple(begun(said.template, values).items()))


def _called(value: MessagePart) -> MessagePart:
    feature = named(value.text) if isinstance(value, Name) else None
    # a sentence about one thing cannot be said of a range, which is many
    return value if feature is None or feature.kind in PLURAL_KINDS else called(feature)

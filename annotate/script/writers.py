"""All writers by the item that they write."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from moondesk.script.records import Episode, ItemKind, OrderTemplate, Passage
from moondesk.script.write_call import write_call
from moondesk.script.write_directions import write_directions
from moondesk.script.write_farewell import write_farewell
from moondesk.script.write_hidden import write_hidden
from moondesk.script.write_idea import write_idea
from moondesk.script.write_opening import write_opening
from moondesk.script.write_pictures import write_pictures
from moondesk.script.write_recap import write_recap
from moondesk.script.write_tomorrow import write_tomorrow
from moondesk.script.write_tour import write_tour

Writer = Callable[[Episode], tuple[Passage, ...]]
WRITERS: Mapping[ItemKind, Writer] = {
    "opening": write_opening,
    "recap": write_recap,
    "pictures": write_pictures,
    "directions": write_directions,
    "idea": write_idea,
    "tour": write_tour,
    "hidden": write_hidden,
    "tomorrow": write_tomorrow,
    "call": write_call,
    "farewell": write_farewell,
}


def write_passages(episode: Episode, template: OrderTemplate) -> dict[ItemKind, tuple[Passage, ...]]:
    """What can be said in each item of a running order."""
    return {kind: WRITERS[kind](episode) if kind in WRITERS else () for kind in template.shares}

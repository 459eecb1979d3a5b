"""The opening: a greeting, what the Moon looks like tonight, how far along it is."""

from __future__ import annotations

from moondesk.notes.messages import Name, Number, Part
from moondesk.script.evening import PHASES, lead_cue, shape_key, shape_of
from moondesk.script.records import Episode, Passage
from moondesk.script.wordings import ways_of

#: Nearer than this to the next principal phase, hours, the hours are told.
HOURS = 30.0


def write_opening(episode: Episode) -> tuple[Passage, ...]:
    t, shape = episode.about, shape_of(episode.about)
    greeting = ways_of(
        "opening.greeting", cue=lead_cue(episode, "as sent", is_first=True), programme=Name(episode.programme)
    )
    said = [Passage(key="opening:greeting", ways=greeting, must=True)]
    if t.eclipse in ("partial", "total"):  # its dark is not the Moon's night, and what is lit no phase
        return (*said, Passage(key="opening:eclipse", must=True, ways=ways_of("opening.eclipse")))
    values: dict[str, Part] = {"lit": Number(100 * t.lit, 1), "age": Number(t.age_days, 2)}
    said.append(Passage(key="opening:shape", must=True, ways=ways_of(f"opening.{shape_key(t)}", facts=(f"shape:{shape}:{episode.day}",), values=values)))  # fmt: skip
    if shape not in ("new", "full"):
        said.append(Passage(key="opening:percent", worth=0.8, after="opening:shape", ways=ways_of(
            "opening.percent", facts=(f"lit:{episode.day}",), percent=Number(100 * t.lit))))  # fmt: skip
    hours = (t.phases.next.utc - t.when).total_seconds() / 3600.0
    phase = PHASES[t.phases.next.kind]
    if hours >= HOURS:
        ways = ways_of("opening.phase_days", facts=(f"phase:{t.phases.next.utc:%Y-%m-%d}",), count=round(hours / 24), phase=phase, hours=Number(hours, 2))  # fmt: skip
        said.append(Passage(key="opening:phase", worth=0.5, ways=ways))
    elif hours >= 2:
        ways = ways_of(
            "opening.phase_hours", facts=(f"phase:{t.phases.next.utc:%Y-%m-%d}",), phase=phase, hours=Number(hours)
        )
        said.append(Passage(key="opening:phase", worth=0.6, ways=ways))
    if not episode.pictures and shape != "new":
        said.append(Passage(key="opening:no pictures", ways=ways_of("opening.no_pictures"), must=True))
    elif len(episode.pictures) > 1:
        said.append(Passage(key="opening:menu", worth=0.35, ways=ways_of("opening.menu", count=len(episode.pictures))))
    return tuple(said)

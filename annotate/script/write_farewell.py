"""The farewell: thanks to those who are named, and good night."""

from __future__ import annotations

from moondesk.notes.messages import Listed, Name
from moondesk.script.evening import lead_cue
from moondesk.script.records import Episode, Passage
from moondesk.script.wordings import ways_of

#: Names in one sentence of thanks.
NAMES = 4


def write_farewell(episode: Episode) -> tuple[Passage, ...]:
    said: list[Passage] = []
    names = tuple(dict.fromkeys(p.credit for p in episode.pictures if p.credit))[:NAMES]
    cue = lead_cue(episode, "credit", is_first=True)
    if names:
        said.append(Passage(key="farewell:thanks", must=True, ways=ways_of("farewell.thanks", cue=cue, names=Listed(tuple(Name(n) for n in names)))))  # fmt: skip
    if any(p.credit not in names for p in episode.pictures):
        table = "farewell.thanks_more" if names else "farewell.thanks_all"
        said.append(Passage(key="farewell:thanks all", worth=0.5, ways=ways_of(table)))
    following = episode.following
    if following is not None and (following.day - episode.day).days == 1:
        said.append(Passage(key="farewell:tomorrow", worth=0.5, ways=ways_of("farewell.tomorrow")))
    said.append(Passage(key="farewell:bye", must=True, ways=ways_of("farewell.bye", programme=Name(episode.programme))))
    return tuple(said)

"""What an episode leaves behind for the next ones: what it told, in which words, what it pointed at."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from moondesk.notes.messages import Message
from moondesk.script.marks import OF_FEATURE, read_text, sentences_of, write_script
from moondesk.script.records import Cue, Episode, Script, Told


def told_of(
    episode: Episode, script: Script, write: Callable[[Message], str], text: str = "", utc: datetime | None = None
) -> Told:
    """text: as it was spoken, with its marks, where somebody edited it: of the script's lines those count that still stand
    in it word for word."""
    spoken = text or write_script(script, write)
    sentences = frozenset(sentences_of(spoken))
    lines = [line for line in script.lines if not text or " ".join(write(line.said).split()) in sentences]
    facts = frozenset(fact for line in lines for fact in line.facts)
    return Told(
        number=episode.number,
        day=episode.day,
        utc=utc,
        facts=facts,
        sentences=sentences,
        templates=frozenset(line.said.template for line in lines),
        shown=frozenset(c.feature for c in read_text(spoken) if isinstance(c, Cue) and c.show in OF_FEATURE),
        idea=script.idea if f"idea:{script.idea}" in facts else "",
    )

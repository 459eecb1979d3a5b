"""What earlier episodes told, from their texts as they were spoken: facts and wordings of composed sentences that still
stand in them word for word, and what their marks pointed at. Pure.

It is read from the kept texts each time: what was erased of them since is not in the history either.
"""

from __future__ import annotations

from moondesk.script.marks import OF_FEATURE, read_text, sentences_of
from moondesk.script.records import Cue, Told
from moondesk.service.store.episode_items import KeptEpisode
from moondesk.service.store.records import EditionPlan


def told_by(plan: EditionPlan, kept: KeptEpisode) -> Told | None:
    """None for an edition without an evening: nobody can say how long ago it was."""
    if not plan.evenings:
        return None
    sentences = {s for item in kept.items for s in sentences_of(item.text)}
    sources = [s for item in kept.items for s in item.sources if s.sentence in sentences]
    facts = frozenset(fact for source in sources for fact in source.facts)
    cues = [part for item in kept.items for part in read_text(item.text) if isinstance(part, Cue)]
    return Told(
        number=plan.number,
        day=max(plan.evenings),
        utc=None,
        facts=facts,
        sentences=frozenset(sentences),
        templates=frozenset(source.template for source in sources),
        shown=frozenset(cue.feature for cue in cues if cue.show in OF_FEATURE),
        idea=next((f.removeprefix("idea:") for f in sorted(facts) if f.startswith("idea:")), ""),
    )

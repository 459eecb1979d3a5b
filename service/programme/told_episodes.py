"""What earlier episodes told, from their texts as they were spoken: facts and wordings of composed sentences that still
stand in them word for word, and what their marks pointed at. Pure.

It is read from the kept texts each time: what was erased of them since is not in the history either.
"""

from __future__ import annotations

from collections.abc import Callable

from moondesk.notes.messages import Listed, Message, Name, Number, Part, Term
from moondesk.script.marks import OF_FEATURE, read_text, sentences_of, write_text
from moondesk.script.records import Cue, Script, Told
from moondesk.service.store.episode_items import ItemDraft, KeptEpisode, Source, Value
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


def drafts_of(script: Script, write: Callable[[Message], str], basis: Callable[[int], str]) -> tuple[ItemDraft, ...]:
    """A script's items as they are kept, each sentence with where it comes from. basis: mark of what is known of a picture,
    by its number."""
    drafts, stands = [], 0
    for item in script.items:
        sources = []
        for line in item.lines:
            stands = line.cue.picture if line.cue is not None and line.cue.picture else stands
            sentence = " ".join(write(line.said).split())
            values = tuple(_value(line.said, name, part, write) for name, part in line.said.values)
            sources += [
                Source(sentence=one, facts=line.facts, template=line.said.template, values=values, picture=stands, basis=basis(stands))
                for one in sentences_of(sentence)
            ]  # fmt: skip
        if item.lines:
            text = write_text(item.paragraphs, write)
            drafts.append(ItemDraft(kind=item.kind, title=write(item.title), text=text, sources=tuple(sources)))
    return tuple(drafts)


def _value(said: Message, name: str, part: Part, write: Callable[[Message], str]) -> Value:
    is_spoken = "{" + name + "}" in said.template + (said.plural or "")
    shown = write(Message("{x}", (("x", part),))) if is_spoken else ""
    return Value(name=name, shown=shown, exact=_exact(part))


def _exact(part: Part) -> str:
    if isinstance(part, Number):
        return repr(part.value)
    if isinstance(part, Name):
        return part.text
    if isinstance(part, Term):
        return part.word
    if isinstance(part, Listed):
        return ", ".join(map(_exact, part.parts))
    return part.template if isinstance(part, Message) else str(part)

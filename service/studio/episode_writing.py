"""The text of an edition's episode composed into its items, each sentence with where it comes from."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from moondesk.notes.messages import Listed, Message, Name, Number, Part, Term, places_of
from moondesk.script.marks import write_text
from moondesk.script.orders import TITLES, order_for, orders
from moondesk.script.records import OrderTemplate, ScriptItem
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.episode_check import Stand, after_cue
from moondesk.service.store import episodes
from moondesk.service.store.episode_items import ItemDraft, Source, Value, own_sentences
from moondesk.service.studio.episode import episode_of, script_of
from moondesk.service.studio.episode_texts import EpisodeDesk

#: How long an episode is where nobody has said, seconds.
USUAL_S = 300


def compose_drafts(
    desk: EpisodeDesk, seconds: float, only: int | None = None
) -> tuple[tuple[ItemDraft, ...], str | None]:
    """Texts for the items that stand, the first of each kind, and the running order that they make; where none stand,
    the usual one's items. only: for this item alone. Raises BadInputError for an edition without an evening."""
    studio, kept = desk.studio, desk.kept
    order, made = _order(desk), None
    if not kept.items:
        order = order_for(episode_of(studio, desk.edition))
        made = order.name
    assert order is not None
    language = studio.language.spoken
    script = script_of(studio, desk.edition, seconds, desk.rate, order)
    drafts: list[ItemDraft] = []
    stand = Stand()
    for written in script.items:
        item = next((i for i in kept.items if i.kind == written.kind), None)
        sources, stand = _sources(written, stand, desk, language)
        if only is not None and (item is None or item.id != only):
            continue
        if item is None and not written.lines:
            continue  # a title alone: there is nothing to say of it
        drafts.append(
            ItemDraft(
                kind=written.kind,
                title=item.title if item else language.write(TITLES[written.kind]),
                text=write_text(written.paragraphs, language.write),
                sources=sources,
                id=item.id if item else 0,
            )
        )
    return tuple(drafts), made


def _order(desk: EpisodeDesk) -> OrderTemplate | None:
    """The items that stand as a running order, with the shares of the one that they were made from."""
    every = {o.name: o for o in (*orders(), *episodes.running_orders(desk.studio.storage))}
    made_from = every.get(desk.kept.template)
    kinds = [k for k in dict.fromkeys(i.kind for i in desk.kept.items) if k in TITLES]
    if not kinds:
        return None
    shares = {k: (made_from.shares.get(k, 0.0) if made_from else 0.0) or 1.0 / len(TITLES) for k in kinds}
    whole = sum(shares.values())
    return OrderTemplate(name=desk.kept.template, days=(0.0, 30.0), shares={k: s / whole for k, s in shares.items()})


def _sources(
    written: ScriptItem, stand: Stand, desk: EpisodeDesk, language: Language
) -> tuple[tuple[Source, ...], Stand]:
    found = []
    for line in written.lines:
        if line.cue is not None:
            stand = after_cue(stand, line.cue)
        ground = desk.ground(stand.picture)
        found.append(
            Source(
                sentence=" ".join(language.write(line.said).split()),
                facts=line.facts,
                template=line.said.template,
                values=_values(line.said, language),
                picture=ground.number,
                basis=ground.basis,
            )
        )
    return tuple(found), stand


def _values(said: Message, language: Language) -> tuple[Value, ...]:
    """What stands in a sentence, and the numbers that only stand behind it."""
    spoken = {*places_of(said.template), *places_of(said.plural or "")}
    found: list[Value] = []
    for name, part in said.values:
        if isinstance(part, Message):
            found += _values(part, language)
            continue
        if name in spoken or isinstance(part, (Number, int, date)):
            found.append(Value(name=name, shown=language.part(part) if name in spoken else "", exact=_exact(part)))
    return tuple(found)


def _exact(part: Part) -> str:
    if isinstance(part, Number):
        return f"{part.value:.6g}"
    if isinstance(part, Listed):
        return ", ".join(_exact(one) for one in part.parts)
    if isinstance(part, (Name, Term)):
        return part.text if isinstance(part, Name) else part.word
    return part.isoformat() if isinstance(part, date) else str(part)


def own_titles(desk: EpisodeDesk, item_ids: Sequence[int]) -> tuple[str, ...]:
    """Items among these that nothing is written into, because they have words that nobody composed."""
    return tuple(i.title for i in desk.kept.items if i.id in item_ids and own_sentences(i.text, i.sources))

"""The page of a picture's notes: sentences in the programme's language, a theme, a claim that was checked. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.claims import EXAMPLES
from moondesk.notes.messages import Message
from moondesk.notes.records import Notes, Theme
from moondesk.records import NotFound
from moondesk.service.languages.catalogue import Language
from moondesk.service.settings.config import Programme

#: Sections of the sentences on the Moon as a whole, by their topics.
WHOLE = (("This light", ("phase", "edge")), ("New since the last edition", ("new",)), ("What comes next", ("coming",)))
#: Groups of themes by what stands before the colon of their keys, in this order.
GROUPS = (("light", "Light and size"), ("size", "Light and size"), ("kind", "Kinds"), ("places", "Kinds"),
          ("people", "Named after"), ("nation", "By nation"), ("century", "By the years of their lives"))  # fmt: skip
VERDICTS = {
    "true": ("True", "sure"), "roughly": ("Roughly true", "unsure"), "false": ("False", "refused"),
    "cannot tell": ("Cannot be told", "unplaced"), "not understood": ("Not understood", "unplaced"),
}  # fmt: skip


@dataclass(frozen=True)
class FeatureNotes:
    """A feature's sentences. spoken: how its name is said; may be empty."""

    name: str
    spoken: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class ThemeShown:
    """The theme that was chosen. first: on the whole; members: a sentence on each, in the order of revealing."""

    key: str
    title: str
    first: str
    members: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class ClaimShown:
    """What came of a claim. tone: the mark's; hints: what else could be asked."""

    verdict: str
    tone: str
    said: str
    tolerance: str
    hints: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class NotesPage:
    """The notes of one picture. problem: why there are none, and what to do; else empty."""

    programme: Programme
    picture_id: int
    edition_number: int
    sender: str
    when: str
    #: What may be told of it, as kept at its page.
    story: str
    derived_key: str | None
    problem: str
    cautions: tuple[str, ...]
    #: (title, sentences)
    whole: tuple[tuple[str, tuple[str, ...]], ...]
    features: tuple[FeatureNotes, ...]
    #: (group, ((key, title), ...))
    themes: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    theme: ThemeShown | None
    claim: str
    checked: ClaimShown | None
    examples: tuple[str, ...]
    #: Code of the language that the sentences are in, and how many of their words it lacks.
    language: str
    missing: int


@dataclass(frozen=True, kw_only=True)
class Subject:
    """The picture that the notes are about, in words."""

    picture_id: int
    edition_number: int
    sender: str
    when: str
    story: str
    derived_key: str | None


@dataclass(frozen=True)
class NotesQuery:
    """theme: key of the chosen one, "" for none; claim: as typed; checked: None without one."""

    theme: str
    claim: str
    checked: Checked | None


def notes_page(
    programme: Programme, subject: Subject, notes: Notes | NotFound, language: Language, asked: NotesQuery
) -> NotesPage:
    found = notes if isinstance(notes, Notes) else Notes(())
    write = language.write
    chosen = next((t for t in found.themes if t.key == asked.theme), None)
    written = [n.said for n in found.notes]
    return NotesPage(
        programme=programme, picture_id=subject.picture_id, edition_number=subject.edition_number, sender=subject.sender, when=subject.when, story=subject.story, derived_key=subject.derived_key,
        problem="" if isinstance(notes, Notes) else f"{notes.reason} {notes.advice}".strip(),
        cautions=tuple(write(n.said) for n in found.notes if n.topic == "caution"),
        whole=tuple((title, said) for title, topics in WHOLE
                    if (said := tuple(write(n.said) for n in found.notes if n.topic in topics))),
        features=tuple(FeatureNotes(language.name(name), language.said(name),
                                   tuple(write(s) for s in found.about(name))) for name in found.features),
        themes=_group(found.themes, language),
        theme=None if chosen is None else ThemeShown(
            chosen.key, write(chosen.title), write(chosen.sentences[0]), tuple(write(s) for s in chosen.sentences[1:])),
        claim=asked.claim,
        checked=None if asked.checked is None else claim_shown(asked.checked, language),
        examples=EXAMPLES,
        language=language.code,
        missing=len(language.missing([*written, *_theme_said(chosen)])),
    )  # fmt: skip


def claim_shown(checked: Checked, language: Language) -> ClaimShown:
    verdict, tone = VERDICTS[checked.verdict]
    tolerance = "" if checked.tolerance is None else language.write(checked.tolerance)
    return ClaimShown(
        verdict=verdict, tone=tone, said=language.write(checked.said), tolerance=tolerance, hints=checked.hints
    )


def _theme_said(theme: Theme | None) -> tuple[Message, ...]:
    return () if theme is None else (theme.title, *theme.sentences)


def _group(themes: tuple[Theme, ...], language: Language) -> tuple[tuple[str, tuple[tuple[str, str], ...]], ...]:
    groups: dict[str, list[tuple[str, str]]] = {title: [] for _, title in GROUPS}
    titles = dict(GROUPS)
    for theme in themes:
        groups[titles[theme.key.partition(":")[0]]].append(
            (theme.key, f"{language.write(theme.title)} ({len(theme.features)})")
        )
    return tuple((title, tuple(found)) for title, found in groups.items() if found)

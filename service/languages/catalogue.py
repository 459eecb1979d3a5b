"""Sentences in the programme's language: its catalogue's templates, and numbers, lists and dates by its custom.

Catalogues are gettext's .po files in `data`, named by language (bg.po); they are read as they are, so that there is
nothing to compile and a translator sees the change at the next start. Numbers, dates and lists are Babel's, from the
Unicode Common Locale Data Repository. What a catalogue lacks is written in English and told by `missing`, before air.
"""

from __future__ import annotations

import gettext
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from string import Formatter
from typing import TYPE_CHECKING

from moondesk.notes.messages import Listed, Message, Name, Number, Part, Term, fill, in_english
from moondesk.service.languages import ENGLISH, FOLDER, LANGUAGES, REPLIES_FOLDER, REPLY_LANGUAGES
from moondesk.speech.names import how_said

if TYPE_CHECKING:
    from babel.messages import Catalog

_SPANISH_I = re.compile(r"[IÍ](?![aeo])|Hi(?![aeo])")


@dataclass(frozen=True)
class LocalName:
    """A feature's name as the programme says it. local: its form in the language, "" where the IAU's alone is used;
    spoken: how it is to be read out, as the presenter wrote it."""

    local: str = ""
    spoken: str = ""


@dataclass(frozen=True)
class Language:
    """A language to write in. names: by the IAU's name; forms that the presenter saved go before the catalogue's."""

    code: str = ENGLISH
    names: Mapping[str, LocalName] = field(default_factory=dict)

    @property
    def spoken(self) -> Spoken:
        """The same for what is read out: a name in one form, not two."""
        return Spoken(self.code, self.names)

    @property
    def between(self) -> str:
        """What stands between two sentences: nothing in Japanese (JIS X 4051 has no space there)."""
        return "" if self.code == "ja" else " "

    def write(self, said: Message) -> str:
        """The sentence in the language; in English where its catalogue has none."""
        if self.code == ENGLISH and not self.names:
            return in_english(said)
        known = _translations(self.code)
        if said.plural is not None:
            template = known.ngettext(said.template, said.plural, said.count)
        else:
            template = known.gettext(said.template)
        return fill(said, template, self.part)

    def part(self, part: Part) -> str:
        """What fills a place of a template, by the language's custom."""
        from babel.dates import format_date
        from babel.lists import format_list
        from babel.numbers import format_decimal

        locale = "en_GB" if self.code == ENGLISH else self.code
        if isinstance(part, Message):
            return self.write(part)
        if isinstance(part, Term):
            return _translations(self.code).gettext(part.word)
        if isinstance(part, Name):
            return self.name(part.text)
        if isinstance(part, Number):
            # the minimum of grouped digits is the language's own: 1146 in some, 1 146 or 1,146 in others
            return format_decimal(
                part.value, format=f"#,##0{'.' * (part.decimals > 0)}{'0' * part.decimals}", locale=locale
            )
        if isinstance(part, Listed):
            words = [self.part(p) for p in part.parts]
            if self.code == "es" and len(words) > 1 and _SPANISH_I.match(words[-1]):
                # "y" becomes "e" before the sound i (Ortografía de la lengua española, 2010), which CLDR's patterns cannot say
                return f"{format_list(words[:-1], style='unit', locale=locale)} e {words[-1]}"
            return format_list(words, style="standard", locale=locale)
        if isinstance(part, date):
            written = format_date(part, format="d MMMM y" if self.code == ENGLISH else "long", locale=locale)
            # the first of a month is an ordinal in French, which CLDR's patterns cannot say
            return f"1er{written[1:]}" if self.code == "fr" and part.day == 1 else written
        return str(part)  # a whole number may be a year: it is not grouped

    def short_date(self, day: date) -> str:
        """Day and month without the year, as it stands under small pictures: 14 Oct."""
        from babel.dates import format_skeleton

        return format_skeleton("MMMd", day, locale="en_GB" if self.code == ENGLISH else self.code)

    def local_name(self, iau: str) -> str:
        """The form of a feature's name in the language; "" where there is none."""
        saved = self.names.get(iau)
        if saved is not None and saved.local:
            return saved.local
        translated = _translations(self.code).pgettext("feature", iau)
        return "" if translated == iau else translated

    def name_alone(self, iau: str) -> str:
        """The local form as it stands by itself in a picture, where no sentence tells its kind; "" where there is none."""
        saved = self.names.get(iau)
        alone = _translations(self.code).pgettext("feature alone", iau)
        return self.local_name(iau) if (saved is not None and saved.local) or alone == iau else alone

    def name(self, iau: str) -> str:
        """The IAU's name, the local form in brackets after it where there is one."""
        local = self.local_name(iau)
        return f"{iau} ({local})" if local else iau

    def said(self, iau: str) -> str:
        """How a name is read out: as the presenter wrote it, else with the letters of the language. "" where that is not
        known, or the language has its own form, which everybody can read."""
        saved = self.names.get(iau, LocalName())
        if saved.spoken or (self.code != ENGLISH and self.local_name(iau)):
            return saved.spoken
        said = how_said(iau, self.code)
        return said.respelled if said is not None else ""

    def missing(self, sentences: Iterable[Message]) -> tuple[str, ...]:
        """English templates and words of these sentences that the catalogue lacks, each once, in their order."""
        if self.code == ENGLISH:
            return ()
        keys = dict.fromkeys(key for said in sentences for key in _keys(said))
        return tuple(key for key in keys if key not in _messages(self.code) and _has_words(key))


@dataclass(frozen=True)
class Spoken(Language):
    """A language for what is spoken: of a name its local form, or else the IAU's."""

    def name(self, iau: str) -> str:
        return self.local_name(iau) or iau


def _has_words(key: str) -> bool:
    """Whether there is anything to translate beside the places of a template."""
    return any(c.isalpha() for text, *_ in Formatter().parse(key) for c in text)


def _keys(part: Part) -> Iterable[str]:
    """What a catalogue must have for a part."""
    if isinstance(part, Message):
        yield part.template
        for _, value in part.values:
            yield from _keys(value)
    elif isinstance(part, Listed):
        for value in part.parts:
            yield from _keys(value)
    elif isinstance(part, Term):
        yield part.word


@cache
def _messages(code: str) -> frozenset[str]:
    return frozenset(
        message.id if isinstance(message.id, str) else message.id[0]
        for message in _read(code)
        if message.id and message.context is None and whole(message.string)
    )


def whole(text: str | tuple[str, ...] | list[str] | None) -> bool:
    """Whether a message is translated, in all its forms."""
    return bool(text) if text is None or isinstance(text, str) else bool(text) and all(text)


@cache
def _translations(code: str) -> gettext.NullTranslations:
    if code == ENGLISH:
        return gettext.NullTranslations()
    from babel.messages.mofile import write_mo

    compiled = io.BytesIO()
    write_mo(compiled, _read(code))
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


@cache
def _read(code: str) -> Catalog:
    """A catalogue. KeyError for a language that there is none of."""
    from babel.messages.pofile import read_po

    if code not in REPLY_LANGUAGES:
        raise KeyError(code)
    with ((FOLDER if code in LANGUAGES else REPLIES_FOLDER) / f"{code}.po").open("rb") as file:
        return read_po(file, locale=code)

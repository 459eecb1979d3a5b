"""In which language a page of the audience is shown: as its reader chose on it, else as the sender writes, else as the
browser asks, else the programme's. Of the catalogues that there are; what one lacks is shown in English. Questions by a link speak all that
replies do.

Templates write a sentence with `t("...")`, by which the catalogues find it too; what is chosen stands in the address.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from flask import Flask, current_app, g, request

from moondesk.notes.messages import Message, Part, say
from moondesk.service.languages import ENGLISH, LANGUAGES, direction, own_name
from moondesk.service.languages.catalogue import Language

#: What the switch adds to a page's address.
FIELD = "language"


@dataclass(frozen=True)
class Tongue:
    """direction: "ltr" or "rtl". others: (code, own name) of the languages to change to."""

    code: str
    direction: str
    others: tuple[tuple[str, str], ...]

    def write(self, said: Message) -> str:
        return Language(self.code).write(said)


def tongue_of(wishes: Iterable[str | None], programme: str, languages: Sequence[str] = LANGUAGES) -> Tongue:
    """By the first of the wishes that there is a catalogue of. languages: those in which the page can be."""
    code = next((w for w in wishes if w in languages), programme) or ENGLISH
    return Tongue(code, direction(code), tuple((c, own_name(c)) for c in languages if c != code))


def tongue() -> Tongue:
    """This request's."""
    if "tongue" not in g:
        use_language("")
    return g.tongue  # type: ignore[no-any-return]


def use_language(known: str, languages: Sequence[str] = LANGUAGES) -> None:
    """Decide the language of this request. known: the sender's, "" where it is not."""
    asked = (
        tag.replace("_", "-").partition("-")[0].casefold() for tag in request.accept_languages.values()
    )  # best first
    wishes = (request.args.get(FIELD), known, *asked)
    g.tongue = tongue_of(wishes, current_app.extensions["moondesk.config"].programme.language, languages)


def install(app: Flask) -> None:
    """Let an application's templates speak."""
    app.jinja_env.globals["tongue"] = tongue
    app.jinja_env.globals["t"] = write


def write(sentence: str, **values: Part) -> str:
    return tongue().write(say(sentence, **values))

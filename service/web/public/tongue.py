"""In which language a page of the audience is shown: as its reader chose on it, else as the sender writes, else as the
browser asks, else the programme's. Of the catalogues that there are; what one lacks is shown in English."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from moondesk.notes.messages import Message
from moondesk.service.languages import LANGUAGES, direction, own_name
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


def tongue_of(wishes: Iterable[str | None], programme: str) -> Tongue:
    """By the first of the wishes that there is a catalogue of."""
    code = next((w for w in wishes if w in LANGUAGES), programme)
    assert code is not None
    return Tongue(code, direction(code), tuple((c, own_name(c)) for c in LANGUAGES if c != code))

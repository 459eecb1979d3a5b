"""Words by a stem and its endings, which a language file lists once."""

import re

import pytest

from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.lexicons.patterns import Writing, compile_pattern

FILE = {
    "code": "xx", "name": "None", "scripts": ["LATIN"],
    "endings": {"ar": "ar arl* en"},
    "class": {"show": "mostr/@ar publi/que/quen"},
    "consent": {"no": ["no .. <show>"]},
}  # fmt: skip


@pytest.mark.parametrize(
    ("text", "stands"),
    [("no la mostren", True), ("no mostrarla", True), ("no publique", True), ("no muestra", False), ("no mostrenia", False)],
)  # fmt: skip
def test_stem_and_endings_are_one_word(text: str, stands: bool) -> None:
    words = Lexicon(FILE)
    assert bool(words.search("consent", "no")(text)) is stands


def test_forms_are_known_and_endings_alone_are_not() -> None:
    words = Lexicon(FILE)
    assert all(words.knows(w) for w in ("mostrar", "mostrarlas", "publiquen", "no"))
    assert not any(words.knows(w) for w in ("en", "quen", "publi", "mostr"))


def test_endings_that_no_list_names_are_refused() -> None:
    with pytest.raises(ValueError, match="no endings"):
        re.compile(compile_pattern("mostr/@er", {}, "", Writing()))

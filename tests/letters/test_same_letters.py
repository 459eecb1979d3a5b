"""Letters that are written for others, in texts and patterns alike."""

from moondesk.service.lexicons.lexicon import Lexicon

FILE = {
    "code": "xx", "name": "None", "scripts": ["LATIN"], "same": {"ae": "ä", "oe": "ö", "ue": "ü"},
    "numbers": {"zwölf": 12}, "class": {"may": "dürf* kön*"}, "consent": {"yes": ["<may> .. zeigen", "neue"]},
}  # fmt: skip


def test_umlauts_are_found_however_they_are_typed() -> None:
    words = Lexicon(FILE)
    search = words.search("consent", "yes")
    for text in ("Ihr dürft es zeigen", "ihr duerft es zeigen", "Ihr durft es zeigen", "eine neue"):
        assert search(words.fold(text).text), text
    assert words.knows(words.fold("koennen").text)
    assert words.numbers[words.fold("zwoelf").text] == 12

"""What a sentence says about showing, as a letter of its own, against what must be read of it."""

from moondesk.service.programme.letter.reading import read_letter
from moondesk.service.programme.mail_text import parts_of

_STATES = {"refused": "no", "suggested": "yes"}


def check(text, language, consent="", withdrawal=False, child=False):
    """consent: "no", which may count as taken back too, "yes", "" neither; with a withdrawal it may be either. A
    language's list must take part."""
    found = read_letter("", "", parts_of(text))
    said = found.consent
    assert said.withdrawal == withdrawal or consent == "no", said
    assert said.minor == child, said
    if not withdrawal:
        assert _STATES.get(said.state, "") == consent, said
    if consent or withdrawal or child:
        assert language in found.languages, found.languages

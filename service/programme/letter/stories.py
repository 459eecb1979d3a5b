"""What of a letter a presenter may tell: the sentences in which a first time, a gift, a grandfather or a dream stand. Pure.

A suggestion for the desk, in the sender's own words: what is kept of it is the presenter's choice.
"""

from __future__ import annotations

from moondesk.service.lexicons.lexicon import lexicon
from moondesk.service.programme.letter.tongues import languages_of, languages_of_sentence
from moondesk.service.programme.mail_text import sentences

#: Characters of a story, and of a sentence that tells none: a label, a greeting.
MOST, LEAST = 300, 12


def read_story(own: str) -> str:
    """Up to two sentences; "" where none tells one, or what tells one is too long to be told in a breath."""
    mail = languages_of(own)
    told: list[str] = []
    for sentence in sentences(own):
        if not LEAST <= len(sentence) <= MOST or len(" ".join((*told, sentence))) > MOST or len(told) == 2:
            continue
        codes = languages_of_sentence(sentence, mail)
        if any(lexicon(code).search("story", "told")(lexicon(code).fold(sentence).text) for code in codes):
            told.append(sentence)
    return " ".join(told)

"""What a mail that answers another says about the picture which that was about: a yes or a no, in words or in one. Pure.

A bare "Yes." means something only where the question went out (`bare`); it is a suggestion like all that is read.
"""

from __future__ import annotations

import re

from moondesk.service.lexicons.lexicon import lexicons
from moondesk.service.programme.consent.wording import EVIDENCE_CHARACTERS, Consent
from moondesk.service.store.records import Answer


def _any(key: str, joined: bool = False) -> str:
    """Of all languages; joined: of those whose words are not parted, else of the others."""
    said = [one.table["answer"][key] for one in lexicons().values()
            if key in one.table.get("answer", {}) and one.writing.spaces is not joined]  # fmt: skip
    return "|".join(f"(?:{words})" for words in said)


_BEGIN = rf"^[\W_]*(?:(?:{_any('greeting')})\b[^\n,.!]{{0,40}}[\n,.!]\W*)?"
_STARTS_YES = re.compile(rf"{_BEGIN}(?:(?:{_any('yes')})(?!\w)|{_any('yes', joined=True)})", re.IGNORECASE)
_STARTS_NO = re.compile(
    rf"{_BEGIN}(?:(?:{_any('no')})(?!\w)(?!\s+(?:{_any('no_but')}))|{_any('no', joined=True)})", re.IGNORECASE
)


def read_answer(own: str, consent: Consent) -> Answer | None:
    """own: the sender's words; consent: as they were read. None where they are neither yes nor no."""
    words = " ".join(own.split())[:EVIDENCE_CHARACTERS]
    if consent.state == "refused" or consent.withdrawal:
        return Answer("refused", consent.evidence or words)
    if consent.state == "suggested":
        return Answer("suggested", consent.evidence or words)
    if _STARTS_NO.match(own):
        return Answer("refused", words, bare=True)
    if _STARTS_YES.match(own):
        return Answer(
            "unclear" if consent.state == "unclear" and len(words.split()) > 8 else "suggested", words, bare=True
        )
    return None

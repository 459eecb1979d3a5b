"""What a mail that answers another says about the picture which that was about: a yes or a no, in words or in one. Pure.

A bare "Yes." means something only where the question went out (`bare`); it is a suggestion like all that is read.
"""

from __future__ import annotations

import re

from moondesk.service.programme.consent.wording import EVIDENCE_CHARACTERS, Consent
from moondesk.service.store.records import Answer

#: How an answer begins, in ten languages.
_YES = (
    r"yes|yep|yeah|sure|of course|certainly|ok(?:ay)?|gladly|with pleasure|by all means|please do|ja|gerne?|klar|natürlich"
    r"|selbstverständlich|einverstanden|oui|bien sûr|d['\u2019]accord|volontiers|avec plaisir|sí|si(?=\s*(?:[,.!]|$))"
    r"|claro|por supuesto|de acuerdo|vale|sim|com certeza|pode(?:m)?|de acordo|да|разбира се|може|съгласен|съгласна"
    r"|(?:जी )?हाँ|(?:जी )?हां|ज़रूर|जरूर|बिल्कुल|ठीक है|होय|हो|नक्की|चालेल|نعم|أجل|طبعا|طبعًا|بالتأكيد|موافق|موافقة|أوافق|بكل سرور"
)
_NO = (
    r"no|nope|never|rather not|please do(?: not|n['\u2019]t)|nein|lieber nicht|bitte nicht|non|não|nao|не"
    r"|(?:जी )?नहीं|नाही|नको|لا"
)
#: Scripts that part no words.
_YES_JOINED, _NO_JOINED = (
    "はい|もちろん|ええ|どうぞ|喜んで|了解|構いません|かまいません",
    "いいえ|いえ|だめ|ダメ|やめて|お断り|遠慮",
)
_BEGIN = r"^[\W_]*(?:(?:hello|hi|hallo|bonjour|hola|olá|здравейте|नमस्ते|नमस्कार|مرحبا)\b[^\n,.!]{0,40}[\n,.!]\W*)?"
_STARTS_YES = re.compile(rf"{_BEGIN}(?:(?:{_YES})(?!\w)|{_YES_JOINED})", re.IGNORECASE)
_STARTS_NO = re.compile(
    rf"{_BEGIN}(?:(?:{_NO})(?!\w)(?!\s+(?:problem|worries|objection|need|doubt|hay (?:problema|inconveniente)|há problema))"
    rf"|{_NO_JOINED})",
    re.IGNORECASE,
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

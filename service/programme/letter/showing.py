"""What one sentence says about showing the picture, about taking one back, and about a child, in one language. Pure.

A no beats a condition or a question, and these beat a yes. A sentence in which words of showing or of the public stand,
or a no near them, and that says neither in a way that is known, is unclear: somebody must read it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from moondesk.service.lexicons.lexicon import Lexicon
from moondesk.service.programme.letter.doubt import has_doubts, is_restrictive, turns_elsewhere
from moondesk.service.programme.letter.ingredients import agrees, answers, assents, denies, takes_back

#: No sentence is read that is longer.
LONGEST = 1_500
#: A number or a letter whose full stop is no end, past which a gap in a pattern goes: "18. November", "z. B.".
_COUNTED = re.compile(r"(?<![\w.])(\d{1,2}|[^\W\d_])\.(?=\s?\w)(?!\s?\d)")
#: What stands in a sentence's folded text for a no that is none.
GLADLY = " gladly "
_BLANKS = re.compile(" {2,}")
#: From so many years on somebody is no child.
ADULT = 18


@dataclass(frozen=True, kw_only=True)
class Showing:
    """What a sentence says. consent: "no", "open" (a condition, a question, or one cannot tell), "yes", "" nothing.

    sure: False where "open" only says that it was not understood; light: and no word stands in it for which a clear yes in
    another sentence would not outweigh that. child: one took the picture; child_spoken: one is
    spoken of; off_the_subject: it turns to something that nobody can tell, see `doubt`; guardian: who is responsible for one
    writes; boilerplate: it is what a company puts below all of its mails.
    """

    consent: str = ""
    sure: bool = True
    light: bool = False
    withdrawal: bool = False
    child: bool = False
    child_spoken: bool = False
    guardian: bool = False
    off_the_subject: bool = False
    boilerplate: bool = False

    def __bool__(self) -> bool:
        return bool(self.consent or self.withdrawal or self.child or self.child_spoken or self.guardian)


def read_showing(sentence: str, words: Lexicon) -> Showing:
    """What a sentence says, read with one language's words."""
    if len(sentence) > LONGEST:
        return Showing(consent="open", sure=False)
    text = _COUNTED.sub(r"\1", words.fold(sentence).text)
    if words.search("mail", "disclaimers")(text):  # nobody has refused, but nobody can tell
        return Showing(consent="open", boilerplate=True)
    plain = words.without(words.without(text, "consent", "double", GLADLY), "consent", "elsewhere")
    plain = _BLANKS.sub(" ", plain)
    about_child = words.without(text, "child", "elsewhere")
    child = words.search("child", "told")(about_child) is not None
    spoken = child or words.search("child", "spoken")(about_child) is not None
    guardian = words.search("guardian", "told")(text) is not None
    consent, sure, withdrawal = _consent(plain, words)
    if consent != "no" and (answer := _labelled_answer(text, words)):
        consent, sure = answer, True
    if not consent and _is_bare_no(text, words):  # an answer to what nobody can tell
        consent, sure = "open", False
    if _labelled_age(text, words):
        child = spoken = True
    off = False
    if has_doubts(words):
        if not consent and is_restrictive(plain, words):
            consent, sure = "open", False
        off = not consent and turns_elsewhere(sentence, plain, words)
        may = words.search("withdrawal", "if_restricted")(plain) and is_restrictive(plain, words)
        withdrawal = withdrawal or bool(may) or words.search("withdrawal", "perhaps")(plain) is not None
    light = not sure and bool(words.expressions("consent", "weighty")) and not words.search("consent", "weighty")(plain)
    return Showing(
        consent=consent,
        sure=sure,
        light=light,
        withdrawal=withdrawal,
        child=child,
        child_spoken=spoken,
        guardian=guardian,
        off_the_subject=off,
    )


def _consent(plain: str, words: Lexicon) -> tuple[str, bool, bool]:
    """plain: folded, without what is about something else and the words of a no that is none."""
    sent = words.without(plain, "withdrawal", "elsewhere")
    withdrawal = words.search("withdrawal", "asks")(sent) is not None or takes_back(sent, words)
    gladly = words.without(plain, "consent", "shown")
    if words.search("consent", "no")(gladly) or denies(gladly, words):
        return "no", True, withdrawal
    if withdrawal:
        return "no", True, True
    condition = words.search("consent", "condition")(words.without(gladly, "assent", "wish"))
    if answers(gladly, words) and not condition and not words.search("consent", "put_to_us")(gladly):
        return "yes", True, False
    unsure = condition or words.search("consent", "asks")(gladly)
    glad = GLADLY in gladly and words.search("class", "show")(gladly)
    if agrees(gladly, words) or glad or assents(gladly, words):
        return ("open" if unsure else "yes"), True, False
    if has_doubts(words):
        return "", True, False
    if unsure and words.search("class", "show")(gladly):
        return "open", True, False
    if words.search("consent", "restrict")(gladly):
        return "open", False, False
    return "", True, False


def _labelled_answer(text: str, words: Lexicon) -> str:
    """What a form's line says: "permission: yes"; "" for a text that is none, or an answer that is neither."""
    (label,), (yes,), (no,) = (words.expressions("labels", key) or ("",) for key in ("consent", "yes", "no"))
    found = re.match(rf"\W*{label}[^:=?]{{0,40}}[:=]\s*(?P<said>.+)", text) if label else None
    if found is None:
        return ""
    if no and re.match(rf"\W*{no}", found["said"]):
        return "no"
    unsure = any(words.search("consent", key)(found["said"]) for key in ("condition", "asks"))
    return ("open" if unsure else "yes") if yes and re.match(rf"\W*{yes}", found["said"]) else ""


def _is_bare_no(text: str, words: Lexicon) -> bool:
    (no,) = words.expressions("labels", "no") or ("",)
    return bool(no) and re.fullmatch(rf"\W*{no}\W*", text) is not None


def _labelled_age(text: str, words: Lexicon) -> bool:
    """Whether a form's line gives a child's age."""
    (label,) = words.expressions("labels", "age") or ("",)
    found = re.match(rf"\W*{label}\W{{0,4}}[:=]\W*(?P<said>\S+(?: \S+)?)", text) if label else None
    if found is None:
        return False
    first = re.match(r"\d+", found["said"])
    years = float(first[0]) if first else words.numbers.get(found["said"], words.numbers.get(found["said"].split()[0]))
    return years is not None and years < ADULT

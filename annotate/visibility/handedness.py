"""What the optics say: the hand that stated equipment predicts, set beside the picture's own verdict, never above it.

Every mirror exchanges left and right once; lenses only turn. An odd number of reflections gives a mirrored picture, an
even one a turned picture at most (common practice; geometrical optics of plane mirrors).
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace

from moondesk.records import Annotation


@dataclass(frozen=True)
class OpticalHandedness:
    """mirrored: as the words predict it, None where they do not settle it. words: what it was read from. reflections:
    their number, None where unknown (that it is odd or even may still be known). explanation: one sentence for the
    presenter."""

    mirrored: bool | None
    words: str
    reflections: int | None
    explanation: str


#: The main instrument: pattern, name for the sentence, mirrors in its tube, whether it is used without a diagonal in
#: any case (light leaves a Newtonian at its side, binoculars have prisms). All common practice.
_TUBES: tuple[tuple[str, str, int, bool], ...] = (
    (r"binoculars?|field ?glass(?:es)?|opera ?glass(?:es)?|\d+\s?x\s?\d\d (?:porro|roof)", "binoculars", 0, True),
    (r"spotting ?scopes?|monoculars?|spotters?", "a spotting scope", 0, True),
    (r"newton(?:ians?)?|dobson(?:ians?)?|dobs?|reflectors?", "a Newtonian", 2, True),
    (r"mak(?:sutovs?|s)?|mak-?cass|maksutov-? ?cassegrains?", "a Maksutov", 2, False),
    (r"schmidt-? ?cassegrains?|scts?|cassegrains?|ritchey-? ?chretiens?", "a Cassegrain", 2, False),
    (r"refractors?|achromats?|apochromats?|apos?|lunettes?", "a refractor", 0, False),
)
_ERECTING = (
    r"(?:erecting|erect(?:or)?|amici|correct(?:ed)?[- ]image|upright)\b[\w -]{0,12}"
    r"(?:prisms?|diagonals?|lens(?:es)?)?"
)
_DIAGONAL = (
    r"(?:star[- ]?|mirror[- ]?|zenith[- ]?|90[- ]?(?:degree|deg)?[- ]?)?"
    r"(?:diagonals?|zenith (?:mirrors?|prisms?))"
)
_NO = r"(?:no|not|never|without)(?: an?| any| the| been)* "
_STRAIGHT = (
    rf"straight[- ]?(?:through)?|{_NO}{_DIAGONAL}|{_DIAGONAL} (?:was )?removed|prime focus"
    r"|direct(?:ly)?[- ]projection"
)
_FRONT = r"front(?:[- ]facing)? camera|selfie(?: camera)?"
_FLIP = (
    r"(?:flipped|mirrored) (?:by|in|with) (?:the |an? |my )?(?:app|software|editor|phone)"
    r"|app(?:'s)? (?:flip|mirror)\w*|(?:horizontal|vertical) flip|flipped (?:it )?(?:horizontally|vertically)"
)
_BARE = (
    r"(?:phone|smartphone|iphone|mobile|dslr|camera|telephoto|zoom lens|bridge camera|compact|mirrorless"
    r"|hand[- ]?held|tripod|\d{2,4} ?mm(?: lens)?)"
)
_TELESCOPE = r"(?:telescopes?|scopes?|eyepieces?|afocal)"


def _has(pattern: str, text: str) -> bool:
    return re.search(rf"(?<![\w-])(?:{pattern})(?!\w)", text) is not None


def handedness_of_words(words: str) -> OpticalHandedness:
    """The hand that equipment described in English words gives; unsettled (mirrored None) where anything is missing.

    Common practice throughout: a Newtonian has two mirrors; refractor, Maksutov and Cassegrain turn alone and mirror
    with a star diagonal (one reflection more); an erecting prism reflects an even number of times, as do the prisms of
    binoculars; a front camera or an app's flip adds one.
    """
    text = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().casefold().replace("_", " ")
    text = " ".join(text.split())
    text = re.sub(rf"{_NO}(?:{_ERECTING}|{_FRONT}|{_FLIP})", " ", text)
    # the eyepiece of a "Maksutov-Newtonian" is at the side, whatever the corrector
    text = re.sub(r"(?:maksutov|mak|schmidt)[- ]newton", "newton", text)
    straight, erect = _has(_STRAIGHT, text), _has(_ERECTING, text)
    diagonal = _has(_DIAGONAL, re.sub(rf"{_STRAIGHT}|{_ERECTING}", " ", text))
    tubes = [tube for tube in _TUBES if _has(tube[0], text)]
    flips = int(_has(_FRONT, text)) + int(_has(_FLIP, text))
    added = " and ".join(
        (["a front camera mirrors"] if _has(_FRONT, text) else []) + (["a flip mirrors"] if _has(_FLIP, text) else [])
    )
    if len(tubes) > 1:
        names = " and ".join(t[1] for t in tubes)
        return OpticalHandedness(
            None, words, None, f"More than one instrument is named ({names}): the hand is not settled."
        )
    if (erect or straight) and diagonal:
        return OpticalHandedness(None, words, None, "The words name two ways to the eyepiece: the hand is not settled.")
    if not tubes:
        name = (
            "a telescope with a star diagonal"
            if diagonal
            else "a telescope with an erecting prism"
            if erect
            else "a telescope used straight through"
            if straight
            else ""
        )
        return _without_tube(text, words, name, int(diagonal) + flips, added)
    _, name, mirrors, settled = tubes[0]
    if diagonal:
        return _hand_of_count(words, mirrors + 1 + flips, f"{name} with a star diagonal", added)
    if erect or name in ("binoculars", "a spotting scope"):
        # prisms of two, four or six reflections are sold: even, but not to be counted
        what = f"{name} with an erecting prism" if erect else name
        counted = _hand_of_count(words, mirrors + flips, what, added, "prisms set the picture upright")
        return replace(counted, reflections=None)
    if settled or straight:
        return _hand_of_count(words, mirrors + flips, name if settled else f"{name} used straight through", added)
    return OpticalHandedness(
        None,
        words,
        None,
        f"{_capital(name)} mirrors with a star diagonal and only turns without: which was used is not said.",
    )


def _without_tube(text: str, words: str, name: str, reflections: int, added: str) -> OpticalHandedness:
    """name: of a telescope by its way to the eyepiece, empty where none was named; reflections: of what was named."""
    parity = {0: "an even number of reflections", 1: "an odd number of reflections"}
    if name:
        # the tube before a diagonal has no mirror or two, so that the hand is known and the count is not
        return replace(_hand_of_count(words, reflections, name, added, parity[reflections % 2]), reflections=None)
    if _has(_TELESCOPE, text):
        return OpticalHandedness(None, words, None, "The kind of telescope is not said: the hand is not settled.")
    if reflections or _has(_BARE, text):
        return _hand_of_count(words, reflections, "a camera alone", added)
    return OpticalHandedness(None, words, None, "The words name no optics that would settle the hand.")


def _hand_of_count(words: str, reflections: int, name: str, added: str, how: str = "") -> OpticalHandedness:
    mirrored = reflections % 2 == 1
    count = {0: "no reflection", 1: "one reflection"}.get(reflections, f"{reflections} reflections")
    why = "; ".join(part for part in (how or count, added) if part)
    what = "mirrored" if mirrored else "turned at most, not mirrored"
    return OpticalHandedness(mirrored, words, reflections, f"{_capital(name)} ({why}): the picture should be {what}.")


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


def compare_handedness(expected: OpticalHandedness, annotation: Annotation) -> str:
    """One sentence that sets the optics' hand beside the picture's. The picture is never overruled by it."""
    if annotation.pose is None:
        if expected.mirrored is None:
            return "Neither the picture nor the words about the equipment tell the hand."
        return f"The picture could not be placed, so that it does not tell its hand. {expected.explanation}"
    seen = "mirrored" if annotation.pose.mirrored else "not mirrored"
    sure = "" if annotation.sure else ", though the placing is not sure"
    if expected.mirrored is None:
        return f"The picture is {seen}{sure}. {expected.explanation}"
    if expected.mirrored == annotation.pose.mirrored:
        return f"The picture is {seen}{sure}, as the optics say. {expected.explanation}"
    likely = (
        "a diagonal, a front camera or a flip in an app was not mentioned"
        if annotation.pose.mirrored
        else "it was flipped back afterwards, or the diagonal was an erecting one"
    )
    return (
        f"The picture is {seen}{sure}, against what the optics say; the picture counts. {expected.explanation} "
        f"Perhaps {likely}."
    )

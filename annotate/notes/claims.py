"""Check what I will say: a sentence as the presenter typed or picked it, against this picture.

A small grammar: each form of claim is a pattern and what measures it. What fits none is said to be not understood, with
the forms that are. The verdict comes with the number and with its tolerances; where the light or the time is not known
well enough it is "cannot tell". Shares are those of `sunlit_ground` (mean sphere); of relief nothing is known.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from moondesk.notes import light_claims as light
from moondesk.notes import moon_claims as moon
from moondesk.notes.claim_verdicts import Checked
from moondesk.notes.messages import Name, say
from moondesk.notes.picture_notes import sun_of, time_for_notes
from moondesk.notes.view import NotesView, UnheardError
from moondesk.records import Annotation

#: Words that change nothing of a claim.
_FILLERS = re.compile(
    r"\b(?:today|tonight|now|still|already|just|currently|really|this evening|in this picture|in the picture|here|"
    r"about|around|roughly|approximately|almost|nearly|exactly|only|quite|that|we see|you can see|as you see)\b"
)
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_LIT = r"(?:lit(?: up)?|in sunlight|in the sun(?:light|shine)?|in the light|illuminated|sunlit|in daylight|bright)"
_DARK = r"(?:dark|in the dark|in darkness|in (?:the )?shadow|in (?:the )?night|unlit|not lit|invisible)"
_EDGE = r"(?:the )?(?:terminator|edge of the light|light[- ]shadow line|line between day and night|day[- ]night line)"
_MOON = r"(?:it|the moon|moon|the disc|the moon's disc|the whole moon)"
_IS = r"(?:is|lies|stands|are|was|runs|has)"
_AMOUNT = (r"((?:more|less) than (?:a |one )?[a-z]+(?: quarters| thirds)?|"
           r"(?:more|less) than \d+(?:[.,]\d+)? ?(?:%|percent)|"
           r"(?:a |one |two |three )?(?:half|third|thirds|quarter|quarters|tenth|fifth)|\d+(?:[.,]\d+)? ?(?:%|percent)|"
           r"all|most|none|part|some|fully|wholly|completely|entirely|mostly|partly|partially|nothing)")  # fmt: skip


@dataclass(frozen=True)
class ClaimForm:
    """A form of claim: what it looks like, an example to pick, and what measures it."""

    example: str
    pattern: re.Pattern[str]
    check: Callable[..., Checked]


def _form(example: str, pattern: str, check: Callable[..., Checked]) -> ClaimForm:
    return ClaimForm(example, re.compile(pattern), check)


FORMS: tuple[ClaimForm, ...] = (
    _form("The terminator runs along the zero meridian.",
          rf"{_EDGE} (?:runs|goes|lies|is|passes|stands)(?: along| on| at| over| through| across)? ?(?:the )?"
          r"(?:zero|prime|central|middle) meridian", light.edge_at_zero),
    _form("The terminator is at 20 degrees west.",
          rf"{_EDGE} (?:runs|goes|lies|is|passes|stands)(?: along| on| at| over| through)? ?(?:longitude )?{_NUMBER} ?"
          r"(?:degrees|°|deg)? ?(east|west|e|w)", light.edge_at),
    _form("The terminator runs through Copernicus.",
          rf"{_EDGE} (?:runs|goes|passes|lies|is)(?: through| across| over| on| at| along) (.+)", light.on_edge),
    _form("Copernicus is on the terminator.", rf"(.+?) {_IS} (?:on|at|along) {_EDGE}", light.on_edge),
    _form("Copernicus is near the terminator.", rf"(.+?) {_IS} (?:near|close to) {_EDGE}", light.near_edge),
    _form("Today it is more than half lit.", rf"{_MOON} is {_AMOUNT} (?:lit|illuminated|sunlit|in sunlight)",
          moon.moon_lit),
    _form("40 % of the Moon is lit.", rf"{_AMOUNT} of (?:the )?(?:moon|disc|moon's disc|whole moon) is "
          r"(?:lit|illuminated|in sunlight)", moon.moon_lit),
    _form("The Moon is waxing.", rf"{_MOON} is (waxing|waning)", moon.claim_waxing),
    _form("The Moon is full.", rf"{_MOON} is full", moon.full),
    _form("It is 8 days old.", rf"{_MOON} is {_NUMBER} days? old", moon.days_old),
    _form("Half of the Sea of Rains is lit.", rf"{_AMOUNT} of (.+?) (?:is|are) {_LIT}", light.share_lit),
    _form("Half of the Sea of Rains is dark.", rf"{_AMOUNT} of (.+?) (?:is|are) {_DARK}", light.share_dark),
    _form("Plato is fully lit.", rf"(.+?) is {_AMOUNT} {_LIT}", lambda view, name, amount: light.share_lit(
        view, amount, name)),
    _form("Bailly is still dark.", rf"(.+?) {_IS} {_DARK}", light.dark),
    _form("Tycho is in the light.", rf"(.+?) {_IS} {_LIT}", light.check_lit),
    _form("The Sun is 10 degrees high over Plato.",
          rf"the sun (?:is|stands) {_NUMBER} ?(?:degrees|°) (?:high|up) (?:over|at|on|in) (.+)", light.sun_high),
    _form("Clavius is larger than Plato.",
          r"(.+?) (?:is|are) (larger|bigger|wider|longer|smaller|narrower|shorter) than (.+)", moon.larger),
    _form("Plato is north of Archimedes.", rf"(.+?) {_IS} (?:to the )?(north|south|east|west) of (.+)", moon.beside),
    _form("Clavius is 230 km wide.",
          rf"(.+?) {_IS} {_NUMBER} ?(?:km|kilometres|kilometers) (?:wide|across|long|large|in diameter)", moon.km_wide),
)  # fmt: skip

EXAMPLES: tuple[str, ...] = tuple(form.example for form in FORMS)


def check_claim(text: str, annotation: Annotation, when: datetime | None) -> Checked:
    """A claim against a placed picture and its time (None: not known). Never raises for words that mean nothing."""
    if annotation.pose is None or annotation.terminator is None:
        return Checked("cannot tell", say("The picture is not placed: nobody can tell what stands where in it."))
    when = time_for_notes(annotation, when)
    view = NotesView(annotation, when, sun_of(annotation, when))
    plain = plain_words(text)
    for form in FORMS:
        match = form.pattern.fullmatch(plain)
        if match is None:
            continue
        try:
            return form.check(view, *match.groups())
        except UnheardError as error:
            return Checked("not understood", say("There is no feature called “{words}”.", words=Name(error.words)),
                           hints=error.near or EXAMPLES)  # fmt: skip
    return Checked("not understood", say("This claim is not understood. What can be checked looks like the examples."),
                   hints=EXAMPLES)  # fmt: skip


def plain_words(text: str) -> str:
    """A claim without capitals, fillers and marks at its end, as the patterns want it."""
    words = text.casefold().replace("’", "'").replace("per cent", "percent").strip(" .!?\n\t")
    return " ".join(_FILLERS.sub(" ", words[:300]).replace(",", " , ").split()).replace(" , ", ",").strip(" ,.")

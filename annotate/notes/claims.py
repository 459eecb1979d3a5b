"""Check what I will say: a sentence as the presenter typed or picked it, against this picture.

    sentence -> claims (`claim_reading`, by the word lists of the languages) -> a verdict each -> the verdict on all

The verdict comes with the number and with its tolerances; where the light or the time is not known well enough, or where
words were left over that nobody reads, it is "cannot tell" or "roughly": never plainly true or false. Shares are those
of `sunlit_ground` (mean sphere); of relief nothing is known.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime

from moondesk.notes import light_claims as light
from moondesk.notes import moon_claims as moon
from moondesk.notes import place_claims as place
from moondesk.notes.claim_reading import Claim, read_claims
from moondesk.notes.claim_verdicts import Checked, Verdict
from moondesk.notes.claim_words import near_names
from moondesk.notes.messages import Name, say
from moondesk.notes.picture_notes import sun_of, time_for_notes
from moondesk.notes.view import NotesView
from moondesk.records import Annotation, Feature

EXAMPLES: tuple[str, ...] = (
    "The terminator runs along the zero meridian.",
    "The terminator is at 20 degrees west.",
    "The terminator runs through Copernicus.",
    "Today it is more than half lit.",
    "The Moon is a waxing gibbous, one day past first quarter.",
    "The Moon is nine days old.",
    "Half of the Sea of Rains is lit.",
    "Plato, Archimedes and Tycho are all in the light.",
    "Bailly is still in the dark.",
    "New tonight are Tycho and Plato.",
    "The Sun rose over Tycho fourteen hours ago.",
    "Tomorrow Copernicus comes into the light.",
    "The Sun is 10 degrees high over Plato.",
    "Clavius is more than twice as wide as Copernicus.",
    "Clavius is the second largest crater of the near side.",
    "The Sea of Crises is in the north-east.",
    "Plato is north of Archimedes.",
    "From north to south: Ptolemaeus, Alphonsus and Arzachel.",
    "Tycho is about eighty-five kilometres across.",
    "Tycho is named after a Danish astronomer.",
    "Apollo 11 landed in the Sea of Tranquillity.",
    "Тихо и Коперник вече са осветени.",
    "Слънцето изгря над Тихо преди четиринадесет часа.",
)

_Check = Callable[[NotesView, Claim], Checked]
#: One subject at a time: every one of the claim's must pass.
_EACH: Mapping[str, _Check] = {
    "state": light.state, "share": light.share, "edge_on": light.edge_on, "when": light.when, "sun_high": light.sun_high,
    "sun_place": light.sun_place, "sun_up": lambda view, claim: light.is_lit(view, claim.subjects[0]), "newly": light.newly, "enters": light.enters, "leaves": light.leaves,
    "size": place.size, "compare_km": place.compare_km, "compare": place.compare, "rank": place.rank,
    "beside": place.beside, "between": place.between, "near": place.near, "shore": place.shore, "inside": place.inside,
    "place": place.place, "position": place.position, "namesake": place.namesake, "landing": place.landing,
    "seen": lambda view, claim: _seen(view, claim)}  # fmt: skip
#: Kinds that must hold against every one of what they compare with.
_EACH_OTHER = ("compare", "beside", "near", "shore", "inside")
_WHOLE: Mapping[str, _Check] = {
    "edge_zero": light.edge_zero, "edge_at": light.edge_at, "edge_side": light.edge_side,
    "edge_between": light.edge_between, "edge_beside": light.edge_beside, "order": place.order, "apart": place.apart,
    "rank_state": place.rank_state, "disc": moon.disc, "disc_side": moon.disc_side, "phase": moon.phase, "age": moon.age, "distance": moon.distance,
    "libration": moon.libration, "orientation": moon.orientation, "upward": moon.upward, "truth": moon.truth}  # fmt: skip
#: Seen from here on; made out at all.
_SEEN, _MADE_OUT = 0.7, 0.4
#: What is offered where a claim is not understood, at most.
_OFFERED = 3


def check_claim(text: str, annotation: Annotation, when: datetime | None) -> Checked:
    """A claim against a placed picture and its time (None: not known). Never raises for words that mean nothing."""
    if annotation.pose is None or annotation.terminator is None:
        return Checked("cannot tell", say("The picture is not placed: nobody can tell what stands where in it."))
    when = time_for_notes(annotation, when)
    view = NotesView(annotation, when, sun_of(annotation, when))
    reading = read_claims(text)
    if not reading.claims:
        return _not_understood(view, text, reading.features)
    checked = [_check(view, claim) for claim in reading.claims]
    verdict = place.worst(c.verdict for c in checked)
    if reading.unread:
        return _partly(verdict, checked, reading.unread)
    if verdict != "true" or len(checked) == 1:
        return next(c for c in checked if c.verdict == verdict)
    said = checked[0].said
    for other in checked[1:]:
        if other.said != said:
            said = say("{one} {two}", one=said, two=other.said)
    return replace(checked[0], said=said)


def _partly(verdict: Verdict, checked: list[Checked], unread: tuple[str, ...]) -> Checked:
    """A sentence of which a piece was not understood: nobody can tell whether the whole is true."""
    first = next(c for c in checked if c.verdict == verdict)
    return replace(first, verdict="cannot tell", said=say(
        "Not understood: “{words}”. Of the rest: {one}", words=Name(", ".join(unread)), one=first.said))  # fmt: skip


def _check(view: NotesView, claim: Claim) -> Checked:
    try:
        found = _of_every_subject(view, claim)
    except light.TimeUnknownError:
        return Checked("cannot tell", say("It is not known when this picture was taken."))
    if claim.has("if") or (
        claim.kind == "state" and not claim.has("yesterday", "since", "new") and claim.has("was")
    ):  # it does not say when that was
        found = replace(found, verdict="cannot tell")
    if not claim.loose:
        return found
    if found.verdict in ("true", "false"):
        words = Name(", ".join(claim.loose))
        found = replace(found, verdict="roughly" if found.verdict == "true" else "cannot tell", said=say(
            "{one} Not read: “{words}”.", one=found.said, words=words))  # fmt: skip
    return found


def _turn(claim: Claim, found: Checked) -> Checked:
    """What comes of a claim with "not" in it."""
    if not claim.has("not") or _is_told(claim):
        return found
    turned: Mapping[Verdict, Verdict] = {"true": "false", "false": "true"}
    return replace(found, verdict=turned.get(found.verdict, found.verdict))


def _is_told(claim: Claim) -> bool:
    """Whether its "not" is already in the sense of its words: "not yet lit" as dark, "not quite" as nearly."""
    if claim.kind == "when" and claim.has("until", "hours"):  # "will not rise until", "not for another day"
        return True
    return all("not" not in i.tags or i.amount is not None or i.tags & {"dark", "right_way", "nearly", "truth_no_air"}
               for i in claim.items)  # fmt: skip


def _of_every_subject(view: NotesView, claim: Claim) -> Checked:
    if claim.kind in _WHOLE:
        return _turn(claim, _WHOLE[claim.kind](view, claim))
    each = _EACH[claim.kind]
    found: list[Checked] = []
    for feature in claim.subjects:
        one = replace(claim, subjects=(feature,))
        for others in [(f,) for f in claim.others] if claim.kind in _EACH_OTHER else [claim.others]:
            found.append(_turn(claim, each(view, replace(one, others=others))))
        if claim.kind == "state" and (claim.direction or claim.has("limb")) and not claim.has("share"):
            found.append(place.place(view, one))
        if claim.kind == "state" and claim.has("largest"):
            found.append(place.rank(view, replace(one, tags=claim.tags - {"lit_scope"})))
    if not found:
        return Checked("cannot tell", say("It is not clear which feature is meant."))
    verdict = place.worst(c.verdict for c in found)
    return next(c for c in found if c.verdict == verdict)


def _seen(view: NotesView, claim: Claim) -> Checked:
    feature = claim.subjects[0]
    mark = next((m for m in view.annotation.features if m.feature.name == feature.name), None)
    seen = 0.0 if mark is None else mark.seen
    state = light.is_lit(view, feature)
    if state.verdict == "false":
        return state
    verdict: Verdict = "true" if seen >= _SEEN else "roughly" if seen >= _MADE_OUT else "cannot tell"
    return replace(state, verdict=verdict)


def _not_understood(view: NotesView, text: str, features: tuple[Feature, ...]) -> Checked:
    """What was understood of it, and the nearest claims that can be checked, with their verdicts."""
    near = () if features else near_names(text)
    asked = [f.name for f in features[:1]] or list(near[:1])
    offered: list[str] = []
    for name in asked:
        offered += [f"{name} is in the light.", f"The Sun rose over {name} yesterday.", f"{name} is 100 km across."]
    if not offered:
        return Checked("not understood", say("This claim is not understood. What can be checked looks like the examples."),
                       hints=EXAMPLES)  # fmt: skip
    told = [(claim, _check(view, c)) for claim in offered[:_OFFERED] for c in read_claims(claim).claims[:1]]
    hints = (*(claim for claim, _ in told), *EXAMPLES)
    if not features:
        words = " ".join(text.split())[:60].casefold()
        return Checked("not understood", say("There is no feature called “{words}”.", words=Name(words)), hints=hints)
    if len(told) < _OFFERED:
        return Checked("not understood", say("This claim is not understood. What can be checked looks like the examples."),
                       hints=hints)  # fmt: skip
    said = say("This claim is not understood. Of {name} it can be said: {one} {two} {three}", name=Name(asked[0]),
               one=told[0][1].said, two=told[1][1].said, three=told[2][1].said)  # fmt: skip
    return Checked("not understood", said, hints=hints)

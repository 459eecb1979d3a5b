"""The draft of a reply: thanks, a sentence about this picture, one piece of advice or a question, the Sun. Pure.

Every sentence is a `Message` and so comes in the programme's language; the presenter changes the words before approving.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from typing import assert_never

from moondesk.checks.statements import lit_fraction
from moondesk.checks.verdict import FRAMED, GRIDDED
from moondesk.ephemeris.aspect import unix_seconds_of
from moondesk.ephemeris.rise_and_set import sun_altitude_deg
from moondesk.notes.messages import Listed, Message, Name, Number, say
from moondesk.quality.measurement import Quality
from moondesk.records import Annotation, ClockVerdict, Status
from moondesk.service.languages import ENGLISH
from moondesk.service.languages.catalogue import Language
from moondesk.service.programme.credit import credit_of
from moondesk.service.programme.words import best_seen
from moondesk.service.replies.advice import advice_for
from moondesk.service.store.records import SentPicture

#: Features named in a mail; elongation from the Sun below which a crescent wants the caution; Sun's height of daylight.
NAMED, CRESCENT_PHASE_DEG, DAYLIGHT_DEG = 4, 130.0, -6.0
SUBJECT_CHARACTERS = 180
#: Of what stands for a whole mail that could not be read.
MAIL_TYPE = "message/rfc822"


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A reply as it is first written. picture_id: whose labelled picture goes with it; None: none does.
    untranslated: English templates that the language lacks."""

    to: str
    subject: str
    body: str
    picture_id: int | None
    untranslated: tuple[str, ...] = ()


@dataclass(frozen=True)
class Circumstances:
    """What advice goes by besides the annotation. equipment: its class, None unknown."""

    quality: Quality | None = None
    equipment: str | None = None


def draft_of(
    programme: str,
    picture: SentPicture,
    annotation: Annotation | None,
    circumstances: Circumstances,
    language: Language,
    ask: tuple[date, ...] | None = None,
) -> Draft:
    """For the sender of a picture; its submission gets one reply. ask: the evenings it may be of, for a mail that asks when it was taken, empty where none is known; None: it asks nothing."""
    arrival = picture.submission.arrival
    name = salutation(credit_of(arrival).name, arrival.sender_name, arrival.place_name)
    placed = annotation is not None and annotation.status.facts.is_named
    parts: list[tuple[Message, ...]] = [
        (say("Dear {name},", name=name),) if name else (say("Good evening,"),),
        (_thanks(picture, annotation, programme), *_about(picture, annotation, language.code == ENGLISH)),
    ]
    if ask is not None:
        parts.append(_question(ask))
    elif annotation is not None and placed and annotation.sure:
        helps = advice_for(annotation, circumstances.quality, circumstances.equipment)
        if helps:
            parts.append((say("For the next one:"), *helps))
    if sun_caution_due(annotation, picture):
        parts.append(
            (
                say(
                    "One thing that we tell everybody: never point a telescope, binoculars or a camera's long lens at or near "
                    "the Sun, also not to find a thin crescent at dusk or dawn; wait until the Sun is below the horizon."
                ),
            )
        )
    if ask is None:
        parts.append((say("We would be glad to see another one."),))
    parts.append((say("{programme}", programme=programme),))
    body = "\n\n".join(" ".join(language.write(said) for said in part) for part in parts)
    subject = (
        f"Re: {arrival.subject}"
        if arrival.subject
        else language.write(say("Your picture for {programme}", programme=programme))
    )
    return Draft(
        to=arrival.answer_to or arrival.sender_address,
        subject=" ".join(subject.split())[:SUBJECT_CHARACTERS],
        body=body,
        picture_id=picture.id if placed and annotation is not None and annotation.sure else None,
        untranslated=language.missing(said for part in parts for said in part),
    )


def salutation(credit: str, sender_name: str, place_name: str) -> str:
    """The name by which a sender is spoken to: of a credit such as "Ann, Ruse" the person alone."""
    if sender_name and sender_name.casefold() in credit.casefold():
        return sender_name
    person = re.split(r"[,(;/]| [-\u2013\u2014] | from | \u043e\u0442 ", credit)[0].strip() if credit else ""
    if place_name and person.casefold().endswith(f" {place_name.casefold()}"):
        person = person[: -len(place_name)].strip()
    return person or credit or sender_name


def _thanks(picture: SentPicture, a: Annotation | None, programme: str) -> Message:
    if picture.enclosure.media_type == MAIL_TYPE:
        return say("thank you for your mail to {programme}.", programme=programme)
    if a is not None and a.status.facts.shows_disc:
        return say("thank you for your picture of the Moon, which you sent to {programme}.", programme=programme)
    return say("thank you for the picture that you sent to {programme}.", programme=programme)


def _about(picture: SentPicture, a: Annotation | None, english: bool) -> tuple[Message, ...]:
    """The sentences about this very picture."""
    if a is None or not a.status.facts.is_named:
        return _without_names(picture, a, english)
    if not a.sure:
        return (
            say(
                "We put no names on it, because it is not certain enough where each of them belongs; it can be "
                "shown without them."
            ),
        )
    told = []
    names = tuple(Name(m.feature.name) for m in best_seen(a, NAMED))
    if names:
        told.append(
            say(
                "Best seen are {names}; you find their names in the picture that comes with this mail.",
                names=Listed(names),
            )
        )
    lit = lit_fraction(a)
    if lit is not None:
        told.append(say("In it {percent} % of the Moon's disc is lit.", percent=Number(100 * lit)))
    if a.pose is not None and a.pose.mirrored:
        told.append(
            say(
                "It is a mirror image, as a diagonal mirror or a selfie camera makes it; we have turned it "
                "back for the names."
            )
        )
    return tuple(told)


def _without_names(picture: SentPicture, a: Annotation | None, english: bool) -> tuple[Message, ...]:
    """Why nothing is named, by kind: the core's reasons are for the desk. That of a refusal is an English sentence."""
    refused = picture.enclosure.refused
    if refused and english:
        return (say("We could not use it as it came."), say("{reason}", reason=refused))
    match Status.UNREADABLE if refused else a.status if a else Status.UNPLACED:
        case Status.UNREADABLE:
            return (
                say(
                    "The file could not be opened as a picture; please send it once more as JPEG or PNG, as it came "
                    "from the camera."
                ),
            )
        case Status.NOT_MOON:
            return (
                say(
                    "We could not find the Moon's seas and craters in it, so we cannot show it as a picture of the "
                    "Moon."
                ),
            )
        case Status.DISC_ONLY:
            return (
                say("The Moon is too small, too bright or too blurred in it for us to name anything on it."),
                say(
                    "A lens held to the eyepiece of binoculars or a telescope, or the longest zoom of a camera, makes "
                    "it large enough; a short exposure keeps its markings."
                ),
            )
        case Status.ECLIPSE:
            return (say("It shows an eclipse of the Moon, for which we name nothing on it."),)
        case Status.UNPLACED | Status.ANNOTATED:
            return _without_placement(a)
        case status:
            assert_never(status)


def _without_placement(a: Annotation | None) -> tuple[Message, ...]:
    said = {s.code for s in a.reasons} if a is not None else set[str]()
    if said & {"burnt_out", "burnt_out_disc"}:
        return (
            say("The bright disc in it is white all over, so that we could not name anything on it."),
            say(
                "A shorter exposure keeps the seas: on a phone, touch the Moon on the screen and draw the "
                "brightness down."
            ),
        )
    if said & {s.code for s in (*FRAMED.reasons, *GRIDDED.reasons)}:
        return (
            say("It looks like a picture of another picture, a screen or a print, on which we name nothing."),
            say("Please send the picture itself, alone and uncut."),
        )
    return (say("We could not tell how the Moon lies in it, so we put no names on it; it can be shown without them."),)


def _question(evenings: tuple[date, ...]) -> tuple[Message, ...]:
    asked = say("May we ask on which evening you took it, and about what time?")
    if not evenings:
        return (asked, say("Then we can say which day of the Moon it shows."))
    return (asked, say("The Moon's light and tilt in it fit, among others, {evenings}.", evenings=Listed(evenings)))


def sun_caution_due(a: Annotation | None, picture: SentPicture) -> bool:
    """Whether the Sun was, or may have been, near: a thin crescent, daylight or dusk, what is not the Moon."""
    if a is None or picture.enclosure.refused:
        return False
    if a.status is Status.NOT_MOON:
        return True
    if a.terminator is not None and a.terminator.phase_angle_deg > CRESCENT_PHASE_DEG:
        return True
    place = picture.submission.arrival.place
    if a.time is None or place is None or a.clock.verdict == ClockVerdict.DISAGREES:
        return False
    return float(sun_altitude_deg([unix_seconds_of(a.time.utc)], place)[0]) > DAYLIGHT_DEG

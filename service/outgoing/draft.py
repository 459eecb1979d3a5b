"""The draft of a reply: thanks, what the picture shows or why it cannot be shown, what helps, the Sun. Pure.

Every sentence is a `Said` and so comes in the programme's language; the presenter changes the words before approving.
"""

from __future__ import annotations

from dataclasses import dataclass

from annotate.frames.horizon import sun_altitude_deg
from annotate.notes.said import Listed, Name, Number, Said, say
from annotate.rating.quality import Quality
from annotate.records import Annotation, NotFound
from annotate.sky.ephemeris import unix_seconds_of
from service.arrivals.suggest import credit_of
from service.languages.catalogue import ENGLISH, Language
from service.outgoing.advice import advice_for
from service.store.records import SentPicture
from service.words import best_seen

#: Features named in a mail; elongation from the Sun below which a crescent wants the caution; Sun's height of daylight.
NAMED, CRESCENT_PHASE_DEG, DAYLIGHT_DEG = 4, 130.0, -6.0
SUBJECT_CHARACTERS = 180
#: Of what stands for a whole mail that could not be read.
MAIL_TYPE = "message/rfc822"


@dataclass(frozen=True)
class Draft:
    """A reply as it is first written. picture_id: whose labelled picture goes with it; None: none does.
    untranslated: English templates that the language lacks."""

    to: str
    subject: str
    body: str
    picture_id: int | None
    untranslated: tuple[str, ...] = ()


def draft_of(programme: str, picture: SentPicture, annotation: Annotation | None, quality: Quality | NotFound | None,
             equipment: str | None, language: Language) -> Draft:
    """For the sender of a picture; its submission gets one reply. equipment: its class, None unknown."""
    arrival = picture.submission.arrival
    name = credit_of(arrival).name or arrival.sender_name
    placed = annotation is not None and annotation.status == "annotated"
    parts: list[tuple[Said, ...]] = [
        (say("Dear {name},", name=name),) if name else (say("Good evening,"),),
        (say("thank you for your picture of the Moon, which you sent to {programme}.", programme=programme)
         if placed else say("thank you for your mail to {programme}.", programme=programme)
         if picture.enclosure.media_type == MAIL_TYPE else say("thank you for “{file}”, which you sent to {programme}.",
                            file=picture.enclosure.given_name, programme=programme),)]
    if annotation is not None and placed:
        parts.append(_shows(annotation))
        helps = advice_for(annotation, quality, equipment)
        if helps:
            parts.append((say("For the next one:"), *helps))
    else:
        parts.append(_cannot(picture, annotation, language.code == ENGLISH))
    if sun_caution_due(annotation, picture):
        parts.append((say(
            "One thing that we tell everybody: never point a telescope, binoculars or a camera's long lens at or near "
            "the Sun, also not to find a thin crescent at dusk or dawn; wait until the Sun is below the horizon."),))
    parts += [(say("We would be glad to see another one."),), (say("{programme}", programme=programme),)]
    body = "\n\n".join(" ".join(language.write(said) for said in part) for part in parts)
    subject = f"Re: {arrival.subject}" if arrival.subject else language.write(
        say("Your picture for {programme}", programme=programme))
    return Draft(arrival.sender_address, " ".join(subject.split())[:SUBJECT_CHARACTERS], body,
                 picture.id if placed and annotation is not None and annotation.sure else None,
                 language.missing(said for part in parts for said in part))


def _shows(a: Annotation) -> tuple[Said, ...]:
    if not a.sure:
        return (say("It shows the Moon; how it lies in the picture could not be told for certain, so we name nothing "
                    "on it."),)
    told = []
    if a.terminator is not None:
        told.append(say("In it {percent} % of the Moon's disc is lit.",
                        percent=Number(100 * a.terminator.illuminated_fraction)))
    names = tuple(Name(m.feature.name) for m in best_seen(a, NAMED))
    if names:
        told.append(say("Best seen are {names}; you find their names in the picture that comes with this mail.",
                        names=Listed(names)))
    if a.pose is not None and a.pose.mirrored:
        told.append(say("It is a mirror image, as a diagonal mirror or a selfie camera makes it; we have turned it "
                        "back for the names."))
    return tuple(told)


def _cannot(picture: SentPicture, a: Annotation | None, english: bool) -> tuple[Said, ...]:
    """The reasons of the core and of the taking are English sentences; other languages say the kind of it."""
    reason = picture.enclosure.refused or (a.reason if a is not None else "")
    if english and reason:
        advice = a.advice if a is not None and not picture.enclosure.refused else ""
        told = say("We cannot show it as it is: {reason}", reason=_lowered(reason))
        return (told, say("{advice}", advice=advice)) if advice else (told,)
    if picture.enclosure.refused or (a is not None and a.status == "unreadable"):
        return (say("The file could not be opened as a picture; please send it once more as JPEG or PNG, as it came "
                    "from the camera."),)
    if a is not None and a.status == "not_moon":
        return (say("We could not find the Moon's seas and craters in it, so we cannot show it as a picture of the "
                    "Moon."),)
    if a is not None and a.status == "disc_only":
        return (say("The Moon is too small, too bright or too blurred in it for us to name anything on it."),
                say("A lens held to the eyepiece of binoculars or a telescope, or the longest zoom of a camera, makes "
                    "it large enough; a short exposure keeps its markings."))
    if a is not None and a.status == "eclipse":
        return (say("It shows an eclipse of the Moon, for which we name nothing on it."),)
    return (say("We could not tell how the Moon lies in it, so we cannot name anything on it."),)


def _lowered(sentence: str) -> str:
    """A sentence after a colon; names and shortenings keep their capitals."""
    first, _, rest = sentence.partition(" ")
    return f"{first.lower()} {rest}" if first in ("The", "This", "It", "No", "There", "A", "An", "Not") else sentence


def sun_caution_due(a: Annotation | None, picture: SentPicture) -> bool:
    """Whether the Sun was, or may have been, near: a thin crescent, daylight or dusk, what is not the Moon."""
    if a is None or picture.enclosure.refused:
        return False
    if a.status == "not_moon":
        return True
    if a.terminator is not None and a.terminator.phase_angle_deg > CRESCENT_PHASE_DEG:
        return True
    place = picture.submission.arrival.place
    if a.time is None or place is None or a.clock.verdict == "disagrees":
        return False
    return float(sun_altitude_deg([unix_seconds_of(a.time.utc)], place)[0]) > DAYLIGHT_DEG

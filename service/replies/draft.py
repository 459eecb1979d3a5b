"""The draft of a reply to a picture: what is to be seen in it, thanks, one piece of advice or a question, the Sun. Pure.

    record, annotation -> sentences (`Message`) -> the sender's language, else the programme's, else English

A draft is in one language: where that of the sender lacks a sentence the whole of it falls back. The presenter reads it,
and changes the words before approving.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import assert_never

from moondesk.checks.verdict import FRAMED, GRIDDED
from moondesk.ephemeris.aspect import unix_seconds_of
from moondesk.ephemeris.rise_and_set import sun_altitude_deg
from moondesk.notes.messages import Listed, Message, Term, say, say_many
from moondesk.quality.measurement import Quality
from moondesk.records import Annotation, ClockVerdict, Status
from moondesk.service.languages.catalogue import Language
from moondesk.service.replies.about import TakenOn, about_picture
from moondesk.service.replies.advice import advice_for, larger_moon, shorter_exposure
from moondesk.service.replies.voices import Voice, greeting, name_of, pick, suggested, voice_for
from moondesk.service.store.records import Arrival, SentPicture

#: Elongation from the Sun below which a crescent wants the caution; Sun's height of daylight.
CRESCENT_PHASE_DEG, DAYLIGHT_DEG = 130.0, -6.0
SUBJECT_CHARACTERS = 180
#: Of what stands for a whole mail that could not be read.
MAIL_TYPE = "message/rfc822"

#: How often, as a letter writes it; more often is a number.
TIMES = {
    2: Term("twice"),
    3: Term("three times"),
    4: Term("four times"),
    5: Term("five times"),
    6: Term("six times"),
    7: Term("seven times"),
    8: Term("eight times"),
    9: Term("nine times"),
    10: Term("ten times"),
}
#: Sentences of a paragraph; paragraphs of a draft.
Paragraphs = list[tuple[Message, ...]]


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A reply as it is first written. picture_id: whose labelled picture goes with it; None: none does.

    language: that it is in; voice: to whom it speaks; untranslated: English templates for want of which it is in no earlier one of those tried.
    """

    to: str
    subject: str
    body: str
    picture_id: int | None
    language: str = ""
    voice: Voice = Voice.ADULT
    untranslated: tuple[str, ...] = ()


@dataclass(frozen=True)
class Circumstances:
    """What a draft goes by besides the annotation. equipment: its class, None unknown. earlier: how many submissions
    with pictures came from its sender before, None unknown. minor: a child took it; refused: it is not to be shown;
    voice: to whom somebody chose to speak, None: it follows. aired: the day on which it was on air; left: that of the
    programme in which there was no time for it."""

    quality: Quality | None = None
    equipment: str | None = None
    taken: TakenOn | None = None
    earlier: int | None = None
    minor: bool = False
    refused: bool = False
    voice: Voice | None = None
    aired: date | None = None
    left: date | None = None


def draft_of(
    programme: str,
    picture: SentPicture,
    annotation: Annotation | None,
    circumstances: Circumstances,
    *languages: Language,
    ask: tuple[date, ...] | None = None,
) -> Draft:
    """For the sender of a picture; its submission gets one reply. languages: the first that has all the sentences is
    taken. ask: the evenings it may be of, for a mail that asks when it was taken, empty where none is known; None: it
    asks nothing."""
    arrival, seed = picture.submission.arrival, picture.submission.id
    voice = circumstances.voice or voice_for(arrival, circumstances.minor)
    named = annotation is not None and annotation.sure and annotation.status.facts.is_named
    parts: Paragraphs = [(greeting(arrival, voice),)]
    if circumstances.refused:
        parts.append(not_shown())
        return finish(arrival, programme, parts, languages, voice=voice)
    if annotation is not None and named:
        parts.append(about_picture(annotation, circumstances.quality, circumstances.taken, seed))
        parts.append((*_thanks(arrival, circumstances, voice, programme, seed), _on_copy(annotation)))
    elif picture.enclosure.media_type == MAIL_TYPE:
        parts.append((say("Thank you for writing to {programme}.", programme=programme),))
        parts.append(_without_names(picture, annotation, circumstances, voice))
    else:
        parts.append(_thanks(arrival, circumstances, voice, programme, seed))
        parts.append(_without_names(picture, annotation, circumstances, voice))
    parts.append(_on_air(circumstances))
    if ask is not None:
        parts.append(_question(ask, voice))
    elif annotation is not None and named:
        parts.append(advice_for(annotation, circumstances.quality, circumstances.equipment, voice))
    if sun_caution_due(annotation, picture):
        parts.append(_sun(voice))
    if ask is None:
        parts.append((_closing(voice, seed, named),))
    return finish(arrival, programme, parts, languages, picture.id if named else None, voice=voice)


def finish(
    arrival: Arrival,
    programme: str,
    parts: Paragraphs,
    languages: Sequence[Language],
    picture_id: int | None = None,
    subject: Message | None = None,
    voice: Voice = Voice.ADULT,
) -> Draft:
    """The paragraphs as a letter with its end, in the first of the languages that has all of its sentences."""
    ending = (say("With warm regards,"), say("{programme}", programme=programme))
    subject = subject or say("The picture for {programme}", programme=programme)
    sentences = [subject, *ending, *(said for part in parts for said in part)]
    lacking = [language.missing(sentences) for language in languages]
    language = next((one for one, lacks in zip(languages, lacking, strict=True) if not lacks), Language())
    written = [language.between.join(language.write(said) for said in part) for part in parts if part]
    written.append("\n".join(language.write(said) for said in ending))
    heading = f"Re: {arrival.subject}" if arrival.subject else language.write(subject)
    return Draft(
        to=arrival.answer_to or arrival.sender_address,
        subject=" ".join(heading.split())[:SUBJECT_CHARACTERS],
        body="\n\n".join(written),
        picture_id=picture_id,
        language=language.code,
        voice=voice,
        untranslated=next((lacks for lacks in lacking if lacks), ()) if lacking and lacking[0] else (),
    )


def not_shown() -> tuple[Message, ...]:
    return (
        say("Thank you for letting us know."),
        say("The picture will not be shown; we have noted that, and no reason is needed."),
    )


def _thanks(
    arrival: Arrival, circumstances: Circumstances, voice: Voice, programme: str, seed: int
) -> tuple[Message, ...]:
    """For the picture, for the story where there is one, for the first one or for faithfulness."""
    child, earlier = voice is Voice.CHILD, circumstances.earlier
    match voice:
        case Voice.ADULT:
            wordings: tuple[Message, ...] = (
                say("Thank you for sending your picture to {programme}.", programme=programme),
                say("Many thanks for sharing your picture with {programme}.", programme=programme),
                say("We are very glad that you sent your picture to {programme}.", programme=programme),
            )
        case Voice.CHILD:
            wordings = (
                say("Well done, and thank you for sending your picture to {programme}!", programme=programme),
                say(
                    "Thank you for sharing your picture with {programme}: we were delighted to get it!",
                    programme=programme,
                ),
            )
        case Voice.GUARDIAN:
            name = name_of(arrival).partition(" ")[0]
            by_name = name and name != arrival.sender_name.partition(" ")[0]
            wordings = (
                say(
                    "Thank you for sending the picture to {programme}; please give our best regards to {name}.",
                    programme=programme,
                    name=name,
                )
                if by_name
                else say(
                    "Thank you for sending the picture to {programme}; please give our best regards to the young "
                    "photographer.",
                    programme=programme,
                ),
            )
        case _:
            assert_never(voice)
    said = [pick(wordings, seed, 1)]
    if suggested(arrival, "story"):
        said.append(
            say("And thank you for telling us your story: it makes the picture even nicer!")
            if child
            else say("And thank you for the story that you told us with it; we enjoyed reading it.")
        )
    if earlier == 0:
        said.append(say("A first picture is always something special: a warm welcome!"))
    elif earlier == 1:
        said.append(
            say("You have sent us the Moon before: how nice that you keep looking up!")
            if child
            else say("You have sent us the Moon before; it is good to hear from you again.")
        )
    elif earlier:
        times = TIMES[earlier] if earlier in TIMES else say_many("{count} time", "{count} times", earlier)
        said.append(
            say("You have sent us the Moon {times} before: how nice that you keep looking up!", times=times)
            if child
            else say("You have sent us the Moon {times} before; thank you for staying with us.", times=times)
        )
    return tuple(said)


def _on_air(circumstances: Circumstances) -> tuple[Message, ...]:
    """What became of it in the programme; nothing before that."""
    if circumstances.aired is not None:
        return (say("The picture was on air in our programme on {day}.", day=circumstances.aired),)
    if circumstances.left is not None:
        return (
            say("In our programme on {day} there was no time for every picture, and this one was not shown.", day=circumstances.left),
            say("It is just as welcome to us."),
        )  # fmt: skip
    return ()


def _on_copy(a: Annotation) -> Message:
    """What goes with the mail: the upright copy."""
    if a.pose is not None and a.pose.mirrored:
        return say(
            "The picture came as a mirror image, as a star diagonal or a phone's front camera makes it; in the copy that "
            "comes with this mail it is turned back, with north at the top and the names written in."
        )
    return say("In the copy that comes with this mail, north is at the top and the names are written in.")


def _without_names(
    picture: SentPicture, a: Annotation | None, circumstances: Circumstances, voice: Voice
) -> tuple[Message, ...]:
    """Why nothing is named, by kind: the core's reasons are for the desk."""
    if picture.enclosure.media_type == MAIL_TYPE:
        return (
            say("The mail has arrived, but it would not open here; another one, written anew, would be very welcome."),
        )
    status = Status.UNREADABLE if picture.enclosure.refused else a.status if a else None
    match status:
        case None:
            return (say("The picture has arrived safely."),)
        case Status.UNREADABLE:
            return (
                say("The file has arrived, but it would not open here as a picture; that can happen on the way."),
                say("A fresh copy as JPEG or PNG, as it came from the camera, would be very welcome."),
            )
        case Status.NOT_MOON:
            return (
                say("We looked for the Moon's seas and craters in the picture and did not find them."),
                say("Perhaps another picture has slipped in: the one of the Moon would be very welcome."),
            )
        case Status.DISC_ONLY:
            return (
                say("The Moon shows as a bright disc in the picture; its seas and craters do not come out yet."),
                larger_moon(circumstances.equipment)
                if circumstances.equipment in ("phone", "compact", None)
                else _brought_out(circumstances.equipment, voice),
            )
        case Status.ECLIPSE:
            return (
                say("The picture shows the Moon in the shadow of the Earth."),
                say("On such a night we let the shadow speak, and put no names on the Moon."),
            )
        case Status.UNPLACED | Status.ANNOTATED:
            return _without_placement(a, circumstances, voice)
        case _:
            assert_never(status)


def _brought_out(equipment: str | None, voice: Voice) -> Message:
    """How the seas come out that the sentence before has just named."""
    return shorter_exposure(equipment, voice) if equipment == "phone" else say("A shorter exposure brings them out.")


def _without_placement(a: Annotation | None, circumstances: Circumstances, voice: Voice) -> tuple[Message, ...]:
    codes = {s.code for s in a.reasons} if a is not None else set[str]()
    if codes & {"burnt_out", "burnt_out_disc"}:
        return (
            say("The Moon's disc is white all over in the picture, so that its seas lie hidden."),
            _brought_out(circumstances.equipment, voice),
        )
    if codes & {s.code for s in (*FRAMED.reasons, *GRIDDED.reasons)}:
        return (
            say("This looks like a picture of another picture, of a screen or a print; on such we put no names."),
            say("The photograph itself, whole and as it came from the camera, would be very welcome."),
        )
    return (
        say(
            "We put no names on the picture, as it is not certain enough what lies where; it is just as welcome without them."
        ),
    )


def _question(evenings: tuple[date, ...], voice: Voice) -> tuple[Message, ...]:
    asked = (
        say("Can you tell us on which evening you took the picture, and at about what time?")
        if voice is Voice.CHILD
        else say("May we ask on which evening the picture was taken, and at about what time?")
    )
    if not evenings:
        return (asked, say("Then we can say which day of the lunation it shows."))
    return (
        asked,
        say_many(
            "The Moon's light and tilt in it fit this date, among others: {evenings}.",
            "The Moon's light and tilt in it fit these dates, among others: {evenings}.",
            len(evenings),
            evenings=Listed(evenings),
        ),
    )


def _sun(voice: Voice) -> tuple[Message, ...]:
    said = say(
        "One thing that we tell everybody: never point a telescope, binoculars or a camera's long lens at or near the Sun, "
        "not even to find a thin crescent at dusk or dawn; look for it only while the Sun is below the horizon."
    )
    if voice is Voice.CHILD:
        return (said, say("And by day, use a telescope only together with a grown-up."))
    return (said,)


def _closing(voice: Voice, seed: int, named: bool) -> Message:
    """named: of a placed picture; more can be wished for where something was seen."""
    if voice is Voice.CHILD:
        return pick(
            (say("Keep looking up, and show us what you find!"), say("We are looking forward to your next picture!")),
            seed,
            2,
        )
    wordings = (say("We look forward to your next picture."), say("Clear skies, and until next time!"))
    return pick((*wordings, say("We would love to see more of your sky.")) if named else wordings, seed, 2)


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

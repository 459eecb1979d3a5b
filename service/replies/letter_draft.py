"""The draft of an answer to a letter without a picture: by what it is, and never for a picture. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal, assert_never

from moondesk.notes.messages import Message, say
from moondesk.service.languages.catalogue import Language
from moondesk.service.replies.draft import Draft, Paragraphs, finish, not_shown
from moondesk.service.replies.voices import Voice, greeting, suggested, voice_for
from moondesk.service.store.records import Arrival, LetterPart

#: What a letter is: its sender lets a picture be shown, or takes it back; what it took back is erased; asks; writes.
LetterIs = Literal["given", "refused", "erased", "question", "words"]
#: In the order in which the desk offers them, with their words there.
LETTERS: tuple[tuple[LetterIs, str], ...] = (
    ("words", "Thanks for a letter"),
    ("question", "A question came"),
    ("given", "A picture may be shown"),
    ("refused", "A picture is not to be shown"),
    ("erased", "Pictures were erased"),
)
#: Marks of a question: of most scripts, the Arabic and the full-width one.
QUESTION_MARKS = "?\N{ARABIC QUESTION MARK}\N{FULLWIDTH QUESTION MARK}"


def letter_is(arrival: Arrival, text: Sequence[LetterPart]) -> LetterIs:
    """By what was read of it; its own words alone tell of a question."""
    if suggested(arrival, "withdrawal") is not None or suggested(arrival, "consent") == "refused":
        return "refused"
    by_child = suggested(arrival, "minor") is not None and suggested(arrival, "guardian") is None
    if suggested(arrival, "consent") == "given" and not by_child:  # a child's word alone lets nothing be shown
        return "given"
    asks = any(mark in part.text for part in text if part.kind == "own" for mark in QUESTION_MARKS)
    return "question" if asks else "words"


def letter_draft(
    programme: str, arrival: Arrival, what: LetterIs, *languages: Language, voice: Voice | None = None
) -> Draft:
    """For the sender of a letter. languages: the first that has all the sentences is taken; voice: see `Circumstances`."""
    voice = voice or voice_for(arrival, suggested(arrival, "minor") is not None)
    if what == "erased" and voice is Voice.CHILD:
        voice = Voice.ADULT  # the answer to a legal request is in the formal address
    parts: Paragraphs = [(greeting(arrival, voice),), _answer(what)]
    if what not in ("refused", "erased"):
        parts.append((_closing(voice),))
    return finish(
        arrival, programme, parts, languages, subject=say("The letter to {programme}", programme=programme), voice=voice
    )


def _answer(what: LetterIs) -> tuple[Message, ...]:
    match what:
        case "given":
            return (say("Thank you for letting us show the picture: that is noted."),)
        case "refused":
            return not_shown()
        case "erased":  # true also while the letter waits for this very answer, see `store.withdrawals`
            return (
                say("As you wished, your pictures are erased here, with what you wrote and all that was made of them."),
                say("They will not be shown any more; what has been broadcast cannot be called back."),
                say("The letter in which you asked for it goes too, once this answer is sent."),
                say("Earlier backup copies hold the pictures until those are made anew."),
            )
        case "question":
            return (say("Thank you for the question: we have read it with care, and will see that it is answered."),)
        case "words":
            return (say("Thank you for the letter, which we have read with interest."),)
        case _:
            assert_never(what)


def _closing(voice: Voice) -> Message:
    if voice is Voice.CHILD:
        return say("Keep looking up, and show us what you find!")
    return say("Clear skies, and until next time!")

"""A draft of the answer to whoever sent what cannot be used: thanks, the reason, and what would help. Pure words."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import quote

from annotate.records import Annotation
from service.arrivals.suggest import credit_of
from service.config import Programme
from service.store.records import SentPicture

#: Where the Sun is near, or is in the picture, the advice is not left out.
SUN = ("One thing that we tell everybody: never point a telescope, binoculars or a camera's long lens at or near the "
       "Sun, also not to find a thin crescent at dusk or dawn; wait until the Sun is below the horizon.")


@dataclass(frozen=True)
class ReplyPage:
    """mailto: the draft for the reader's own mail program; empty where no address is known."""

    programme: Programme
    picture_id: int
    to: str
    subject: str
    body: str
    mailto: str


def reply_page(programme: Programme, picture: SentPicture, annotation: Annotation | None) -> ReplyPage:
    """The draft; nothing is sent by the desk."""
    arrival, enclosure = picture.submission.arrival, picture.enclosure
    name = credit_of(arrival).name or arrival.sender_name
    reason = enclosure.refused or (annotation.reason if annotation else "")
    advice = annotation.advice if annotation and not enclosure.refused else ""
    lines = [f"Dear {name}," if name else "Good evening,", "",
             f'thank you for sending "{enclosure.given_name}" to {programme.name}.', ""]
    if reason:
        lines += [f"We cannot show it as it is: {_lowered(reason)}"]
    if advice:
        lines += [advice]
    lines += ["", "We would be glad to see another one.", "", SUN, "", programme.name]
    subject = f"Re: {arrival.subject}" if arrival.subject else f"Your picture for {programme.name}"
    body = "\n".join(lines)
    address = arrival.sender_address
    mailto = f"mailto:{quote(address, safe='@')}?subject={quote(subject)}&body={quote(body)}" if address else ""
    return ReplyPage(programme, picture.id, address, subject, body, mailto)


def _lowered(sentence: str) -> str:
    """A sentence after a colon; names and shortenings keep their capitals."""
    first, _, rest = sentence.partition(" ")
    return f"{first.lower()} {rest}" if first in ("The", "This", "It", "No", "There", "A", "An", "Not") else sentence

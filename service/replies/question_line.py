"""A question by a link in the draft of a reply: the line that asks it, and where in the draft it stands. Pure."""

from __future__ import annotations

from moondesk.notes.messages import Message, say
from moondesk.service.store.records import QuestionKind


def question_line(kind: QuestionKind, url: str) -> Message:
    """The sentence with the link; the address stands last, so that no mail program takes a full stop into it."""
    match kind:
        case "consent":
            return say(
                "May we show the picture in the programme? One click here is enough to say yes or no: {url}", url=url
            )
        case "guardian":
            return say(
                "A child took the picture, so we ask the parent or guardian: may we show it? One click here is enough: {url}",
                url=url,
            )
        case "name":
            return say("Which name shall we give with the picture? Please tell us here: {url}", url=url)
        case "taken":
            return say("When was the picture taken? Please tell us here: {url}", url=url)


def with_question(body: str, line: str) -> str:
    """A draft with the line as a paragraph of its own, before the last one, which closes the mail."""
    paragraphs = [p for p in body.strip().split("\n\n") if p.strip()]
    at = max(len(paragraphs) - 1, 1)
    return "\n\n".join([*paragraphs[:at], line, *paragraphs[at:]])

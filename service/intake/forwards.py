"""Whose mail a forwarded one is: the From line below the line by which mail programs say that they forward. Pure.

The lines are told by their words in any of ten languages, ruled or before a colon; where a subject says that it is
forwarded, the block of heads alone will do.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from moondesk.service.intake.mail_sender import Mailbox, mailbox_of
from moondesk.service.programme.mail_heads import FORWARDS, FROM_LINE, RULED_FORWARD
from moondesk.service.texts import clean_text

#: The From line stands so near below the head.
LINES_BELOW = 14
WORDS_CHARACTERS = 300


@dataclass(frozen=True)
class Forwarded:
    """words: the lines that say so."""

    sender: Mailbox
    words: str


_SUBJECT = re.compile(
    r"^\W*(?:fwd?|wg|tr|rv|enc|i|vs|пр(?:епр)?|fwd re|転送|إعادة توجيه|अग्रेषित)\s*[:\uff1a]", re.IGNORECASE
)


def forwarded_in(text: str, subject: str) -> Forwarded | None:
    """Of a mail's whole text; None where nothing says that it is forwarded, or by whom the mail was."""
    lines = text.splitlines()
    for n, line in enumerate(lines):
        if len(line) > WORDS_CHARACTERS or not (FORWARDS.match(line) or RULED_FORWARD.match(line)):
            continue
        for below in lines[n + 1 : n + 1 + LINES_BELOW]:
            if found := _sender_in(below):
                return Forwarded(found, clean_text(f"{line.strip()} {below.strip()}", WORDS_CHARACTERS))
    if _SUBJECT.match(subject):
        for n, line in enumerate(lines):
            more = sum(1 for x in lines[n + 1 : n + 5] if re.match(r"^[\s>|*]*\w[\w -]{1,20}\s?[:\uff1a]", x))
            if more >= 2 and (found := _sender_in(line)):
                return Forwarded(found, clean_text(line, WORDS_CHARACTERS))
    return None


def _sender_in(line: str) -> Mailbox | None:
    match = FROM_LINE.match(line[:WORDS_CHARACTERS])
    if match is None:
        return None
    found = mailbox_of(match["said"].replace("*", " "))
    return found if found.name or found.address else None

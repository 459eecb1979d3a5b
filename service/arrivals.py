"""The ways by which pictures reach the programme, and what follows from each: a row.

A further way wants its row here, and one module that makes a `ReceivedItem` of each thing that comes (its sender's name,
words and consent as a `TableRow`) and hands it to `Intake.take`. That is the module of its command, see `cli`, where it has one.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Way:
    """words: how a picture came, for the presenter. by_desk: a person of the programme put it in and speaks for it."""

    name: str
    words: str
    by_desk: bool = False
    #: Things are whole mails: their text is the sender's own, read for consent, shown, and kept for the days that the
    #: programme says.
    is_mail: bool = False
    #: Whoever comes this way has entered under the programme's terms, if it has any: they count where nothing else was
    #: said. Of a way that does not say so they never do.
    terms_count: bool = False
    #: Its section of moondesk.toml, and what that may set.
    section: str = ""
    keys: tuple[str, ...] = ()
    #: Its command, where it has one of its own, and the line of that in the list of commands.
    command: str = ""
    command_line: str = ""


ARRIVAL_WAYS = {
    way.name: way
    for way in (
        Way(name="folder", words="from a folder", terms_count=True),
        Way(
            name="mail",
            words="by mail",
            is_mail=True,
            terms_count=True,
            section="mailbox",
            keys=("host", "user", "port", "folder", "password_file", "ca_file", "plain", "since", "poll_seconds"),
            command="watch",
            command_line="Watch a mailbox, take the mails that come in, place their pictures.",
        ),
        Way(name="form", words="by the upload page", terms_count=True),
        Way(name="desk", words="put in at the desk", by_desk=True, terms_count=True),
    )
}

"""Watching a mailbox: every mail in it is taken once, whatever happens to the line, the server or this process.

    uids not dealt with -> size asked -> fetched (peeked at) -> Intake.take: committed -> marked on the server -> noted

A process that ends between any two of these steps fetches the mail again and finds that its key is known. What was
dealt with is known by UID under the mailbox's UIDVALIDITY, so that marks which people set or take away do not matter.
"""

from __future__ import annotations

import contextlib
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from moondesk.sentences import sentence
from moondesk.service.errors import StorageError
from moondesk.service.intake.imap import CutError, Mailbox, MailboxAccount, RejectedError, UnfetchableError
from moondesk.service.intake.intake import Intake
from moondesk.service.intake.sources import ReceivedItem, TakenItem
from moondesk.service.settings.secret_words import read_secret
from moondesk.service.store import mailboxes

SOURCE = "mail"
PASSWORD_VARIABLE = "MOONDESK_MAIL_PASSWORD"
#: Seconds between looks where the server pushes nothing; waits after a lost connection, doubled up to the longest.
POLL_SECONDS, FIRST_PAUSE, LONGEST_PAUSE = 60.0, 1.0, 300.0
#: Failures one after the other, with nothing taken between them, after which a single look is given up.
TRIES_ONCE = 6
#: A mail that the server cannot give is told the first time, and so often again.
TOLD_EVERY = 20


@dataclass(kw_only=True)
class Watch:
    """A mailbox and where its mails go. intake: made anew for each look, as the edition that airs next may change.

    say: a sentence for the console; stopped: whether to end; pause: waits so long, or less when it is to end.
    """

    account: MailboxAccount
    password: str
    intake: Callable[[], Intake]
    say: Callable[[str], None]
    stopped: Callable[[], bool]
    pause: Callable[[float], object]
    since: date | None = None
    poll_seconds: float = POLL_SECONDS
    answer_seconds: float = 60.0
    _failures: Counter[int] = field(default_factory=Counter)

    def run(self, once: bool = False) -> Iterator[TakenItem]:
        """Take mails until stopped; once: all that are there, then end. Each is committed before it is yielded.

        Raises RejectedError where the server says no at the first try, CutError where a single look cannot be finished.
        """
        reached, tries, pause = False, 0, FIRST_PAUSE
        while not self.stopped():
            try:
                with Mailbox(self.account, self.password, self.answer_seconds) as mailbox:
                    if tries:
                        self.say(f"Connected to {self.account.host} again.")
                    reached = True
                    while not self.stopped():
                        for item in self._look(mailbox):
                            tries, pause = 0, FIRST_PAUSE
                            yield item
                        if once:
                            return
                        tries, pause = 0, FIRST_PAUSE
                        mailbox.wait(self.poll_seconds, self.stopped)
                        mailbox.select()
            except (CutError, RejectedError, StorageError) as error:
                tries += 1
                if isinstance(error, RejectedError) and not reached:
                    raise
                if once and tries >= TRIES_ONCE:
                    raise
                self.say(f"{_what(error, self.account)} Trying again in {pause:g} s; no mail is lost.")
                self.pause(pause)
                pause = min(LONGEST_PAUSE, 2 * pause)

    def _look(self, mailbox: Mailbox) -> Iterator[TakenItem]:
        """Take what was not dealt with; those that failed before come last, so that one does not hold up the rest."""
        intake, name, validity = self.intake(), self.account.name, mailbox.uidvalidity
        done, renumbered = mailboxes.begin(intake.storage, name, validity)
        if renumbered:
            self._failures.clear()
            self.say("The server has numbered its mails anew: all are looked through again, none is taken twice.")
        fresh = sorted((u for u in mailbox.uids(self.since) if u not in done), key=lambda u: (self._failures[u], u))
        sizes = mailbox.sizes(fresh)
        for uid in fresh:
            if self.stopped():
                return
            self._failures[uid] += 1  # taken back below: a mail that ends the connection, or us, has failed
            try:
                received = self._received(mailbox, uid, sizes.get(uid, 0), intake)
            except UnfetchableError as error:
                if self._failures[uid] % TOLD_EVERY == 1:
                    self.say(f"Mail {uid} stays in the mailbox, the server cannot give it: {error}.")
                continue
            if received is None:  # gone meanwhile: it will not be listed again; where it is, it will be asked for again
                continue
            item = intake.take(received)
            with contextlib.suppress(UnfetchableError):  # a mark that is refused is no reason to fetch it for ever
                mailbox.mark(uid)
            mailboxes.note(intake.storage, name, validity, uid)
            del self._failures[uid]
            yield item

    def _received(self, mailbox: Mailbox, uid: int, size: int, intake: Intake) -> ReceivedItem | None:
        """A mail as it is; of one that is too large only its head, with the sentence that says so; None: it is gone."""
        limit = intake.config.limits.mail_bytes
        origin = f"{self.account.folder} {uid}"
        if size > limit:
            head = mailbox.fetch(uid, head_only=True)
            stays = sentence("mail_stays", megabytes=f"{size / 1e6:.0f}", most=f"{limit / 1e6:.0f}")
            why = (stays, sentence("ask_fewer_or_smaller"))
            return (
                None
                if head is None
                else ReceivedItem(data=head, origin=origin, name=origin, source=SOURCE, refusal=why, size_bytes=size)
            )
        data = mailbox.fetch(uid)
        return None if data is None else ReceivedItem(data=data, origin=origin, name=origin, source=SOURCE)


def read_password(file: Path | None) -> str:
    """The mailbox's password, see `read_secret`."""
    return read_secret(file, PASSWORD_VARIABLE, "the mailbox", "--password-file")


def _what(error: Exception, account: MailboxAccount) -> str:
    if isinstance(error, CutError):
        return f"The connection to {account.host} was lost: {error}."
    return str(error)

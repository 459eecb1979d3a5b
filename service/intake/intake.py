"""Bytes to Submission: the one path of everything that comes in, whatever brought it. Nothing is taken twice.

    Received (see `sources`) -> Arrival with its Enclosures (see `reading`) -> originals kept -> one transaction

Everything that is meant for the programme is either a picture or listed with the sentence that says why not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime
from pathlib import Path

from moondesk.service.intake import reading
from moondesk.service.intake.reading import Reader
from moondesk.service.intake.sources import ReceivedItem, TakenItem, receive_from
from moondesk.service.programme.editions import next_to_air, not_aired
from moondesk.service.settings.config import Config
from moondesk.service.store.editions import add_edition, list_editions
from moondesk.service.store.media import Media, sha256_of
from moondesk.service.store.pictures import sent_often
from moondesk.service.store.records import Arrival, Edition, EditionPlan
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import add_submission, has_submission

#: A small picture that came with so many mails is no picture of the Moon (common practice).
MAILS_OF_A_LOGO = 3
LETTERS = {
    "letter": "A letter without a picture: it waits in the inbox to be read.",
    "machine": "An automatic mail without a picture.",
}


def open_edition(
    storage: Storage, config: Config, now: datetime, day_of: Callable[[EditionPlan], int | None]
) -> Edition:
    """The edition that arrivals go to: the next to air, else a new one (the planned one in a fresh store)."""
    editions = list_editions(storage)
    following = next_to_air(editions, config.next_edition, now)
    if following in not_aired(editions, now):
        return following
    if editions:
        return add_edition(storage, EditionPlan(number=editions[0].plan.number + 1), now)
    plan = EditionPlan(**asdict(config.edition))
    return add_edition(storage, replace(plan, day_number=day_of(plan)), now)


@dataclass(frozen=True, kw_only=True)
class Intake:
    """Where arrivals go: the store, its media folder and an edition. now: read at each commit."""

    storage: Storage
    media: Media
    edition: Edition
    config: Config
    now: Callable[[], datetime]
    #: Where untrusted bytes are read.
    reader: Reader = field(default_factory=lambda: reading.shared_reader())

    def take_path(self, path: Path) -> Iterator[TakenItem]:
        """Take a folder, a Maildir, an mbox file, a mail, an archive or a picture; BadInputError for the path itself.

        Each item is committed before it is reported.
        """
        for found in receive_from(path, self.config):
            yield found if isinstance(found, TakenItem) else self.take(found)

    def take(self, received: ReceivedItem) -> TakenItem:
        """Take one mail or one file."""
        origin = received.origin
        key = f"{'mail' if received.is_mail else 'file'}:{sha256_of(received.data)}"
        if has_submission(self.storage, key):
            return TakenItem(origin, "known", "Taken before.")
        arrival, contents = self.reader.arrival(received, key, self.config.limits)
        arrival = self._without_logos(arrival)
        listed = {e.sha256 for e in arrival.enclosures}  # what nothing refers to would never be erased
        contents = [c for c in contents if c is received.data or sha256_of(c) in listed]
        for content in contents:
            self.media.put(content)
        if add_submission(self.storage, self.edition.id, arrival, self.now()) is None:
            return TakenItem(origin, "known", "Taken before.")
        for content in contents:  # once more: somebody may just have erased the same file, sent before
            self.media.put(content)
        usable = sum(e.refused is None for e in arrival.enclosures)
        refused = " ".join(f"{e.given_name}: {e.refused}" for e in arrival.enclosures if e.refused)
        told = LETTERS[arrival.letter] if arrival.letter and not usable else ""
        return TakenItem(
            origin,
            "taken" if usable or told else "refused",
            " ".join(filter(None, (told, refused, *map(str, arrival.remarks)))),
            usable,
        )

    def _without_logos(self, arrival: Arrival) -> Arrival:
        """A mail's pictures without small ones that came with several other mails too, where it has another."""
        often = sent_often(self.storage, arrival.small, MAILS_OF_A_LOGO - 1)
        if not often or not any(e.refused is None and e.sha256 not in arrival.small for e in arrival.enclosures):
            return arrival
        kept = tuple(e for e in arrival.enclosures if e.sha256 not in often)
        remarks = (*arrival.remarks, *reading.told_aside(len(arrival.enclosures) - len(kept)))
        return replace(arrival, enclosures=kept, remarks=remarks)

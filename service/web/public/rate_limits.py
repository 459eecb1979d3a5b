"""How often and how fast the upload page takes forms, decided by a request's head before anything of its body is kept.

How large one may be is a setting: `form_bytes` in `moondesk.service.settings.public`.

    tries      what is sent and comes to nothing, of an address: who only knocks is slowed
    forms      of a visitor (the page's cookie), of an address (far more: a class, or a carrier's customers, share one),
               and of everybody together; a form that comes to nothing is given back
    bytes      of everybody, and of an address, an hour
    room       on the disk, and for bodies that are coming in at the same time, see `moondesk.service.web.arriving`

Who is turned away for want of any of these is counted, and told at the desk: in memory, and kept in the store now and
then, for a flood must not cost a write for each of its requests.
"""

from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from moondesk.service.errors import StorageError
from moondesk.service.settings.public import Public
from moondesk.service.store import turned_away
from moondesk.service.store.storage import Storage
from moondesk.service.web.arriving import Arriving
from moondesk.service.web.visitors import RateLimit, networks_of

#: Looks at pages, and forms that come to nothing, of an address: in a row, then one as each of these seconds pass.
LOOKS, TRIES = (600, 0.1), (60, 1.0)
#: A share of an hour's forms may come in a row: after the call on air.
AT_ONCE = 1 / 3
#: Of all bytes an hour, what one address may send; and what all IPv6 addresses of a /48 may have of what one has.
ADDRESS_SHARE, WIDER = 1 / 4, 4.0
ALL = "everybody"
Reason = Literal["often", "room"]
#: Seconds between two writes of who was turned away.
KEEP_EVERY = 20.0


@dataclass(frozen=True)
class Charge:
    """What a form was counted for."""

    visitor: str
    address: str
    size: int


@dataclass(frozen=True, kw_only=True)
class VisitorLimits:
    looks: RateLimit
    tries: RateLimit
    visitor_forms: RateLimit
    address_forms: RateLimit
    all_forms: RateLimit
    address_bytes: RateLimit
    all_bytes: RateLimit
    arriving: Arriving

    def wait_for_form(self, charge: Charge) -> int:
        """0: the form is counted and may come; else how many seconds to wait, and it is not counted."""
        counted: list[tuple[RateLimit, str, float]] = []
        for limit, name, cost, most in self._counts(charge):
            wait = limit.wait_seconds(name, cost, most)
            if wait:
                for before, its, back in counted:
                    before.give_back(its, back)
                return wait
            counted.append((limit, name, cost))
        return 0

    def give_back(self, charge: Charge) -> None:
        """The form came to nothing: it is not counted."""
        for limit, name, cost, _ in self._counts(charge):
            limit.give_back(name, cost)

    def _counts(self, charge: Charge) -> list[tuple[RateLimit, str, float, float]]:
        """(limit, name, cost, how many times what one has)."""
        networks = networks_of(charge.address) or (charge.address,)
        size = float(charge.size)
        return [
            (self.visitor_forms, charge.visitor, 1.0, 1.0),
            *((self.address_forms, n, 1.0, WIDER if k else 1.0) for k, n in enumerate(networks)),
            *((self.address_bytes, n, size, WIDER if k else 1.0) for k, n in enumerate(networks)),
            (self.all_forms, ALL, 1.0, 1.0),
            (self.all_bytes, ALL, size, 1.0),
        ]


def limits_of(public: Public, arriving: Arriving, clock: Callable[[], float]) -> VisitorLimits:
    """The limits as they are set. clock: seconds that only grow."""

    def hourly(count: float) -> RateLimit:
        return RateLimit(at_once=max(1.0, count * AT_ONCE), seconds=3600 / count, clock=clock)

    return VisitorLimits(
        looks=RateLimit(at_once=LOOKS[0], seconds=LOOKS[1], clock=clock),
        tries=RateLimit(at_once=TRIES[0], seconds=TRIES[1], clock=clock),
        visitor_forms=RateLimit(at_once=public.forms_at_once, seconds=3600 / public.forms_per_hour, clock=clock),
        address_forms=hourly(public.address_forms_per_hour),
        all_forms=hourly(public.all_forms_per_hour),
        address_bytes=hourly(public.all_bytes_per_hour * ADDRESS_SHARE),
        all_bytes=hourly(public.all_bytes_per_hour),
        arriving=arriving,
    )


@dataclass
class TurnedAway:
    """Who was turned away. clock: seconds that only grow."""

    clock: Callable[[], float]
    _counts: Counter[str] = field(default_factory=Counter)
    _kept: float = field(default=float("-inf"))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def count(self, reason: Reason) -> None:
        with self._lock:
            self._counts[reason] += 1

    def keep(self, open_storage: Callable[[], Storage], now: datetime, at_once: bool = False) -> None:
        """Write what was counted, at most every KEEP_EVERY seconds but for at_once; what cannot be is kept on."""
        with self._lock:
            if not self._counts or (not at_once and self.clock() - self._kept < KEEP_EVERY):
                return
            self._kept = self.clock()
            counts, self._counts = self._counts, Counter()
        logging.getLogger(__name__).warning("forms turned away: %s", dict(counts))
        with suppress(StorageError):
            turned_away.add(open_storage(), now, counts)
            return
        with self._lock:
            self._counts += counts

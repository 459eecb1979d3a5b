"""Who asks, and how often: the visitor's address behind proxies, and a limit for each address. Pure but for its memory.

The limits live in one process's memory, which is how the application is served; a restart forgets them.
"""

from __future__ import annotations

import ipaddress
import threading
from collections import OrderedDict
from collections.abc import Callable, Collection
from dataclasses import dataclass, field

#: Addresses remembered at most; the longest unseen are forgotten first.
REMEMBERED = 20_000


def client_address(remote: str, forwarded: str, proxies: Collection[str]) -> str:
    """The address of the one who asks, as the limits count it (of IPv6 the /64, which is one customer's).

    forwarded: the X-Forwarded-For header. Anybody can write one, so it is read only where `remote` is one of our
    proxies, and from its right end: what stands left of the first address that is no proxy of ours is hearsay.
    """
    address = remote
    if remote in proxies:
        for hop in reversed([part.strip() for part in forwarded.split(",") if part.strip()]):
            address = hop
            if hop not in proxies:
                break
    return _counted(address) or _counted(remote) or "unknown"


def _counted(text: str) -> str:
    try:
        address = ipaddress.ip_address(text.strip("[]"))
    except ValueError:
        return ""
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return str(address.ipv4_mapped)
        return str(ipaddress.ip_network((address, 64), strict=False))
    return str(address)


@dataclass
class RateLimit:
    """A bucket for each address: `at_once` requests in a row, then one as each `seconds` pass."""

    at_once: int
    seconds: float
    #: Seconds that only ever grow.
    clock: Callable[[], float]
    _buckets: OrderedDict[str, tuple[float, float]] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_seconds(self, address: str) -> int:
        """0: go on (it is counted). Else how long to wait; that request does not count."""
        with self._lock:
            now = self.clock()
            left, last = self._buckets.pop(address, (float(self.at_once), now))
            left = min(self.at_once, left + (now - last) / self.seconds)
            allowed = left >= 1
            self._buckets[address] = (left - 1 if allowed else left, now)
            while len(self._buckets) > REMEMBERED:
                self._buckets.popitem(last=False)
            return 0 if allowed else max(1, round((1 - left) * self.seconds + 0.5))

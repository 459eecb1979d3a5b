"""Who asks, and how often: the visitor's address behind proxies, and a limit for each. Pure but for its memory.

The limits live in one process's memory, which is how the application is served; a restart forgets them.
"""

from __future__ import annotations

import ipaddress
import logging
import re
import threading
from collections import OrderedDict
from collections.abc import Callable, Collection
from dataclasses import dataclass, field

#: Addresses remembered at most; the longest unseen are forgotten first.
REMEMBERED = 20_000
_PORT = re.compile(r"(?:\[([^\]]+)\]|([0-9.]+))(?::[0-9]{1,5})?")


def client_address(remote: str, forwarded: str, proxies: Collection[str]) -> str:
    """The address of the one who asks, as the limits count it (of IPv6 the /64, which is one customer's).

    forwarded: the X-Forwarded-For header. Anybody can write one, so it is read only where `remote` is one of our
    proxies, and from its right end: what stands left of the first address that is no proxy of ours is hearsay. Some
    proxies write the port too.
    """
    address = remote
    if remote in proxies:
        for hop in reversed([_plain_address(part) for part in forwarded.split(",") if part.strip()]):
            address = hop
            if hop not in proxies:
                break
    return next(iter(networks_of(address) or networks_of(remote)), "unknown")


def networks_of(text: str) -> tuple[str, ...]:
    """An address as the limits count it, the narrowest first: of IPv6 the /64 and the /48. Empty for what is none."""
    try:
        address = ipaddress.ip_address(text.strip("[]").partition("%")[0])
    except ValueError:
        try:
            network = ipaddress.IPv6Network(text)  # counted before
        except ValueError:
            return ()
        address = network.network_address
    if isinstance(address, ipaddress.IPv6Address):
        if address.ipv4_mapped:
            return (str(address.ipv4_mapped),)
        return tuple(str(ipaddress.ip_network((address, size), strict=False)) for size in (64, 48))
    return (str(address),)


@dataclass(frozen=True)
class Proxies:
    """The proxies that are named in a setting."""

    known: Collection[str]
    #: As moondesk.toml calls it.
    setting: str
    _warned: threading.Event = field(default_factory=threading.Event)

    def asking(self, remote: str, forwarded: str) -> str:
        """See `client_address`. A program on this machine that passes requests on and is not named is told of once:
        all who come through it are counted as one."""
        if forwarded and remote not in self.known and not self._warned.is_set() and _is_loopback(remote):
            self._warned.set()
            logging.getLogger(__name__).warning(
                "A proxy on this machine passes requests on from others, and %s does not name it: all of them are "
                'counted as one visitor. Write there: proxies = ["%s"].',
                self.setting,
                remote,
            )
        return client_address(remote, forwarded, self.known)


def _is_loopback(text: str) -> bool:
    try:
        return ipaddress.ip_address(text).is_loopback
    except ValueError:
        return False


def _plain_address(hop: str) -> str:
    """An address without its port."""
    found = _PORT.fullmatch(hop.strip())
    return (found[1] or found[2]) if found else hop.strip()


@dataclass(kw_only=True)
class RateLimit:
    """A bucket for each name: `at_once` requests in a row, then one as each `seconds` pass."""

    at_once: float
    seconds: float
    #: Seconds that only ever grow.
    clock: Callable[[], float]
    _buckets: OrderedDict[str, tuple[float, float]] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait_seconds(self, name: str, cost: float = 1.0, most: float = 1.0) -> int:
        """0: go on (it is counted). Else how long to wait; that request does not count.

        cost: what it counts for; most: how many times what one has this name has.
        """
        with self._lock:
            left, now = self._remaining(name, most)
            cost = min(cost, self.at_once * most)
            allowed = left >= cost
            self._keep(name, left - cost if allowed else left, now)
            return 0 if allowed else max(1, round((cost - left) * self.seconds / most + 0.5))

    def give_back(self, name: str, cost: float = 1.0) -> None:
        """Take a request out of the count again: it came to nothing."""
        with self._lock:
            if name in self._buckets:
                left, last = self._buckets[name]
                self._keep(name, left + cost, last)

    def _remaining(self, name: str, most: float) -> tuple[float, float]:
        now = self.clock()
        left, last = self._buckets.get(name, (self.at_once * most, now))
        return min(self.at_once * most, left + (now - last) * most / self.seconds), now

    def _keep(self, name: str, left: float, now: float) -> None:
        self._buckets[name] = (left, now)
        self._buckets.move_to_end(name)
        while len(self._buckets) > REMEMBERED:
            self._buckets.popitem(last=False)

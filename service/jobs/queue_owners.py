"""Who places, by a name that tells on its own machine whether that program still lives."""

from __future__ import annotations

import os
import secrets
import socket
from contextlib import suppress
from functools import cache
from typing import TYPE_CHECKING

from moondesk.service.store import queue

if TYPE_CHECKING:
    from moondesk.service.store.storage import Storage

#: Names that were given out in this process.
_OURS: set[str] = set()


def owner_name() -> str:
    """A name for who holds leases that no other process has, or ever had."""
    name = f"{_machine()}:{os.getpid()}:{secrets.token_hex(6)}"
    _OURS.add(name)
    return name


def is_gone(owner: str) -> bool:
    """True where it is certain that the program has ended: it was on this machine, and its process is not there."""
    machine, _, rest = owner.rpartition(":")[0].rpartition(":")
    if os.name != "posix" or machine != _machine() or not rest.isdigit():
        return False
    if int(rest) == os.getpid():  # of an earlier program with our number
        return owner not in _OURS
    try:
        os.kill(int(rest), 0)
    except ProcessLookupError:
        return True
    except OSError:  # somebody else's
        return False
    return False


def take_from_the_gone(storage: Storage) -> int:
    """Free what programs had that are gone, instead of waiting for their time to pass; how many pictures."""
    return sum(queue.take_from(storage, owner) for owner in queue.owners(storage) if is_gone(owner))


@cache
def _machine() -> str:
    """Host, and whose process numbers these are: containers may share a host's name, and count for themselves."""
    space = ""
    with suppress(OSError):
        space = os.readlink("/proc/self/ns/pid").strip("pid:[]")
    return f"{socket.gethostname()}/{space}"

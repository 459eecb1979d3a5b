"""Bodies of requests while they come in: how much of them may lie on the disk, of all connections and of one address.

    head -> Verdict (who, how large, how often: before a byte of it is kept) -> Body -> the application

What is refused, or is cut because it grows beyond what was allowed, is still read for a while and thrown away: a
browser that is sending reads no answer, and a server that hangs up shows it a broken line instead of a sentence.
"""

from __future__ import annotations

import io
import shutil
import tempfile
import threading
from collections import Counter
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import IO

#: Where an application finds what was decided about a request's body.
VERDICT = "moondesk.verdict"
#: Of a body that is kept in memory; a larger one goes to the disk of the store: the system's folder may lie in memory.
IN_MEMORY = 100_000
#: How often the disk is asked for its room, in bytes that came in meanwhile.
LOOK_EVERY = 4_000_000


@dataclass(frozen=True)
class Verdict:
    """What becomes of a body. most: bytes that it may have; status: with what it is refused, 0: it may come.

    wait: seconds after which it may be tried again, where that is why. counted: bytes that a limit of the application
    has counted for it, None: it has not.
    """

    most: int = 0
    status: int = 0
    wait: int = 0
    counted: int | None = None


@dataclass(kw_only=True)
class Arriving:
    """The bytes of bodies on the disk, all connections together. Used by the server's thread and by those that answer.

    total: of all; share: of one address; keep_free: what stays free on the disk for the programme's own work.
    """

    folder: Path
    total: int
    share: int
    keep_free: int
    _held: Counter[str] = field(default_factory=Counter)
    _since: int = 0
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def room_for(self, declared: int) -> bool:
        """Whether a body of that length may begin; it will lie on the disk as itself, as its parts, and for good."""
        try:
            free = shutil.disk_usage(self.folder.parent).free
        except OSError:
            return False
        return free - 3 * declared >= self.keep_free and self.held() + declared <= self.total

    def held(self) -> int:
        """Bytes that lie on the disk by now."""
        with self._lock:
            return sum(self._held.values())

    def take(self, address: str, count: int) -> bool:
        """Count further bytes of an address; False: there is no room for them, and nothing is counted."""
        with self._lock:
            if sum(self._held.values()) + count > self.total or self._held[address] + count > self.share:
                return False
            self._held[address] += count
            self._since += count
            look = self._since >= LOOK_EVERY
            if look:
                self._since = 0
        if look and shutil.disk_usage(self.folder.parent).free < self.keep_free:
            self.give_back(address, count)
            return False
        return True

    def give_back(self, address: str, count: int) -> None:
        with self._lock:
            self._held[address] -= count
            if self._held[address] <= 0:
                del self._held[address]


class RequestBody:
    """A body as it comes in, in the place of the server's own buffer (`waitress.buffers.OverflowableBuffer`)."""

    def __init__(self, arriving: Arriving, address: str, verdict: Verdict) -> None:
        self.verdict = verdict
        self.came = self.drained = 0
        self._arriving, self._address = arriving, address
        self._kept = self._on_disk = 0
        self._file: IO[bytes] = io.BytesIO()

    def __len__(self) -> int:
        return self._kept

    def append(self, data: bytes) -> None:
        """Take the next bytes, or throw them away where the body is refused by now."""
        self.came += len(data)
        if self.verdict.status:
            self.drained += len(data)
        elif self._kept + len(data) > self.verdict.most:
            self.cut(413)
        elif not self._write(data):
            self.cut(503)

    def cut(self, status: int) -> None:
        """Refuse what still comes, and drop what came."""
        self.verdict = replace(self.verdict, status=status)
        self.close()

    def getfile(self) -> IO[bytes]:
        """What came, from its begin; nothing of a refused body."""
        if not self._file.closed:
            self._file.seek(0)
        return io.BytesIO() if self._file.closed else self._file

    def close(self) -> None:
        """Drop it. May be called again."""
        self._file.close()
        self._arriving.give_back(self._address, self._on_disk)
        self._kept = self._on_disk = 0

    def _write(self, data: bytes) -> bool:
        try:
            if not self._on_disk and self._kept + len(data) > IN_MEMORY and not self._to_disk():
                return False
            if self._on_disk:
                if not self._arriving.take(self._address, len(data)):
                    return False
                self._on_disk += len(data)
            self._file.write(data)
            self._kept += len(data)
        except OSError:  # the disk is full
            return False
        return True

    def _to_disk(self) -> bool:
        if not self._arriving.take(self._address, self._kept + 1):
            return False
        self._on_disk = self._kept + 1  # more than nothing, also of a body whose first bytes are many
        self._arriving.folder.mkdir(parents=True, exist_ok=True)
        came = self._file.getvalue()  # type: ignore[attr-defined]
        self._file.close()
        self._file = tempfile.TemporaryFile("w+b", dir=self._arriving.folder, prefix=".part-")  # noqa: SIM115  see `close`
        self._file.write(came)
        return True

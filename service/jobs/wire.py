"""Frames over a pipe or socket between a program and its child: a kind, a text, and bytes beside it.

    1 byte kind, 4 bytes length of the text, 4 bytes number of parts, the text, each part: 8 bytes length, its bytes

Whoever reads says how much it takes, and reserves nothing for what has not come.
"""

from __future__ import annotations

import os
import struct
from collections.abc import Sequence

BEGUN, DONE, RAISED, ASKED = 1, 2, 3, 4
#: Parts of one frame, at most.
MOST_PARTS = 20_000
_HEAD, _PART, _CHUNK = struct.Struct(">BII"), struct.Struct(">Q"), 1 << 20


class BadFrameError(ValueError):
    """What came is no frame, or more than is taken."""


class Connection:
    """Both ends of a conversation, by file descriptors; one thread at a time. It closes nothing."""

    def __init__(self, reads: int, writes: int) -> None:
        self._reads, self._writes = reads, writes

    def send(self, kind: int, text: bytes = b"", parts: Sequence[bytes] = ()) -> None:
        """Raises OSError where nobody is there any more."""
        self._write(_HEAD.pack(kind, len(text), len(parts)) + text)
        for part in parts:
            self._write(_PART.pack(len(part)))
            self._write(part)

    def receive(self, most_text: int, most_bytes: int) -> tuple[int, bytes, list[bytes]]:
        """Kind, text, parts. Raises EOFError, OSError, or BadFrameError."""
        kind, length, count = _HEAD.unpack(self._read(_HEAD.size))
        if length > most_text or count > MOST_PARTS:
            raise BadFrameError(f"an answer of {length} bytes of text and {count} parts")
        text, parts = self._read(length), []
        for _ in range(count):
            (size,) = _PART.unpack(self._read(_PART.size))
            most_bytes -= size
            if most_bytes < 0:
                raise BadFrameError("an answer of more bytes than it may have")
            parts.append(self._read(size))
        return kind, text, parts

    def _read(self, count: int) -> bytes:
        data = bytearray()
        while len(data) < count:
            chunk = os.read(self._reads, min(_CHUNK, count - len(data)))
            if not chunk:
                raise EOFError
            data += chunk
        return bytes(data)

    def _write(self, data: bytes) -> None:
        view = memoryview(data)
        while view:
            view = view[os.write(self._writes, view) :]

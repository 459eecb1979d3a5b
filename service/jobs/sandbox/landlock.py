"""What a process may still read (Landlock, Linux 5.13), and that it signals nobody outside (Linux 6.12).

Numbers: linux/landlock.h; the system calls are the same on all machines.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import stat
import struct
from collections.abc import Sequence

_CREATE_RULESET, _ADD_RULE, _RESTRICT_SELF, _PATH_BENEATH, _ASK_VERSION, _NO_NEW_PRIVILEGES = 444, 445, 446, 1, 1, 38
_READ_FILE, _READ_FOLDER = 1 << 2, 1 << 3
#: How many kinds of access to files are ruled, from each version on: all that were known by then are ruled here.
_KINDS = {1: 13, 2: 14, 3: 15, 5: 16}
#: From version 4 on TCP's bind and connect; from 6 on abstract unix sockets and signals.
_TCP, _SCOPES = 0b11, 0b11


def read_only_below(paths: Sequence[str]) -> bool:
    """From now on this process opens nothing but files and folders below these, for reading alone, and starts no
    program. False where the system does not have that."""
    try:
        system = ctypes.CDLL(None, use_errno=True)
        version = system.syscall(_CREATE_RULESET, None, 0, _ASK_VERSION)
        if version < 1:
            return False
        ruled = [(1 << max(n for v, n in _KINDS.items() if v <= version)) - 1]
        ruled += [_TCP] if version >= 4 else []
        ruled += [_SCOPES] if version >= 6 else []
        rules = struct.pack(f"={len(ruled)}Q", *ruled)  # what is ruled, and so forbidden where no rule allows it
        ruleset = system.syscall(_CREATE_RULESET, rules, len(rules), 0)
        if ruleset < 0:
            return False
        for path in paths:
            with contextlib.suppress(OSError):
                opened = os.open(path, os.O_PATH | os.O_CLOEXEC)
                folder = stat.S_ISDIR(os.fstat(opened).st_mode)
                allowed = struct.pack("=Qi", _READ_FILE | (_READ_FOLDER if folder else 0), opened)
                system.syscall(_ADD_RULE, ruleset, _PATH_BENEATH, allowed, 0)
                os.close(opened)
        system.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0)
        done = system.syscall(_RESTRICT_SELF, ruleset, 0) == 0
        os.close(ruleset)
        return bool(done)
    except (OSError, AttributeError):
        return False

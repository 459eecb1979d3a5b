"""Walls around a child process that opens what strangers sent: no network, no files but its own, no other programs.

Each is put up where the system has it and allows it, and left out elsewhere; a child cannot take one down again.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import struct
import sys
from collections.abc import Sequence

#: linux/sched.h and linux/prctl.h.
_NEW_NETWORK, _NEW_USER, _NO_NEW_PRIVILEGES = 0x40000000, 0x10000000, 38
#: linux/landlock.h: system calls (the same on all machines), and what a program may be kept from doing with files.
_CREATE_RULESET, _ADD_RULE, _RESTRICT_SELF, _PATH_BENEATH, _ASK_VERSION = 444, 445, 446, 1, 1
_EXECUTE, _WRITE, _TRUNCATE = 1 << 0, 1 << 1, 1 << 14
#: Removing and making of all sorts; from version 3 on a file's cutting short is a right of its own.
_CHANGES = sum(1 << k for k in range(4, 13))


def cut_off() -> None:
    """Into a network of its own in which nothing is, not even loopback; and no program it starts gains rights."""
    if sys.platform != "linux":
        return
    with contextlib.suppress(OSError, AttributeError):
        system = ctypes.CDLL(None)
        if system.unshare(_NEW_NETWORK) != 0:  # only an administrator may, unless it is in a user space of its own
            system.unshare(_NEW_USER | _NEW_NETWORK)
        system.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0)


def write_only_below(folders: Sequence[str]) -> bool:
    """From now on this process changes no file but below these folders, and starts no program (Landlock, Linux 5.13).

    False where the system does not have that.
    """
    if sys.platform != "linux":
        return False
    try:
        system = ctypes.CDLL(None, use_errno=True)
        version = system.syscall(_CREATE_RULESET, None, 0, _ASK_VERSION)
        if version < 1:
            return False
        changes = _WRITE | _CHANGES | (_TRUNCATE if version >= 3 else 0)
        rules = struct.pack("=Q", changes | _EXECUTE)  # what is ruled, and so forbidden where no rule allows it
        ruleset = system.syscall(_CREATE_RULESET, rules, len(rules), 0)
        if ruleset < 0:
            return False
        for folder in (*folders, "/dev"):  # what is written to the void, or as a terminal, is no file
            with contextlib.suppress(OSError):
                opened = os.open(folder, os.O_PATH | os.O_CLOEXEC)
                system.syscall(_ADD_RULE, ruleset, _PATH_BENEATH, struct.pack("=Qi", changes, opened), 0)
                os.close(opened)
        system.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0)
        done = system.syscall(_RESTRICT_SELF, ruleset, 0) == 0
        os.close(ruleset)
        return done
    except (OSError, AttributeError):
        return False

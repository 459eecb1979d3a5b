"""Walls around a program that opens what strangers sent: it sees code and nothing else, and reaches nobody.

    `root`      namespaces and a root of its own: no data folder, no home, no network, no others; not writable
    `landlock`  what may be read, where the kernel rules that; nobody outside is signalled
    `seccomp`   system calls that it never needs: sockets, programs, other processes, writing, doors into the kernel
    `readable`  what it needs to read: the interpreter, the libraries, this package

Each is put up where the system has it and allows it; what is missing is told (`Standing`). None can be taken down
again. The first stands round the program that waits for work, the others round each job that it forks, after whatever
runs in it was loaded. All of this is plain `ctypes`: the numbers are the kernel's own, cited where they stand.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Sequence

from moondesk.service.jobs.sandbox import landlock, seccomp
from moondesk.service.jobs.sandbox.root import give_up_rights


def around_job(readable: Sequence[str], memory_bytes: int) -> tuple[str, ...]:
    """For the rest of this process: walls inside those of the program that forked it. Names of those that are missing.

    memory_bytes: of its address space. It has one thread when it calls this.
    """
    if sys.platform == "win32":
        return ("limits", "landlock", "seccomp")
    import resource

    for limit, value in ((resource.RLIMIT_AS, memory_bytes), (resource.RLIMIT_CORE, 0), (resource.RLIMIT_FSIZE, 0)):
        with contextlib.suppress(ValueError, OSError):  # a system that does not know the limit, or has a lower one
            resource.setrlimit(limit, (value, value))
    if sys.platform != "linux":
        return ("landlock", "seccomp")
    give_up_rights()
    missing = () if landlock.read_only_below(readable) else ("landlock",)
    return missing if seccomp.refuse_calls(os.getpid()) else (*missing, "seccomp")

"""A process in namespaces of its own, under a root in which only what it reads is there (Linux).

The way of user_namespaces(7), mount_namespaces(7) and pivot_root(2): an empty file system in memory becomes the root,
what is to be read is bound into it, the old root is taken away, all is made read-only. An ordinary user may do that
where the system lets it have a user namespace; an administrator without. Numbers: linux/sched.h, linux/mount.h,
linux/prctl.h, linux/capability.h; the numbers of the calls that the library does not have are the same everywhere.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import signal
import struct
from collections.abc import Sequence

_NEW_MOUNTS, _NEW_CGROUP, _NEW_NAMES, _NEW_IPC, _NEW_USER, _NEW_PIDS, _NEW_NETWORK = (
    0x20000,
    0x2000000,
    0x4000000,
    0x8000000,
    0x10000000,
    0x20000000,
    0x40000000,
)
_READ_ONLY, _NO_SETUID, _NO_DEVICES, _REMOUNT, _BIND, _DETACH = 1, 2, 4, 32, 4096, 2
_RECURSIVE, _PRIVATE = 16384, 1 << 18
_MOUNT_SETATTR, _AT_RECURSIVE, _HERE = 442, 0x8000, -100
_DEATH_SIGNAL, _DROP_FROM_BOUND, _NO_NEW_PRIVILEGES, _AMBIENT, _CLEAR_ALL = 1, 24, 38, 47, 4
_CAPABILITIES_VERSION, _LAST_CAPABILITY = 0x20080522, 63


def move_into(readable: Sequence[str]) -> tuple[str, ...]:
    """Put this process under a root with nothing but `readable`, without network, alone. Names of what is missing.

    It goes on as another process, the first of its own world: with it ends whatever it started. One thread, early.
    """
    system = ctypes.CDLL(None, use_errno=True)
    spaces = _NEW_MOUNTS | _NEW_CGROUP | _NEW_NAMES | _NEW_IPC | _NEW_PIDS | _NEW_NETWORK
    user, group = os.geteuid(), os.getegid()
    if system.unshare(_NEW_USER | spaces) == 0:
        with contextlib.suppress(OSError):
            _write("/proc/self/setgroups", "deny")
            _write("/proc/self/gid_map", f"{group} {group} 1")
            _write("/proc/self/uid_map", f"{user} {user} 1")
    elif system.unshare(spaces) != 0:  # no user namespace, and no administrator
        end_with_parent(system)
        return ("namespaces",)
    _go_on_as_first(system)
    try:
        _new_root(system, readable)
    except OSError:
        return ("root",)
    return ()


def give_up_rights() -> None:
    """No capability is left, in the bounding set neither, and none can be gained by a program's file."""
    with contextlib.suppress(OSError, AttributeError):
        system = ctypes.CDLL(None, use_errno=True)
        system.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0)
        for number in range(_LAST_CAPABILITY + 1):
            system.prctl(_DROP_FROM_BOUND, number, 0, 0, 0)
        system.prctl(_AMBIENT, _CLEAR_ALL, 0, 0, 0)
        head, none = struct.pack("=Ii", _CAPABILITIES_VERSION, 0), bytes(24)
        system.capset(head, none)


def end_with_parent(system: ctypes.CDLL | None = None) -> None:
    """The system ends this process with the one that made it."""
    with contextlib.suppress(OSError, AttributeError):
        (system or ctypes.CDLL(None)).prctl(_DEATH_SIGNAL, signal.SIGKILL, 0, 0, 0)


def _go_on_as_first(system: ctypes.CDLL) -> None:
    """What goes on is the first process of the new world; the one that was started waits for it and ends as it does."""
    parent = os.getpid()
    child = os.fork()
    if child:
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, signal.SIG_DFL)
        os.closerange(0, 256)  # nothing of the parent's pipes is held by who only waits
        _, status = os.waitpid(child, 0)
        os._exit(os.waitstatus_to_exitcode(status) & 0xFF)
    end_with_parent(system)
    del parent


def _new_root(system: ctypes.CDLL, readable: Sequence[str]) -> None:
    base = "/tmp"  # covered by the new root while that is made; what was below it is seen through the old one
    _mount(system, None, "/", None, _RECURSIVE | _PRIVATE)
    _mount(system, "walls", base, "tmpfs", _NO_SETUID | _NO_DEVICES, "size=1m,mode=755")
    os.mkdir(f"{base}/old")
    _check(system.pivot_root(base.encode(), f"{base}/old".encode()))
    os.chdir("/")
    for path in readable:
        source = f"/old{path}"
        os.makedirs(os.path.dirname(path), mode=0o755, exist_ok=True)
        if os.path.islink(source):
            os.symlink(os.readlink(source), path)
            continue
        if os.path.isdir(source):
            os.makedirs(path, exist_ok=True)
        elif os.path.isfile(source):
            os.close(os.open(path, os.O_CREAT | os.O_WRONLY, 0o444))
        else:
            continue
        _mount(system, source, path, None, _BIND | _RECURSIVE)
        _seal(system, path)
    _check(system.umount2(b"/old", _DETACH))
    os.rmdir("/old")
    _mount(system, None, "/", None, _REMOUNT | _READ_ONLY | _NO_SETUID | _NO_DEVICES | _BIND)


def _seal(system: ctypes.CDLL, path: str) -> None:
    """Read-only, with all that is mounted below it."""
    attributes = struct.pack("=4Q", _READ_ONLY | _NO_SETUID | _NO_DEVICES, 0, 0, 0)
    _check(system.syscall(_MOUNT_SETATTR, _HERE, path.encode(), _AT_RECURSIVE, attributes, len(attributes)))


def _mount(
    system: ctypes.CDLL, source: str | None, target: str, kind: str | None, flags: int, options: str | None = None
) -> None:
    told = [None if text is None else text.encode() for text in (source, target, kind, options)]
    _check(system.mount(told[0], told[1], told[2], ctypes.c_ulong(flags), told[3]))


def _check(answer: int) -> None:
    if answer != 0:
        number = ctypes.get_errno()
        raise OSError(number, os.strerror(number))


def _write(path: str, text: str) -> None:
    with open(path, "w", encoding="ascii") as file:
        file.write(text)

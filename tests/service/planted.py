"""Code that got the better of a decoder, and runs in a child: what it tries, and what came of it. See `test_walls`.

Every call stands for a hole in a library: the child runs it as it would run what a hostile picture brought along.
"""

from __future__ import annotations

import contextlib
import ctypes
import mmap
import os
import pickle
import signal
import socket
import struct
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path


def outcome(act: Callable[[], object]) -> str:
    """ "done", or the name of what was raised."""
    try:
        act()
    except BaseException as error:
        return type(error).__name__
    return "done"


def files(paths: tuple[str, ...], written: tuple[str, ...]) -> dict[str, str]:
    """Reading and listing of each path, then all that can be done to each of the others."""
    told = {}
    for path in paths:
        told[f"read {path}"] = outcome(lambda path=path: Path(path).read_bytes())
        told[f"list {path}"] = outcome(lambda path=path: os.listdir(path))
    for path in written:
        for name, act in (
            ("write", lambda p: Path(p).write_bytes(b"planted")),
            ("unlink", os.unlink),
            ("mode", lambda p: os.chmod(p, 0o777)),
            ("cut", lambda p: os.truncate(p, 0)),
            ("date", os.utime),
            ("move", lambda p: os.rename(p, f"{p}-moved")),
            ("link", lambda p: os.symlink("/", f"{p}-link")),
            ("folder", lambda p: os.mkdir(f"{p}-in")),
        ):
            told[f"{name} {path}"] = outcome(lambda act=act, path=path: act(path))
    return told


def anywhere_written() -> tuple[str, ...]:
    """Folders that are there in which a file could be made."""
    found = []
    for top in ("/", "/tmp", "/dev", "/dev/shm", "/var/tmp", "/run", "/proc/self", *sys.path):
        with contextlib.suppress(OSError):
            with open(os.path.join(top, "planted"), "wb") as file:
                file.write(b"x")
            found.append(top)
    with contextlib.suppress(OSError, AttributeError):
        os.write(os.memfd_create("planted"), b"x")
        found.append("memory")
    return tuple(found)


def sockets(port: int, udp: int, path: str, abstract: str) -> dict[str, str]:
    def connect(family: int, kind: int, address: object) -> None:
        with socket.socket(family, kind) as opened:
            opened.settimeout(2)
            opened.connect(address)
            opened.send(b"planted")

    def listen() -> None:
        with socket.socket() as opened:
            opened.bind(("127.0.0.1", 0))
            opened.listen()

    return {
        "tcp": outcome(lambda: connect(socket.AF_INET, socket.SOCK_STREAM, ("127.0.0.1", port))),
        "udp": outcome(lambda: connect(socket.AF_INET, socket.SOCK_DGRAM, ("127.0.0.1", udp))),
        "path": outcome(lambda: connect(socket.AF_UNIX, socket.SOCK_STREAM, path)),
        "abstract": outcome(lambda: connect(socket.AF_UNIX, socket.SOCK_STREAM, f"\0{abstract}")),
        "listen": outcome(listen),
        "raw": outcome(lambda: socket.socket(socket.AF_INET, socket.SOCK_RAW, socket.IPPROTO_ICMP).close()),
        "netlink": outcome(lambda: socket.socket(socket.AF_NETLINK, socket.SOCK_RAW).close()),
        "pair": outcome(lambda: [end.close() for end in socket.socketpair()]),
    }


def processes(parent: int) -> dict[str, str]:
    """What can be done to others, and whether any others are to be seen."""
    system = ctypes.CDLL(None, use_errno=True)

    def call(answer: int) -> None:
        if answer < 0:
            raise OSError(ctypes.get_errno(), "")

    told = {
        f"signal {name}": outcome(lambda pid=pid: os.kill(pid, 0))
        for name, pid in (("parent", parent), ("keeper", os.getppid()), ("first", 1), ("all", -1), ("group", 0))
    }
    told |= {
        "program": outcome(lambda: subprocess.run([sys.executable, "-c", "pass"], check=True)),
        "own program": outcome(lambda: os.execv("/proc/self/exe", ["python"])),
        "fork": outcome(os.fork),
        "look into keeper": outcome(lambda: call(system.ptrace(16, os.getppid(), 0, 0))),
        "namespaces": outcome(lambda: call(system.unshare(0x10000000))),
        "mount": outcome(lambda: call(system.mount(b"none", b"/", b"tmpfs", 0, None))),
        "ring": outcome(lambda: call(system.syscall(425, 8, ctypes.create_string_buffer(256)))),
        "priority": outcome(lambda: os.setpriority(os.PRIO_PROCESS, os.getppid(), 19)),
        "limits": outcome(lambda: __import__("resource").prlimit(os.getppid(), 7, (0, 0))),
        "signals by a socket": outcome(lambda: __import__("fcntl").fcntl(0, 8, os.getppid())),
        "signal itself": outcome(lambda: os.kill(os.getpid(), 0)),
        "thread": outcome(lambda: threading.Thread(target=int).start()),
        "memory": outcome(lambda: mmap.mmap(-1, 1 << 20)),
    }
    return told


def surroundings() -> dict[str, tuple[str, ...]]:
    """Environment, kernel's copy of it, other processes, capabilities, open files."""
    told: dict[str, tuple[str, ...]] = {"environment": tuple(sorted(os.environ))}
    for name, path in (("kernel", "/proc/self/environ"), ("parent", f"/proc/{os.getppid()}/environ")):
        try:
            told[name] = tuple(Path(path).read_bytes().decode(errors="replace").split("\0"))
        except OSError as error:
            told[name] = (f"({type(error).__name__})",)
    try:
        told["processes"] = tuple(p for p in os.listdir("/proc") if p.isdigit())
    except OSError:
        told["processes"] = ()
    data = (ctypes.c_uint32 * 6)()
    ctypes.CDLL(None).syscall(
        {"x86_64": 125, "aarch64": 90}[os.uname().machine], struct.pack("=Ii", 0x20080522, 0), data
    )
    told["capabilities"] = tuple(f"{n:x}" for n in data if n)
    told["open"] = tuple(str(k) for k in range(3, 256) if outcome(lambda k=k: os.fstat(k)) == "done")
    return told


# --- answers ----------------------------------------------------------------------------------------------------------


class Evil:
    """Runs where it is unpickled."""

    def __init__(self, mark: str) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[object, ...]:
        return exec, (f"open({self.mark!r}, 'w').write('ran')",)


def answers(kind: str, mark: str) -> int:
    """Sends what it likes by the one line that it has, then goes on as if nothing were."""
    head, frame = struct.Struct(">BII"), b""
    if kind == "a pickle":
        body = pickle.dumps((True, Evil(mark)))
        frame = head.pack(2, len(body), 0) + body
    elif kind == "a bare pickle":
        body = pickle.dumps((True, Evil(mark)))
        frame = struct.pack("!i", len(body)) + body
    elif kind == "garbage":
        frame = os.urandom(100_000)
    elif kind == "another type":
        frame = _text(b'[[],"seven"]')
    elif kind == "true for one":
        frame = _text(b"[[],true]")
    elif kind == "more than asked":
        frame = _text(b"[[],7,8]")
    elif kind == "an object":
        frame = _text(b'{"value":7}')
    elif kind == "no number":
        frame = _text(b"[[],NaN]")
    elif kind == "a long number":
        frame = _text(b"[[]," + b"9" * 100_000 + b"]")
    elif kind == "deep":
        frame = _text(b"[" * 1_000_000)
    elif kind == "no text":
        frame = _text(b"\xff\xfe[[],7]")
    elif kind == "parts that nobody asked for":
        frame = head.pack(2, 6, 1) + b"[[],7]" + struct.pack(">Q", 3) + b"abc"
    elif kind == "a long text":
        frame = head.pack(2, 2**32 - 1, 0) + bytes(1_000)
    elif kind == "many parts":
        frame = head.pack(2, 6, 2**32 - 1) + b"[[],7]"
    elif kind == "long logs":
        frame = _text(b'[[[50,"' + b"x" * 5_000_000 + b'"]],7]')
    if kind == "a gigabyte":
        with contextlib.suppress(OSError):
            os.write(0, head.pack(2, 6, 1) + b"[[],7]" + struct.pack(">Q", 10**9))
            for _ in range(1000):
                os.write(0, bytes(1_000_000))
    elif kind == "a trickle":
        with contextlib.suppress(OSError):
            os.write(0, head.pack(2, 1000, 0))
            while True:
                os.write(0, b"[")
                time.sleep(0.05)
    elif kind == "nothing":
        signal.signal(signal.SIGALRM, signal.SIG_IGN)
        time.sleep(600)
    elif kind == "an end":
        os.close(0)
        time.sleep(600)
    elif kind == "open files":
        with contextlib.suppress(OSError):
            line = socket.socket(fileno=0)
            socket.send_fds(line, [_text(b"[[],7]")], [0] * 100)
            line.detach()
            os._exit(0)
    os.write(0, frame)
    os._exit(0)


def _text(text: bytes) -> bytes:
    return struct.pack(">BII", 2, len(text), 0) + text


def seven() -> int:
    return 7

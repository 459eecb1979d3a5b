"""What a stranger can do to the desk and the upload page, against the real programs:  python -m tests.benchmarks.strangers

    body      one body without a token, on a disk with little room: does the desk answer meanwhile?
    many      ten bodies of 100 MB from one address, without and with a form's token: what lies on the disk?
    half      two hundred half-open connections from one address: does the upload page answer meanwhile?
    mail      seven replies sent through a mail server that says nothing: how long do the desk's pages take?
    future    a step on air from the far future: does the next one count?

--small names a folder on a disk of its own with some 80 MB (a tmpfs does), for `body`; --root another source tree to
compare with. Not part of the tests: it takes two minutes and wants a disk that may be filled.
"""

from __future__ import annotations

import argparse
import contextlib
import http.client
import json
import os
import re
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

HERE = Path(__file__).resolve().parents[2]
ATTACKS = ("body", "many", "half", "mail", "future")
FORM = {"Content-Type": "application/x-www-form-urlencoded"}
#: Seconds that an attack is looked on.
LOOK = 15.0


class Program:
    """`serve` or `receive` as a process of its own."""

    def __init__(self, root: Path, command: str, data: Path, temporary: Path) -> None:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "moondesk.service", command, "--data", str(data), "--port", "0"],
            cwd=root,
            text=True,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONUNBUFFERED": "1", "TMPDIR": str(temporary)},
        )
        for said in self.process.stdout or ():
            if found := re.search(r"http://127\.0\.0\.1:(\d+)", said):
                self.port = int(found[1])
                break

    def ask(self, path: str, body: str | None = None, seconds: float = 60, **headers: str) -> tuple[int, str, str]:
        """(status, text, cookie); status 0: nothing came."""
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=seconds)
        try:
            line.request("GET" if body is None else "POST", path, body, headers)
            answer = line.getresponse()
            return answer.status, answer.read().decode("utf-8", "replace"), answer.headers["Set-Cookie"] or ""
        except OSError:
            return 0, "", ""
        finally:
            line.close()

    def token(self, path: str) -> tuple[str, str]:
        """A form's token of a page, and the cookie that it goes with."""
        _, page, cookie = self.ask(path)
        return re.search(r'name="token" value="([^"]+)"', page)[1], cookie.partition(";")[0]  # type: ignore[index]


@contextlib.contextmanager
def programs(root: Path, folder: Path, *commands: str) -> Iterator[list[Program]]:
    """The programs on a data folder with a few pictures."""
    data, temporary = folder / "data", folder / "tmp"
    temporary.mkdir(parents=True, exist_ok=True)
    if not data.exists():
        samples = HERE / "sample_submissions"
        few = folder / "few"
        few.mkdir()
        for picture in sorted(samples.glob("*.jpg"), key=lambda p: p.stat().st_size)[:7]:
            shutil.copy(picture, few)
        subprocess.run(
            [sys.executable, "-m", "moondesk.service", "take", str(few), "--data", str(data)],
            cwd=root,
            capture_output=True,
            check=False,
        )
    running = [Program(root, command, data, temporary) for command in commands]
    try:
        yield running
    finally:
        for program in running:
            program.process.terminate()
        for program in running:
            with contextlib.suppress(subprocess.TimeoutExpired):
                program.process.wait(40)
            program.process.kill()


def meanwhile(ask: Callable[[], int], seconds: float = LOOK) -> str:
    """What a page answers, asked again and again."""
    codes: dict[int, int] = {}
    times, end = [], time.monotonic() + seconds
    while time.monotonic() < end:
        begin = time.monotonic()
        code = ask()
        codes[code] = codes.get(code, 0) + 1
        times.append(time.monotonic() - begin)
        time.sleep(0.2)
    told = ", ".join(f"{n} x {code or 'nothing'}" for code, n in sorted(codes.items()))
    return f"{told}; median {1000 * statistics.median(times):.0f}, worst {1000 * max(times):.0f} ms"


def head(path: str, length: int, cookie: str = "") -> bytes:
    return (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: multipart/form-data; boundary=x\r\n"
        f"Cookie: {cookie}\r\nContent-Length: {length}\r\n\r\n"
    ).encode()


def pour(port: int, first: bytes, length: int, told: list[str]) -> None:
    """Send a body as fast as it goes, but for its last byte; then wait for what is said."""
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=LOOK + 5) as line:
            line.sendall(first)
            for _ in range(0, length - 1_000_000, 1_000_000):
                line.sendall(bytes(1_000_000))
            line.sendall(bytes(999_999))
            told.append(line.recv(40).decode("latin-1").partition("\r")[0])
    except OSError as error:
        told.append(type(error).__name__)


def fill(port: int, length: int, folder: Path, told: list[str]) -> None:
    """Send a body until the disk is full, and wait."""
    try:
        with socket.create_connection(("127.0.0.1", port), timeout=LOOK + 5) as line:
            line.sendall(head("/", length))
            sent = 0
            while sent < length and free(folder) > 12_000:
                near = free(folder) < 12_000_000  # what lies in the line's own buffers is not on the disk yet
                piece = min(length - sent, 4_000 if near else 200_000)
                line.sendall(bytes(piece))
                sent += piece
                time.sleep(0.004 if near else 0.001)
            told.append(f"{sent / 1e6:.0f} MB sent")
            told.append(line.recv(40).decode("latin-1").partition("\r")[0])
    except OSError as error:
        told.append(type(error).__name__)


def free(folder: Path) -> int:
    """Room on the disk, in bytes: files of bodies may have no name."""
    return shutil.disk_usage(folder).free


def body(root: Path, folder: Path) -> None:
    with programs(root, folder, "serve", "receive") as (desk, page):
        print(f"  free before: {free(folder) / 1e6:.0f} MB")
        told: list[str] = []
        thread = threading.Thread(target=fill, args=(page.port, 149_000_000, folder, told))
        thread.start()
        time.sleep(4)
        print("  the desk's inbox:", meanwhile(lambda: desk.ask("/")[0]))
        print("  its page on air: ", meanwhile(lambda: desk.ask("/air/1/state")[0], 3))
        print(f"  free meanwhile: {free(folder) / 1e6:.0f} MB; the sender was told: {told or 'nothing yet'}")
        thread.join()


def many(root: Path, folder: Path) -> None:
    with programs(root, folder, "receive") as (page,):
        for with_token in (False, True):
            before, told, threads = free(folder), [], []  # type: ignore[var-annotated]
            for _ in range(10):
                token, cookie = page.token("/") if with_token else ("", "")
                first = head(f"/?token={token}" if token else "/", 100_000_000, cookie)
                threads.append(threading.Thread(target=pour, args=(page.port, first, 100_000_000, told)))
            for thread in threads:
                thread.start()
            time.sleep(11)
            print(
                f"  {'with' if with_token else 'without'} a token: {(before - free(folder)) / 1e6:.0f} MB on the "
                "disk after 11 s; the form:",
                meanwhile(lambda: page.ask("/", seconds=5)[0], 3),
            )
            for thread in threads:
                thread.join()
            print("   told:", {word: told.count(word) for word in set(told)})
            time.sleep(2)


def half(root: Path, folder: Path) -> None:
    with programs(root, folder, "receive") as (page,), contextlib.ExitStack() as lines:
        opened = []
        for _ in range(200):
            with contextlib.suppress(OSError):
                opened.append(lines.enter_context(socket.create_connection(("127.0.0.1", page.port), timeout=5)))
        stop = threading.Event()

        def drip() -> None:
            for byte in b"POST / HTTP/1.1\r\n" * 10:
                for line in opened:
                    with contextlib.suppress(OSError):
                        line.sendall(bytes([byte]))
                if stop.wait(5):
                    return

        thread = threading.Thread(target=drip)
        thread.start()
        time.sleep(2)
        print("  the form:", meanwhile(lambda: page.ask("/", seconds=5)[0]))
        stop.set()
        thread.join()


def mail(root: Path, folder: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as silent, programs(root, folder, "receive"):
        (folder / "data" / "moondesk.toml").write_text(
            f"[smtp]\nhost = '127.0.0.1'\nport = {silent.getsockname()[1]}\nsecurity = 'plain'\n"
            "address = 'moon@evening-sky.example'\n"
        )
        with programs(root, folder, "serve") as (desk,):
            token, cookie = desk.token("/add")
            took: list[float] = []

            def click(picture: int) -> None:
                begin = time.monotonic()
                desk.ask(
                    f"/pictures/{picture}/reply",
                    f"token={token}&version=0&subject=s&body=b&action=send&to=ann@viewers.example",
                    Cookie=cookie,
                    **FORM,
                )
                took.append(time.monotonic() - begin)

            for k in range(7):
                threading.Thread(target=click, args=(1 + k,)).start()
            print("  the page on air:", meanwhile(lambda: desk.ask("/air/1/state")[0], 25))
            print(
                f"  the clicks took {min(took, default=-1):.1f} to {max(took, default=-1):.1f} s, "
                f"{7 - len(took)} not answered yet"
            )


def future(root: Path, folder: Path) -> None:
    with programs(root, folder, "serve") as (desk,):
        token, cookie = desk.token("/add")
        for at, count in ((2**53 - 1, 1), (int(time.time() * 1000), 2)):
            told = desk.ask(
                "/air/1/state",
                json.dumps({"state": {"step": {"item": 1, "count": count}}, "at": at}),
                Cookie=cookie,
                **{"X-Form-Token": token, "Content-Type": "application/json"},
            )
            print(f"  step {count}: {told[0]}, then stands", json.loads(desk.ask("/air/1/state")[1]))


def main() -> None:
    wanted = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    wanted.add_argument("attacks", nargs="*", default=list(ATTACKS), metavar="ATTACK")
    wanted.add_argument("--small", type=Path)
    wanted.add_argument("--root", type=Path, default=HERE)
    given = wanted.parse_args()
    for name in given.attacks:
        if name == "body" and given.small is None:
            print("body: left out, it wants --small")
            continue
        folder = Path(tempfile.mkdtemp(prefix="strangers-", dir=given.small if name == "body" else None))
        print(f"{name}:")
        try:
            {"body": body, "many": many, "half": half, "mail": mail, "future": future}[name](given.root, folder)
        finally:
            shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    main()

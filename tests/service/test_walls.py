"""Code planted in a decoder gets nowhere: files, sockets, processes, environment, and the line to its parent.

Each wall is tried by itself: bubblewrap, the same by our own hand, and a job's own walls where a system allows no
namespaces. The planted code (`planted`) runs in the very program, behind the very walls, that pictures are opened in.
"""

from __future__ import annotations

import os
import secrets
import socket
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import fakes
import planted
import pytest
from fakes import add_edition

from moondesk.service.jobs import child_keeper
from moondesk.service.jobs.checked_pictures import is_drawing, is_picture
from moondesk.service.jobs.child_pool import ChildDiedError, ChildLateError, ChildPool
from moondesk.service.store.records import Arrival, EditionPlan, Enclosure
from moondesk.service.store.submissions import add_submission

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="these walls are Linux's")
WALLS = ("bubblewrap", "own", "none")
LOADED = ("planted",)
#: What an attempt comes to that a wall stops, or that finds nothing there.
STOPPED = {
    "PermissionError",
    "FileNotFoundError",
    "NotADirectoryError",
    "OSError",
    "ProcessLookupError",
    "BlockingIOError",
}
SECRET = "correct-horse-" + secrets.token_hex(4)


@pytest.fixture(params=WALLS)
def walls(request) -> str:
    return request.param


@pytest.fixture
def pool(walls, bubblewrap, monkeypatch) -> Iterator[ChildPool]:
    monkeypatch.setenv("MOONDESK_MAIL_PASSWORD", SECRET)
    child_keeper.close_keepers()  # so that it starts while the password stands in the environment
    with ChildPool(2, 20, LOADED, walls=walls) as opened:
        assert opened.submit(planted.seven).result() == 7
        running = child_keeper.keeper_for(LOADED, walls)
        if "landlock" in running.missing or "seccomp" in running.missing:
            pytest.skip("this system has no Landlock or no seccomp")
        if walls == "own" and running.missing:
            pytest.skip("this system lets nobody have namespaces")
        yield opened


@pytest.fixture
def store(storage, media):
    """A store with somebody's picture and what was drawn of it."""
    data = fakes.png()
    add_submission(
        storage,
        add_edition(storage, EditionPlan(number=1)).id,
        Arrival(
            key="file:1",
            source="folder",
            origin="a.png",
            enclosures=(
                Enclosure(given_name="a.png", size_bytes=len(data), sha256=media.put(data), media_type="image/png"),
            ),
        ),
        planted_time(),
    )
    derived = media.root / "derived" / "ab" / "photo.jpg"
    derived.parent.mkdir(parents=True)
    derived.write_bytes(data)
    (media.root / "forms.key").write_bytes(b"k" * 32)
    (media.root / "moondesk.toml").write_text("[programme]\n")
    return [str(p) for p in media.root.rglob("*") if p.is_file()]


def planted_time():
    from datetime import UTC, datetime

    return datetime(2026, 3, 26, 8, 0, tzinfo=UTC)


def test_it_reads_and_changes_no_file(pool, store, tmp_path):
    before = {p: Path(p).read_bytes() for p in store}
    assert len(store) >= 5
    elsewhere = (
        str(tmp_path),
        "/etc/passwd",
        "/root",
        "/home",
        str(Path.home()),
        "/proc",
        f"/proc/{os.getpid()}/environ",
    )
    told = pool.submit(planted.files, (*store, *elsewhere), tuple(store)).result()
    assert set(told.values()) <= STOPPED, {k: v for k, v in told.items() if v not in STOPPED}
    assert {p: Path(p).read_bytes() for p in store} == before
    assert [str(p) for p in (tmp_path / "data").rglob("*") if p.is_file()] == store


def test_it_writes_nowhere(pool):
    assert pool.submit(planted.anywhere_written).result() == ()


def test_it_reaches_nobody(pool, tmp_path):
    name, path = f"planted-{secrets.token_hex(6)}", str(tmp_path / "s")
    with ExitStack() as stack:
        tcp = stack.enter_context(socket.create_server(("127.0.0.1", 0)))
        udp = stack.enter_context(socket.socket(socket.AF_INET, socket.SOCK_DGRAM))
        udp.bind(("127.0.0.1", 0))
        named, abstract = (stack.enter_context(socket.socket(socket.AF_UNIX)) for _ in range(2))
        for opened, address in ((named, path), (abstract, f"\0{name}")):
            opened.bind(address)
            opened.listen()
        asked = tcp.getsockname()[1], udp.getsockname()[1], path, name
        here = planted.sockets(*asked)
        assert {here[k] for k in ("tcp", "udp", "path", "abstract")} == {"done"}, "without walls it does"
        told = pool.submit(planted.sockets, *asked).result()
        assert set(told.values()) <= STOPPED, told


def test_it_does_nothing_to_other_processes_and_starts_none(pool):
    told = pool.submit(planted.processes, os.getpid()).result()
    allowed = {"signal itself", "thread", "memory"}
    assert {k for k, v in told.items() if v == "done"} == allowed, told
    assert pool.submit(planted.seven).result() == 7, "the keeper lives"


def test_it_finds_no_secret_and_no_right(pool):
    """The password that this process was given stands neither in the child's environment nor in the kernel's copy."""
    told = pool.submit(planted.surroundings).result()
    assert SECRET not in repr(told)
    assert not [name for name in told["environment"] if "PASSWORD" in name or "MOONDESK" in name]
    assert (told["processes"], told["capabilities"], told["open"]) == ((), (), ())


@pytest.mark.parametrize(
    "kind",
    [
        "a pickle",
        "a bare pickle",
        "garbage",
        "another type",
        "true for one",
        "more than asked",
        "an object",
        "no number",
        "a long number",
        "deep",
        "no text",
        "parts that nobody asked for",
        "a long text",
        "many parts",
        "a gigabyte",
        "long logs",
    ],
)
def test_what_it_answers_costs_its_own_call_alone(kind, tmp_path):
    mark = tmp_path / "mark"
    with ChildPool(2, 20, LOADED, answer_bytes=50_000_000) as pool:
        lies, honest = pool.submit(planted.answers, kind, str(mark)), pool.submit(planted.seven)
        with pytest.raises(ChildDiedError):
            lies.result()
        assert (honest.result(), pool.submit(planted.seven).result()) == (7, 7)
    assert not mark.exists()


@pytest.mark.parametrize("kind", ["a trickle", "nothing"])
def test_who_keeps_its_parent_waiting_is_ended(kind):
    with ChildPool(1, 0.5, LOADED) as pool:
        with pytest.raises(ChildLateError, match=r"0\.5 s"):
            pool.submit(planted.answers, kind, "").result()
        assert pool.submit(planted.seven).result() == 7


def test_who_hangs_up_is_ended_and_open_files_are_not_taken():
    before = len(os.listdir("/proc/self/fd"))
    with ChildPool(1, 20, LOADED) as pool:
        with pytest.raises(ChildDiedError):
            pool.submit(planted.answers, "an end", "").result()
        assert pool.submit(planted.answers, "open files", "").result() == 7
    child_keeper.close_keepers()
    assert len(os.listdir("/proc/self/fd")) <= before


def test_a_drawing_that_acts_or_fetches_is_none():
    def svg(inner: str) -> str:
        return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9">{inner}</svg>'

    assert is_drawing(svg('<g id="a"><path d="M0 0h9" fill="#fff"/><text x="1">A &lt; B</text></g>'))
    assert is_drawing(svg('<image href="data:image/png;base64,iVBORw0KGgo=" width="9"/>'))
    for bad in (
        "<script>alert(1)</script>",
        '<path d="M0 0" onload="alert(1)"/>',
        "<foreignObject/>",
        '<image href="https://example.org/a.png"/>',
        '<a href="javascript:alert(1)"><path d="M0 0"/></a>',
        '<path fill="url(https://example.org/a)"/>',
        '<g style="background:url(//example.org)"/>',
        "<style>@import url(//example.org)</style>",
        '<image href="data:image/svg+xml;base64,AAAA"/>',
        '<use href="#a"/>',
        '<animate attributeName="href"/>',
        "</svg><svg>",
        "<form/>",
    ):
        assert not is_drawing(svg(bad)), bad
    assert not is_drawing('<!DOCTYPE svg [<!ENTITY a "aa">]>' + svg("&a;"))
    assert not is_drawing('<?xml-stylesheet href="//example.org"?>' + svg(""))
    assert is_picture(fakes.png())
    assert not is_picture(b"<html><script>alert(1)</script>")
    assert not is_picture(svg("<script/>").encode())

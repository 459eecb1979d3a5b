"""What a stranger may hold of the server: connections, time, bytes; raw requests against the real server."""

from __future__ import annotations

import contextlib
import socket
import threading
import time
from collections import namedtuple
from dataclasses import replace
from datetime import UTC, datetime

import fakes
import pytest
from desk_people import cookie, log_in, make_account
from fakes import add_edition
from servers import running

from moondesk.service.settings.config import CONFIG_NAME
from moondesk.service.store.records import EditionPlan
from moondesk.service.store.submissions import each_submission
from moondesk.service.web import serving
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.public.app import create_public_app
from moondesk.service.web.serving import Pace
from moondesk.service.web.tokens import load_tokens

VISITOR = "0" * 32
QUICK = Pace(head=0.4, idle=5.0, window=0.6, least=1_000)


@pytest.fixture
def app(config):
    config.data_dir.mkdir()
    (config.data_dir / CONFIG_NAME).write_text("[public]\nform_bytes = 2_000_000\narriving_bytes = 6_000_000\n")
    return create_public_app(config)


def bounded(app, **changed):
    app.extensions["moondesk.bounds"] = replace(app.extensions["moondesk.bounds"], **changed)
    return app


def token(app):
    here = app.extensions["moondesk.public"]
    return here.tokens.issue(VISITOR, here.now())


def head(app, path, length, *more, cookie=None):
    tokens = load_tokens(app.extensions["moondesk.bounds"].arriving.folder.parent)
    cookie = cookie or (tokens.cookie("moondesk_form"), VISITOR)
    return "\r\n".join(
        (
            f"POST {path} HTTP/1.1",
            "Host: 127.0.0.1",
            "Content-Type: multipart/form-data; boundary=x",
            f"Cookie: {'='.join(cookie)}",
            f"Content-Length: {length}" if length is not None else "Transfer-Encoding: chunked",
            *more,
            "",
            "",
        )
    ).encode()


@contextlib.contextmanager
def line_to(server, data=b""):
    with socket.create_connection(("127.0.0.1", server.effective_port), timeout=10) as line:
        line.sendall(data)
        yield line


def answer_of(line):
    """All that the server says until it is silent or has hung up."""
    said = b""
    with contextlib.suppress(OSError):
        while piece := line.recv(65_536):
            said += piece
            if b"</html>" in said or b'"notice"' in said:
                break
    return said.decode()


def form(app, size, **more):
    picture = fakes.png()
    fields = b"".join(
        f'--x\r\nContent-Disposition: form-data; name="{k}"\r\n\r\n{v}\r\n'.encode()
        for k, v in {"token": token(app), "name": "Ilse", "agreed": "yes", **more}.items()
    )
    return (
        fields
        + b'--x\r\nContent-Disposition: form-data; name="pictures"; filename="a.png"\r\n\r\n'
        + picture
        + bytes(max(0, size - len(picture) - 600))
        + b"\r\n--x--\r\n"
    )


def held(app):
    return app.extensions["moondesk.bounds"].arriving.held()


def until(true, seconds=8.0):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.02)
    return False


def asked(server, path="/"):
    with line_to(server, f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\n\r\n".encode()) as line:
        return answer_of(line)


# --- bodies -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("query", "length", "status", "words"),
    [
        ("", 1_500_000, 400, "press Send again"),
        ("?token=1.2.3", 1_500_000, 400, "press Send again"),
        ("?token=", 4_000_000, 413, "send fewer pictures"),
    ],
)
def test_a_body_is_refused_by_its_head_and_nothing_of_it_is_kept(app, monkeypatch, query, length, status, words):
    monkeypatch.setattr("moondesk.service.web.arriving.RequestBody._write", lambda *_: 1 / 0)
    path = f"/{query}{token(app) if query.endswith('=') else ''}"
    with running(app) as server, line_to(server, head(app, path, length)) as line:
        for _ in range(0, length, 100_000):  # a browser sends all of it before it reads
            line.sendall(bytes(100_000))
        said = answer_of(line)
        assert said.startswith(f"HTTP/1.1 {status} ")
        assert words in said
        assert "GET" not in said
        assert asked(server).startswith("HTTP/1.1 200 ")


def test_who_waits_for_leave_to_send_is_refused_at_once(app):
    with running(app) as server, line_to(server, head(app, "/", 1_500_000, "Expect: 100-continue")) as line:
        assert answer_of(line).startswith("HTTP/1.1 400 ")
    asks = head(app, f"/?token={token(app)}", 1_500_000, "Expect: 100-continue")
    with running(app) as server, line_to(server, asks) as line:
        assert line.recv(100).startswith(b"HTTP/1.1 100 ")


def test_a_body_whose_token_is_in_its_head_is_taken_and_its_bytes_are_given_back(app, storage):
    body = form(app, 1_200_000)
    with running(app) as server, line_to(server, head(app, f"/?token={token(app)}", len(body))) as line:
        line.sendall(body[:900_000])
        assert until(lambda: held(app) > 500_000)
        line.sendall(body[900_000:])
        assert line.recv(100).startswith(b"HTTP/1.1 303 ")
        assert until(lambda: held(app) == 0)
    assert len(list(each_submission(storage))) == 1


def test_bodies_of_all_connections_share_one_quota_and_what_is_beyond_is_told(app):
    """Of 6 MB one address may have 3; three send 1.5 MB each and stop before their end."""
    with running(app) as server, contextlib.ExitStack() as lines:
        for so_far in (1_400_000, 2_800_000):
            line = lines.enter_context(line_to(server, head(app, f"/?token={token(app)}", 1_500_000)))
            line.sendall(bytes(1_400_000))
            assert until(lambda so_far=so_far: held(app) >= so_far)
        with line_to(server, head(app, f"/?token={token(app)}", 1_500_000)) as third:
            third.sendall(bytes(1_500_000))
            said = answer_of(third)
            assert said.startswith("HTTP/1.1 503 ")
            assert "no room for pictures at the moment" in said
        assert held(app) == 2_800_002  # of the third nothing is left
    assert held(app) == 0


def test_a_chunked_body_has_the_same_limits(app):
    chunk = b"%x\r\n%b\r\n" % (100_000, bytes(100_000))
    with running(app) as server, line_to(server, head(app, f"/?token={token(app)}", None)) as line:
        for _ in range(25):
            line.sendall(chunk)
        line.sendall(b"0\r\n\r\n")
        said = answer_of(line)
        assert said.startswith("HTTP/1.1 413 ")
        assert "send fewer pictures" in said
        assert until(lambda: held(app) == 0)


def test_on_a_nearly_full_disk_pictures_are_refused_by_their_head_and_the_page_says_so(app, monkeypatch):
    monkeypatch.setattr("shutil.disk_usage", lambda _: namedtuple("usage", "free")(1_000_000))
    with running(app) as server, line_to(server, head(app, f"/?token={token(app)}", 1_500_000)) as line:
        line.sendall(bytes(1_500_000))
        said = answer_of(line)
        assert said.startswith("HTTP/1.1 503 ")
        assert "no room for pictures at the moment" in said
        assert "no room for pictures at the moment" in asked(server)
        assert app.extensions["moondesk.bounds"].arriving._since == 0


def test_a_disk_that_is_full_in_the_middle_of_a_body_is_told(app, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("tempfile.TemporaryFile", full)
    with running(app) as server, line_to(server, head(app, f"/?token={token(app)}", 1_500_000)) as line:
        line.sendall(bytes(1_500_000))
        assert answer_of(line).startswith("HTTP/1.1 503 ")
        assert held(app) == 0


# --- connections and time ---------------------------------------------------------------------------------------------


def test_half_open_connections_of_an_address_give_way_to_a_whole_request(app):
    with running(bounded(app, connections=5)) as server, contextlib.ExitStack() as lines:
        for _ in range(20):
            lines.enter_context(line_to(server, b"G"))
        assert asked(server).startswith("HTTP/1.1 200 ")
        assert len(server.active_channels) <= 5


def test_connections_that_are_all_at_work_do_not_give_way_and_a_further_one_is_told(app):
    with running(bounded(app, connections=3)) as server, contextlib.ExitStack() as lines:
        for _ in range(3):
            line = lines.enter_context(line_to(server, head(app, f"/?token={token(app)}", 900_000)))
            line.sendall(bytes(200_000))
        assert until(lambda: held(app) == 600_000 + 3)
        assert asked(server).startswith("HTTP/1.1 429 ")
        assert len(server.active_channels) == 3
    with running(bounded(app, connections=3, proxies=("127.0.0.1",))) as server, contextlib.ExitStack() as lines:
        for _ in range(5):
            lines.enter_context(line_to(server, head(app, f"/?token={token(app)}", 900_000) + b"x"))
        assert asked(server).startswith("HTTP/1.1 200 ")  # a proxy's are not counted


def test_a_head_that_does_not_come_and_a_body_that_hardly_comes_are_ended(app):
    with running(bounded(app, pace=QUICK)) as server:
        with line_to(server) as silent, line_to(server, b"POST / HT") as half:
            for _ in range(8):
                with contextlib.suppress(OSError):
                    half.sendall(b"x")
                time.sleep(0.1)
            assert silent.recv(10) == b""
            with contextlib.suppress(OSError):  # it may be reset
                assert half.recv(10) == b""
        with line_to(server, head(app, f"/?token={token(app)}", 900_000)) as slow:
            said = answer_of(slow)
        assert said.startswith("HTTP/1.1 408 ")
        assert "so slowly" in said


def test_the_headers_of_a_proxy_count_for_the_quota(config):
    config.data_dir.mkdir()
    (config.data_dir / CONFIG_NAME).write_text(
        "[public]\nform_bytes = 2_000_000\narriving_bytes = 8_000_000\nproxies = ['127.0.0.1']\n"
    )
    app = create_public_app(config)
    with running(app) as server, contextlib.ExitStack() as lines:
        for k in range(3):
            line = lines.enter_context(
                line_to(server, head(app, f"/?token={token(app)}", 900_000, f"X-Forwarded-For: 198.51.100.{k}:4711"))
            )
            line.sendall(bytes(200_000))
        assert until(
            lambda: set(app.extensions["moondesk.bounds"].arriving._held) == {f"198.51.100.{k}" for k in range(3)}
        )


# --- the desk ---------------------------------------------------------------------------------------------------------


def test_nobody_sends_pictures_to_the_desk_before_the_log_in(config, monkeypatch):
    app = create_app(config)
    account = make_account(config.data_dir)
    monkeypatch.setattr("moondesk.service.web.arriving.RequestBody._write", lambda *_: 1 / 0)
    with running(app) as server:
        for path, status in (("/add", 401), ("/", 413), ("/login", 413)):
            with line_to(server, head(app, path, 1_500_000)) as line:
                line.sendall(bytes(1_500_000))
                assert answer_of(line).startswith(f"HTTP/1.1 {status} "), path
        client = app.test_client()
        secret = log_in(client, config.data_dir, account, datetime.now(UTC))
        with line_to(server, head(app, "/add", 1_500_000, cookie=(cookie(client), secret))) as line:
            line.sendall(bytes(1_500_000))
            assert answer_of(line).startswith("HTTP/1.1 400 ")  # without the form's token


def test_what_the_page_on_air_asks_for_waits_for_no_thread(config, storage, monkeypatch):
    add_edition(storage, EditionPlan(number=12))
    app, over = create_app(config), threading.Event()
    app.view_functions["coming.page"] = lambda: str(over.wait(20))
    with running(app) as server, contextlib.ExitStack() as lines:
        for _ in range(serving.THREADS + 2):
            lines.enter_context(line_to(server, b"GET /coming HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"))
        assert until(lambda: server.task_dispatcher.active_count == serving.THREADS)
        try:
            with line_to(server, b"GET /air/12/state HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n") as line:
                assert line.recv(200).startswith(b"HTTP/1.1 200 ")
        finally:
            over.set()

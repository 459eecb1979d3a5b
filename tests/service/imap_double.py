"""A mail server for tests: enough of RFC 3501 and RFC 2177 for a reader of one folder, in a thread of this process.

And `Cutter`, a line between client and server that breaks after a given number of bytes, for this server or a real one.
"""

from __future__ import annotations

import base64
import contextlib
import itertools
import re
import select
import socket
import socketserver
import ssl
import threading
from collections.abc import Callable, Iterable

#: No two servers of a run have the same UIDVALIDITY.
_VALIDITIES = itertools.count(1000, 100)


class _Listener:
    """Calls `serve` with each connection, in a thread of its own."""

    def __init__(self, serve: Callable[[socket.socket], None]) -> None:
        class Handler(socketserver.BaseRequestHandler):
            def handle(self) -> None:
                with contextlib.suppress(OSError, ValueError):
                    serve(self.request)

        self._server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads, self._server.block_on_close = True, False
        self.port = self._server.server_address[1]
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._server.shutdown()
        self._thread.join()
        self._server.server_close()


class MailServer:
    """One account (bo, secret) with one folder. Mails are added by `deliver`, at any time."""

    def __init__(self, mails: Iterable[bytes] = (), idle: bool = True, context: ssl.SSLContext | None = None) -> None:
        self.mails: dict[int, bytes] = {}
        self.seen: set[int] = set()
        self.uidvalidity, self.next_uid, self.idle = next(_VALIDITIES), 1, idle
        self.password = "secret"
        self.unfetchable: set[int] = set()
        self.commands: list[str] = []
        #: Called with each command before it is answered.
        self.before = lambda command: None
        self._context = context
        self.changed = threading.Condition()
        for mail in mails:
            self.deliver(mail)
        self._listener = _Listener(self._serve)
        self.port = self._listener.port

    def __enter__(self) -> MailServer:
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.close()

    def deliver(self, mail: bytes) -> int:
        with self.changed:
            uid, self.next_uid = self.next_uid, self.next_uid + 1
            self.mails[uid] = mail
            self.changed.notify_all()
        return uid

    def renumber(self) -> None:
        """As after a restore from a backup: another UIDVALIDITY, other numbers."""
        with self.changed:
            self.uidvalidity += 7
            mails = list(self.mails.values())
            self.mails = dict(enumerate(reversed(mails), 1))
            self.seen, self.next_uid = set(), len(mails) + 1

    def _serve(self, client: socket.socket) -> None:
        if self._context is None:
            _Session(self, client).run()
            return
        with self._context.wrap_socket(client, server_side=True) as wrapped:
            _Session(self, wrapped).run()


class _Session:
    def __init__(self, server: MailServer, client: socket.socket) -> None:
        self.server, self.client, self.file = server, client, client.makefile("rb")

    def say(self, *parts: bytes | str) -> None:
        self.client.sendall(b"".join(p if isinstance(p, bytes) else p.encode() for p in parts) + b"\r\n")

    def run(self) -> None:
        with self.file:
            self._run()

    def _run(self) -> None:
        self.say("* OK ready")
        while line := self.file.readline():
            tag, _, command = line.decode().strip().partition(" ")
            self.server.commands.append(command)
            self.server.before(command)
            name = command.upper().split()[0]
            if name == "UID":
                name = "UID " + command.upper().split()[1]
            handler = getattr(self, "do_" + name.replace(" ", "_").lower(), None)
            if handler is None:
                self.say(tag, " BAD what?")
            elif handler(tag, command):
                return

    def do_capability(self, tag: str, _: str) -> None:
        self.say("* CAPABILITY IMAP4rev1 AUTH=PLAIN", " IDLE" if self.server.idle else "")
        self.say(tag, " OK done")

    def do_authenticate(self, tag: str, _: str) -> None:
        self.say("+ ")
        _, user, password = base64.b64decode(self.file.readline()).decode().split("\0")
        good = (user, password) == ("bo", self.server.password)
        self.say(tag, " OK in" if good else " NO [AUTHENTICATIONFAILED] wrong user or password")

    def do_select(self, tag: str, command: str) -> None:
        if command.split(" ", 1)[1].strip('"') != "INBOX":
            self.say(tag, " NO no such folder")
            return
        self.say(f"* {len(self.server.mails)} EXISTS")
        self.say(f"* OK [UIDVALIDITY {self.server.uidvalidity}] valid")
        self.say(tag, " OK [READ-WRITE] open" if command.upper().startswith("SELECT") else " OK [READ-ONLY] open")

    do_examine = do_select

    def do_uid_search(self, tag: str, _: str) -> None:
        self.say("* SEARCH ", " ".join(map(str, self.server.mails)))
        self.say(tag, " OK done")

    def do_uid_fetch(self, tag: str, command: str) -> None:
        _, _, listed, what = command.split(" ", 3)
        for uid in map(int, listed.split(",")):
            mail = self.server.mails.get(uid)
            if mail is None:
                continue
            if "SIZE" in what.upper():
                self.say(f"* {uid} FETCH (UID {uid} RFC822.SIZE {len(mail)})")
                continue
            if uid in self.server.unfetchable:
                self.say(tag, " NO [SERVERBUG] cannot read it")
                return
            head = "HEADER" in what.upper()
            body = mail.partition(b"\r\n\r\n")[0] + b"\r\n\r\n" if head else mail
            part = "BODY[HEADER]" if head else "BODY[]"
            # the number after the literal, as it may stand, and news about another mail in between
            self.say(f"* {uid} FETCH (FLAGS () {part} {{{len(body)}}}\r\n", body, f" UID {uid})")
            self.say(f"* {uid + 1} FETCH (FLAGS (\\Seen))")
        self.say(tag, " OK done")

    def do_uid_store(self, tag: str, command: str) -> None:
        found = re.match(r"UID STORE (\d+) \+FLAGS\.SILENT \(\\Seen\)", command)
        assert found, command
        self.server.seen.add(int(found.group(1)))
        self.say(tag, " OK done")

    def do_noop(self, tag: str, _: str) -> None:
        self.say(tag, " OK done")

    def do_logout(self, tag: str, _: str) -> bool:
        self.say("* BYE")
        self.say(tag, " OK done")
        return True

    def do_idle(self, tag: str, _: str) -> None:
        self.say("+ waiting")
        count = len(self.server.mails)
        while not select.select([self.client], [], [], 0.02)[0]:
            if len(self.server.mails) != count:
                count = len(self.server.mails)
                self.say(f"* {count} EXISTS")
        assert self.file.readline().strip().upper() == b"DONE"
        self.say(tag, " OK done")


class Cutter:
    """Passes bytes between a client and the server at a port; the line breaks after each of the given counts."""

    def __init__(self, port: int, after: Iterable[int]) -> None:
        self._to, self._after = port, list(after)
        self.cuts = 0
        self._listener = _Listener(self._serve)
        self.port = self._listener.port

    def __enter__(self) -> Cutter:
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.close()

    def _serve(self, client: socket.socket) -> None:
        left = self._after.pop(0) if self._after else None
        with socket.create_connection(("127.0.0.1", self._to)) as server:
            while True:
                for ready in select.select([client, server], [], [])[0]:
                    data = ready.recv(1 << 14)
                    if not data:
                        return
                    if left is not None and ready is server:
                        data, left = data[:left], left - len(data)
                    (server if ready is client else client).sendall(data)
                    if left is not None and left <= 0:
                        self.cuts += 1
                        return

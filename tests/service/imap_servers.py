"""A real mail server for the tests that want one: Debian's dovecot-imapd on loopback, started and stopped by them."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterable
from pathlib import Path

DOVECOT = shutil.which("dovecot", path=os.environ.get("PATH", "") + ":/usr/sbin")
OPENSSL = shutil.which("openssl")


def why_no_dovecot() -> str:
    """Why the real server cannot be tried here; empty where it can."""
    if DOVECOT is None:
        return "dovecot-imapd is not installed"
    if not hasattr(os, "geteuid") or os.geteuid() != 0:
        return "dovecot is started by an administrator only"
    return ""


def certificate(folder: Path) -> tuple[Path, Path]:
    """A certificate for 127.0.0.1 that signs itself, and its key. Needs OpenSSL's own program."""
    cert, key = folder / "cert.pem", folder / "key.pem"
    assert OPENSSL
    subprocess.run(
        [
            OPENSSL,
            "req",
            "-x509",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-days",
            "2",
            "-subj",
            "/CN=a test",
            "-addext",
            "subjectAltName=IP:127.0.0.1",
            "-keyout",
            key,
            "-out",
            cert,
        ],
        check=True,
        capture_output=True,
    )
    return cert, key


class Dovecot:
    """A running server with one account (bo, secret); its mails are files of a Maildir."""

    def __init__(self, mails: Iterable[bytes] = ()) -> None:
        self.root = Path(tempfile.mkdtemp(prefix="moondesk-dovecot-"))  # pytest's own folders are closed to its users
        self.root.chmod(0o755)
        self.port, self.tls_port = _free_port(), _free_port()
        self.box = self.root / "mail" / "bo"
        self._count = 0
        for part in ("cur", "new", "tmp"):
            (self.box / part).mkdir(parents=True)
        for mail in mails:
            self.deliver(mail)
        self.cert, key = certificate(self.root)
        config = self.root / "dovecot.conf"
        config.write_text(f"""
            protocols = imap
            listen = 127.0.0.1
            base_dir = {self.root}/run
            log_path = {self.root}/log
            ssl = yes
            ssl_cert = <{self.cert}
            ssl_key = <{key}
            disable_plaintext_auth = no
            mail_location = maildir:{self.root}/mail/%u
            first_valid_uid = 1
            mail_max_userip_connections = 50
            passdb {{
              driver = static
              args = password=secret
            }}
            userdb {{
              driver = static
              args = uid=mail gid=mail home={self.root}/mail/%u
            }}
            service imap-login {{
              inet_listener imap {{
                port = {self.port}
              }}
              inet_listener imaps {{
                port = {self.tls_port}
                ssl = yes
              }}
            }}
        """)
        self._own()
        assert DOVECOT
        self._process = subprocess.Popen(
            [DOVECOT, "-F", "-c", str(config)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        _wait_for(self.port)

    def __enter__(self) -> Dovecot:
        return self

    def __exit__(self, *_: object) -> None:
        self._process.terminate()
        self._process.wait(20)
        shutil.rmtree(self.root, ignore_errors=True)

    def deliver(self, mail: bytes) -> None:
        """As a delivery agent does: written to tmp, renamed to new."""
        self._count += 1
        name = f"{1_700_000_000 + self._count}.M{self._count}.test"
        (self.box / "tmp" / name).write_bytes(mail)
        self._own()
        (self.box / "tmp" / name).rename(self.box / "new" / name)

    def renumber(self) -> None:
        """The server loses its list of numbers, as after a restore, and makes a new one with another UIDVALIDITY."""
        time.sleep(1.1)  # it is made of the clock's seconds
        for path in self.box.glob("dovecot*"):
            path.unlink()

    @property
    def seen(self) -> int:
        """How many mails are marked as seen, by the flags in their files' names."""
        return sum("S" in path.name.rpartition(":2,")[2] for path in (self.box / "cur").iterdir())

    def _own(self) -> None:
        for path in (self.root / "mail").rglob("*"):
            shutil.chown(path, "mail", "mail")
        shutil.chown(self.root / "mail", "mail", "mail")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_for(port: int) -> None:
    until = time.monotonic() + 20
    while time.monotonic() < until:
        try:
            with socket.create_connection(("127.0.0.1", port), timeout=1) as line:
                if line.recv(4) == b"* OK":
                    return
        except OSError:
            time.sleep(0.05)
    raise AssertionError("the mail server did not start")

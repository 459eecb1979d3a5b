"""The web application: the desk, for this machine only until it has accounts."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable

from flask import Flask, abort, request
from jinja2 import StrictUndefined

from service.config import DEFAULT_PORT, Config
from service.errors import AddressError, BadInputError
from service.evenings import load_calendar
from service.store.storage import Storage
from service.web.bodies import limit_bodies
from service.web.desk import desk
from service.web.drop import FILE_BYTES, FILES, drop
from service.web.headers import secured
from service.web.tokens import load_tokens

LOCAL_NAMES = ("127.0.0.1", "localhost", "[::1]")


def create_app(config: Config) -> Flask:
    """The desk for a data folder; the store is created or brought up to date here. Raises DeskError."""
    app = Flask(__name__)
    app.extensions["moondesk.config"] = config
    app.extensions["moondesk.calendar"] = load_calendar(config)
    app.extensions["moondesk.tokens"] = load_tokens(config.data_dir)
    limit_bodies(app, config.data_dir, FILES, FILE_BYTES)
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    Storage(config.data_dir).close()
    app.register_blueprint(desk)
    app.register_blueprint(drop)
    app.before_request(_only_local_names)
    app.after_request(secured)
    return app


def _only_local_names() -> None:
    """A page elsewhere that gets its own name to point at this machine must not read the desk."""
    host = request.host.rpartition(":")[0] if ":" in request.host.rpartition("]")[2] else request.host
    if host.lower() not in LOCAL_NAMES:
        abort(400)


def loopback_address(host: str) -> str:
    """The address to listen on. Raises AddressError for any that others could reach."""
    name = "127.0.0.1" if host.lower() == "localhost" else host.strip("[]")
    try:
        local = ipaddress.ip_address(name).is_loopback
    except ValueError:
        local = False
    if not local:
        raise AddressError(f"The desk listens to this machine only, not to {host}: it has no accounts yet.",
                           "Leave --host away, or name 127.0.0.1.")
    return name


def free_port(host: str, port: int | None, default: int = DEFAULT_PORT) -> int:
    """The asked port; where none is asked the default one, or any free one if that is taken. BadInputError if none."""
    wanted = default if port is None else port
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    for candidate in (wanted, 0) if port is None else (wanted,):
        with socket.socket(family) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, candidate))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise BadInputError(f"Port {wanted} is taken.", "Choose another with --port; 0 takes a free one.")


def listen(app: Flask, host: str, port: int | None, announce: Callable[[str], None]) -> None:
    """Serve until Ctrl-C. Raises AddressError beyond loopback."""
    from waitress import create_server

    address = loopback_address(host)
    server = create_server(app, host=address, port=free_port(address, port), ident=None, threads=6)
    shown = f"[{address}]" if ":" in address else address
    announce(f"http://{shown}:{server.effective_port}/")
    server.run()

"""The web application: the desk, for this machine only until it has accounts."""

from __future__ import annotations

from collections.abc import Callable

from flask import Flask, abort, request
from jinja2 import StrictUndefined

from service.config import Config
from service.desk import picture  # noqa: F401  its routes are the desk's
from service.desk.drop import FILE_BYTES, FILES, drop
from service.desk.views import desk
from service.evenings import load_calendar
from service.store.storage import Storage
from service.web.bodies import limit_bodies
from service.web.headers import secured
from service.web.listening import free_port, loopback_address
from service.web.tokens import load_tokens

LOCAL_NAMES = ("127.0.0.1", "localhost", "[::1]")


def create_app(config: Config) -> Flask:
    """The desk for a data folder; the store is created or brought up to date here. Raises DeskError."""
    app = Flask("service.web")
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


def listen(app: Flask, host: str, port: int | None, announce: Callable[[str], None]) -> None:
    """Serve until Ctrl-C. Raises AddressError beyond loopback."""
    from waitress import create_server

    address = loopback_address(host)
    server = create_server(app, host=address, port=free_port(address, port), ident=None, threads=6)
    shown = f"[{address}]" if ":" in address else address
    announce(f"http://{shown}:{server.effective_port}/")
    server.run()

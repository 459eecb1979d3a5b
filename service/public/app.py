"""The second web application: the audience's upload page and receipts, on a port of its own. The desk is not in it."""

from __future__ import annotations

import ipaddress
import time
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from flask import Flask, Response
from jinja2 import StrictUndefined

from service.config import Config
from service.errors import AddressError
from service.evenings import load_calendar
from service.public.settings import DEFAULT_PUBLIC_PORT, Public, load_public
from service.public.views import Application, upload
from service.store.storage import Storage
from service.web.bodies import TEXT_BYTES, limit_bodies
from service.web.headers import secured
from service.web.tokens import load_tokens
from service.web.visitors import RateLimit

#: Looks at pages: enough for a household that reloads, too few to try receipt links.
LOOKS_AT_ONCE, LOOK_SECONDS = 120, 0.5


def create_public_app(config: Config, now: Callable[[], datetime] | None = None,
                      clock: Callable[[], float] = time.monotonic) -> Flask:
    """The upload page for a data folder. now, clock: the time of day, and seconds that only grow. Raises DeskError."""
    public = load_public(config.data_dir)
    app = Flask("service.web", static_folder=None)
    limit_bodies(app, config.data_dir, public.pictures, public.form_bytes)
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    Storage(config.data_dir).close()
    app.extensions["moondesk.public"] = Application(
        config, public, load_calendar(config), load_tokens(config.data_dir), now or (lambda: datetime.now(UTC)),
        RateLimit(public.forms_at_once, 3600 / public.forms_per_hour, clock),
        RateLimit(LOOKS_AT_ONCE, LOOK_SECONDS, clock))
    app.register_blueprint(upload)
    app.after_request(secured)
    if public.address.startswith("https:"):
        app.after_request(_only_https)
    return app


def _only_https(response: Response) -> Response:
    """RFC 6797: who came once by https is not talked into coming without it."""
    response.headers["Strict-Transport-Security"] = "max-age=31536000"
    return response


def public_server(app: Flask, host: str, port: int | None) -> Any:
    """A server for the application; `run` serves until Ctrl-C. Raises AddressError, BadInputError.

    A body that is too large is read to its end and answered by the application with 413 and a page. A server that
    answers earlier and hangs up shows a browser that is still sending a broken line, and no page. Only far beyond the
    limit it does that. A slow body holds no thread: the server collects it, on the disk, before it calls one.
    """
    from waitress import create_server

    from service.web.listening import free_port

    try:
        address = str(ipaddress.ip_address("127.0.0.1" if host.lower() == "localhost" else host.strip("[]")))
    except ValueError:
        raise AddressError(f"{host} is no address to listen on.",
                           "Name one of this machine, or 0.0.0.0 for all of them.") from None
    public: Public = app.extensions["moondesk.public"].public
    return create_server(
        app, host=address, port=free_port(address, port, DEFAULT_PUBLIC_PORT), ident=None, threads=6,
        max_request_body_size=3 * public.form_bytes + TEXT_BYTES, channel_timeout=120, connection_limit=200,
        clear_untrusted_proxy_headers=False)  # they are judged by `visitors.client_address`

"""The second web application: the audience's upload page and receipts, on a port of its own. The desk is not in it."""

from __future__ import annotations

import ipaddress
import time
from collections.abc import Callable
from datetime import UTC, datetime

from flask import Flask

from moondesk.service.errors import AddressError
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.settings.config import Config, read_config
from moondesk.service.settings.public import DEFAULT_PUBLIC_PORT
from moondesk.service.store.media import ARRIVING
from moondesk.service.store.storage import Storage
from moondesk.service.web.arriving import Arriving
from moondesk.service.web.bodies import TEXT_BYTES
from moondesk.service.web.current import new_app
from moondesk.service.web.headers import only_https
from moondesk.service.web.listening import free_port
from moondesk.service.web.public import questions, tongue  # noqa: F401  the routes of questions are the page's
from moondesk.service.web.public.rate_limits import TurnedAway, limits_of
from moondesk.service.web.public.receipt_sender import ReceiptSender, post_for_receipts
from moondesk.service.web.public.views import Application, judge, upload
from moondesk.service.web.serving import Bounds, GuardedServer, server_for
from moondesk.service.web.tokens import load_tokens
from moondesk.service.web.visitors import Proxies

#: Of the disk stays free so many times what a form may have: for the programme's own work.
KEEP_FREE = 4


def create_public_app(
    config: Config, now: Callable[[], datetime] | None = None, clock: Callable[[], float] = time.monotonic
) -> Flask:
    """The upload page for a data folder. now, clock: the time of day, and seconds that only grow. Raises DeskError."""
    public = read_config(config.data_dir).public
    app = new_app(config, public.pictures, public.form_bytes, static=None)
    most = public.form_bytes + TEXT_BYTES
    arriving = Arriving(
        folder=config.data_dir / ARRIVING,
        total=max(public.arriving_bytes, most),
        share=max(public.arriving_bytes // 2, most),
        keep_free=KEEP_FREE * public.form_bytes,
    )
    tokens, clock_time = load_tokens(config.data_dir), now or (lambda: datetime.now(UTC))
    post = post_for_receipts(config, public.address)
    app.extensions["moondesk.public"] = Application(
        config=config,
        public=public,
        calendar=load_calendar(config),
        tokens=tokens,
        now=clock_time,
        receipts=ReceiptSender(config, post, tokens, public.address, clock_time) if post else None,
        proxies=Proxies(public.proxies, "[public]"),
        limits=limits_of(public, arriving, clock),
        turned_away=TurnedAway(clock),
    )
    app.extensions["moondesk.bounds"] = Bounds(
        judge=judge, arriving=arriving, most=most, connections=public.connections, proxies=public.proxies
    )
    tongue.install(app)
    app.register_blueprint(upload)
    if public.address.startswith("https:"):
        app.after_request(only_https)
    return app


def public_server(app: Flask, host: str, port: int | None) -> GuardedServer:
    """A server for the application; `run` serves until Ctrl-C. Raises AddressError, BadInputError."""
    try:
        address = str(ipaddress.ip_address("127.0.0.1" if host.lower() == "localhost" else host.strip("[]")))
    except ValueError:
        raise AddressError(
            f"{host} is no address to listen on.", "Name one of this machine, or 0.0.0.0 for all of them."
        ) from None
    return server_for(app, address, free_port(address, port, DEFAULT_PUBLIC_PORT))


def serve_public(app: Flask, server: GuardedServer) -> None:
    """Serve until Ctrl-C. One connection to the store stays open, so that it can be read on a full disk too."""
    here: Application = app.extensions["moondesk.public"]
    with Storage(here.config.data_dir) as storage:
        if here.receipts:
            here.receipts.start()
        try:
            server.run()
        finally:
            if here.receipts:
                here.receipts.stop()
            here.turned_away.keep(lambda: storage, here.now(), at_once=True)

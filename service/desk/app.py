"""The web application: the desk. From where it may be reached stands in `reach`, who may ask what in `roles`."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime

from flask import Flask
from jinja2 import StrictUndefined

from service.api.routes import install as install_api
from service.config import Config
from service.desk import placing  # noqa: F401  its routes are the desk's
from service.desk.airing.onair import air
from service.desk.archive.archive import archive
from service.desk.archive.history import history
from service.desk.entry import door, reach
from service.desk.entry.account import account
from service.desk.entry.login import login
from service.desk.entry.setup import setup
from service.desk.incoming import inbox  # noqa: F401  their routes are the desk's
from service.desk.incoming.drop import FILE_BYTES, FILES, drop
from service.desk.incoming.letters import letters
from service.desk.incoming.reply import reply
from service.desk.office.editions import editions
from service.desk.office.names import feature_names
from service.desk.office.people import people
from service.desk.office.settings import audit, settings
from service.desk.planning.coming import coming_evenings
from service.desk.planning.compare import compare
from service.desk.planning.frames import frames
from service.desk.planning.rundown import rundown
from service.desk.single import notes, pairs, picture  # noqa: F401  their routes are the desk's
from service.desk.views import desk
from service.evenings import load_calendar
from service.store.accounts import any_account
from service.store.storage import Storage
from service.web.bodies import limit_bodies
from service.web.headers import secured, unkept
from service.web.listening import free_port
from service.web.serving import server_for
from service.web.tokens import load_tokens


def create_app(config: Config, now: Callable[[], datetime] | None = None,
               clock: Callable[[], float] = time.monotonic) -> Flask:
    """The desk for a data folder; the store is created or brought up to date here. Raises DeskError.

    now, clock: the time of day, and seconds that only grow.
    """
    app = Flask("service.web")
    app.extensions["moondesk.config"] = config
    load_calendar(config)  # a rule that is none is told now
    limit_bodies(app, config.data_dir, FILES, FILE_BYTES)
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    Storage(config.data_dir).close()
    for part in (desk, drop, rundown, frames, coming_evenings, compare, login, setup, account, people, settings,
                 editions, audit, feature_names, reply, letters, air, archive, history):
        app.register_blueprint(part)
    install_api(app)
    door.install(app, config, load_tokens(config.data_dir), now, clock)
    app.after_request(secured)
    app.after_request(unkept)
    return app


def listen(app: Flask, host: str, port: int | None, announce: Callable[[str], None], may_move: bool = False) -> None:
    """Serve until Ctrl-C. Raises AddressError for an address that others could reach and should not, see `reach`.

    may_move: see `free_port`.
    """
    config: Config = app.extensions["moondesk.config"]
    with Storage(config.data_dir) as storage:
        address = reach.listening_address(host, config, any_account(storage))
        server = server_for(app, address, free_port(address, port, may_move=may_move))
        shown = f"[{address}]" if ":" in address else address
        with suppress(KeyboardInterrupt, SystemExit):  # as the server takes them, also before it has begun
            announce(f"http://{shown}:{server.effective_port}/")
            server.run()  # with one connection to the store open, so that it can be read on a full disk too

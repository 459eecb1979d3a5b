"""The web application: the desk. From where it may be reached stands in `access.network_rules`, who may ask what in `roles`."""

from __future__ import annotations

import time
from collections.abc import Callable
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from flask import Flask

from moondesk.service.settings.config import Config
from moondesk.service.store.accounts import any_account
from moondesk.service.store.storage import Storage
from moondesk.service.web import problems
from moondesk.service.web.access import door, network_rules
from moondesk.service.web.access.account import account
from moondesk.service.web.access.login import login
from moondesk.service.web.access.setup import setup
from moondesk.service.web.api.routes import install as install_api
from moondesk.service.web.current import new_app
from moondesk.service.web.desk import placing_status  # noqa: F401  its routes are the desk's
from moondesk.service.web.desk.admin.editions import editions
from moondesk.service.web.desk.admin.feature_names import feature_names
from moondesk.service.web.desk.admin.people import people
from moondesk.service.web.desk.admin.settings import audit, settings
from moondesk.service.web.desk.after.after import after
from moondesk.service.web.desk.archive.archive import archive
from moondesk.service.web.desk.archive.history import history
from moondesk.service.web.desk.coming.coming import coming_evenings
from moondesk.service.web.desk.comparing.compare import compare
from moondesk.service.web.desk.episode.episode import episode
from moondesk.service.web.desk.episode.prompter import prompter
from moondesk.service.web.desk.inbox import inbox  # noqa: F401  their routes are the desk's
from moondesk.service.web.desk.inbox.drop import FILE_BYTES, FILES, drop
from moondesk.service.web.desk.inbox.letters import letters
from moondesk.service.web.desk.inbox.questions import questions
from moondesk.service.web.desk.inbox.reply import reply
from moondesk.service.web.desk.inbox.review import review
from moondesk.service.web.desk.onair import as_run, control
from moondesk.service.web.desk.onair.frames import frames
from moondesk.service.web.desk.onair.handout import Handout
from moondesk.service.web.desk.onair.onair import air
from moondesk.service.web.desk.onair.tours import tours
from moondesk.service.web.desk.picture import correcting, letter_facts, notes, pairs, picture  # noqa: F401  their routes are the desk's
from moondesk.service.web.desk.rundown.rundown import rundown
from moondesk.service.web.desk.views import desk
from moondesk.service.web.headers import unkept
from moondesk.service.web.listening import free_port
from moondesk.service.web.serving import server_for
from moondesk.service.web.tokens import load_tokens


def create_app(
    config: Config, now: Callable[[], datetime] | None = None, clock: Callable[[], float] = time.monotonic
) -> Flask:
    """The desk for a data folder; the store is created or brought up to date here. Raises DeskError.

    now, clock: the time of day, and seconds that only grow.
    """
    app = new_app(config, FILES, FILE_BYTES)
    problems.install(app)
    for part in (
        desk,
        drop,
        rundown,
        episode,
        prompter,
        frames,
        tours,
        coming_evenings,
        compare,
        login,
        setup,
        account,
        people,
        settings,
        editions,
        audit,
        feature_names,
        reply,
        review,
        letters,
        questions,
        air,
        archive,
        history,
        after,
    ):
        app.register_blueprint(part)
    control.install(app)
    as_run.install(app)
    install_api(app)
    door.install(app, config, load_tokens(config.data_dir), now, clock)
    app.after_request(unkept)
    return app


def handout_of(app: Flask, folder: Path) -> Handout:
    """What writes into a folder what stands on air; to be started and stopped. Raises BadInputError."""
    return Handout(app, folder)


def listen(app: Flask, host: str, port: int | None, announce: Callable[[str], None], may_move: bool = False) -> None:
    """Serve until Ctrl-C. Raises AddressError for an address that others could reach and should not, see `access.network_rules`.

    may_move: see `free_port`.
    """
    config: Config = app.extensions["moondesk.config"]
    with Storage(config.data_dir) as storage:
        address = network_rules.listening_address(host, config, any_account(storage))
        server = server_for(app, address, free_port(address, port, may_move=may_move))
        shown = f"[{address}]" if ":" in address else address
        with suppress(KeyboardInterrupt, SystemExit):  # as the server takes them, also before it has begun
            announce(f"http://{shown}:{server.effective_port}/")
            server.run()  # with one connection to the store open, so that it can be read on a full disk too

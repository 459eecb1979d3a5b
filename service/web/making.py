"""What views make pictures with: the application's warm children, and the studio of this request."""

from __future__ import annotations

from flask import current_app

from moondesk.service.jobs.engine import load_engine
from moondesk.service.jobs.warm_pool import Workshop
from moondesk.service.studio import Studio
from moondesk.service.web.current import config, storage


def workshop() -> Workshop:
    """The application's warm children, made at the first use."""
    extensions = current_app.extensions
    if "moondesk.workshop" not in extensions:
        extensions.setdefault("moondesk.workshop", Workshop(load_engine, config().limits.place_seconds))
    return extensions["moondesk.workshop"]  # type: ignore[no-any-return]


def studio() -> Studio:
    return Studio(storage(), config(), workshop().run)

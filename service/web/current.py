"""What every view of both applications works with: the settings and the store of this request, answers as they are due.

`new_app` makes an application with all of it.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

from flask import Flask, Response, current_app, g, make_response, render_template, request
from jinja2 import StrictUndefined

from moondesk.notes.messages import in_english, say
from moondesk.service.errors import StorageError
from moondesk.service.programme.evenings import Calendar, load_calendar
from moondesk.service.settings.at_desk import with_settings
from moondesk.service.settings.config import Config
from moondesk.service.store.settings import settings
from moondesk.service.store.storage import Storage
from moondesk.service.web.bodies import limit_bodies
from moondesk.service.web.headers import secure
from moondesk.service.web.tokens import TOKEN_FIELD, TOKEN_HEADER


def new_app(config: Config, files: int, file_bytes: int, static: str | None = "static") -> Flask:
    """An application for a data folder, without routes of its own; the store is created or brought up to date here.

    files, file_bytes: what one form may hold. static: the folder that is served whole, if any is. Raises DeskError.
    """
    app = Flask("moondesk.service.web", static_folder=static)
    app.extensions["moondesk.config"] = config
    load_calendar(config)  # a rule that is none is told now
    limit_bodies(app, config.data_dir, files, file_bytes)
    app.jinja_env.undefined = StrictUndefined
    app.jinja_env.globals["t"] = lambda sentence, **values: in_english(say(sentence, **values))
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    Storage(config.data_dir).close()
    app.teardown_request(close_storage)
    app.after_request(secure)
    return app


# --- of this request ------------------------------------------------------------------------------------------------


def config() -> Config:
    """The settings as they stand for this request: what was set at the desk counts at once."""
    of_file: Config = current_app.extensions["moondesk.config"]
    if "config" not in g:
        try:
            g.config = with_settings(of_file, settings(storage()))
        except StorageError:
            return of_file  # for the page that tells it
    return g.config  # type: ignore[no-any-return]


def calendar() -> Calendar:
    if "calendar" not in g:
        g.calendar = load_calendar(config())
    return g.calendar  # type: ignore[no-any-return]


def storage() -> Storage:
    """This request's connection; closed when it ends."""
    if "storage" not in g:
        g.storage = Storage(current_app.extensions["moondesk.config"].data_dir)
    return g.storage  # type: ignore[no-any-return]


def close_storage(_: BaseException | None = None) -> None:
    opened = g.pop("storage", None)
    if opened is not None:
        opened.close()


def is_api() -> bool:
    return request.path == "/api" or request.path.startswith("/api/")


def wants_json() -> bool:
    """Whether a page's script asks, which takes JSON and keeps what was typed."""
    return request.headers.get("Accept", "").split(",")[0].strip() == "application/json"


def given_token(with_body: bool = True) -> str:
    """The form's token as it came: of a script its header, else of the form's address, else of its field.

    with_body: whether the form itself may be read.
    """
    given = request.headers.get(TOKEN_HEADER) or request.args.get(TOKEN_FIELD, "")
    return given or (request.form.get(TOKEN_FIELD, "") if with_body else "")


# --- answers --------------------------------------------------------------------------------------------------------


def render(template: str, page: Any) -> str:
    """A template with its page record: every field is a name in it, nothing else is."""
    return render_template(template, **{f.name: getattr(page, f.name) for f in fields(page)})


def show(template: str, page: Any, status: int = 200) -> Response:
    """A rendered page as an answer with its status."""
    return make_response(render(template, page), status)

"""The settings' page, and the list of what was decided. What is saved counts at once, without a restart."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from flask import Blueprint, redirect, request, send_file, url_for
from werkzeug.wrappers import Response

from moondesk.service.errors import NotStoredError
from moondesk.service.jobs.theme_samples import theme_sample
from moondesk.service.languages import LANGUAGES, own_name
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.programme.words import date_words, time_words
from moondesk.service.settings.at_desk import WORDS, with_settings
from moondesk.service.settings.config import MOST_WEIGHT, Programme
from moondesk.service.settings.themes import read_theme
from moondesk.service.store import audit as audit_list
from moondesk.service.store.editions import count_anew
from moondesk.service.store.settings import keep_settings
from moondesk.service.store.settings import settings as stored_settings
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, config, render, show, storage
from moondesk.service.web.making import studio
from moondesk.service.web.settings_form import (
    PAPERS,
    PLAIN,
    RULES,
    WEIGHT_WORDS,
    current_form,
    fixed_fields,
    read_settings,
    state_of,
    theme_names,
    zone_names,
)

settings = Blueprint("settings", __name__)
audit = Blueprint("audit", __name__)

LINES = 100


@dataclass(frozen=True, kw_only=True)
class SettingsPage:
    """typed: the text of each field; fixed: those that moondesk.toml decides; tonight: by the day rule as saved."""

    programme: Programme
    token: str
    state: str
    typed: Mapping[str, str]
    fixed: frozenset[str]
    complaints: Mapping[str, str]
    notice: str
    done: str
    tonight: str
    zones: tuple[str, ...]
    plain: tuple[tuple[str, str], ...]
    themes: tuple[tuple[str, str], ...]
    papers: tuple[tuple[str, str], ...] = tuple(PAPERS.items())
    most_weight: float = MOST_WEIGHT
    rules: tuple[tuple[str, str], ...] = RULES
    weights: tuple[tuple[str, str], ...] = tuple(WEIGHT_WORDS.items())
    languages: tuple[tuple[str, str], ...] = tuple((code, own_name(code)) for code in LANGUAGES)


@dataclass(frozen=True)
class AuditPage:
    """lines: (time in the programme's zone with UTC, who, what), the newest first."""

    programme: Programme
    lines: tuple[tuple[str, str, str], ...]
    page: int
    pages: int


@settings.get("/settings")
def form() -> Response:
    return _settings_page(200, current_form(config()), {}, done="Saved." if request.args.get("saved") else "")


@settings.post("/settings")
def save() -> Response:
    reading = read_settings(request.form, config())
    if reading.complaints:
        return _settings_page(422, reading.typed, reading.complaints, "Nothing was saved yet: see below what is wrong.")
    if request.form.get("state", "") != state_of(config()):
        return _settings_page(
            409,
            reading.typed,
            {},
            "Somebody else changed the settings meanwhile. Below is what you typed: "
            "save again to put it in place of theirs, or open the page anew.",
        )
    changed = keep_settings(storage(), reading.values, sessions.now(), sessions.actor().name)
    if any(key.startswith(("days.", "programme.zone")) for key in changed):
        count_anew(storage(), load_calendar(with_settings(config(), stored_settings(storage()))).day_of_plan)
    return redirect(url_for("settings.form", saved="yes"), 303)


@settings.get("/settings/theme.jpg")
def theme() -> Response:
    """A sample of a look, by its name."""
    name = request.args.get("name", "")
    if name not in dict(theme_names(config())):
        raise NotStoredError("There is no such look.", "Load the settings again.")
    path = theme_sample(studio().media, studio().run, read_theme(name, config().data_dir))
    return send_file(path, mimetype="image/jpeg", conditional=True, max_age=600)


@audit.get("/audit")
def listed() -> str:
    pages = max(1, -(-audit_list.count(storage()) // LINES))
    asked = request.args.get("page", "1")
    page = min(int(asked) if asked.isascii() and asked.isdigit() and len(asked) < 9 else 1, pages) or 1
    zone = config().programme.zone
    lines = tuple(
        (time_words(line.when_utc, zone), line.who or "moondesk", line.message.words(WORDS))
        for line in audit_list.lines(storage(), LINES, (page - 1) * LINES)
    )
    return render("audit.html", AuditPage(config().programme, lines, page, pages))


def _settings_page(
    status: int, typed: Mapping[str, str], complaints: Mapping[str, str], notice: str = "", done: str = ""
) -> Response:
    evening = calendar().evening(sessions.now())
    tonight = (
        ""
        if evening.day_number is None
        else (f"As saved, the evening of {date_words(evening.date)} is day {evening.day_number}.")
    )
    page = SettingsPage(
        programme=config().programme,
        token=sessions.form_token(),
        state=state_of(config()),
        typed=typed,
        fixed=fixed_fields(config()),
        complaints=complaints,
        notice=notice,
        done=done,
        tonight=tonight,
        zones=zone_names(typed["zone"]),
        themes=theme_names(config()),
        plain=tuple((name, row.words) for name, row in PLAIN.items()),
    )
    return show("settings.html", page, status)

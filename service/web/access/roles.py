"""Who may ask what: one table of all routes with the least role that each wants. Pure.

A new route gets its line here, by its endpoint (`blueprint.function`); a view that both shows and changes something is
two functions, so that each has its own line. A route without a line answers nobody (403), and a test that walks all
routes names it. "everyone": before the log-in too, so it must show nothing of the store.

A helper works on the pictures: sees, takes in, corrects, compares, picks and orders them. A presenter also decides who
may in, how the programme counts and weighs, and which edition is next.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from moondesk.service.store.accounts import Role

Least = Literal["everyone", "helper", "presenter"]

#: What each role is called where one is given.
ROLES: tuple[tuple[Role, str], ...] = (
    ("helper", "Helper: works on the pictures"),
    ("presenter", "Presenter: decides about people, settings and editions too"),
)

ROUTES: Mapping[str, Least] = MappingProxyType(
    {
        "static": "everyone",
        "desk.font": "everyone",
        "login.form": "everyone",
        "login.enter": "everyone",
        "setup.form": "everyone",  # both only while there are no accounts
        "setup.make": "everyone",
        "login.leave": "helper",
        "desk.index": "helper",
        "desk.progress": "helper",
        "desk.of_pictures": "helper",
        "reply.form": "helper",
        "reply.save": "helper",
        "reply.change": "helper",
        "reply.eml": "helper",
        "reply.listed": "helper",
        "reply.send_all": "helper",
        "review.page": "helper",
        "review.approve_seen": "helper",
        "review.save_one": "helper",
        "questions.ask": "helper",
        "questions.into_reply": "helper",
        "questions.revoke": "helper",
        "letters.listed": "helper",
        "letters.page": "helper",
        "letters.read": "helper",
        "letters.ask_erase": "helper",
        "letters.erase": "helper",
        "desk.say_of_pair": "helper",
        "desk.picture": "helper",
        "desk.decide": "helper",
        "desk.keep_story": "helper",
        "desk.derived": "helper",
        "desk.card": "helper",
        "desk.features": "helper",
        "desk.surface": "helper",
        "desk.view": "helper",
        "desk.names": "helper",
        "desk.notes": "helper",
        "desk.correct": "helper",
        "desk.undo": "helper",
        "coming.page": "helper",
        "coming.moon": "helper",
        "compare.page": "helper",
        "compare.frame": "helper",
        "rundown.following": "helper",
        "rundown.shown": "helper",
        "rundown.mark": "helper",
        "rundown.add": "helper",
        "rundown.edit": "helper",
        "rundown.move": "helper",
        "rundown.take_out": "helper",
        "rundown.put_back": "helper",
        "rundown.take_better": "helper",
        "rundown.consent": "helper",
        "rundown.aired": "helper",
        "rundown.set_time": "helper",
        "episode.page": "helper",
        "episode.version": "helper",
        "episode.edit": "helper",
        "episode.add": "helper",
        "episode.move": "helper",
        "episode.take_out": "helper",
        "episode.put_back": "helper",
        "episode.undo": "helper",
        "episode.set_rate": "helper",
        "episode.set_time": "helper",
        "episode.set_order": "helper",
        "episode.keep_order": "helper",
        "episode.take_names": "helper",
        "episode.write": "helper",
        "prompter.page": "helper",
        "prompter.text": "helper",
        "prompter.pace": "helper",
        "air.following": "helper",
        "air.page": "helper",
        "air.plan": "helper",
        "air.layer": "helper",
        "air.state": "helper",
        "air.put_state": "helper",
        "air.presenter": "helper",
        "air.pin": "helper",
        "air.sheet": "helper",
        "air.sheet_file": "helper",
        "air.sheet_frame": "helper",
        "air.make_link": "presenter",
        "air.end_link": "presenter",
        "control.by_log_in": "helper",
        "control.linked_still": "everyone",
        "control.by_secret": "everyone",  # these six want the secret in the address
        "air.linked": "everyone",
        "air.linked_plan": "everyone",
        "air.linked_state": "everyone",
        "air.linked_layer": "everyone",
        "archive.page": "helper",
        "archive.night": "helper",
        "archive.make_night": "helper",
        "archive.night_file": "helper",
        "archive.month": "helper",
        "archive.make_month": "helper",
        "archive.month_file": "helper",
        "history.page": "helper",
        "history.frame": "helper",
        "frames.page": "helper",
        "frames.layers": "helper",
        "frames.file": "helper",
        "frames.choose": "helper",
        "tours.page": "helper",
        "tours.keep": "helper",
        "tours.still": "helper",
        "after.following": "helper",
        "after.page": "helper",
        "after.switch": "helper",
        "after.set_times": "helper",
        "after.confirm_seen": "helper",
        "after.file": "helper",
        "after.everything": "helper",
        "drop.form": "helper",
        "drop.send": "helper",
        "drop.added": "helper",
        "account.mine": "helper",
        "account.password": "helper",
        "account.end_others": "helper",
        "account.add_token": "helper",
        "account.revoke_token": "helper",
        "people.listed": "presenter",
        "people.add": "presenter",
        "people.set_role": "presenter",
        "people.set_open": "presenter",
        "people.set_password": "presenter",
        "settings.form": "presenter",
        "settings.save": "presenter",
        "settings.theme": "presenter",
        "names.form": "helper",
        "names.save": "helper",
        "editions.listed": "helper",
        "editions.add": "presenter",
        "editions.form": "presenter",
        "editions.save": "presenter",
        "editions.choose": "presenter",
        "audit.listed": "presenter",
        "api.openapi": "everyone",
        "api.editions": "helper",
        "api.edition": "helper",
        "api.submissions": "helper",
        "api.submission": "helper",
        "api.letter": "helper",
        "api.read_letter": "helper",
        "api.pictures": "helper",
        "api.picture": "helper",
        "api.features": "helper",
        "api.notes": "helper",
        "api.image": "helper",
        "api.note_consent": "helper",
        "api.rundown": "helper",
        "api.pick": "helper",
        "api.edit": "helper",
        "api.move": "helper",
        "api.take_out": "helper",
        "api.coming": "helper",
        "api.progress": "helper",
    }
)

#: POST routes that look at the form's token themselves, to show the form again with what was typed in it.
OWN_TOKEN = frozenset({"drop.send", "login.enter", "setup.make"})


def least(endpoint: str | None) -> Least | None:
    """The least role of a route; None: it has no line, and answers nobody."""
    return ROUTES.get(endpoint or "")


def may(role: Role | None, wanted: Least) -> bool:
    """Whether somebody of a role (None: a stranger) may ask what wants at least `wanted`."""
    return wanted == "everyone" or role == "presenter" or (role == "helper" and wanted == "helper")

"""What is typed for an account: its name and a new password, twice. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from moondesk.service import passwords
from moondesk.service.texts import clean_text

NAME_CHARACTERS = 60


@dataclass(frozen=True)
class NewAccount:
    """complaints: by field ("name", "password", "again") what is wrong; the rest counts only without any."""

    name: str
    password: str
    complaints: Mapping[str, str]


def read_new_account(form: Mapping[str, str], *names: str) -> NewAccount:
    """names: of the programme and the like, which are no passwords."""
    name = clean_text(form.get("name", "")[:500], 500)
    wrong = dict(password_complaints(form, name, *names))
    if not name:
        wrong["name"] = "Please type a name to log in with."
    elif len(name) > NAME_CHARACTERS:
        wrong["name"] = f"Please keep it to {NAME_CHARACTERS} characters; it has {len(name)}."
    return NewAccount(name, form.get("password", ""), wrong)


def password_complaints(form: Mapping[str, str], *names: str) -> Mapping[str, str]:
    """What is wrong with the fields "password" and "again"."""
    password = form.get("password", "")
    why = passwords.complaint(password, names)
    if why:
        return {"password": why}
    if form.get("again", "") != password:
        return {"again": "The two are not the same. Please type both again."}
    return {}

"""How names are written and spoken: a form of the programme's own language, and how to read the name out."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, redirect, request, url_for
from werkzeug.wrappers import Response

from moondesk.moon.catalogue import all_features
from moondesk.service.languages import own_name
from moondesk.service.languages.catalogue import Language, LocalName
from moondesk.service.settings.config import Programme
from moondesk.service.store.feature_names import keep_names, names
from moondesk.service.store.rundowns import features_on_air
from moondesk.service.texts import clean_text
from moondesk.service.web.access import sessions
from moondesk.service.web.current import config, show, storage
from moondesk.speech.names import how_said

feature_names = Blueprint("names", __name__)

CHARACTERS = 80
#: Rows of names that the rundowns' pictures show and nobody has said anything of yet.
SUGGESTED = 12


@dataclass(frozen=True, kw_only=True)
class NameRow:
    """A feature's name. usual: the catalogue's own local form, said: how it is read out by the rules, ipa: the same in
    the phonetic alphabet; "" where there is none."""

    iau: str
    kind: str
    local: str
    spoken: str
    usual: str
    said: str
    ipa: str


@dataclass(frozen=True, kw_only=True)
class NamesPage:
    """saved: names with a form of their own; open_rows: of the pictures picked last, without one."""

    programme: Programme
    token: str
    language: str
    saved: tuple[NameRow, ...]
    open_rows: tuple[NameRow, ...]
    every: tuple[str, ...]
    notice: str
    done: str


@feature_names.get("/names")
def form() -> Response:
    return _names_page(200, done="Saved." if request.args.get("saved") else "")


@feature_names.post("/names")
def save() -> Response:
    known = {f.name for f in all_features()}
    forms = {}
    fields = zip(
        request.form.getlist("feature"), request.form.getlist("local"), request.form.getlist("spoken"), strict=False
    )
    for typed, local, spoken in fields:
        iau = clean_text(typed, 200)
        if not iau:
            continue
        if iau not in known:
            return _names_page(
                422,
                notice=f"There is no feature called “{iau}” in the catalogue; nothing was saved. "
                "Write it as the IAU does, like Mare Imbrium.",
            )
        forms[iau] = LocalName(clean_text(local, 500), clean_text(spoken, 500))
        if max(len(forms[iau].local), len(forms[iau].spoken)) > CHARACTERS:
            return _names_page(
                422, notice=f"Please keep the forms of {iau} to {CHARACTERS} characters; nothing was saved."
            )
    keep_names(storage(), config().programme.language, forms, sessions.now(), sessions.actor().name)
    return redirect(url_for("names.form", saved="yes"), 303)


def _names_page(status: int, notice: str = "", done: str = "") -> Response:
    programme = config().programme
    code = programme.language
    saved = names(storage(), code)
    kinds = {f.name: f.kind for f in all_features() if f.parent is None}
    plain = Language(code)

    def row(iau: str) -> NameRow:
        form = saved.get(iau, LocalName())
        said = how_said(iau, code)
        return NameRow(
            iau=iau,
            kind=kinds.get(iau, "feature"),
            local=form.local,
            spoken=form.spoken,
            usual=plain.local_name(iau),
            said=plain.said(iau),
            ipa=said.ipa if said else "",
        )

    picked = [name for name in features_on_air(storage(), SUGGESTED + len(saved)) if name not in saved][:SUGGESTED]
    page = NamesPage(
        programme=programme,
        token=sessions.form_token(),
        language=own_name(code),
        saved=tuple(map(row, sorted(saved))),
        open_rows=tuple(map(row, picked)),
        every=tuple(kinds),
        notice=notice,
        done=done,
    )
    return show("names.html", page, status)

"""The rundown's routes: what stands in it, and each change by a form of its own, with or without the page's script.

Every form says from which version of the rundown it was made. What another changed meanwhile is kept: then the page
comes back with status 409, with both of what was wanted and all that was typed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, replace
from datetime import datetime

from flask import Blueprint, jsonify, make_response, redirect, request, url_for
from werkzeug.wrappers import Response

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.programme.credit import credit_of, sender_of
from moondesk.service.programme.editions import next_to_air
from moondesk.service.programme.permission import reasons_not_to_air
from moondesk.service.programme.rundown import air_time, form_from, read_consent, read_item, time_of
from moondesk.service.store import rundowns
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.pictures import list_by_id, read_picture
from moondesk.service.store.records import Edition, ListedPicture
from moondesk.service.store.rundown_items import RundownChangedError, RundownItem
from moondesk.service.store.submissions import add_consent
from moondesk.service.studio.frames import keep_as_aired
from moondesk.service.web.access.sessions import actor, form_token, now
from moondesk.service.web.current import calendar, config, render, storage, wants_json
from moondesk.service.web.desk.rundown.rundown_page import (
    FORM_FIELDS,
    HISTORY,
    Answer,
    ItemTrouble,
    RundownPage,
    Stored,
    pick_words,
    rundown_page,
    value_words,
)
from moondesk.service.web.making import studio

rundown = Blueprint("rundown", __name__)

NUMBER = "<int(max=9007199254740991):number>"
ITEM = f"/rundown/{NUMBER}/items/<int(max=9007199254740991):item_id>"
#: What was done, as the address of the page after it says; {} is the sender's name.
DONE = {
    "added": "{} stands in the rundown.",
    "already": "{} stood in the rundown already.",
    "back": "{} is back in the rundown, at its end, with what was typed before.",
    "saved": "Saved: {}.",
    "moved": "Moved: {}.",
    "out": "{} was taken out. It can be put back below.",
    "returned": "{} is back in its place.",
    "better": "{}: the better version stands here now.",
    "noted": "Noted: {}.",
    "time": "The time was set.",
    "aired": "Noted. The senders' receipts say that it was on air.",
    "not_aired": "Noted: not on air.",
}


@rundown.get("/rundown")
def following() -> Response:
    """The rundown of the edition that is next on air."""
    edition = next_to_air(list_editions(storage()), config().next_edition, now())
    if edition is None:
        raise NotStoredError("There is no edition yet.", "Add one, or take in a first picture: it opens one.")
    return redirect(url_for("rundown.shown", number=edition.plan.number), 303)


@rundown.get(f"/rundown/{NUMBER}")
def shown(number: int) -> str:
    done = DONE.get(request.args.get("did", ""), "")
    return render(
        "rundown.html", page_of(read_edition(storage(), number), Answer(notice=done), request.args.get("item", ""))
    )


@rundown.get(f"/rundown/{NUMBER}/mark")
def mark(number: int) -> Response:
    """For the page's script: whether the page is still as it was."""
    return jsonify(mark=rundowns.mark(storage(), read_edition(storage(), number).id))


@rundown.post(f"/rundown/{NUMBER}/add")
def add(number: int) -> Response:
    """Pick a picture, from anywhere at the desk; as JSON for a script."""
    edition = read_edition(storage(), number)
    try:
        added = rundowns.add(storage(), edition.id, whole("picture_id"), actor().name, now())
    except (BadInputError, NotStoredError) as error:
        if not wants_json():
            raise
        return make_response(jsonify(notice=f"{error} {error.advice}"), error.http_status)
    if not wants_json():
        return back_to(number, added.how, added.item_id)
    item = rundowns.rundown(storage(), edition.id).item(added.item_id)
    listed = pictures_of([item]) if item else {}
    if item is None or added.picture_id not in listed:
        return make_response(jsonify(notice="Its sender has just taken it back."), 404)
    told = pick_words(added, item, listed[added.picture_id], config().entry_terms)
    address = url_for("rundown.shown", number=number, _anchor=f"item-{added.item_id}")
    answer = jsonify(
        asdict(told)
        | {
            "how": added.how,
            "item": added.item_id,
            "picture": added.picture_id,
            "place": added.place,
            "version": added.version,
            "address": address,
        }
    )
    return make_response(answer, 200 if added.how == "already" else 201)


@rundown.post(f"{ITEM}/edit")
def edit(number: int, item_id: int) -> Response:
    edition = read_edition(storage(), number)
    found = rundowns.rundown(storage(), edition.id).item(item_id)
    if found is None:
        return again(edition, 404, "This picture is not in the rundown any more.")
    arrival = read_picture(storage(), found.picture_id).submission.arrival
    reading = read_item(request.form, arrival)
    if reading.complaints:
        return again(
            edition,
            422,
            "Nothing was saved: look at the marked field.",
            ItemTrouble(item_id=item_id, typed=reading.typed, complaints=reading.complaints),
        )
    try:
        rundowns.edit(storage(), edition.id, item_id, reading.values, whole("version"), actor().name, now())
    except RundownChangedError as error:
        typed = form_from(error.merged, credit_of(arrival).name)
        theirs = {
            FORM_FIELDS[c.field]: f"{c.who} put {value_words(c.field, c.theirs)} here; you wanted "
            f"{value_words(c.field, c.mine)}."
            for c in error.clashes
        }
        return again(
            edition,
            409,
            f"{error} {error.advice}",
            ItemTrouble(item_id=item_id, typed=typed, complaints={}, theirs=theirs),
        )
    return back_to(number, "saved", item_id)


@rundown.post(f"{ITEM}/move")
def move(number: int, item_id: int) -> Response:
    return change(
        number,
        item_id,
        "moved",
        lambda edition, who, when: rundowns.move(
            storage(), edition.id, item_id, whole("after"), whole("version"), who, when
        ),
    )


@rundown.post(f"{ITEM}/out")
def take_out(number: int, item_id: int) -> Response:
    return change(
        number,
        item_id,
        "out",
        lambda edition, who, when: rundowns.take_out(storage(), edition.id, item_id, whole("version"), who, when),
    )


@rundown.post(f"{ITEM}/back")
def put_back(number: int, item_id: int) -> Response:
    return change(
        number,
        item_id,
        "returned",
        lambda edition, who, when: rundowns.put_back(storage(), edition.id, item_id, who, when),
    )


@rundown.post(f"{ITEM}/better")
def take_better(number: int, item_id: int) -> Response:
    return change(
        number,
        item_id,
        "better",
        lambda edition, who, when: rundowns.take_better(storage(), edition.id, item_id, who, when),
    )


@rundown.post(f"{ITEM}/consent")
def consent(number: int, item_id: int) -> Response:
    """Note what the sender said, or that the question went out."""
    edition = read_edition(storage(), number)
    found = rundowns.rundown(storage(), edition.id).item(item_id)
    if found is None:
        return again(edition, 404, "This picture is not in the rundown any more.")
    picture = read_picture(storage(), found.picture_id)
    reading = read_consent(request.form, picture.id, actor().name)
    if reading.record is None:
        return again(
            edition, 422, "Nothing was noted: look at the consent below.", ItemTrouble(item_id=item_id, consent=reading)
        )
    add_consent(storage(), picture.submission.id, reading.record, now())
    return back_to(number, "noted", item_id)


@rundown.post(f"/rundown/{NUMBER}/aired")
def aired(number: int) -> Response:
    """Note that items were on air, or (with `not`) that they were not."""
    edition = read_edition(storage(), number)
    found = rundowns.rundown(storage(), edition.id)
    named = {int(k) for k in request.form.getlist("item") if k.isascii() and k.isdigit() and len(k) < 17}
    items = [i for i in found.items if i.id in named]
    if not items:
        return again(edition, 404, "None of these pictures is in the rundown any more.")
    if request.form.get("not"):
        rundowns.note_aired(storage(), edition.id, [i.id for i in items], None, actor().name, now())
        return back_to(number, "not_aired", items[0].id)
    when = air_time(edition, now())
    if when is None:
        return again(
            edition,
            409,
            "This edition is not on air yet; nothing was noted. If its time is another, correct the edition.",
        )
    pictures = pictures_of(items)
    for item in items:
        stops = reasons_not_to_air(pictures[item.picture_id], config().entry_terms)
        if stops:
            return again(
                edition,
                409,
                f"{name_of(pictures[item.picture_id])} was not noted as on air, nor anything else. {' '.join(stops)}",
            )
    kept = keep_as_aired(studio(), items, pictures)
    rundowns.note_aired(storage(), edition.id, [i.id for i in items], when, actor().name, now(), kept)
    return back_to(number, "aired", items[0].id)


@rundown.post(f"/rundown/{NUMBER}/time")
def set_time(number: int) -> Response:
    typed = request.form.get("time", "")
    edition = read_edition(storage(), number)
    try:
        seconds = time_of(typed)
    except ValueError as error:
        return again(edition, 422, f"The time was not set: {error}", time_typed=typed)
    try:
        rundowns.set_time(storage(), edition.id, seconds, whole("version"), actor().name, now())
    except RundownChangedError as error:
        return again(edition, 409, f"{error} {error.advice}", time_typed=typed)
    return back_to(number, "time", None)


# --- what the routes share --------------------------------------------------------------------------------------------


def change(number: int, item_id: int, done: str, call: Callable[[Edition, str, datetime], bool]) -> Response:
    """Make one change of an item, then show the page; or say why not."""
    edition = read_edition(storage(), number)
    try:
        call(edition, actor().name, now())
    except RundownChangedError as error:
        return again(edition, error.http_status, f"{error} {error.advice}")
    except NotStoredError as error:
        return again(edition, 404, str(error))
    return back_to(number, done, item_id)


def back_to(number: int, done: str, item_id: int | None) -> Response:
    return redirect(
        url_for(
            "rundown.shown",
            number=number,
            did=done,
            item=item_id,
            _anchor=f"item-{item_id}" if item_id is not None else None,
        ),
        303,
    )


def again(
    edition: Edition, status: int, notice: str, trouble: ItemTrouble | None = None, time_typed: str | None = None
) -> Response:
    """The page with what went wrong, and with what was typed."""
    page = page_of(edition, Answer(notice=notice, trouble=trouble, time_typed=time_typed, alarm=True))
    return make_response(render("rundown.html", page), status)


def page_of(edition: Edition, answer: Answer, item_id: str | None = None) -> RundownPage:
    """The page as it is now. item_id: whose name goes into the notice."""
    seen = rundowns.mark(storage(), edition.id)  # first: what comes between is noticed at the next look
    found = rundowns.rundown(storage(), edition.id)
    pictures = pictures_of((*found.items, *found.out))
    # A sender may have taken a picture back in between.
    found = replace(
        found,
        items=tuple(i for i in found.items if i.picture_id in pictures),
        out=tuple(i for i in found.out if i.picture_id in pictures),
    )
    notice = answer.notice
    if item_id is not None:
        named = next((i for i in (*found.items, *found.out) if str(i.id) == item_id), None)
        notice = notice.format(name_of(pictures[named.picture_id])) if named else notice if "{" not in notice else ""
    changes = rundowns.history(storage(), edition.id, HISTORY)
    ids = rundowns.just_in(storage(), edition.id)
    fresh = sorted(list_by_id(storage(), ids), key=lambda p: ids.index(p.picture.id))
    stored = Stored(edition=edition, rundown=found, pictures=pictures, changes=changes, fresh=fresh, mark=seen)
    return rundown_page(stored, replace(answer, notice=notice), config(), calendar(), form_token())


def pictures_of(items: tuple[RundownItem, ...] | list[RundownItem]) -> dict[int, ListedPicture]:
    return {p.picture.id: p for p in list_by_id(storage(), [i.picture_id for i in items])}


def name_of(listed: ListedPicture) -> str:
    return sender_of(listed.picture.submission.arrival)


def whole(name: str) -> int:
    """A whole number of the form. Raises BadInputError."""
    text = request.form.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) < 17):
        raise BadInputError(f"The form has no {name.replace('_', ' ')}; nothing was changed.", "Load the page again.")
    return int(text)

"""The episode's routes: what is said of an edition, item by item, each change by a form of its own.

The page's script saves a text as it is typed and shows it checked; without it the forms do. Every form says from which
version it was made; what another changed meanwhile is kept, and both are told (409).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from flask import Blueprint, jsonify, make_response, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from moondesk.script.orders import orders
from moondesk.script.records import OrderTemplate
from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.programme.credit import sender_of
from moondesk.service.programme.editions import edition_view
from moondesk.service.programme.rundown import seconds_of, time_of
from moondesk.service.programme.spoken_text import LEAST_RATE, MOST_RATE
from moondesk.service.store import episodes, rundowns
from moondesk.service.store.editions import read_edition
from moondesk.service.store.episode_items import (
    MOST_TEXT,
    MOST_TITLE,
    EpisodeChangedError,
    EpisodeItem,
    ItemDraft,
    own_sentences,
)
from moondesk.service.store.records import Edition
from moondesk.service.studio.episode_texts import EpisodeDesk
from moondesk.service.studio.episode_writing import USUAL_S, compose_drafts, own_titles
from moondesk.service.web.access.sessions import actor, form_token, now
from moondesk.service.web.current import calendar, config, render, storage, wants_json
from moondesk.service.web.desk.episode.episode_page import (
    KINDS,
    EpisodePage,
    ItemView,
    item_view,
    last_words,
    orders_of,
    title_of,
    total_of,
    usual_order,
)
from moondesk.service.web.desk.onair.onair import recent_plan
from moondesk.service.web.making import studio

episode = Blueprint("episode", __name__)

NUMBER = "<int(max=9007199254740991):number>"
PAGE = f"/rundown/{NUMBER}/episode"
ITEM = f"{PAGE}/items/<int(max=9007199254740991):item_id>"
#: How old a plan may be while somebody types, seconds.
PLAN_S = 60.0
#: Length of the name of a running order.
ORDER_CHARACTERS = 60
#: What was done, as the address of the page after it says.
DONE = {
    "saved": "Saved.",
    "added": "The item was added.",
    "moved": "The item was moved.",
    "out": "The item was taken out. It can be put back below.",
    "back": "The item is back.",
    "undone": "Taken back.",
    "rate": "The rate was set.",
    "time": "The time was set.",
    "order": "The running order was set.",
    "kept": "This order was kept as your own.",
    "frames": "The frames have the script's names. They are made anew when the page on air is opened.",
    "written": "The text was written.",
    "none": "Nothing was changed.",
}


@episode.get(PAGE)
def page(number: int) -> str:
    return render("episode.html", page_of(read_edition(storage(), number), DONE.get(request.args.get("did", ""), "")))


@episode.get(f"{PAGE}/version")
def version(number: int) -> Response:
    """For the page's script: whether the page is still as it was."""
    edition = read_edition(storage(), number)
    return jsonify(mark=_mark(edition, episodes.episode(storage(), edition.id).version))


@episode.post(f"{ITEM}/edit")
def edit(number: int, item_id: int) -> Response:
    """Keep what was typed into an item; as JSON with the text checked."""
    edition = read_edition(storage(), number)
    try:
        values = _typed()
    except ValueError as error:
        return _again(edition, 422, f"Nothing was saved: {error}")
    try:
        episodes.change_item(storage(), edition.id, item_id, values, _whole("version"), actor().name, now())
    except EpisodeChangedError as error:
        return _again(edition, 409, f"{error} {error.advice}", theirs=error.theirs)
    if not wants_json():
        return _back(number, "saved", item_id)
    return jsonify(_told(edition, item_id))


@episode.post(f"{PAGE}/add")
def add(number: int) -> Response:
    edition = read_edition(storage(), number)
    kind = request.form.get("kind")
    if kind is None or kind not in KINDS:
        raise BadInputError("There is no such item.", "Load the page again.")
    title = _title() or KINDS[kind]
    standing = episodes.episode(storage(), edition.id).items
    after = standing[-1].id if standing else 0
    item_id = episodes.add_item(storage(), edition.id, ItemDraft(kind=kind, title=title), after, actor().name, now())
    return _back(number, "added", item_id)


@episode.post(f"{ITEM}/move")
def move(number: int, item_id: int) -> Response:
    def change(edition: Edition) -> bool:
        return episodes.move_item(
            storage(), edition.id, item_id, _whole("after"), _whole("version"), actor().name, now()
        )

    return _change(number, "moved", change, item_id)


@episode.post(f"{ITEM}/out")
def take_out(number: int, item_id: int) -> Response:
    def change(edition: Edition) -> bool:
        return episodes.set_out(storage(), edition.id, item_id, True, _whole("version"), actor().name, now())

    return _change(number, "out", change)


@episode.post(f"{ITEM}/back")
def put_back(number: int, item_id: int) -> Response:
    def change(edition: Edition) -> bool:
        return episodes.set_out(storage(), edition.id, item_id, False, _whole("version"), actor().name, now())

    return _change(number, "back", change, item_id)


@episode.post(f"{PAGE}/undo")
def undo(number: int) -> Response:
    def change(edition: Edition) -> bool:
        episodes.undo(storage(), edition.id, _whole("last"), actor().name, now())
        return True

    return _change(number, "undone", change)


@episode.post(f"{PAGE}/rate")
def set_rate(number: int) -> Response:
    """How many words a minute are spoken."""
    rate = _whole("rate")
    edition = read_edition(storage(), number)
    if not LEAST_RATE <= rate <= MOST_RATE:
        return _again(edition, 422, f"A rate lies between {LEAST_RATE} and {MOST_RATE} words a minute.")
    episodes.set_rate(storage(), edition.id, rate, actor().name, now())
    return jsonify(rate=rate) if wants_json() else _back(number, "rate")


@episode.post(f"{PAGE}/time")
def set_time(number: int) -> Response:
    """How much time there is; the rundown's own."""
    edition = read_edition(storage(), number)
    try:
        seconds = time_of(request.form.get("time", ""))
    except ValueError as error:
        return _again(edition, 422, f"The time was not set: {error}")
    seen = rundowns.rundown(storage(), edition.id).version
    rundowns.set_time(storage(), edition.id, seconds, seen, actor().name, now())
    return _back(number, "time")


@episode.post(f"{PAGE}/order")
def set_order(number: int) -> Response:
    """Let the items be those of a running order: what there is stays with its text, what has none goes."""
    name = request.form.get("order", "")
    order = next((o for o in (*episodes.running_orders(storage()), *orders()) if o.name == name), None)
    if order is None:
        raise BadInputError("There is no such running order.", "Choose another.")

    def change(edition: Edition) -> bool:
        kept = episodes.episode(storage(), edition.id)
        drafts, used = [], set[int]()
        for kind in order.shares:
            item = next((i for i in (*kept.items, *kept.out) if i.kind == kind and i.id not in used), None)
            used |= {item.id} if item else set()
            drafts.append(
                ItemDraft(kind=kind, title=KINDS[kind])
                if item is None
                else ItemDraft(kind=kind, title=item.title, text=item.text, sources=item.sources, id=item.id)
            )
        episodes.write_items(storage(), edition.id, drafts, _whole("version"), actor().name, now(), template=order.name)
        return True

    return _change(number, "order", change)


@episode.post(f"{PAGE}/keep-order")
def keep_order(number: int) -> Response:
    """Keep the order of the items, with their shares of the time, as the programme's own."""
    edition = read_edition(storage(), number)
    name = " ".join(request.form.get("name", "").split())
    desk = _desk(edition)
    views = [i for i in desk.kept.items if i.kind]
    if not 1 <= len(name) <= ORDER_CHARACTERS or not views:
        return _again(edition, 422, "A running order wants a name and at least one of the usual items.")
    lengths: dict[Any, float] = {}
    for item in views:
        lengths[item.kind] = lengths.get(item.kind, 0.0) + max(total_of([item], desk.rate, None).words, 1)
    whole = sum(lengths.values())
    order = OrderTemplate(name=name, days=(0.0, 29.6), shares={k: v / whole for k, v in lengths.items()})
    episodes.keep_running_order(storage(), order, actor().name, now())
    return _back(number, "kept")


@episode.post(f"{PAGE}/write")
def write(number: int) -> Response:
    """Compose the text of all items, or of one; over words of the presenter's own only where that was said."""
    edition = read_edition(storage(), number)
    desk, item_id = _desk(edition), _whole("item") if request.form.get("item") else None
    over, found = request.form.get("over") == "yes", rundowns.rundown(storage(), edition.id)
    named = desk.kept.item(item_id) if item_id is not None else None
    if named is not None and not over and own_sentences(named.text, named.sources):
        return make_response(render("episode.html", page_of(edition, asks=named.id)), 409)
    drafts, order = compose_drafts(desk, found.seconds or USUAL_S, item_id)
    left = () if over else own_titles(desk, [d.id for d in drafts])
    empty = [title_of(desk.kept.item(d.id) or _unmade(d)) for d in drafts if not d.text.strip()]
    drafts = tuple(d for d in drafts if d.text.strip() or not d.id)
    try:
        episodes.write_items(
            storage(), edition.id, drafts, _whole("version"), actor().name, now(), order, over and item_id is not None
        )
    except EpisodeChangedError as error:
        return _again(edition, 409, f"{error} {error.advice}")
    told = []
    if left:
        told.append(f"Left as they are, for they have words of your own: {', '.join(left)}.")
    if empty:
        told.append(f"Nothing can be said tonight of: {', '.join(empty)}.")
    if not told:
        return _back(number, "written", item_id)
    return make_response(render("episode.html", page_of(edition, " ".join((DONE["written"], *told)))))


@episode.post(f"{PAGE}/frames")
def take_names(number: int) -> Response:
    """Let the frames of the pictures show what the texts point at."""
    edition = read_edition(storage(), number)
    left = _desk(edition).take_names(recent_plan(edition), actor().name, now())
    if not left:
        return _back(number, "frames")
    return make_response(render("episode.html", page_of(edition, f"{DONE['frames']} Not shown: {' '.join(left[:6])}")))


# --- what the routes share --------------------------------------------------------------------------------------------


def page_of(edition: Edition, notice: str = "", alarm: bool = False, asks: int | None = None) -> EpisodePage:
    desk = _desk(edition)
    kept, last = desk.kept, episodes.last_change(storage(), edition.id)
    found = rundowns.rundown(storage(), edition.id)
    asked = kept.item(asks) if asks is not None else None
    listed = desk.listed
    return EpisodePage(
        programme=config().programme,
        edition=edition_view(edition, calendar()),
        version=kept.version,
        mark=_mark(edition, kept.version),
        token=form_token(),
        notice=notice,
        alarm=alarm,
        items=_views(desk),
        out=tuple((item.id, title_of(item)) for item in kept.out),
        total=total_of(kept.items, desk.rate, found.seconds),
        rate=desk.rate,
        orders=orders_of(orders(), episodes.running_orders(storage())),
        order=kept.template or usual_order(desk.evening_utc),
        kinds=tuple(KINDS.items()),
        last=last_words(kept, last),
        last_version=last.version if last else 0,
        asks=(asked.id, title_of(asked)) if asked else None,
        numbers=tuple(
            (n, sender_of(listed[item_id].picture.submission.arrival))
            for n, item_id in sorted(kept.numbers.items())
            if item_id in listed
        ),
        can_write=bool(edition.plan.evenings),
    )


def _views(desk: EpisodeDesk, only: int | None = None) -> tuple[ItemView, ...]:
    kept = desk.kept
    plan = recent_plan(desk.edition, None if only is None else PLAN_S)
    steps, ids = desk.steps(plan, kept.items), [item.id for item in kept.items]
    return tuple(
        item_view(
            item,
            place,
            desk.check(item.id),
            steps[item.id],
            desk.rate,
            studio().language.write,
            (None if place == 1 else ids[place - 3] if place > 2 else 0, ids[place] if place < len(ids) else None),
            desk.withheld(item),
        )
        for place, item in enumerate(kept.items, 1)
        if only in (None, item.id)
    )


def _told(edition: Edition, item_id: int) -> dict[str, Any]:
    """An item for the page's script: its text checked, as the page shows it, and all lengths."""
    desk = _desk(edition)
    (view,) = _views(desk, item_id) or (None,)
    if view is None:
        raise NotStoredError("This item was taken out meanwhile.", "Load the page again.")
    total = total_of(desk.kept.items, desk.rate, rundowns.rundown(storage(), edition.id).seconds)
    return {
        "version": desk.kept.version,
        "mark": _mark(edition, desk.kept.version),
        "checked": render_template("episode_checked.html", item=view),
        "length": f"{view.words} words, {view.length}",
        "total": render_template("episode_total.html", total=total),
    }


def _mark(edition: Edition, version: int) -> str:
    """Another text after whatever changes what the page shows."""
    return f"{version}.{rundowns.mark(storage(), edition.id)}"


def _desk(edition: Edition) -> EpisodeDesk:
    return EpisodeDesk(studio(), edition)


def _unmade(draft: ItemDraft) -> EpisodeItem:
    return EpisodeItem(id=0, position=0, kind=draft.kind, title=draft.title)


def _typed() -> dict[str, Any]:
    """The fields that a form has. Raises ValueError with the sentence."""
    values: dict[str, Any] = {}
    if "text" in request.form:
        text = request.form["text"].replace("\r\n", "\n")
        if len(text) > MOST_TEXT:
            raise ValueError(f"an item has {MOST_TEXT} characters at most.")
        values["text"] = text
    if "title" in request.form:
        values["title"] = _title()
    if "length" in request.form:
        typed = request.form["length"].strip()
        values["seconds"] = seconds_of(typed) if typed else None
    return values


def _title() -> str:
    return " ".join(request.form.get("title", "").split())[:MOST_TITLE]


def _change(number: int, done: str, call: Callable[[Edition], bool], item_id: int | None = None) -> Response:
    edition = read_edition(storage(), number)
    try:
        changed = call(edition)
    except EpisodeChangedError as error:
        return _again(edition, 409, f"{error} {error.advice}")
    except NotStoredError as error:
        return _again(edition, 404, f"{error} {error.advice}")
    return _back(number, done if changed else "none", item_id)


def _back(number: int, done: str, item_id: int | None = None) -> Response:
    anchor = f"item-{item_id}" if item_id is not None else None
    return redirect(url_for("episode.page", number=number, did=done, _anchor=anchor), 303)


def _again(edition: Edition, status: int, notice: str, theirs: str | None = None) -> Response:
    if wants_json():
        told = {"notice": notice, "theirs": theirs, "version": episodes.episode(storage(), edition.id).version}
        return make_response(jsonify(told), status)
    if theirs is not None:
        notice = f"{notice} It reads now: {theirs[:300]}"
    return make_response(render("episode.html", page_of(edition, notice, alarm=True)), status)


def _whole(name: str) -> int:
    text = request.form.get(name, "")
    if not (text.isascii() and text.isdigit() and len(text) < 17):
        raise BadInputError(f"The form has no {name}; nothing was changed.", "Load the page again.")
    return int(text)

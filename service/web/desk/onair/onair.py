"""The page on air and the presenter's window, and what both fetch: the plan with its layers, and what stands on air.

Both run in a browser and go on by themselves when the desk does not answer (air_line.js). A source in streaming
software cannot log in: for it there are addresses with a secret in them, which show and change nothing.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from flask import Blueprint, Flask, Response, abort, current_app, jsonify, redirect, request, send_file, url_for
from werkzeug.wrappers import Response as AnyResponse

from moondesk.service.errors import BadInputError, NotStoredError
from moondesk.service.exports.rundown import KINDS, PAPERS, Kind, PaperForm, SheetItem, rundown_file, sheet_items
from moondesk.service.programme.air_plan import MAKING, AirPlan
from moondesk.service.programme.air_steps import read_stand
from moondesk.service.programme.editions import EditionView, edition_view, next_to_air
from moondesk.service.settings.config import Programme
from moondesk.service.store import air as air_store
from moondesk.service.store.air import AirLink, AirState
from moondesk.service.store.editions import list_editions, read_edition
from moondesk.service.store.records import Edition
from moondesk.service.store.rundowns import rundown
from moondesk.service.studio.frames import layer_png, whole_frame
from moondesk.service.studio.plan import make_plan, senders
from moondesk.service.studio.planned_tours import stopped_items
from moondesk.service.web.access import sessions
from moondesk.service.web.current import calendar, close_storage, config, render, storage
from moondesk.service.web.desk.onair.frame_maker import FrameMaker
from moondesk.service.web.desk.onair.steps import Steps
from moondesk.service.web.making import studio

air = Blueprint("air", __name__)


@air.record_once
def _keep(setup: Any) -> None:
    for name, kept in (("steps", Steps()), ("frame maker", FrameMaker()), ("recent plans", {}), ("pages", Pages())):
        setup.app.extensions.setdefault(f"moondesk.{name}", kept)


NUMBER = "<int(max=9007199254740991):number>"
ITEM = "<int(max=9007199254740991):item_id>"
SECRET = "<string(minlength=20, maxlength=60):secret>"
FORMATS = ("hd", "uhd", "vertical")
#: Parts of the page on air that an address may show alone: the photograph; names and lines; the credit.
SHOWN, SIGNALS = ("all", "picture", "names", "credit"), ("whole", "fill", "key")
#: A state is a few numbers; its text may not be longer.
STATE_CHARACTERS = 800
#: How long all frames of an edition may take, and for how long a plan that was found counts, seconds.
PATIENCE_S, RECENT_S = 600.0, 1.0
#: The name of a page on air, and for how long it counts as open after it has asked, seconds.
PAGE, PAGE_S = re.compile(r"[0-9a-f]{1,8}"), 5.0
#: Addresses of the control socket, see `control`.
SOCKETS = re.compile(r"/(air/[0-9]+|onair/[^/]+)/socket")
LABEL_CHARACTERS = 60
#: Said on paper of a picture whose frame is not there yet.
AGAIN = f"{MAKING} Load this page again before you print it."


@dataclass(frozen=True, kw_only=True)
class AirPage:
    """plan, state, socket: addresses; token: empty where the page may only show; ground: the theme's colour behind the
    pictures, black under a fill or a key; clear: none behind them.
    show: all, or the part of the frame that is shown alone; signal: whole, or fill or key of it."""

    programme: Programme
    edition: int
    plan: str
    state: str
    socket: str
    token: str
    ground: str
    clear: bool
    show: str
    signal: str


@dataclass(frozen=True, kw_only=True)
class PresenterPage:
    """left_out: (sender, why) of what cannot go on air; untranslated: what is said in English for want of a
    translation; links: addresses for sources."""

    programme: Programme
    edition: EditionView
    plan: str
    state: str
    socket: str
    token: str
    zone: str
    left_out: tuple[tuple[str, str], ...]
    untranslated: tuple[str, ...]
    spares: tuple[tuple[int, str], ...]
    spare: int | None
    links: tuple[AirLink, ...]
    air_utc: str


@air.get("/air")
def following() -> AnyResponse:
    """The page of the edition that is next on air."""
    asked: dict[str, Any] = request.args.to_dict()
    return redirect(url_for("air.page", number=next_edition().plan.number, **asked), 303)


@air.get(f"/air/{NUMBER}")
def page(number: int) -> str:
    shape = _shape()
    return render(
        "air.html",
        AirPage(
            programme=config().programme,
            edition=read_edition(storage(), number).plan.number,
            plan=url_for("air.plan", number=number, format=shape),
            state=url_for("air.state", number=number),
            socket=url_for("control.by_log_in", number=number),
            token=sessions.form_token(),
            **_look(),
        ),
    )


@air.get(f"/air/{NUMBER}/plan.json")
def plan(number: int) -> Response:
    found = _plan(read_edition(storage(), number))
    return jsonify(
        found.as_json(
            lambda name: url_for(
                "air.layer",
                number=number,
                item_id=int(name.split("/")[0]),
                name=name.split("/")[1],
                v=name.split("/")[2],
                format=_shape(),
            )
        )
    )


@air.get(f"/air/{NUMBER}/items/{ITEM}/<name>.png")
def layer(number: int, item_id: int, name: str) -> Response:
    return _layer(read_edition(storage(), number), item_id, name)


@air.get(f"/air/{NUMBER}/state")
def state(number: int) -> Response:
    return _state_answer(read_edition(storage(), number))


@air.post(f"/air/{NUMBER}/state")
def put_state(number: int) -> Response:
    edition = read_edition(storage(), number)
    sent = request.get_json(silent=True)
    told = sent.get("state") if isinstance(sent, dict) else None
    at_ms = sent.get("at") if isinstance(sent, dict) else None
    if (
        not isinstance(told, dict)
        or type(at_ms) is not int
        or not 0 <= at_ms < 2**53
        or (len(request.get_data(as_text=True)) > STATE_CHARACTERS)
    ):
        abort(400)
    try:
        steps().put(storage(), edition.id, AirState(at_ms, told), now_ms())
    except ValueError:  # the page's clock is ahead of the desk's: it sets its own by the answer and sends again
        answer = _state_answer(edition)
        answer.status_code = 409
        return answer
    return _state_answer(edition)


@air.get(f"/air/{NUMBER}/presenter")
def presenter(number: int) -> str:
    edition = read_edition(storage(), number)
    found, spares = _plan(edition), senders(storage(), edition)
    zone = config().programme.zone
    return render(
        "presenter.html",
        PresenterPage(
            programme=config().programme,
            edition=edition_view(edition, calendar()),
            plan=url_for("air.plan", number=number),
            state=url_for("air.state", number=number),
            socket=url_for("control.by_log_in", number=number),
            token=sessions.form_token(),
            zone=zone,
            left_out=found.left_out,
            untranslated=found.untranslated,
            spares=spares,
            spare=air_store.spare(storage(), edition.id),
            links=air_store.links(storage()),
            air_utc=edition.plan.air_utc.isoformat() if edition.plan.air_utc else "",
        ),
    )


@dataclass(frozen=True, kw_only=True)
class SheetPage:
    """The rundown to print. pictures: addresses of the frames, by picture, "" where there is none; left_out: (sender,
    why) of what cannot go on air; sizes: of paper, with their words."""

    programme: Programme
    edition: EditionView
    items: tuple[SheetItem, ...]
    pictures: Mapping[int, str]
    left_out: tuple[tuple[str, str], ...]
    size: str
    sizes: tuple[tuple[str, str], ...]
    two: bool


@air.get(f"/air/{NUMBER}/sheet")
def sheet(number: int) -> str:
    """The rundown on paper."""
    edition = read_edition(storage(), number)
    found = make_plan(studio(), edition, "hd")
    items = sheet_items(studio(), edition, found)
    form = _paper_form()
    return render(
        "sheet.html",
        SheetPage(
            programme=config().programme,
            edition=edition_view(edition, calendar()),
            items=items,
            pictures={i.picture_id: _frame_of(number, i) for i in items},
            left_out=(*found.left_out, *((sender, AGAIN) for sender in found.making)),
            size=form.size,
            sizes=tuple(PAPERS.items()),
            two=form.two,
        ),
    )


def _frame_of(number: int, item: SheetItem) -> str:
    """The address of an item's frame as it was chosen."""
    if not item.mark:
        return ""
    return url_for("air.sheet_frame", number=number, item_id=item.item_id, mark=item.mark)


def _paper_form() -> PaperForm:
    """As the address says, else as the settings do."""
    size = request.args.get("paper", "")
    return PaperForm(size if size in PAPERS else config().programme.paper, request.args.get("each") == "2")


@air.get(f"/air/{NUMBER}/sheet/{ITEM}-<string(length=16):mark>.png")
def sheet_frame(number: int, item_id: int, mark: str) -> Response:
    """A frame on the sheet, while its picture may be shown."""
    item = rundown(storage(), read_edition(storage(), number).id).item(item_id)
    path = whole_frame(studio(), item.picture_id, mark) if item else None
    if path is None:
        raise NotStoredError("There is no such frame.", "Load the sheet again.")
    return send_file(path, mimetype="image/png", conditional=True, max_age=0)


@air.get(f"/air/{NUMBER}/rundown.<any(pdf, csv, json):kind>")
def sheet_file(number: int, kind: Kind) -> Response:
    """The rundown for paper, a spreadsheet or a program."""
    data = rundown_file(studio(), read_edition(storage(), number), kind, _paper_form())
    return Response(
        data, mimetype=KINDS[kind], headers={"Content-Disposition": f'attachment; filename="rundown-{number}.{kind}"'}
    )


@air.post(f"/air/{NUMBER}/spare")
def pin(number: int) -> AnyResponse:
    """Pin a picture of the rundown as plan B; 0 takes the pin off."""
    edition = read_edition(storage(), number)
    text = request.form.get("item_id", "")
    item_id = int(text) if text.isascii() and text.isdigit() and len(text) < 17 else 0
    if item_id and item_id not in [k for k, _ in senders(storage(), edition)]:
        raise NotStoredError("This picture is not in the rundown any more.", "Load the page again.")
    air_store.pin(storage(), edition.id, item_id or None)
    return redirect(url_for("air.presenter", number=number), 303)


@air.post("/air/links")
def make_link() -> str:
    label = " ".join(request.form.get("label", "").split())
    if not 1 <= len(label) <= LABEL_CHARACTERS:
        raise BadInputError(
            f"An address wants a name of 1 to {LABEL_CHARACTERS} characters.",
            "Say what it is for, like “studio mixer”.",
        )
    drives = request.form.get("drives") == "yes"
    secret = air_store.make_link(storage(), label, sessions.actor().name, sessions.now(), drives)
    address = url_for("air.linked", secret=secret, ground="none", _external=True)
    socket = url_for("control.by_secret", secret=secret, _external=True).replace("http", "ws", 1)
    return render(
        "air_link.html",
        LinkPage(programme=config().programme, label=label, address=address, socket=socket, drives=drives),
    )


@dataclass(frozen=True, kw_only=True)
class LinkPage:
    """A new address, shown this once."""

    programme: Programme
    label: str
    address: str
    socket: str
    drives: bool


@air.post("/air/links/<int(max=9007199254740991):link_id>/end")
def end_link(link_id: int) -> AnyResponse:
    air_store.revoke_link(storage(), link_id, sessions.actor().name, sessions.now())
    return redirect(url_for("air.presenter", number=next_edition().plan.number), 303)


# --- with a secret in the address: for a source in streaming software ------------------------------------------------


@air.get(f"/onair/{SECRET}")
def linked(secret: str) -> str:
    check_link(secret)
    number = next_edition().plan.number
    return render(
        "air.html",
        AirPage(
            programme=config().programme,
            edition=number,
            plan=url_for("air.linked_plan", secret=secret, format=_shape()),
            state=url_for("air.linked_state", secret=secret),
            socket=url_for("control.by_secret", secret=secret),
            token="",
            **_look(),
        ),
    )


@air.get(f"/onair/{SECRET}/plan.json")
def linked_plan(secret: str) -> Response:
    check_link(secret)
    told = _plan(next_edition()).as_json(
        lambda name: url_for(
            "air.linked_layer",
            secret=secret,
            item_id=int(name.split("/")[0]),
            name=name.split("/")[1],
            v=name.split("/")[2],
            format=_shape(),
        )
    )
    for item in (*told["items"], *filter(None, [told["spare"]])):
        item.update(notes=[], note="", story="", pronunciation="", untranslated=[])  # the presenter's own
    return jsonify({**told, "left_out": [], "making": []})


@air.get(f"/onair/{SECRET}/state")
def linked_state(secret: str) -> Response:
    check_link(secret)
    return _state_answer(next_edition())


@air.get(f"/onair/{SECRET}/items/{ITEM}/<name>.png")
def linked_layer(secret: str, item_id: int, name: str) -> Response:
    check_link(secret)
    return _layer(next_edition(), item_id, name)


def check_link(secret: str) -> None:
    if air_store.find_link(storage(), secret) is None:
        abort(404)


def edition_of(edition_id: int) -> Edition | None:
    return next((e for e in list_editions(storage()) if e.id == edition_id), None)


def next_edition() -> Edition:
    edition = next_to_air(list_editions(storage()), config().next_edition, sessions.now())
    if edition is None:
        raise NotStoredError("There is no edition yet.", "Add one, or take in a first picture: it opens one.")
    return edition


def _look() -> dict[str, Any]:
    """How the address wants the page to look."""
    show, signal = request.args.get("show", "all"), request.args.get("signal", "whole")
    if show not in SHOWN or signal not in SIGNALS:
        raise BadInputError(
            "There is no such part of the page on air.",
            f"show is one of {', '.join(SHOWN)}; signal one of {', '.join(SIGNALS)}.",
        )
    ground = studio().theme.halo if signal == "whole" else "#000000"
    return {"ground": ground, "clear": request.args.get("ground") == "none", "show": show, "signal": signal}


def _shape() -> str:
    asked = request.args.get("format", "hd")
    return asked if asked in FORMATS else "hd"


def _plan(edition: Edition, shape: str = "") -> AirPlan:
    """The plan as far as its frames are there; the others are made meanwhile."""
    shape = shape or _shape()
    found, maker = make_plan(studio(), edition, shape, 0.0), _maker()
    if found.making:
        maker.begin(edition.id, shape, found.making, _in_background(edition, shape))
    return maker.amend(edition.id, shape, found)


def _in_background(edition: Edition, shape: str) -> Callable[[], AirPlan]:
    """All frames of an edition, what stands on air first."""
    app: Flask = current_app._get_current_object()  # type: ignore[attr-defined]
    stands = read_stand(steps().now(storage(), edition.id, now_ms()).state).step

    def make() -> AirPlan:
        with app.app_context(), own_storage():
            return make_plan(studio(), edition, shape, PATIENCE_S, stands.item if stands else None)

    return make


def recent_plan(edition: Edition, seconds: float | None = None) -> AirPlan:
    """The plan as it was found within the last second, or so many: for whoever asks with each message, or each key."""
    plans: dict[int, tuple[float, AirPlan]] = current_app.extensions["moondesk.recent plans"]
    kept = plans.get(edition.id)
    if kept is None or time.monotonic() - kept[0] > (RECENT_S if seconds is None else seconds):
        kept = plans[edition.id] = time.monotonic(), _plan(edition, "hd")
    return kept[1]


@contextmanager
def own_storage() -> Iterator[None]:
    """For a thread of the desk's own, within the application: its connection to the store is closed at the end."""
    try:
        yield
    finally:
        close_storage()


class Pages:
    """Who shows what is on air: pages and folders, each by a name of its own, while they ask."""

    def __init__(self) -> None:
        self._seen: dict[str, float] = {}

    def seen(self, name: str) -> None:
        now = time.monotonic()
        for other in [k for k, when in tuple(self._seen.items()) if now - when > PAGE_S]:
            self._seen.pop(other, None)
        self._seen[name] = now

    def __len__(self) -> int:
        now = time.monotonic()
        return sum(now - when <= PAGE_S for when in tuple(self._seen.values()))


def pages() -> Pages:
    return current_app.extensions["moondesk.pages"]  # type: ignore[no-any-return]


def _maker() -> FrameMaker:
    return current_app.extensions["moondesk.frame maker"]  # type: ignore[no-any-return]


def _state_answer(edition: Edition) -> Response:
    now = now_ms()
    stands = steps().now(storage(), edition.id, now)
    shown_by = pages()
    if PAGE.fullmatch(request.args.get("page", "")):
        shown_by.seen(request.args["page"])
    return jsonify(
        state=stands.state,
        at=stands.at_ms,
        now=now,
        stopped=stopped_items(studio(), edition),
        withdrawn=rundown(storage(), edition.id).withdrawn,  # of what was erased nothing is left to be told
        pages=len(shown_by),
    )


def steps() -> Steps:
    return current_app.extensions["moondesk.steps"]  # type: ignore[no-any-return]


def now_ms() -> int:
    return int(sessions.now().timestamp() * 1000)


def _layer(edition: Edition, item_id: int, name: str) -> Response:
    data = layer_png(studio(), edition, item_id, name, request.args.get("v", ""))
    return Response(data, mimetype="image/png", headers={"Cache-Control": "private, max-age=86400"})

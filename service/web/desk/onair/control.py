"""The control socket: programs step through the rundown and are told of each change, by JSON over WebSocket.

    /air/N/socket              for who is logged in at the desk (without accounts: any program of this machine)
    /onair/SECRET/socket       for whoever has the secret; it follows the edition that is next, and drives only where the
                               address was made to

What is sent is an object with "do", and where wanted an "id" that the answer names again:

    {"do": "state"}                                      tell what stands on air
    {"do": "plan"}                                       tell the rundown: items, their views, layers and spotlights
    {"do": "next"}  back, next item, item before         as the keys do
    {"do": "go", "item": 7, "view": 0, "count": 2}       to an item; view and count are 0 where they are left out
    {"do": "layer", "number": 3, "on": true}             one layer by its number; without "on" the other way round
    {"do": "all"}  bare                                  all layers; picture and credit alone
    {"do": "light", "number": 2}                         one feature in the light, 0 for none; "spotlight": the next one
    {"do": "wipe", "share": 0.5}                         how far the second of two pictures has come in, 0 to 1;
                                                         "wipe on", "wipe back": a tenth
    {"do": "blank", "on": true}  hold, plan B, blink     without "on" the other way round
    {"do": "point", "x": 0.5, "y": 0.25}                 the pointer, shares of the frame; without them it goes

Each is answered by {"is": "done", "id"} or {"is": "refused", "id", "why"}. After each change, and when the line opens:

    {"is": "state", "seq": 12, "edition": 12, "at": ms, "state": {...}, "on_air": {...} or null, "next": {...} or null,
     "making": 0}
    {"is": "point", "x", "y"}     from another line

seq grows by one with each that a line is sent. What may not be shown stands in none of them.
"""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

from flask import Blueprint, Flask, abort, current_app, request
from werkzeug.wrappers import Response

from moondesk.service.errors import DeskError, NotAllowedError
from moondesk.service.programme import air_steps as rules
from moondesk.service.programme.air_plan import AirItem, AirPlan
from moondesk.service.programme.air_steps import DEEDS, OnAir, Stand, Step
from moondesk.service.store import air as air_store
from moondesk.service.store.air import AirState
from moondesk.service.store.editions import read_edition
from moondesk.service.store.records import Edition
from moondesk.service.web.current import storage
from moondesk.service.web.desk.onair import onair
from moondesk.service.web.desk.onair.steps import Steps
from moondesk.service.web.sockets import Line, SocketRoutes
from moondesk.service.web.visitors import RateLimit

control = Blueprint("control", __name__)

#: Messages of a line: in a row, and then one as each of these seconds pass. A pointer sends thirty a second.
AT_ONCE, SECONDS = 90, 1 / 45
ONLY_SHOWS = "This address only shows what is on air; make one that may drive."
MISREAD = 'A message is a JSON object with "do", such as {"do": "next"}.'


@dataclass(eq=False)
class Visit:
    """One line. find: the edition that it is about; drives: whether it may change anything."""

    air: Lines
    find: Callable[[], Edition]
    drives: bool
    limit: RateLimit = field(default_factory=lambda: RateLimit(at_once=AT_ONCE, seconds=SECONDS, clock=time.monotonic))
    line: Line | None = None
    seq: int = 0
    lock: threading.Lock = field(default_factory=threading.Lock)
    edition_id: int = 0

    def begin(self, line: Line) -> None:
        self.line = line
        self.air.add(self)

    def end(self, line: Line) -> None:
        self.air.remove(self)

    def hear(self, line: Line, text: str) -> None:
        if self.limit.wait_seconds(""):
            self._answer("refused", None, why="Too many messages: send at most thirty a second.")
            return
        try:
            sent = json.loads(text)
        except (ValueError, RecursionError):
            sent = None
        if not isinstance(sent, dict) or not isinstance(sent.get("do"), str):
            self._answer("refused", None, why=MISREAD)
            return
        number = sent.get("id") if isinstance(sent.get("id"), (int, str)) else None
        try:
            more = _obey(self, self.find(), sent)
        except DeskError as error:
            self._answer("refused", number, why=f"{error} {error.advice}".strip())
        else:
            if more is not None:
                self._answer("done", number, **more)

    def tell(self, told: dict[str, Any]) -> None:
        """A state, with its number on this line."""
        with self.lock:
            self.seq += 1
            self.send({"is": "state", "seq": self.seq, **told})

    def send(self, told: dict[str, Any]) -> None:
        if self.line is not None:
            self.line.send(json.dumps(told, ensure_ascii=False))

    def _answer(self, kind: str, number: Any, **more: Any) -> None:
        self.send({"is": kind, **({} if number is None else {"id": number}), **more})


class Lines:
    """All lines of one application, told of each change."""

    def __init__(self, app: Flask) -> None:
        self._app = app
        self._visits: set[Visit] = set()
        self._lock, self._telling = threading.Lock(), threading.Lock()

    def add(self, visit: Visit) -> None:
        with self._app.app_context(), onair.own_storage():
            edition = visit.find()
            visit.edition_id = edition.id
            told = tell(edition)
        with self._lock:
            self._visits.add(visit)
        visit.tell(told)

    def remove(self, visit: Visit) -> None:
        with self._lock:
            self._visits.discard(visit)

    def __len__(self) -> int:
        return len(self._visits)

    def changed(self, edition: Edition) -> None:
        """Tell all that are about an edition. Within a request or the application."""
        with self._telling:  # what is told last is what stands
            visits = self._of(edition.id)
            told = tell(edition) if visits else {}
            for visit in visits:
                visit.tell(told)

    def point(self, own: Visit, edition_id: int, told: dict[str, Any]) -> None:
        for visit in self._of(edition_id):
            if visit is not own:
                visit.send(told)

    def _of(self, edition_id: int) -> list[Visit]:
        with self._lock:
            return [visit for visit in self._visits if visit.edition_id == edition_id]


def install(app: Flask) -> None:
    """The routes, and the lines that they open."""
    lines = app.extensions["moondesk.air lines"] = Lines(app)
    app.register_blueprint(control)
    app.extensions["moondesk.sockets"] = SocketRoutes(
        onair.SOCKETS, lambda: _open(lines, request.view_args or {}, request.endpoint or "")
    )
    steps: Steps = app.extensions["moondesk.steps"]

    def changed(edition_id: int) -> None:
        edition = onair.edition_of(edition_id)
        if edition is not None:
            lines.changed(edition)

    steps.heard.append(changed)


@control.get(f"/air/{onair.NUMBER}/socket")
def by_log_in(number: int) -> Response:
    return _wants_upgrade()


@control.get(f"/onair/{onair.SECRET}/socket")
def by_secret(secret: str) -> Response:
    onair.check_link(secret)
    return _wants_upgrade()


def _wants_upgrade() -> Response:
    words = "This address is a WebSocket; annotate/docs/air.md tells what is said over it.\n"
    return Response(words, status=426, headers={"Upgrade": "websocket"}, mimetype="text/plain")


def _open(lines: Lines, asked: dict[str, Any], endpoint: str) -> Visit:
    if endpoint == "control.by_secret":
        link = air_store.find_link(storage(), asked["secret"])
        if link is None:
            abort(404)
        return Visit(lines, onair.next_edition, link.drives)
    origin = request.headers.get("Origin")
    # a page elsewhere can open a WebSocket to here, and the browser adds the cookies; it cannot lie about its origin
    if origin is not None and origin.partition("://")[2] != request.host:
        raise NotAllowedError("A page elsewhere may not drive this desk.", "Open the desk's own page.")
    number: int = asked["number"]
    read_edition(storage(), number)
    return Visit(lines, lambda: read_edition(storage(), number), True)


def tell(edition: Edition) -> dict[str, Any]:
    """What stands on air and what the next key would bring."""
    plan, now_ms = onair.recent_plan(edition), onair.now_ms()
    stands = onair.steps().now(storage(), edition.id, now_ms)
    stand = rules.read_stand(stands.state)
    following = replace(rules.act(plan, stand, "next"), held=None, blank=False)
    return {
        "edition": edition.plan.number,
        "at": stands.at_ms,
        "state": stand.as_json(),
        "on_air": shown(rules.on_air(plan, stand)),
        "next": shown(rules.on_air(plan, following)),
        "making": len(plan.making),
    }


def shown(found: OnAir | None) -> dict[str, Any] | None:
    if found is None:
        return None
    lit = next((layer.title for layer in found.layers if layer.kind == "spotlight"), None)
    other = found.item.all_views[found.view].other
    return {
        "item": found.item.id,
        "place": found.item.place,
        "sender": found.item.sender,
        "credit": found.item.credit,
        "view": found.view,
        "layers": [layer.name for layer in found.layers],
        "titles": [layer.title for layer in found.layers if not layer.base],
        "spotlight": lit,
        "against": other
        and {
            "item": other.item,
            "sender": other.sender,
            "credit": other.credit,
            "share": found.wipe / 100,
            "blink": found.blink,
        },
    }


def credits_of(told: dict[str, Any] | None) -> tuple[str, ...]:
    """Whom that which is on air is by, each as it is to be written."""
    if told is None:
        return ()
    other = told["against"]
    return (told["credit"], *([other["credit"]] if other else []))


def _told_plan(plan: AirPlan) -> dict[str, Any]:
    def item(one: AirItem) -> dict[str, Any]:
        views = [
            {
                "title": view.title,
                "layers": [layer.title for layer in rules.revealed(view)],
                "spotlights": [layer.title for layer in rules.spots(view)],
                "kind": view.kind,
                "against": view.other and view.other.sender,
            }
            for view in one.all_views
        ]
        return {"item": one.id, "place": one.place, "sender": one.sender, "credit": one.credit, "views": views}

    return {
        "edition": plan.edition,
        "items": [item(one) for one in plan.items],
        "spare": plan.spare and plan.spare.id,
        "making": len(plan.making),
    }


def _obey(visit: Visit, edition: Edition, sent: dict[str, Any]) -> dict[str, Any] | None:
    """Do what a message says; what is answered besides, None for no answer. Raises DeskError."""
    lines: Lines = current_app.extensions["moondesk.air lines"]
    visit.edition_id = edition.id
    match sent["do"]:
        case "state":
            visit.tell(tell(edition))
            return {}
        case "plan":
            return {"plan": _told_plan(onair.recent_plan(edition))}
    if not visit.drives:
        raise NotAllowedError(ONLY_SHOWS, "")
    if sent["do"] == "point":
        lines.point(visit, edition.id, _pointer(sent))
        return None
    plan = onair.recent_plan(edition)

    def step(now: AirState) -> AirState:
        stand = rules.read_stand(now.state)
        return AirState(max(onair.now_ms(), now.at_ms + 1), _next_stand(plan, stand, sent).as_json())

    onair.steps().change(storage(), edition.id, step, onair.now_ms())
    return {}


def _next_stand(plan: AirPlan, stand: Stand, sent: dict[str, Any]) -> Stand:
    on = sent.get("on")
    if on is not None and not isinstance(on, bool):
        raise _wrong('"on" is true or false.')
    match sent["do"]:
        case "go":
            items = {item.id for item in plan.items}
            if sent.get("item") not in items:
                raise _wrong(
                    f"There is no item {sent.get('item')!r} that can be shown; the plan lists those there are."
                )
            to = Step(item=sent["item"], view=_whole(sent, "view"), count=_whole(sent, "count"))
            if rules.settle(plan, to) != to:
                raise _wrong("The item has no such view or so many layers; the plan lists them.")
            return rules.go(plan, stand, to)
        case "layer" | "light" as what:
            number, step = _whole(sent, "number"), rules.settle(plan, stand.step)
            if step is None:
                raise _wrong("No picture is ready for air.")
            view = rules.view_at(plan, step)
            most = len(rules.revealed(view) if what == "layer" else rules.spots(view))
            if not (1 if what == "layer" else 0) <= number <= most:
                raise _wrong(f"What stands there has {most} of these.")
            if what == "layer":
                return rules.set_layer(plan, stand, number, on)
            return rules.set_spot(plan, stand, number)
        case "wipe" | "wipe on" | "wipe back" | "blink" as what:
            step = rules.settle(plan, stand.step)
            if step is None or not rules.against(rules.view_at(plan, step)):
                raise _wrong("No two pictures stand in one frame there.")
            if what == "wipe":
                return rules.set_wipe(plan, stand, round(100 * _share(sent, "share")))
            if what == "blink" and on is step.blink:
                return stand
            return rules.act(plan, stand, what)
        case "blank" | "hold" | "plan B" as deed:
            is_on = {"blank": stand.blank, "hold": stand.held is not None, "plan B": stand.plan_b}[deed]
            if deed == "plan B" and plan.spare is None and on is not False:
                raise _wrong("No picture is pinned as plan B.")
            return stand if on is is_on else rules.act(plan, stand, deed)
        case deed if deed in DEEDS:
            return rules.act(plan, stand, deed)
    raise _wrong(f"There is nothing called “{sent['do'][:30]}” to do; annotate/docs/air.md lists what there is.")


def _pointer(sent: dict[str, Any]) -> dict[str, Any]:
    if "x" not in sent and "y" not in sent:
        return {"is": "point"}
    return {"is": "point", **{k: _share(sent, k) for k in ("x", "y")}}


def _share(sent: dict[str, Any], name: str) -> float:
    value = sent.get(name)
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 <= value <= 1:
        raise _wrong(f'"{name}" counts in shares of the frame, 0 to 1.')
    return value


def _whole(sent: dict[str, Any], name: str) -> int:
    value = sent.get(name, 0)
    if type(value) is not int or not 0 <= value < 10_000:
        raise _wrong(f'"{name}" is a whole number.')
    return value


def _wrong(sentence: str) -> NotAllowedError:
    return NotAllowedError(sentence, "")

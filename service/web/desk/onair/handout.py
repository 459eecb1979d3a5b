"""What stands on air, handed on to mixers: as files of fixed names in a folder, and under the addresses with a secret.

    GET /onair/SECRET/still/NAME       current.png, current-fill.png, current-key.png, ... (`air_signals`), credit.txt
                                       and state.json, as they stand at the moment

The folder is named by the operator (`moondesk serve --air-folder`, [air] folder); without one nothing is written. Every
file is replaced as a whole. What may not be shown any more is gone from them within a second, and when the desk stops
they are left transparent, black and empty.
"""

from __future__ import annotations

import json
import logging
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

from flask import Flask, Response, current_app, request

from moondesk.service.errors import BadInputError, DeskError, NotStoredError
from moondesk.service.exports.air_signals import STILLS, TEXTS, still, stills
from moondesk.service.programme import air_steps as rules
from moondesk.service.programme.air_plan import AirItem, AirPlan, PlannedLayer
from moondesk.service.programme.air_steps import OnAir, Stand
from moondesk.service.store.media import write_whole
from moondesk.service.store.records import Edition
from moondesk.service.studio.frames import layer_png
from moondesk.service.studio.planned_tours import stopped_items
from moondesk.service.web.desk.onair import control, onair
from moondesk.service.web.desk.onair.steps import Steps
from moondesk.service.web.making import studio

#: Between two looks where nothing was stepped: whether all of it may still be shown.
LOOK_SECONDS = 0.5
NOTHING: dict[str, Any] = {"edition": None, "at": 0, "state": Stand().as_json(), "on_air": None, "next": None, "making": 0}  # fmt: skip

log = logging.getLogger(__name__)


@control.control.get(f"/onair/{onair.SECRET}/still/<name>")
def linked_still(secret: str, name: str) -> Response:
    onair.check_link(secret)
    edition = onair.next_edition()
    told, now, following = _stands(edition)
    if name in TEXTS:
        kind = "application/json" if name == "state.json" else "text/plain"
        return Response(_texts(told)[name], mimetype=kind)
    if name not in STILLS:
        raise NotStoredError(
            "There is no such picture of what is on air.", f"There are {', '.join((*STILLS, *TEXTS))}."
        )
    mark = f"{name} {_mark(now, following)}"
    answer = Response(mimetype="image/png")
    answer.set_etag(f"{hash(mark):x}")
    kept: dict[str, tuple[str, bytes]] = current_app.extensions.setdefault("moondesk.stills", {})
    answer.make_conditional(request)
    if answer.status_code != 304:
        if kept.get(name, ("",))[0] != mark:
            kept[name] = mark, still(name, now, following, lambda layer: _read(edition, layer))
        answer.set_data(kept[name][1])
    return answer


class Handout:
    """The files of one folder, kept up with what stands on air by a thread of its own."""

    def __init__(self, app: Flask, folder: Path) -> None:
        self._app, self._folder = app, folder
        self._wake, self._stop = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, name="handout", daemon=True)
        self._written: dict[str, bytes] = {}
        self._mark = ""
        try:
            self._empty()
        except OSError as error:
            raise BadInputError(
                f"What is on air cannot be written to {folder}: {error.strerror}.", "Name another folder, or make it."
            ) from error
        steps: Steps = app.extensions["moondesk.steps"]
        steps.heard.append(lambda _: self._wake.set())

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Leave nothing on air."""
        self._stop.set()
        self._wake.set()
        if self._thread.ident is not None:
            self._thread.join(10.0)
        self._empty()

    def _run(self) -> None:
        while not self._stop.is_set():
            self._wake.clear()
            try:
                with self._app.app_context(), onair.own_storage():
                    self._follow()
            except (DeskError, OSError) as error:
                log.error("what is on air is not handed on: %s", error)
                self._try_empty()
            except Exception:
                log.exception("what is on air is not handed on")
                self._try_empty()
            self._wake.wait(LOOK_SECONDS)

    def _follow(self) -> None:
        try:
            told, now, following = _stands(edition := onair.next_edition())
            onair.pages().seen("folder")
        except NotStoredError:  # there is no edition yet
            self._empty()
            return
        mark = f"{told} {_mark(now, following)}"
        if mark != self._mark:
            pictures = stills(now, following, lambda layer: _read(edition, layer))
            self._write({**pictures, **_texts(told)})
            self._mark = mark

    def _try_empty(self) -> None:
        try:
            self._empty()
        except OSError as error:
            log.error("the files of what is on air cannot be emptied: %s", error)

    def _empty(self) -> None:
        self._mark = ""
        self._write({**stills(None, None, lambda _: b""), **_texts(NOTHING)})

    def _write(self, files: dict[str, bytes]) -> None:
        for name, data in files.items():
            if self._written.get(name) != data:
                write_whole(self._folder / name, data, to_hand=True)
                self._written[name] = data


def _stands(edition: Edition) -> tuple[dict[str, Any], OnAir | None, OnAir | None]:
    """What stands on air and what would be next, without anything that may not be shown by now."""
    told = control.tell(edition)
    plan, stand = _allowed(edition, onair.recent_plan(edition)), rules.read_stand(told["state"])
    now = rules.on_air(plan, stand)
    following = rules.on_air(plan, replace(rules.act(plan, stand, "next"), held=None, blank=False))
    return {**told, "on_air": control.shown(now), "next": control.shown(following)}, now, following


def _allowed(edition: Edition, plan: AirPlan) -> AirPlan:
    """Without what may not be shown; where the second of two pictures may not, their view goes."""
    gone = set(stopped_items(studio(), edition))

    def left(item: AirItem) -> AirItem:
        return replace(item, views=tuple(v for v in item.views if v.other is None or v.other.item not in gone))

    items = tuple(left(item) for item in plan.items if item.id not in gone)
    return replace(plan, items=items, spare=None if plan.spare is None or plan.spare.id in gone else left(plan.spare))


def _read(edition: Edition, layer: PlannedLayer) -> bytes:
    item, name, mark = layer.url.split("/")
    return layer_png(studio(), edition, int(item), name, mark)


def _mark(*shown: OnAir | None) -> str:
    return " ".join(f"({' '.join(layer.url for layer in one.layers)} {one.wipe})" if one else "-" for one in shown)


def _texts(told: dict[str, Any]) -> dict[str, bytes]:
    now = told["on_air"]
    state = {k: v for k, v in told.items() if k != "state"}
    return {
        "credit.txt": "".join(f"{one}\n" for one in control.credits_of(now)).encode(),
        "state.json": json.dumps(state, ensure_ascii=False, indent=1).encode() + b"\n",
    }

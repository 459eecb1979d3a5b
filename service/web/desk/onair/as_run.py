"""Each step of the page on air goes into the log, whoever made it: a window, a program, the prompter."""

from __future__ import annotations

import logging
from datetime import UTC, datetime

from flask import Flask

from moondesk.service.errors import DeskError
from moondesk.service.programme.air_plan import AirPlan
from moondesk.service.programme.air_steps import Stand, on_air, read_stand
from moondesk.service.store import as_run
from moondesk.service.store.records import LoggedStep
from moondesk.service.store.rundowns import rundown
from moondesk.service.web.current import storage
from moondesk.service.web.desk.onair import onair

#: How old the plan may be by which a step is put into words, seconds: a step must not wait for a new one.
PLAN_S = 8.0


def install(app: Flask) -> None:
    """Hear the steps of an application. No fault of the log stops a programme."""

    def note(edition_id: int) -> None:
        try:
            _note(edition_id)
        except DeskError as error:
            logging.getLogger(__name__).error("a step on air is not in the log: %s", error)

    app.extensions["moondesk.steps"].heard.append(note)


def _note(edition_id: int) -> None:
    edition = onair.edition_of(edition_id)
    if edition is None:
        return
    now_ms = onair.now_ms()
    stands = onair.steps().now(storage(), edition_id, now_ms)
    begin = datetime.fromtimestamp(min(stands.at_ms, now_ms) / 1000, UTC)
    found, stand = rundown(storage(), edition_id), read_stand(stands.state)
    pictures = {item.id: item.picture_id for item in (*found.items, *found.out)}
    plan = onair.recent_plan(edition, PLAN_S)
    if not _holds(plan, stand):
        plan = onair.recent_plan(edition, 0.0)
    as_run.note_step(storage(), edition_id, step_of(plan, stand, pictures, begin))


def _holds(plan: AirPlan, stand: Stand) -> bool:
    """Whether a plan that is a little old has what is shown."""
    step = stand.held or stand.step
    if step is None or (stand.plan_b and plan.spare is None):
        return False
    return any(item.id == step.item and step.view < len(item.all_views) for item in plan.items)


def step_of(plan: AirPlan, stand: Stand, pictures: dict[int, int], begin: datetime) -> LoggedStep:
    """What stands on air in words. pictures: by item."""
    if stand.blank:
        return LoggedStep(begin_utc=begin, kind="blank")
    shown = on_air(plan, stand)
    picture_id = pictures.get(shown.item.id) if shown else None
    if shown is None or picture_id is None:
        return LoggedStep(begin_utc=begin, kind="nothing")
    view = shown.item.all_views[shown.view]
    lit = next((layer.title for layer in shown.layers if layer.kind == "spotlight"), "")
    over = tuple(
        (layer.kind, "" if layer.base else layer.title)  # the credit's title is the credit, which has its own field
        for layer in shown.layers
        if not layer.base or layer.kind == "credit"
    )
    credited = any(kind == "credit" for kind, _ in over)
    # the second picture stands on air where its layer does, and only as long as it is known whose it is
    other = view.other if view.other and view.other.item in pictures else None
    if not any(layer.kind == "against" for layer in shown.layers):
        other = None
    spare = stand.plan_b and plan.spare is not None
    return LoggedStep(
        begin_utc=begin,
        kind="plan_b" if spare else "picture",
        item_id=shown.item.id,
        picture_id=picture_id,
        view=view.kind,
        feature=lit or view.feature,
        layers=over,
        credit=shown.item.credit if credited else "",
        other_item_id=other.item if other else None,
        other_picture_id=pictures[other.item] if other else None,
        other_credit=other.credit if other and credited else "",
    )

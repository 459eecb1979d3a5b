"""What stands on air at each step, and what each action makes of it. Pure.

The same rules as the windows' own (`web/static/air_steps.js`, which tells what a step and a state are): they go on by
themselves when the desk does not answer, and the desk reckons for programs that drive it and pictures that it hands on.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args

from moondesk.service.programme.air_plan import AirItem, AirPlan, PlannedLayer, PlannedView

#: What can be done without saying to what.
Deed = Literal[
    "next", "back", "next item", "item before", "all", "bare", "spotlight", "blank", "hold", "plan B", "wipe on",
    "wipe back", "blink",
]  # fmt: skip
DEEDS: tuple[Deed, ...] = get_args(Deed)
BARE = ("picture", "rendering", "credit")
#: By how many hundredths of the frame one press moves the wipe.
WIPE_STEP = 10


@dataclass(frozen=True, kw_only=True)
class Step:
    """The first `count` layers that are revealed, over the view's base layers. flipped: numbers of layers that stand
    otherwise; spot: number of the spotlight, 0 for none; bare: nothing but picture and credit. wipe: how far the second of
    two pictures has come in where it is on its way, hundredths of the frame; blink: the two in turn."""

    item: int
    view: int = 0
    count: int = 0
    flipped: tuple[int, ...] = ()
    spot: int = 0
    bare: bool = False
    wipe: int = 0
    blink: bool = False

    def as_json(self) -> dict[str, Any]:
        told = {"view": self.view, "flipped": list(self.flipped), "spot": self.spot, "bare": self.bare}
        told |= {"wipe": self.wipe, "blink": self.blink}
        return {"item": self.item, "count": self.count, **{k: v for k, v in told.items() if v}}


@dataclass(frozen=True, kw_only=True)
class Stand:
    """What was asked for. held: the step that stays on air meanwhile."""

    step: Step | None = None
    held: Step | None = None
    blank: bool = False
    plan_b: bool = False

    def as_json(self) -> dict[str, Any]:
        steps = {"step": self.step, "held": self.held}
        return {
            **{name: step and step.as_json() for name, step in steps.items()},
            "blank": self.blank,
            "planB": self.plan_b,
        }


@dataclass(frozen=True)
class OnAir:
    """What is shown: layers of a view of an item, the lowest first. wipe: how far the second of two pictures has come in,
    from the right, hundredths of the frame; blink: the two in turn."""

    item: AirItem
    view: int
    layers: tuple[PlannedLayer, ...]
    wipe: int = 0
    blink: bool = False


def read_stand(told: Mapping[str, Any]) -> Stand:
    """A state as a window or the store has it; what is none of it counts as not said."""
    return Stand(
        step=_read_step(told.get("step")),
        held=_read_step(told.get("held")),
        blank=told.get("blank") is True,
        plan_b=told.get("planB") is True,
    )


def revealed(view: PlannedView) -> tuple[PlannedLayer, ...]:
    """The layers that are revealed one by one; the number of one is its key."""
    return tuple(layer for layer in view.layers if not layer.base and layer.kind != "spotlight")


def spots(view: PlannedView) -> tuple[PlannedLayer, ...]:
    return tuple(layer for layer in view.layers if layer.kind == "spotlight" and not layer.base)


def against(view: PlannedView) -> int:
    """The number of the layer that is the second of two pictures; 0: there is none."""
    return next((n for n, layer in enumerate(revealed(view), 1) if layer.kind == "against"), 0)


def view_at(plan: AirPlan, step: Step) -> PlannedView:
    """Of a step that is settled."""
    return _find(plan, step.item).all_views[step.view]


def settle(plan: AirPlan, step: Step | None) -> Step | None:
    """The step that is meant, as the plan is now: an item may have lost views or layers, or be gone."""
    if not plan.items:
        return None
    if step is None or all(item.id != step.item for item in plan.items):
        return Step(item=plan.items[0].id)
    views = _find(plan, step.item).all_views
    view = min(max(step.view, 0), len(views) - 1)
    most = len(revealed(views[view]))
    return replace(
        step,
        view=view,
        count=min(max(step.count, 0), most),
        flipped=tuple(n for n in step.flipped if 1 <= n <= most),
        spot=step.spot if 0 <= step.spot <= len(spots(views[view])) else 0,
        wipe=step.wipe if 0 < step.wipe < 100 and against(views[view]) else 0,
        blink=step.blink and against(views[view]) > 0,
    )


def act(plan: AirPlan, stand: Stand, deed: Deed) -> Stand:
    """What an action makes of the state."""
    step = settle(plan, stand.step)
    if step is None:
        return Stand()
    back = stand.blank or stand.plan_b
    match deed:
        case "next":
            return _stepping(stand, step if back else _onward(plan, step))
        case "back":
            return _stepping(stand, step if back else _backward(plan, step))
        case "next item" | "item before":
            ids = [item.id for item in plan.items]
            to = ids.index(step.item) + (1 if deed == "next item" else -1)
            return _stepping(stand, Step(item=ids[to]) if 0 <= to < len(ids) else step)
        case "all":
            return _stepping(stand, Step(item=step.item, view=step.view, count=len(revealed(view_at(plan, step)))))
        case "bare":
            return _stepping(stand, Step(item=step.item, view=step.view, bare=True))
        case "spotlight":
            return _stepping(
                stand, replace(step, spot=step.spot + 1 if step.spot < len(spots(view_at(plan, step))) else 0)
            )
        case "wipe on" | "wipe back":
            by = WIPE_STEP if deed == "wipe on" else -WIPE_STEP
            return set_wipe(plan, stand, wipe_of(view_at(plan, step), step) + by)
        case "blink":
            if not against(view_at(plan, step)):
                return replace(stand, step=step)
            return _stepping(stand, replace(step, bare=False, wipe=0, blink=not step.blink))
        case "blank":
            return replace(stand, step=step, blank=not stand.blank)
        case "hold":
            return replace(stand, step=step, held=None if stand.held else step)
        case "plan B":
            return replace(stand, step=step, plan_b=plan.spare is not None and not stand.plan_b, blank=False)


def go(plan: AirPlan, stand: Stand, to: Step) -> Stand:
    """Go to a step."""
    step = settle(plan, to)
    return Stand() if step is None else _stepping(stand, step)


def set_layer(plan: AirPlan, stand: Stand, number: int, shown: bool | None = None) -> Stand:
    """Show or hide a layer by its number; None: whichever it is not."""
    step = settle(plan, stand.step)
    if step is None:
        return Stand()
    if not 1 <= number <= len(revealed(view_at(plan, step))):
        return replace(stand, step=step)
    still = replace(step, spot=0, wipe=0, blink=False)
    return _stepping(stand, still if shown is not None and shown == is_shown(step, number) else _flip(still, number))


def set_wipe(plan: AirPlan, stand: Stand, share: int) -> Stand:
    """Let the second of two pictures come in so far, hundredths of the frame."""
    step = settle(plan, stand.step)
    if step is None:
        return Stand()
    number, share = against(view_at(plan, step)), min(max(share, 0), 100)
    if not number:
        return replace(stand, step=step)
    to = replace(step, spot=0, bare=False, wipe=share % 100, blink=False)
    return _stepping(stand, to if is_shown(step, number) == (share == 100) else _flip(to, number))


def wipe_of(view: PlannedView, step: Step) -> int:
    """How far the second of two pictures has come in, hundredths of the frame."""
    number = against(view)
    return step.wipe or (100 if number and not step.bare and is_shown(step, number) else 0)


def _flip(step: Step, number: int) -> Step:
    return replace(step, flipped=tuple(sorted(set(step.flipped) ^ {number})))


def set_spot(plan: AirPlan, stand: Stand, number: int) -> Stand:
    """Light one feature by its number; 0: none."""
    step = settle(plan, stand.step)
    return Stand() if step is None else go(plan, stand, replace(step, spot=number))


def is_shown(step: Step, number: int) -> bool:
    return (number <= step.count) != (number in step.flipped)


def on_air(plan: AirPlan, stand: Stand) -> OnAir | None:
    """What stands on air; None: nothing."""
    if stand.blank:
        return None
    if stand.plan_b and plan.spare is not None:
        layers = tuple(layer for layer in plan.spare.layers if layer.base or layer.kind == "credit")
        return OnAir(plan.spare, 0, layers)
    step = settle(plan, stand.held or stand.step)
    if step is None:
        return None
    view = view_at(plan, step)
    order, lit = revealed(view), spots(view)[step.spot - 1] if step.spot else None

    def stands(layer: PlannedLayer) -> bool:
        if layer.base:
            return not step.bare or layer.kind in BARE
        if lit is not None:
            return layer is lit or layer.title == lit.title or layer.kind == "credit"
        if layer.kind == "spotlight":
            return False
        if layer.kind == "against":
            return wipe > 0
        return is_shown(step, order.index(layer) + 1) or (step.bare and layer.kind == "credit")

    wipe = 100 if step.blink else wipe_of(view, step)
    layers = tuple(layer for layer in view.layers if stands(layer))
    return OnAir(_find(plan, step.item), step.view, layers, wipe, step.blink)


def _stepping(stand: Stand, to: Step) -> Stand:
    """Whoever steps on wants to see it: that ends the blank and the plan B, but not a hold."""
    return replace(stand, step=to, blank=False, plan_b=False)


def _onward(plan: AirPlan, step: Step) -> Step:
    for count in range(step.count + 1, len(revealed(view_at(plan, step))) + 1):
        if step.bare or not is_shown(step, count):  # a key that shows nothing new would be one too many
            flipped = tuple(n for n in step.flipped if n > count)
            return replace(step, count=count, flipped=flipped, spot=0, bare=False, wipe=0, blink=False)
    following = _following(plan, step)
    return replace(step, spot=0, bare=False, wipe=0, blink=False) if following is None else following


def _following(plan: AirPlan, step: Step) -> Step | None:
    """The next view, of this item or the next one."""
    if step.view + 1 < len(_find(plan, step.item).all_views):
        return Step(item=step.item, view=step.view + 1)
    ids = [item.id for item in plan.items]
    at = ids.index(step.item) + 1
    return Step(item=ids[at]) if at < len(ids) else None


def _backward(plan: AirPlan, step: Step) -> Step:
    here = Step(item=step.item, view=step.view, count=step.count)
    if here != step:
        return here
    if step.count:
        return replace(here, count=step.count - 1)
    ids = [item.id for item in plan.items]
    item, view = step.item, step.view - 1
    if view < 0:
        at = ids.index(step.item) - 1
        if at < 0:
            return here
        item, view = ids[at], len(plan.items[at].all_views) - 1
    before = Step(item=item, view=view)
    return replace(before, count=len(revealed(view_at(plan, before))))


def _find(plan: AirPlan, item: int) -> AirItem:
    return next(one for one in plan.items if one.id == item)


def _read_step(told: Any) -> Step | None:
    if not isinstance(told, Mapping) or type(told.get("item")) is not int:
        return None
    flipped = told.get("flipped")
    return Step(
        item=told["item"],
        view=_number(told.get("view")),
        count=_number(told.get("count")),
        flipped=tuple(n for n in flipped if type(n) is int) if isinstance(flipped, list) else (),
        spot=_number(told.get("spot")),
        bare=told.get("bare") is True,
        wipe=_number(told.get("wipe")),
        blink=told.get("blink") is True,
    )


def _number(told: Any) -> int:
    return told if type(told) is int and told >= 0 else 0

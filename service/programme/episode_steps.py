"""What each mark of an episode's text puts on air: the step of the plan that it means, or why the frames cannot show it.
Pure.

The text says what is to be seen ("light: Tycho"), the plan what there is (items, views, layers); where a
view or a name is missing, the right picture stands without it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from moondesk.records import NotFound
from moondesk.script.records import Cue
from moondesk.service.programme.air_plan import AirItem, AirPlan, PlannedView
from moondesk.service.programme.air_steps import Stand, Step, is_shown, revealed, spots
from moondesk.service.programme.tour_words import HOURS_TO_TOMORROW
from moondesk.tour.views import MOST_VIEWS, Tour, View, ViewKind

#: Layers that are no names: what "lines" shows.
LINES = ("directions", "terminator", "lines")
TAKE = "Take the script's names into the frames."
#: How a feature may be called in a frame, by the IAU's name.
Titles = Callable[[str], Sequence[str]]


@dataclass(frozen=True)
class CueStep:
    """stand: what is on air from there on, None while nothing was put there; why: what of it cannot be shown; item: of the
    rundown, that it is about."""

    cue: Cue
    stand: Stand | None
    why: NotFound | None = None
    item: int | None = None


@dataclass(frozen=True)
class WantedFrames:
    """What a text wants of a picture's frames: names in the order in which they come, and views."""

    features: tuple[str, ...] = ()
    views: tuple[View, ...] = ()


def steps_of(
    plan: AirPlan, numbers: Mapping[int, int | None], cues: Sequence[Cue], titles: Titles
) -> tuple[CueStep, ...]:
    """numbers: item of the rundown by its number in the text. What the marks of a whole episode mean, in order."""
    found: list[CueStep] = []
    stand: Stand | None = None
    about: int | None = None
    for cue in cues:
        about = numbers.get(cue.picture) if cue.picture else about
        answer = _step(plan, numbers, cue, stand, titles)
        if isinstance(answer, NotFound):
            item = next((i for i in plan.items if cue.picture and i.id == numbers.get(cue.picture)), None)
            if item is not None:  # the right picture is worth more than the right view
                stand = Stand(step=_bare(item, _named(item.all_views) or 0))
            found.append(CueStep(cue, stand, answer, about))
            continue
        stand = answer
        found.append(CueStep(cue, stand, None, about))
    return tuple(found)


def wanted_frames(numbers: Mapping[int, int | None], cues: Sequence[Cue]) -> dict[int, WantedFrames]:
    """By item of the rundown: what the marks want of its frames."""
    features: dict[int, dict[str, None]] = {}
    views: dict[int, dict[View, None]] = {}
    item: int | None = None
    for cue in cues:
        item = numbers.get(cue.picture) if cue.picture else item
        if item is None:
            continue
        if cue.feature:
            features.setdefault(item, {})[cue.feature] = None
        if cue.show in _VIEWS:
            hours = HOURS_TO_TOMORROW if cue.show == "tomorrow" else 0.0
            views.setdefault(item, {})[View(kind=_VIEWS[cue.show], feature=cue.feature, hours=hours)] = None
    return {
        item: WantedFrames(tuple(features.get(item, ())), tuple(views.get(item, ())))
        for item in dict.fromkeys((*features, *views))
    }


def with_views(tour: Tour, wanted: Sequence[View]) -> Tour:
    """A tour with the views that a text wants besides: as it was sent first, upright and named before all close-ups."""
    has = {(view.kind, view.feature) for view in tour if not view.spotlight}
    more = [view for view in wanted if (view.kind, view.feature) not in has]
    if not tour and not more:
        return ()
    if (ViewKind.NAMED, "") not in has:
        more.append(View(kind=ViewKind.NAMED))
    every = sorted((*tour, *more), key=lambda view: _ORDER[view.kind])
    return tuple(every[:MOST_VIEWS])


_VIEWS = {
    "as sent": ViewKind.AS_SENT,
    "turned": ViewKind.UPRIGHT,
    "close": ViewKind.CLOSE_UP,
    "tomorrow": ViewKind.RELIT,
}
_ORDER = {kind: place for place, kind in enumerate(ViewKind)}


def _step(
    plan: AirPlan, numbers: Mapping[int, int | None], cue: Cue, before: Stand | None, titles: Titles
) -> Stand | NotFound:
    stands = before.step if before else None
    if cue.show == "nothing":
        return replace(before, blank=True) if before else Stand(blank=True)
    item_id = numbers.get(cue.picture) if cue.picture else stands.item if stands else None
    if item_id is None:
        if cue.picture:
            return NotFound("mark", f"There is no picture {cue.picture} in the rundown.", "Give the number of another.")
        return NotFound("mark", "No picture stands here.", "Put a mark like [picture 1: as sent] before it.")
    item = next((one for one in plan.items if one.id == item_id), None)
    if item is None:
        number = next((n for n, k in numbers.items() if k == item_id), cue.picture)
        return NotFound("mark", f"Picture {number} cannot go on air as it stands.", "See its entry in the rundown.")
    step = _in_item(item, cue, stands if stands and stands.item == item.id else Step(item=item.id), titles)
    return step if isinstance(step, NotFound) else Stand(step=step)


def _in_item(item: AirItem, cue: Cue, stands: Step, titles: Titles) -> Step | NotFound:
    views = item.all_views
    named = _named(views)
    match cue.show:
        case "as sent":
            sent = _first(views, "as_sent")
            return (
                _missing("The picture has no view as it was sent.") if sent is None else Step(item=item.id, view=sent)
            )
        case "turned":
            upright = _first(views, "upright")
            if upright is not None:
                return Step(item=item.id, view=upright)
            return _missing("The picture has no upright view.") if named is None else _bare(item, named)
        case "named":
            if named is None:
                return _missing("The picture has no view with names.")
            return Step(item=item.id, view=named, count=len(revealed(views[named])))
        case "lines":
            lines = () if named is None else _numbers(views[named], lambda layer: layer.kind in LINES)
            if named is None or not lines:
                return _missing("The picture has no view with lines.")
            return Step(item=item.id, view=named, flipped=lines)
        case "light":
            return _lit(item, cue.feature, titles)
        case "close":
            close = _close(item, cue.feature, titles)
            return close if close is not None else _missing(f"There is no close-up of {cue.feature}.")
        case "name":
            return _with_name(item, cue.feature, stands, named, titles)
        case "tomorrow":
            relit = _first(views, "relit")
            if relit is None:
                return _missing("The picture has no view in tomorrow's light.")
            return Step(item=item.id, view=relit)
        case "credit":
            at = stands.view if stands.view < len(views) else 0
            if cue.picture and views[at].kind not in (
                "as_sent",
                "upright",
                "named",
            ):  # its own, not what was made of it
                at, stands = 0, Step(item=item.id)
            step = replace(stands, view=at, spot=0, bare=False)
            for number in _numbers(views[at], lambda layer: layer.kind == "credit"):
                step = step if is_shown(step, number) else _flip(step, number)
            return step
        case _:
            raise ValueError(f"a mark shows no {cue.show!r}")


def _lit(item: AirItem, feature: str, titles: Titles) -> Step | NotFound:
    names = titles(feature)
    for n, view in enumerate(item.all_views):
        if view.kind != "named":
            continue
        for number, layer in enumerate(spots(view), 1):
            if layer.title in names:
                return Step(item=item.id, view=n, spot=number)
        if view.feature == feature:
            return Step(item=item.id, view=n)
    close = _close(item, feature, titles)  # where the whole has no room for its name
    return close if close is not None else _missing(f"The frame has no light for {feature}.")


def _with_name(item: AirItem, feature: str, stands: Step, named: int | None, titles: Titles) -> Step | NotFound:
    names = titles(feature)
    for at in dict.fromkeys((stands.view, *((named,) if named is not None else ()))):
        if at >= len(item.all_views):
            continue
        numbers = _numbers(item.all_views[at], lambda layer: layer.title in names)
        if numbers:
            step = replace(stands, spot=0, bare=False) if at == stands.view else Step(item=item.id, view=at)
            return step if is_shown(step, numbers[0]) else _flip(step, numbers[0])
    close = _close(item, feature, titles)
    return close if close is not None else _missing(f"The frame does not name {feature}.")


def _close(item: AirItem, feature: str, titles: Titles) -> Step | None:
    """The close-up of a feature, with its name."""
    for n, view in enumerate(item.all_views):
        if view.kind == "close_up" and view.feature == feature:
            named = _numbers(view, lambda layer: layer.title in titles(feature))
            return Step(item=item.id, view=n, flipped=named[:1])
    return None


def _first(views: Sequence[PlannedView], kind: str) -> int | None:
    return next((n for n, view in enumerate(views) if view.kind == kind and not view.feature), None)


def _named(views: Sequence[PlannedView]) -> int | None:
    """The view with names in it."""
    return next(
        (
            n
            for n, view in enumerate(views)
            if view.kind == "named" and not view.feature and any(x.kind != "credit" for x in revealed(view))
        ),
        None,
    )


def _bare(item: AirItem, view: int) -> Step:
    return Step(item=item.id, view=view, bare=True)


def _numbers(view: PlannedView, is_meant: Callable[..., bool]) -> tuple[int, ...]:
    return tuple(n for n, layer in enumerate(revealed(view), 1) if is_meant(layer))


def _flip(step: Step, number: int) -> Step:
    return replace(step, flipped=tuple(sorted(set(step.flipped) ^ {number})))


def _missing(reason: str) -> NotFound:
    return NotFound("mark", reason, TAKE)

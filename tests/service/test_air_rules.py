"""What each action makes of what stands on air: by examples, and that the windows and the desk reckon the same."""

from __future__ import annotations

import json
import random
from pathlib import Path

from browsers import chromium, needs_chromium

from moondesk.service.programme.air_plan import AirItem, AirPlan, Move, Other, PlannedLayer, PlannedView
from moondesk.service.programme.air_steps import (
    DEEDS,
    Stand,
    Step,
    act,
    go,
    on_air,
    read_stand,
    set_layer,
    set_spot,
    set_wipe,
    settle,
)

STATIC = Path(__file__).parents[2] / "service" / "web" / "static"


def layers(*told):
    """Of "kind:title", base with a star before it."""
    return tuple(
        PlannedLayer(
            name=f"{k}-{one.split(':')[0].strip('*')}",
            kind=one.split(":")[0].strip("*"),
            title=one.split(":")[1],
            base=one.startswith("*"),
            url=f"layer-{k}",
        )
        for k, one in enumerate(told)
    )


FIRST = layers("*picture:Picture", "*scale:Scale", "spotlight:Tycho", "terminator:Terminator", "feature:Tycho", "seas:Seas", "*credit:Credit")  # fmt: skip
CLOSE = layers("*picture:Picture", "spotlight:Plato", "spotlight:Tycho", "feature:Plato", "feature:Tycho", "credit:Credit")  # fmt: skip
TWO = layers("*picture:Picture", "against:Bo", "*credit:Credit", "*credit:Credit of Bo")


def item(number, stack=FIRST, views=()):
    return AirItem(
        id=number,
        place=number,
        sender=f"sender {number}",
        credit="",
        pronunciation="",
        note="",
        story="",
        seconds=30,
        layers=stack,
        stops=(),
        notes=(),
        views=views,
    )


PLAN = AirPlan(
    edition=12,
    programme="The Evening Sky",
    items=(
        item(1),
        item(2, layers("*picture:Picture"), (PlannedView(title="Upright", layers=FIRST, move=Move(matrix=(1, 0, 0, 1, 0, 0), seconds=2)),)),
        item(5, CLOSE, (PlannedView(title="Whole", layers=FIRST), PlannedView(title="Close", layers=CLOSE), PlannedView(title="Against Bo", layers=TWO, kind="against", other=Other(9, "Bo", "Bo Ek")))),
    ),
    left_out=(),
    spare=item(9, CLOSE),
)  # fmt: skip


def shown(stand, plan=PLAN):
    found = on_air(plan, stand)
    return None if found is None else (found.item.id, found.view, " ".join(x.name[2:] for x in found.layers))


def test_layers_one_by_one_by_number_all_and_bare():
    stand = go(PLAN, Stand(), Step(item=1))
    assert shown(stand) == (1, 0, "picture scale credit")
    assert shown(act(PLAN, stand, "next")) == (1, 0, "picture scale terminator credit")
    assert shown(act(PLAN, stand, "all")) == (1, 0, "picture scale terminator feature seas credit")
    assert shown(act(PLAN, stand, "bare")) == (1, 0, "picture credit")
    third = set_layer(PLAN, stand, 3)
    assert shown(third) == (1, 0, "picture scale seas credit")
    assert set_layer(PLAN, third, 3) == stand == set_layer(PLAN, stand, 9)
    assert set_layer(PLAN, third, 3, True).step == third.step
    # what is shown already costs no step
    second = act(PLAN, set_layer(PLAN, stand, 1), "next")
    assert second.step == Step(item=1, count=2)
    assert act(PLAN, act(PLAN, act(PLAN, third, "next"), "next"), "next").step == Step(item=2)


def test_one_feature_is_lit_and_the_others_unnamed():
    stand = act(PLAN, go(PLAN, Stand(), Step(item=5)), "all")
    lit = act(PLAN, stand, "spotlight")
    assert shown(lit) == (5, 0, "picture spotlight feature credit")
    assert [x.title for x in on_air(PLAN, lit).layers][1:3] == ["Plato", "Plato"]
    assert act(PLAN, act(PLAN, lit, "spotlight"), "spotlight").step.spot == 0
    assert set_spot(PLAN, stand, 2).step.spot == 2
    assert set_spot(PLAN, stand, 3).step.spot == 0
    assert act(PLAN, lit, "back").step == stand.step  # the light goes out first


def test_two_evenings_are_wiped_by_steps_by_hand_and_in_turn():
    def two(stand):
        found = on_air(PLAN, stand)
        return "against" in [x.kind for x in found.layers], found.wipe, found.blink

    stand = go(PLAN, Stand(), Step(item=5, view=3))
    assert shown(stand) == (5, 3, "picture credit credit")  # both are credited from the start
    assert two(act(PLAN, stand, "next")) == (True, 100, False)
    assert two(act(PLAN, act(PLAN, stand, "next"), "back")) == (False, 0, False)
    half = set_wipe(PLAN, stand, 50)
    assert two(half) == (True, 50, False)
    assert two(act(PLAN, half, "wipe on")) == (True, 60, False)
    assert two(act(PLAN, half, "next")) == (True, 100, False)  # the rest of the way
    assert two(act(PLAN, half, "back")) == (False, 0, False)
    assert two(act(PLAN, act(PLAN, stand, "wipe back"), "bare")) == (False, 0, False)
    whole = set_wipe(PLAN, half, 140)
    assert two(whole) == (True, 100, False)
    assert two(act(PLAN, whole, "wipe back")) == (True, 90, False)
    assert two(act(PLAN, half, "blink")) == (True, 100, True)
    assert two(act(PLAN, act(PLAN, half, "blink"), "blink")) == (False, 0, False)
    assert two(set_layer(PLAN, half, 1)) == (True, 100, False)
    one = go(PLAN, Stand(), Step(item=1, wipe=40, blink=True))
    assert one.step == Step(item=1)
    assert set_wipe(PLAN, one, 50) == one == act(PLAN, one, "blink")


def test_what_is_gone_gives_way_to_what_is_left():
    stand = go(PLAN, Stand(), Step(item=5, view=2, count=3, flipped=(2,), spot=2))
    less = AirPlan(edition=12, programme="", items=(item(5),), left_out=(), spare=None)
    assert settle(less, stand.step) == Step(item=5, count=3, flipped=(2,))
    assert settle(less, Step(item=77)) == Step(item=5)
    assert act(AirPlan(edition=12, programme="", items=(), left_out=(), spare=None), stand, "next") == Stand()


def test_a_state_that_is_none_counts_as_not_said():
    assert read_stand({"step": {"item": "1"}, "held": 7, "blank": 1}) == Stand()
    odd = {"step": {"item": 3, "count": -4, "flipped": [1, "x", None], "spot": 1e9, "bare": "yes"}}
    assert read_stand(odd).step == Step(item=3, flipped=(1,))
    stand = Stand(step=Step(item=1, view=2, flipped=(1, 4), bare=True), held=Step(item=2), blank=True, plan_b=True)
    assert read_stand(json.loads(json.dumps(stand.as_json()))) == stand


@needs_chromium
def test_the_windows_reckon_as_the_desk_does():
    rng = random.Random(5)
    fewer = AirPlan(edition=12, programme="", items=(PLAN.items[2], item(1, CLOSE)), left_out=(), spare=None)
    walks, expected = [], []
    for _ in range(120):
        stand, walk, seen = Stand(), [], []
        for _ in range(25):
            plan = PLAN if rng.random() < 0.9 else fewer
            kind = rng.random()
            if kind < 0.7:
                deed = rng.choice(DEEDS[:4] * 3 + DEEDS)
                action, stand = deed, act(plan, stand, deed)
            elif kind < 0.85:
                number = rng.randint(1, 5)
                action, stand = {"layer": number}, set_layer(plan, stand, number)
            elif kind < 0.9:
                number = rng.randint(0, 3)
                action, stand = {"spot": number}, set_spot(plan, stand, number)
            elif kind < 0.93:
                share = rng.choice((0, 35, 100))
                action, stand = {"wipe": share}, set_wipe(plan, stand, share)
            else:
                to = Step(item=rng.choice((1, 2, 5, 8)), view=rng.randint(0, 4), count=rng.randint(0, 5))
                action, stand = {"go": to.as_json()}, go(plan, stand, to)
            found = on_air(plan, stand)
            walk.append([plan is PLAN, action])
            told = None if found is None else {"item": found.item.id, "view": found.view, "layers": [x.name for x in found.layers], "wipe": found.wipe, "blink": found.blink}  # fmt: skip
            seen.append([stand.as_json(), told])
        walks.append(walk)
        expected.append(seen)
    script = (STATIC / "air_steps.js").read_text()
    with chromium() as browser:
        page = browser.new_page()
        page.add_script_tag(content=f"{script}\nwindow.rules = {{ FRESH, act, onAir }};", type="module")
        page.wait_for_function("window.rules")
        seen = page.evaluate(
            """([plans, walks]) => walks.map((walk) => {
                let state = { ...rules.FRESH };
                return walk.map(([whole, action]) => {
                    const plan = plans[whole ? 0 : 1];
                    state = rules.act(plan, state, action);
                    return [state, rules.onAir(plan, state)];
                });
            })""",
            [[PLAN.as_json(), fewer.as_json()], walks],
        )
    assert seen == expected

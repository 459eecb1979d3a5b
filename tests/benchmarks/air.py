"""The page on air over an evening, and how evenly a move runs. By hand: python -m tests.benchmarks.air [--steps 1800]

--pace 8 leaves 8 s between two steps, as an evening does; without it they come as fast as they are shown.

moves: from view to view at 1920x1080, by the browser's own frames (`requestAnimationFrame`): median and 95th centile.
soak: so many steps (four hours at one in 8 s are 1,800) by the keys of the presenter's window; after each the page on air must show what the rules say. The desk is stopped and comes back three times meanwhile.
Told are steps that were not shown, and what the page's scripts and the browser's processes hold as it goes on.

The frames are noise under plain bars, so that nothing compresses better than a photograph does.
"""

from __future__ import annotations

import argparse
import io
import logging
import math
import os
import random
import statistics
import sys
import tempfile
import threading
import time
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from unittest.mock import patch

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[1] / "service"))

from browsers import chromium
from fakes import add_edition

from moondesk.service.programme.air_plan import AirItem, Move, PlannedLayer, PlannedView, plan_of
from moondesk.service.programme.air_steps import DEEDS, Stand, act, on_air, set_layer
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.records import EditionPlan
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.onair import onair
from moondesk.service.web.serving import server_for

SIZE = 1920, 1080
ITEMS, NAMES = 12, 8
KEYS = {
    "next": "ArrowRight",
    "back": "ArrowLeft",
    "next item": "ArrowDown",
    "item before": "ArrowUp",
    "all": "a",
    "bare": "0",
    "spotlight": "s",
    "blank": "b",
    "hold": "h",
    "plan B": "p",
    "wipe on": "+",
    "wipe back": "-",
    "blink": "x",
}


def stack(number: int) -> tuple[PlannedLayer, ...]:
    kinds = ["picture", *["feature"] * NAMES, "credit"]
    return tuple(
        PlannedLayer(
            name=f"{kind}-{k}", title=f"{kind} {k}", kind=kind, base=kind != "feature", url=f"{number}/{kind}-{k}/1"
        )
        for k, kind in enumerate(kinds)
    )


def led() -> Move:
    """In to a part of the picture, turned a little: sampled as a tour's are."""
    path = []
    for k in range(76):
        t = k / 75
        e = t * t * t * (t * (6 * t - 15) + 10)
        scale, turn = math.exp(e * math.log(2.6)), math.radians(24 * e)
        a, b = scale * math.cos(turn), scale * math.sin(turn)
        x, y = 960 + 260 * (1 - e), 540 - 120 * (1 - e)  # where the place at (1220, 420) is by now
        path.append((t, (a, b, -b, a, x - a * 1220 + b * 420, y - b * 1220 - a * 420)))
    return Move(matrix=path[-1][1], seconds=2.5, path=tuple(path))


def item(number: int) -> AirItem:
    return AirItem(
        id=number,
        place=number,
        sender=f"Sender {number}",
        credit=f"Sender {number}",
        pronunciation="",
        note="",
        story="",
        seconds=60,
        layers=stack(number),
        stops=(),
        notes=(),
        views=(PlannedView(title="Close-up", layers=stack(100 + number), move=led()),) if number % 2 else (),
    )


PLAN = plan_of(12, "The Evening Sky", tuple(item(k) for k in range(1, ITEMS + 1)), ITEMS)


@cache
def drawn(number: int, name: str, share: int) -> bytes:
    """A layer of the full size, or of a share of it."""
    pixels = np.zeros((SIZE[1], SIZE[0], 4), np.uint8)
    if name.startswith("picture"):
        rng = np.random.default_rng(number)
        y, x = np.mgrid[: SIZE[1], : SIZE[0]]
        disc = np.hypot(x - 960, y - 540) < 420
        pixels[..., :3] = (np.where(disc, 150, 12) + rng.integers(-9, 9, disc.shape))[..., None]
        pixels[..., 3] = 255
    else:
        k = int(name.rpartition("-")[2])
        pixels[120 * k : 120 * k + 60, 60:500] = (*np.random.default_rng(k).integers(90, 255, 3), 255)
    out = io.BytesIO()
    Image.fromarray(pixels[::share, ::share]).save(out, "PNG", compress_level=1)
    return out.getvalue()


def serve(share: int):
    return patch.object(onair, "layer_png", lambda _studio, _edition, number, name, _mark: drawn(number, name, share))


class Desk:
    """Served on one port, stopped and served again."""

    def __init__(self, app) -> None:
        self.app, self.port = app, 0
        self.start()

    def start(self) -> None:
        self.server = server_for(self.app, "127.0.0.1", self.port)
        self.port = self.server.effective_port
        self.thread = threading.Thread(target=self.server.run, daemon=True)
        self.thread.start()

    def stop(self) -> None:
        def close() -> None:
            for channel in list(self.server.active_channels.values()):
                channel.handle_close()
            self.server.close()

        self.server.trigger.pull_trigger(close)
        self.thread.join()
        self.server.task_dispatcher.shutdown()


def moves(browser, desk: Desk, count: int) -> None:
    page = browser.new_context(viewport={"width": SIZE[0], "height": SIZE[1]}).new_page()
    page.goto(f"http://127.0.0.1:{desk.port}/air/12")
    ready(page)
    page.wait_for_timeout(2000)
    gaps: list[float] = []
    for _ in range(count):
        page.keyboard.press("a")
        page.wait_for_timeout(600)
        page.keyboard.press("ArrowRight")
        gaps += page.evaluate(
            """() => new Promise((done) => {
                const gaps = []; let last = 0;
                const frame = (now) => {
                    if (document.body.dataset.moving) { if (last) gaps.push(now - last); last = now; }
                    else if (last) { done(gaps); return; }
                    requestAnimationFrame(frame);
                };
                requestAnimationFrame(frame);
            })"""
        )
        page.keyboard.press("ArrowDown")  # past the picture that has one view alone
        page.keyboard.press("ArrowDown")
        page.wait_for_timeout(1500)
    client = browser.new_browser_cdp_session()
    gpu = client.send("SystemInfo.getInfo")["gpu"]["featureStatus"]
    gaps.sort()
    print(
        f"moves: {count} of 2.5 s at {SIZE[0]}x{SIZE[1]}, {len(gaps)} frames: median {statistics.median(gaps):.1f} ms, "
        f"95th centile {gaps[int(0.95 * len(gaps))]:.1f} ms, longest {gaps[-1]:.0f} ms; compositing: "
        f"{gpu.get('gpu_compositing')}, rasterization: {gpu.get('rasterization')}"
    )
    page.context.close()
    print(
        f"       beside it an empty page {alone(browser, 0)} ms, one picture moved {alone(browser, 1)}, two {alone(browser, 2)}"
    )


def alone(browser, pictures: int) -> str:
    """Median of the browser's frames while nothing but so many plain pictures is turned and enlarged."""
    page = browser.new_context(viewport={"width": SIZE[0], "height": SIZE[1]}).new_page()
    page.set_content("<body style='margin:0;background:#000;overflow:hidden'></body>")
    found = page.evaluate(
        """([count, width, height]) => new Promise((done) => {
            for (let k = 0; k < count; k++) {
                const c = document.createElement("canvas"); c.width = width; c.height = height;
                c.style.cssText = "position:absolute;inset:0;will-change:transform";
                const x = c.getContext("2d"); x.fillStyle = "#666"; x.fillRect(0, 0, width, height);
                document.body.append(c);
                c.animate([{ transform: "none" }, { transform: "rotate(20deg) scale(2)" }], 2500);
            }
            const gaps = []; let last = 0; const began = performance.now();
            const frame = (now) => {
                if (last) gaps.push(now - last); last = now;
                if (now - began > 2500) done(gaps); else requestAnimationFrame(frame);
            };
            requestAnimationFrame(frame);
        })""",
        [pictures, *SIZE],
    )
    page.context.close()
    return f"{statistics.median(found):.1f}"


def alive(client) -> str:
    """How many pictures, canvases (those that are in no page too) and files a page's scripts hold, after a clean-up."""
    counts = []
    for kind in ("ImageBitmap", "HTMLCanvasElement", "Blob"):
        proto = client.send("Runtime.evaluate", {"expression": f"{kind}.prototype"})["result"]["objectId"]
        every = client.send("Runtime.queryObjects", {"prototypeObjectId": proto})["objects"]["objectId"]
        count = {"functionDeclaration": "function () { return this.length; }", "objectId": every, "returnByValue": True}
        counts.append(client.send("Runtime.callFunctionOn", count)["result"]["value"])
        client.send("Runtime.releaseObject", {"objectId": every})
    return "/".join(map(str, counts))


def ready(page) -> None:
    page.locator("body[data-desk=answers]").wait_for(state="attached")
    shown = "(e) => { const [a, b] = (e.dataset.loaded || '0 of 1').split(' of '); return a === b; }"
    body = page.locator("body")
    while not body.evaluate(shown):
        page.wait_for_timeout(200)


def soak(browser, desk: Desk, steps: int, pace: float) -> None:
    context = browser.new_context(viewport={"width": 1280, "height": 720})
    out, window = context.new_page(), context.new_page()
    out.goto(f"http://127.0.0.1:{desk.port}/air/12")
    window.goto(f"http://127.0.0.1:{desk.port}/air/12/presenter")
    ready(out)
    window.locator("#next-title", has_text="Sender").wait_for()
    metrics = {page: context.new_cdp_session(page) for page in (out, window)}
    rng, stand, dropped = random.Random(3), Stand(), []
    stops = {steps * k // 4 for k in (1, 2, 3)}
    deeds = [d for d in DEEDS if d != "spotlight"]
    began, down = time.monotonic(), 0
    print(
        "soak: step; scripts of the page on air and of the window (MB); their nodes; bitmaps, "
        "canvases and files that the page on air holds; browser's processes (MB), and which of them"
    )
    for k in range(1, steps + 1):
        window.wait_for_timeout(1000 * pace)
        if k in stops:
            desk.stop()
            down = 0.02 * steps
        elif down:
            down -= 1
            if down <= 0:
                desk.start()
                down = 0
        if rng.random() < 0.08:
            number = rng.randint(1, NAMES)
            stand, key = set_layer(PLAN, stand, number), str(number)
        else:
            deed = rng.choice(["next"] * 14 + ["back"] * 2 + deeds)
            stand, key = act(PLAN, stand, deed), KEYS[deed]
        window.keyboard.press(key)
        shown = on_air(PLAN, stand)
        told = f"{shown.item.id}: {' '.join(x.name for x in shown.layers)}" if shown else "nothing"
        met = out.evaluate(
            """(told) => new Promise((done) => {
                const end = performance.now() + 5000;
                const look = () => document.body.dataset.onair === told ? done("") : performance.now() > end
                    ? done(document.body.dataset.onair) : setTimeout(look, 5);
                look();
            })""",
            told,
        )
        if met:
            dropped.append((k, key, told, met))
        if stand.blank:  # nobody leaves it dark
            stand = act(PLAN, stand, "next")
            window.keyboard.press("ArrowRight")
        if k % max(steps // 9, 1) == 0 or k == 1:
            held, nodes = [], []
            for client in metrics.values():
                client.send("HeapProfiler.collectGarbage")
                held.append(client.send("Runtime.getHeapUsage")["usedSize"] / 1e6)
                nodes.append(client.send("Memory.getDOMCounters")["nodes"])
            counted = " ".join(map(str, nodes))
            sizes = resident()
            kinds = ", ".join(f"{kind} {size:.0f}" for kind, size in sorted(sizes.items()))
            print(
                f"  {k:5d}  {held[0]:5.1f} {held[1]:5.1f}  {counted}  {alive(metrics[out])}  {sum(sizes.values()):6.0f}"
                f" ({kinds})",
                flush=True,
            )
    client = browser.new_browser_cdp_session()
    client.send("Memory.simulatePressureNotification", {"level": "critical"})  # what it would give back if asked for
    out.wait_for_timeout(5000)
    print("  after the browser was asked for memory:", ", ".join(f"{k} {v:.0f}" for k, v in sorted(resident().items())))
    state = context.request.get(f"http://127.0.0.1:{desk.port}/air/12/state").json()["state"]
    print(
        f"soak: {steps} steps in {time.monotonic() - began:.0f} s, {len(dropped)} not shown, the desk stopped "
        f"{len(stops)} times; what it has at the end is what was asked: {state == stand.as_json()}"
    )
    for one in dropped[:5]:
        print("  ", *one)
    context.close()


def resident() -> dict[str, float]:
    """MB that no other process shares, of the processes of the browser that this one started, by their kind."""
    parents, sizes, kinds = {}, {}, {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            fields = (folder / "stat").read_text().rpartition(")")[2].split()
            memory = (folder / "statm").read_text()
            told = (folder / "cmdline").read_text().replace("\0", " ").split()
        except OSError:
            continue
        parents[int(folder.name)] = int(fields[1])
        sizes[int(folder.name)] = (int(memory.split()[1]) - int(memory.split()[2])) * 4096 / 1e6
        kinds[int(folder.name)] = next((t.partition("=")[2] for t in told if t.startswith("--type=")), "main")
    mine = {os.getpid()}
    grown = True
    while grown:
        more = {p for p, parent in parents.items() if parent in mine} - mine
        grown, mine = bool(more), mine | more
    found: dict[str, float] = {}
    for p in mine - {os.getpid()}:
        found[kinds[p]] = found.get(kinds[p], 0.0) + sizes[p]
    return found


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--steps", type=int, default=1800)
    asked.add_argument("--moves", type=int, default=6)
    asked.add_argument("--pace", type=float, default=0.0, help="seconds between two steps of the soak")
    asked.add_argument("--share", type=int, default=3, help="of the frames' size for the soak: 3 makes 640x360")
    options = asked.parse_args()
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    with (
        tempfile.TemporaryDirectory() as folder,
        patch.object(onair, "make_plan", lambda *_: PLAN),
        patch.object(onair, "stopped_items", lambda *_: []),
    ):
        config = Config(data_dir=Path(folder), programme=Programme("The Evening Sky", "UTC"))
        with Storage(config.data_dir) as storage:
            add_edition(storage, EditionPlan(number=12))
        desk = Desk(create_app(config, now=lambda: datetime.now(UTC)))
        try:
            with chromium() as browser:
                if options.moves:
                    with serve(1):
                        moves(browser, desk, options.moves)
                if options.steps:
                    with serve(options.share):
                        soak(browser, desk, options.steps, options.pace)
        finally:
            desk.stop()


if __name__ == "__main__":
    main()

"""The picture's page in a real browser, on a photograph of known truth that the real core has placed, and on one that
was placed wrong. Needs Playwright and Chromium."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from browsers import chromium, listen_to, needs_chromium, served, sync_api

from moondesk.moon.geometry import pixel_to_surface, surface_to_pixel
from moondesk.records import Annotation, Known, Place, Pose
from moondesk.sentences import sentences_of
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.jobs.engine import Engine, load_engine
from moondesk.service.jobs.executors import InProcess
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.jobs.warm_pool import WarmPool
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.annotations import read_annotation
from moondesk.service.store.decisions import decisions_of
from moondesk.service.store.media import Media
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.storage import Storage
from moondesk.service.web.desk.app import create_app
from tests.scenes import Film, Optics, Scene, SceneSpec, render

pytestmark = needs_chromium

DESK, PHONE = {"width": 1280, "height": 900}, {"width": 360, "height": 740}
WHEN = datetime(2027, 3, 16, 19, 0, tzinfo=UTC)
NOW = WHEN + timedelta(hours=5)
PLACE = Place(45.0, 12.0)
expect = sync_api.expect


def load() -> Engine:
    """The real core, which goes wrong over pictures of one name."""
    core = load_engine()

    def annotate(data: bytes, known: Known) -> Annotation:
        found = core.annotate(data, known)
        if not known.given_name.startswith("wrong") or found.pose is None:
            return found
        pose = replace(found.pose, north_screen_deg=(found.pose.north_screen_deg + 140) % 360)
        return replace(found, pose=pose, sure=False, reasons=sentences_of("Two turns fit nearly as well."), features=())

    return replace(core, annotate=annotate)


@dataclass(frozen=True)
class Standing:
    """A desk that stands on loopback. ids: "right" and "wrong"."""

    url: str
    scene: Scene
    config: Config
    ids: dict[str, int]

    def truth(self, name: str) -> tuple[float, float]:
        return next((f["x"], f["y"]) for f in self.scene.truth["features"] if f["name"] == name)

    def annotation(self, which: str) -> Annotation:
        with Storage(self.config.data_dir) as storage:
            return read_annotation(storage, self.ids[which]).annotation


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Standing]:
    scene = render(
        SceneSpec(
            WHEN,
            PLACE,
            x=418.4,
            y=305.7,
            radius_px=231.3,
            north_screen_deg=67.0,
            mirrored=True,
            width=840,
            height=620,
            seed=3,
            optics=Optics(blur_px=1.0),
            film=Film(shot=0.01),
            received_utc=NOW,
        )
    )
    folder, data = tmp_path_factory.mktemp("in"), tmp_path_factory.mktemp("data")
    for name, tail in (("right.jpg", b""), ("wrong.jpg", b"\0")):
        (folder / name).write_bytes(scene.data + tail)
    (folder / "submissions.csv").write_text("file,name\nright.jpg,Ilse\nwrong.jpg,Bo\n")
    config = Config(data_dir=data, programme=Programme("The Evening Sky", "Europe/Vienna", PLACE))
    with Storage(data) as storage:
        edition = open_edition(storage, config, NOW, lambda _: None)
        list(
            Intake(storage=storage, media=Media(data), edition=edition, config=config, now=lambda: NOW).take_path(
                folder
            )
        )
        list(place_waiting(storage, Media(data), config, load, load().version, lambda: NOW))
        ids = {
            p.picture.enclosure.given_name.partition(".")[0]: p.picture.id for p in list_pictures(storage, edition.id)
        }
        ids |= {
            row["given_name"].partition(".")[0]: row["id"]  # two that are alike may be taken for versions of one
            for row in storage.read("select id, given_name from pictures")
        }
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = WarmPool(load, 60, InProcess())
    with served(app) as url:
        yield Standing(url, scene, config, ids)


@pytest.fixture
def opened(desk):
    """Opens a picture's page; every complaint of the browser fails the test."""
    complaints = []
    with chromium() as browser:

        def open_page(which="right", size=DESK, script=True, touch=False):
            context = browser.new_context(viewport=size, java_script_enabled=script, has_touch=touch)
            page = context.new_page()
            listen_to(page, complaints)
            page.set_default_timeout(30_000)
            with page.expect_response(re.compile("surface.json")) if script else Nothing():
                page.goto(f"{desk.url}/pictures/{desk.ids[which]}")
            if script and which == "right":
                page.locator("#find-names option").first.wait_for(state="attached")
            return page

        open_page.complaints = complaints
        yield open_page
    assert not complaints


class Nothing:
    """A page without script asks for nothing more."""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass


def on_screen(page, x, y):
    """Where a pixel of the picture is on the screen, by the browser's own matrices; scrolled into sight."""
    page.locator("svg.stage").scroll_into_view_if_needed()
    return page.evaluate(
        """([x, y]) => {
        const image = document.querySelector("svg.stage image");
        const at = new DOMPoint(x, y).matrixTransform(image.getScreenCTM());
        return [at.x, at.y];
    }""",
        [x, y],
    )


def click(page, point):
    page.mouse.click(*on_screen(page, *point))


# --- the Moon by script ----------------------------------------------------------------------------------------------


def poses(count: int) -> list[Pose]:
    rng = np.random.default_rng(11)
    made = []
    for k in range(count):
        made.append(
            Pose(
                x=rng.uniform(200, 900),
                y=rng.uniform(200, 900),
                radius_px=rng.uniform(60, 1500),
                north_screen_deg=rng.uniform(0, 360),
                mirrored=bool(k % 2),
                libration_lat_deg=rng.uniform(-7, 7),
                libration_lon_deg=rng.uniform(-8, 8),
                sub_solar_lat_deg=rng.uniform(-1.6, 1.6),
                sub_solar_lon_deg=rng.uniform(-180, 180),
                distance_radii=rng.uniform(205, 235),
                flattening=float(rng.uniform(0, 0.15)) if k % 3 == 0 else 0.0,
                flattening_screen_deg=float(rng.uniform(0, 180)),
                tilt=float(rng.uniform(0, 0.1)) if k % 5 == 0 else 0.0,
                tilt_screen_deg=float(rng.uniform(0, 360)),
                tangential=float(rng.uniform(0, 0.05)) if k % 10 in (3, 5) else 0.0,
                tangential_screen_deg=float(rng.uniform(0, 360)),
                radial_k1=float(rng.uniform(-0.05, 0.05)) if k % 4 == 0 else 0.0,
                axis_x=600.0,
                axis_y=450.0,
                axis_scale_px=750.0,
            )
        )
    return made


def test_places_on_the_moon_are_those_of_the_core(opened):
    """The script's own formulas against moondesk.moon.geometry, both ways, on 40 poses: lens, tilt and refraction."""
    page, rng = opened(), np.random.default_rng(5)
    cases = []
    for pose in poses(40):
        u, v = rng.uniform(-0.7, 0.7, (2, 6))
        cases.append((pose, pose.x + pose.radius_px * u, pose.y + pose.radius_px * v))
    told = page.evaluate(
        """async (cases) => {
        const moon = await import("/static/picture_moon.js");
        return cases.map(([pose, xs, ys]) => xs.map((x, k) => {
            const found = moon.pixelToVector(pose, x, ys[k]);
            if (!found) return null;
            const back = moon.vectorToPixel(pose, found.vector);
            return [moon.latLon(found.vector).lat, moon.latLon(found.vector).lon, found.mu, back.x, back.y];
        }));
    }""",
        [[{k: v for k, v in asdict(p).items() if v == v}, xs.tolist(), ys.tolist()] for p, xs, ys in cases],
    )
    compared = 0
    for (pose, xs, ys), rows in zip(cases, told, strict=True):
        lat, lon = pixel_to_surface(pose, xs, ys)
        at = surface_to_pixel(pose, lat, lon)
        for k, row in enumerate(rows):
            if row is None:
                assert math.isnan(lat[k])
                continue
            compared += 1
            assert row[0] == pytest.approx(lat[k], abs=1e-7)
            assert row[1] == pytest.approx(lon[k], abs=1e-7)
            assert row[2] == pytest.approx(at.mu[k], abs=1e-7)
            assert row[3:] == pytest.approx([at.x[k], at.y[k]], abs=1e-6)
    assert compared > 150


def test_the_stated_error_of_a_distance_is_what_drawn_poses_scatter(opened):
    """Monte Carlo by the core's geometry: 4,000 poses of the covariance, and as many readings, give the same spread."""
    page, rng = opened(), np.random.default_rng(7)
    names = ("x", "y", "radius_px", "north_screen_deg", "libration_lat_deg", "libration_lon_deg")
    pose = replace(poses(1)[0], radial_k1=0.0, flattening=0.0, radius_px=400.0)
    spread = np.array([0.8, 0.6, 0.7, 0.1, 0.15, 0.2])
    mixed = np.eye(6) + 0.4 * (np.ones((6, 6)) - np.eye(6))
    covariance = mixed * np.outer(spread, spread)
    ends = np.array([[pose.x - 150, pose.y - 60], [pose.x + 190, pose.y + 120]])
    told = page.evaluate(
        """async ([pose, ends]) => {
        const moon = await import("/static/picture_moon.js");
        return moon.measured(pose, 1737.4, {x: ends[0][0], y: ends[0][1]}, {x: ends[1][0], y: ends[1][1]}, 0.5);
    }""",
        [
            {
                **{k: v for k, v in asdict(pose).items() if v == v},
                "parameters": names,
                "covariance": covariance.ravel().tolist(),
            },
            ends.tolist(),
        ],
    )
    drawn = []
    for row in rng.multivariate_normal(np.zeros(6), covariance, 4000):
        other = replace(pose, **{n: getattr(pose, n) + v for n, v in zip(names, row, strict=True)})
        at = ends + rng.normal(0, 0.5, (2, 2))
        drawn.append(great_circle_km(*zip(*pixel_to_surface(other, at[:, 0], at[:, 1]), strict=True)))
    assert told["km"] == pytest.approx(np.mean(drawn), rel=0.01)
    assert told["sigma"] == pytest.approx(np.std(drawn), rel=0.06)


def great_circle_km(a, b):
    """By the haversine formula, on the IAU's mean radius."""
    (lat1, lon1), (lat2, lon2) = np.radians(a), np.radians(b)
    h = math.sin((lat2 - lat1) / 2) ** 2 + math.cos(lat1) * math.cos(lat2) * math.sin((lon2 - lon1) / 2) ** 2
    return 2 * 1737.4 * math.asin(math.sqrt(h))


def test_a_distance_is_measured_between_two_clicks_in_every_view(opened, desk):
    """Between the middles of two craters, by the IAU's coordinates; the render's own truth says where they are."""
    page = opened()
    told = page.locator("#told")
    page.get_by_role("radio", name="Measure").check()
    want = great_circle_km((51.62, -9.38), (-43.31, -11.36))  # Plato, Tycho (IAU gazetteer)
    for view, slug in (("As sent", None), ("Upright", "upright"), ("As the eye sees it", "eye")):
        page.get_by_role("radio", name=view).check()
        if slug is not None:
            expect(page.locator("svg.stage")).to_have_attribute("data-view", slug)
        page.locator("svg.stage").press("Escape")
        page.get_by_role("radio", name="Measure").check()
        for name in ("Plato", "Tycho"):
            click(page, desk.truth(name))
        expect(told).to_contain_text("along the surface from 51")
        km, sigma = map(float, re.search(r"(\d+) km ± (\d+)", told.inner_text()).groups())
        assert abs(km - want) < 3 * sigma, view
        assert sigma < 40
    # an end is dragged to another place
    page.wait_for_load_state("networkidle")  # nothing on the page moves any more
    target = on_screen(page, *desk.truth("Copernicus"))
    page.mouse.move(*on_screen(page, *desk.truth("Tycho")))
    page.mouse.down()
    page.mouse.move(*target, steps=4)
    page.mouse.up()
    expect(told).to_contain_text("to 9")
    page.mouse.click(*on_screen(page, desk.scene.spec.x + 1.06 * desk.scene.spec.radius_px, desk.scene.spec.y))
    expect(told).to_have_text("That point is off the Moon.")


# --- looking ---------------------------------------------------------------------------------------------------------


def test_a_feature_under_the_pointer_tells_its_facts(opened, desk):
    page = opened()
    fact = page.locator("#fact")
    expect(fact).to_be_hidden()
    page.mouse.move(*on_screen(page, *desk.truth("Theophilus")))
    expect(fact).to_contain_text("Theophilus")
    expect(fact).to_contain_text("crater, 99 km")  # IAU gazetteer: 98.59 km
    expect(fact).to_contain_text(re.compile("Sun .* high.*; (clearly|well) seen"))
    page.mouse.move(*on_screen(page, *desk.truth("Copernicus")))
    expect(fact).to_contain_text("in the dark; cannot be seen")  # the terminator lies east of it that evening
    page.mouse.move(*on_screen(page, 3, 3))
    expect(fact).to_be_hidden()
    click(page, desk.truth("Theophilus"))
    page.mouse.move(*on_screen(page, 3, 3))
    expect(fact).to_contain_text("Theophilus")  # what was clicked stays
    page.locator("svg.stage").press("Escape")
    expect(fact).to_be_hidden()


def test_a_feature_is_found_by_its_name_with_the_keyboard_alone(opened):
    page = opened()
    page.locator("svg.stage").focus()
    page.keyboard.press("/")
    page.keyboard.type("sea of serenity")
    page.keyboard.press("Enter")
    expect(page.locator("#fact")).to_contain_text("Mare Serenitatis")
    expect(page.locator(".zoom output")).not_to_have_text("100 %")
    page.locator("#find-name").fill("Atlantis")
    page.get_by_role("button", name="Show it").click()
    expect(page.locator("#told")).to_have_text("Atlantis is not among what lies in this picture.")


def test_zoom_to_single_pixels_by_keys_and_back(opened):
    page = opened()
    stage, zoom = page.locator("svg.stage"), page.locator(".zoom output")
    stage.press("0")
    expect(zoom).to_have_text("100 %")
    stage.press("1")
    scale = page.evaluate("document.querySelector('svg.stage').getScreenCTM().a")
    assert scale == pytest.approx(1.0, abs=0.01) or zoom.inner_text() == "100 %"  # a small picture fills the stage
    for _ in range(12):
        stage.press("+")
    scale = page.evaluate("document.querySelector('svg.stage').getScreenCTM().a")
    assert scale > 4
    before = page.evaluate("document.querySelector('svg.stage').viewBox.baseVal.x")
    stage.press("ArrowRight")
    assert page.evaluate("document.querySelector('svg.stage').viewBox.baseVal.x") > before
    stage.press("0")
    expect(zoom).to_have_text("100 %")


def test_in_every_view_the_names_stand_at_the_same_pixels(opened, desk):
    """Upright: north above south, west left of east by the truth of the render, which was turned and mirrored."""
    page = opened()
    page.locator("svg.stage").press("v")
    expect(page.get_by_role("radio", name="Upright")).to_be_checked()
    expect(page.locator("svg.stage.laid")).to_be_visible()
    plato, tycho = on_screen(page, *desk.truth("Plato")), on_screen(page, *desk.truth("Tycho"))
    copernicus = on_screen(page, *desk.truth("Copernicus"))
    theophilus = on_screen(page, *desk.truth("Theophilus"))
    assert plato[1] < tycho[1] - 50
    assert copernicus[0] < theophilus[0] - 20
    # the rim of each crater that is named lies round the crater's own pixel, as drawn for this view
    named = set(page.locator("#layer-craters .wide text").all_text_contents())
    true = {f["name"]: (f["x"], f["y"]) for f in desk.scene.truth["features"] if f["name"] in named}
    assert len(true) > 5
    for name, at in true.items():
        ringed = page.evaluate(
            """([x, y]) => [...document.querySelectorAll("#layer-craters .wide path")].some((p) => {
            const box = p.getBoundingClientRect();
            return box.width < 80 && box.left < x && x < box.right && box.top < y && y < box.bottom;
        })""",
            on_screen(page, *at),
        )
        assert ringed, name
    page.locator("svg.stage").press("v")
    expect(page.locator("#told")).to_contain_text("As the eye sees it from the programme's place at 20:00 (19:00 UTC)")
    page.locator("svg.stage").press("v")
    expect(page.get_by_role("radio", name="As sent")).to_be_checked()


def test_closer_by_smaller_names_and_more_of_them(opened):
    page = opened()
    for text in page.locator("svg.stage .narrow text").all():  # those of a phone
        expect(text).to_be_hidden()
    few = page.locator("#layer-craters .wide text").count()
    for _ in range(7):
        page.locator("svg.stage").press("+")
    expect(page.locator("#layer-craters .wide text").nth(few + 5)).to_be_attached()
    sizes = page.evaluate("""[...document.querySelectorAll("#layer-craters .wide text")]
        .map((t) => t.getAttribute("font-size") * document.querySelector("svg.stage").getScreenCTM().a)""")
    assert all(10 < size < 40 for size in sizes)


# --- correcting ------------------------------------------------------------------------------------------------------


def error_px(found: Pose, true: Pose) -> float:
    lat, lon = np.array([50.0, -40.0, 10.0, 0.0]), np.array([-10.0, -10.0, -20.0, 30.0])
    a, b = surface_to_pixel(found, lat, lon), surface_to_pixel(true, lat, lon)
    return float(np.hypot(a.x - b.x, a.y - b.y).max())


def test_a_wrong_placing_is_put_right_by_two_pins_and_undone(opened, desk):
    assert error_px(desk.annotation("wrong").pose, desk.scene.pose) > 100
    page = opened("wrong")
    expect(page.locator(".verdict")).to_have_text("Not sure: Two turns fit nearly as well.")
    page.get_by_role("radio", name="Correct").check()
    for name in ("Plato", "Tycho"):
        page.locator("#pin-name").fill(name)
        click(page, desk.truth(name))
    expect(page.locator("#pins li")).to_have_count(2)
    page.get_by_role("button", name="Place again").click()
    expect(page.locator("#told")).to_contain_text("Placed again.", timeout=30_000)
    expect(page.locator(".verdict")).to_contain_text("Sure")
    assert error_px(desk.annotation("wrong").pose, desk.scene.pose) < 1.0
    # what is drawn and told is of the new placement, without a new page
    page.get_by_role("radio", name="Look").check()
    page.mouse.move(*on_screen(page, *desk.truth("Theophilus")))
    expect(page.locator("#fact")).to_contain_text("Theophilus")
    page.get_by_role("radio", name="Upright").check()
    expect(page.locator("svg.stage.laid")).to_be_visible()
    assert on_screen(page, *desk.truth("Plato"))[1] < on_screen(page, *desk.truth("Tycho"))[1]
    expect(page.locator(".decisions li")).to_contain_text("Set on the picture: Plato and Tycho")
    page.get_by_role("button", name="Undo: Set on the picture").click()
    expect(page.locator(".decisions .undone")).to_have_count(1, timeout=30_000)
    expect(page.locator(".verdict")).to_have_text("Not sure: Two turns fit nearly as well.")
    with Storage(desk.config.data_dir) as storage:
        assert [(d.kind, d.undone_by) for d in decisions_of(storage, desk.ids["wrong"])] == [("pins", "desk")]


def test_pins_by_the_keyboard_alone(opened, desk):
    page = opened("wrong")
    stage = page.locator("svg.stage")
    stage.focus()
    page.keyboard.press("c")
    for name in ("Plato", "Tycho"):
        page.locator("#pin-name").focus()
        page.keyboard.type(name)
        page.keyboard.press("Enter")  # to the stage
        expect(stage).to_be_focused()
        for _ in range(6):
            page.keyboard.press("+")
        x, y = desk.truth(name)
        page.evaluate(
            """([x, y]) => { // arrows would do it, in many steps
            const box = document.querySelector("svg.stage").viewBox.baseVal;
            window.wanted = [x - box.width / 2, y - box.height / 2];
        }""",
            [x, y],
        )
        for _ in range(200):
            dx, dy = page.evaluate("""() => {
                const box = document.querySelector("svg.stage").viewBox.baseVal;
                return [window.wanted[0] - box.x, window.wanted[1] - box.y];
            }""")
            step = page.evaluate("""() => {
                const box = document.querySelector("svg.stage").viewBox.baseVal;
                return 0.02 * Math.min(box.width, box.height);
            }""")
            if max(abs(dx), abs(dy)) < step:
                break
            key = (
                ("ArrowRight" if dx > 0 else "ArrowLeft")
                if abs(dx) > abs(dy)
                else ("ArrowDown" if dy > 0 else "ArrowUp")
            )
            page.keyboard.press(f"Shift+{key}" if max(abs(dx), abs(dy)) < 6 * step else key)
        page.keyboard.press("Enter")
    expect(page.locator("#pins li")).to_have_count(2)
    page.locator("#place-again").press("Enter")
    expect(page.locator("#told")).to_contain_text("Placed again.", timeout=30_000)
    assert error_px(desk.annotation("wrong").pose, desk.scene.pose) < 2.0
    page.get_by_role("button", name="Undo: Set on the picture").press("Enter")
    expect(page.locator(".decisions .undone").first).to_be_visible(timeout=30_000)


def test_the_circle_is_dragged_to_the_edge_of_the_disc(opened, desk):
    page = opened("right")
    page.get_by_role("radio", name="Correct").check()
    page.get_by_role("checkbox", name="Set it by hand").check()
    x, y, radius = (int(page.locator(f"#circle-{k}").input_value()) for k in ("x", "y", "radius"))
    true = desk.scene.spec
    assert (x, y, radius) == pytest.approx((true.x, true.y, true.radius_px), abs=2)
    start, end = on_screen(page, x, y), on_screen(page, x + 30, y - 12)
    page.mouse.move(*start)
    page.mouse.down()
    page.mouse.move(*end, steps=5)
    page.mouse.up()
    assert int(page.locator("#circle-x").input_value()) == pytest.approx(x + 30, abs=2)
    assert int(page.locator("#circle-y").input_value()) == pytest.approx(y - 12, abs=2)
    rim, further = on_screen(page, x + 30 + radius, y - 12), on_screen(page, x + 30 + radius + 25, y - 12)
    page.mouse.move(*rim)
    page.mouse.down()
    page.mouse.move(*further, steps=5)
    page.mouse.up()
    assert int(page.locator("#circle-radius").input_value()) == pytest.approx(radius + 25, abs=2)
    page.locator("#circle-radius").fill(str(radius))  # and typed back
    page.locator("#circle-x").fill(str(x))
    page.locator("#circle-y").fill(str(y + 1))
    page.get_by_role("button", name="Place again").click()
    expect(page.locator("#told")).to_contain_text("Placed again.", timeout=30_000)
    assert error_px(desk.annotation("right").pose, desk.scene.pose) < 1.0
    expect(page.locator(".decisions")).to_contain_text("Edge of the disc drawn")
    page.get_by_role("button", name="Undo: Edge of the disc").click()
    expect(page.locator(".decisions .undone")).to_be_visible(timeout=30_000)


def test_what_cannot_be_placed_is_told_where_one_looks(opened, desk):
    page = opened("right")
    page.get_by_role("radio", name="Correct").check()
    click(page, desk.truth("Plato"))
    expect(page.locator("#told")).to_have_text("Name the feature first, then click it.")
    page.locator("#pin-name").fill("Plateau")
    click(page, desk.truth("Plato"))
    page.get_by_role("button", name="Place again").click()
    expect(page.locator("#told")).to_contain_text("no feature called “Plateau”")
    expect(page.locator("#told")).to_contain_text("Did you mean")
    page.get_by_role("button", name="Remove Plateau").click()
    page.get_by_role("button", name="Place again").click()
    expect(page.locator("#told")).to_contain_text("Nothing is set yet")
    assert all("422" in complaint for complaint in opened.complaints)  # what the browser says of those two answers
    opened.complaints.clear()


# --- without script, and small ---------------------------------------------------------------------------------------


def test_without_script_all_is_read_and_details_are_put_right(opened, desk):
    page = opened("right", script=False)
    expect(page.locator("svg.stage image")).to_be_visible()
    assert page.locator("#layer-craters .wide text").count() > 5
    for gone in ("#modes", ".zoom", "#find", "#bench"):
        expect(page.locator(gone)).to_be_hidden()
    expect(page.get_by_role("radio", name="As the eye sees it")).to_be_hidden()
    page.get_by_role("radio", name="Upright").check()
    expect(page.locator("img.upright")).to_be_visible()
    expect(page.locator("svg.stage")).to_be_hidden()
    page.locator("summary").click()
    page.get_by_label("Credit, exactly as shown").fill("Ilse of the hill")
    page.get_by_role("button", name="Save these details").click()
    expect(page.locator(".decisions")).to_contain_text("Credit: Ilse of the hill")
    expect(page.locator("#facts")).to_contain_text("Ilse of the hill")
    page.get_by_role("button", name="Undo: Credit").click()
    expect(page.locator(".decisions .undone").first).to_contain_text("Credit: Ilse of the hill")


def test_on_a_phone_a_tap_tells_and_nothing_is_wider(opened, desk):
    page = opened("right", PHONE, touch=True)
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    page.touchscreen.tap(*on_screen(page, *desk.truth("Theophilus")))
    expect(page.locator("#fact")).to_contain_text("Theophilus")
    page.get_by_role("radio", name="Measure").check()
    for name in ("Plato", "Tycho"):
        page.touchscreen.tap(*on_screen(page, *desk.truth(name)))
    expect(page.locator("#told")).to_contain_text("km ±")
    page.get_by_role("radio", name="Correct").check()
    expect(page.locator("#bench")).to_be_visible()
    assert page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    for element in ("#bench", "#stage", "#amend"):
        box = page.locator(element).bounding_box()
        assert box["x"] >= 0, element
        assert box["x"] + box["width"] <= PHONE["width"], element

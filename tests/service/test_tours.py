"""Tours of the rundown's pictures: kept, shown in the plan on air, written as films, and refused where they must be."""

from __future__ import annotations

import base64
import io
import itertools
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from browsers import chromium, listen_to, needs_chromium, served
from click.testing import CliRunner
from fakes import add_edition
from PIL import Image

from moondesk import annotate_picture
from moondesk.drawing.frame import Format, FrameRequest, Texts
from moondesk.files.picture import decode_rgb
from moondesk.notes.messages import in_english
from moondesk.records import Known, NotFound
from moondesk.service.cli.main import main
from moondesk.service.errors import BadInputError
from moondesk.service.exports.clip_file import CODECS, RATES, write_clip
from moondesk.service.jobs.derived_pictures import PHOTO_QUALITY, jpeg
from moondesk.service.jobs.frame_files import paint_frame
from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.programme.air_plan import Other
from moondesk.service.programme.tour_words import read_tour, rendering_words, title_of
from moondesk.service.store import rundowns
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.forget import forget
from moondesk.service.store.media import DERIVED, write_whole
from moondesk.service.store.pictures import list_by_id, list_pictures
from moondesk.service.store.records import Arrival, ConsentRecord, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.submissions import add_consent, add_submission
from moondesk.service.store.tours import keep_tour, kept_tour
from moondesk.service.studio import Studio
from moondesk.service.studio.plan import make_plan
from moondesk.service.studio.planned_tours import stopped_items
from moondesk.service.web.desk.app import create_app
from moondesk.tour.clip import Clip, frames
from moondesk.tour.views import View, ViewKind

av = pytest.importorskip("av", reason="PyAV is not installed (extra: video)")

SAMPLE = Path(__file__).resolve().parents[2] / "sample_submissions" / "20261017_211435.jpg"
NOW = datetime(2026, 10, 18, 9, 0, tzinfo=UTC)
KEY = "ab" * 8
SMALL = Format("hd", 320, 180)
TOUR = (
    View(kind=ViewKind.AS_SENT, seconds=2.0),
    View(kind=ViewKind.UPRIGHT, seconds=1.0, move_s=2.0),
    View(kind=ViewKind.NAMED, seconds=3.0, move_s=0.0),
    View(kind=ViewKind.CLOSE_UP, feature="Theophilus", seconds=3.0, move_s=3.0),
)


@cache
def placed():
    data = SAMPLE.read_bytes()
    return data, decode_rgb(data), annotate_picture(data, Known())


_painted = {}


def run_once(fn, *args):
    """As `at_once`; a frame that another test has had drawn is not drawn again."""
    if fn is not paint_frame:
        return at_once(fn, *args)
    key = repr(args[2])
    if key not in _painted:
        _painted[key] = at_once(fn, *args)
    return _painted[key]


class Here:
    """What the desk's workshop does, in this process."""

    run = staticmethod(run_once)

    def warm(self):
        pass


@pytest.fixture
def client(config):
    app = create_app(config)
    app.extensions["moondesk.workshop"] = Here()
    return app.test_client()


@pytest.fixture
def edition(storage):
    return add_edition(storage, EditionPlan(number=12))


@pytest.fixture
def pick(storage, media, edition):
    """Puts a placed picture into edition 12 and its rundown; the item's id."""
    count = itertools.count(1)

    def add(consent="Yes, you may show it.", sender="Ilse Quendel"):
        data, rgb, found = placed()
        n = next(count)
        sha = media.put(data + b"\0" * n)
        enclosure = Enclosure(given_name=f"{n}.jpg", size_bytes=len(data), sha256=sha, media_type="image/jpeg")
        consents = (ConsentRecord(state="given", kind="table", evidence=consent),) if consent else ()
        arrival = Arrival(
            key=f"file:{n}", source="folder", origin="a", enclosures=(enclosure,), sender_name=sender, consents=consents
        )
        add_submission(storage, edition.id, arrival, NOW)
        picture_id = max(p.picture.id for p in list_pictures(storage, edition.id, 99))
        made = StoredAnnotation(
            picture_id=picture_id, annotation=found, engine_version="fake 1", made_utc=NOW, derived_key=KEY
        )
        add_annotation(storage, made, [])
        write_whole(media.derived_folder(sha, KEY) / DERIVED["photo"], jpeg(rgb, PHOTO_QUALITY))
        return rundowns.add(storage, edition.id, picture_id, "Ana", NOW).item_id

    return add


# --- words ------------------------------------------------------------------------------------------------------------


def test_tours_are_read_as_they_are_typed():
    tour = read_tour("as-sent=3, upright, named=5/0, close copernicus=6/3.5, light Mare Crisium")
    assert [v.kind.value for v in tour] == ["as_sent", "upright", "named", "close_up", "named"]
    assert [v.seconds for v in tour] == [3.0, 4.0, 5.0, 6.0, 4.0]
    assert (tour[2].move_s, tour[3].move_s) == (0.0, 3.5)
    assert tour[3].feature == "Copernicus"
    assert (tour[4].spotlight, tour[4].feature) == (True, "Mare Crisium")
    assert [title_of(v) for v in tour[2:]] == ["Named", "Close: Copernicus", "Light on Mare Crisium"]


@pytest.mark.parametrize(
    "text", ["", "sideways", "close", "close Nowhere", "named Plato", "named=x", ",".join(["named"] * 13)]
)
def test_what_is_no_tour_is_told(text):
    assert isinstance(read_tour(text), NotFound)


# --- files ------------------------------------------------------------------------------------------------------------


def small_clip(seconds=1.0, bare=True, rate="25"):
    _, rgb, annotation = placed()
    whole = FrameRequest(format=SMALL, texts=Texts(credit="Ilse Quendel"), offered=("Plato", "Maurolycus"))
    tour = (View(kind=ViewKind.NAMED, seconds=seconds / 2), View(kind=ViewKind.NAMED, seconds=seconds / 2, move_s=0.0))
    return Clip(rgb=rgb, annotation=annotation, whole=whole, tour=tour, rate=RATES[rate], bare=bare)


def read_back(path, codec):
    """The stream, and its frames with alpha."""
    with av.open(str(path)) as film:
        stream = film.streams.video[0]
        context = stream.codec_context
        told = {
            "size": (context.width, context.height),
            "rate": stream.average_rate,
            "seconds": float(film.duration / av.time_base),
            "tags": (context.color_primaries, context.color_trc, context.colorspace, context.color_range),
        }
        # FFmpeg's own decoder of VP9 leaves alpha out; the encoder's library has one that does not
        decoder = av.CodecContext.create("libvpx-vp9", "r") if codec == "vp9" else None
        packets = film.demux(stream)
        drawn = [f for p in packets for f in (decoder.decode(p) if decoder else p.decode())]
    return told, drawn


@pytest.mark.parametrize(
    ("codec", "rate"), [("prores", "25"), ("prores", "29.97"), ("prores", "50"), ("vp9", "29.97"), ("vp9", "59.94")]
)
def test_films_have_size_rate_length_alpha_and_colours(tmp_path, codec, rate):
    made = small_clip(rate=rate)
    path = tmp_path / f"film{CODECS[codec].suffix}"
    assert write_clip(path, frames(made), (320, 180), made.rate, CODECS[codec]) == made.count
    told, drawn = read_back(path, codec)
    assert told["size"] == (320, 180)
    # WebM holds a frame's length in nanoseconds, and FFmpeg reads it as a fraction of numbers up to 30000
    assert told["rate"] == (RATES[rate] if codec == "prores" else pytest.approx(RATES[rate], abs=1e-5))
    assert told["tags"] == (1, 1, 1, 1)  # BT.709 thrice, video range (ITU-T H.273)
    assert len(drawn) == made.count == round(RATES[rate])
    assert told["seconds"] == pytest.approx(float(made.count / RATES[rate]), abs=0.0011)  # WebM counts milliseconds
    assert drawn[0].format.name.startswith("yuva4")
    assert {(f.colorspace, f.color_range) for f in drawn} == {(1, 1)}
    if codec == "prores":
        assert drawn[0].format.name.startswith("yuva444")
    sent = list(frames(made))
    for n in (0, len(drawn) - 1):
        rgba = drawn[n].to_ndarray(format="rgba")
        alpha = rgba[..., 3].astype(int)
        assert (alpha == 0).mean() > 0.3
        assert len(np.unique(alpha)) > 8
        assert np.abs(alpha - sent[n][..., 3]).mean() < 2.0
        ink = sent[n][..., 3] == 255
        off = np.abs(rgba[ink][:, :3].astype(int) - sent[n][ink][:, :3]).mean()
        assert off < (
            12.0 if codec == "prores" else 20.0
        )  # VP9 has half the places for colour: letters are narrow here


def test_colours_survive(tmp_path):
    """A plate of one colour, through BT.709 and back, within two steps of 255."""
    frame = np.zeros((64, 64, 4), np.uint8)
    frame[:] = (200, 90, 40, 255)
    frame[:, 40:] = (20, 60, 220, 128)
    for codec, row in CODECS.items():
        path = tmp_path / f"film{row.suffix}"
        write_clip(path, [frame] * 3, (64, 64), Fraction(25), row)
        _, drawn = read_back(path, codec)
        rgba = drawn[1].to_ndarray(format="rgba").astype(int)
        assert np.abs(rgba[30, 10] - [200, 90, 40, 255]).max() <= 3
        assert np.abs(rgba[30, 56] - [20, 60, 220, 128]).max() <= 3


def test_a_film_is_there_whole_or_not_at_all(tmp_path):
    def broken():
        yield from itertools.islice(frames(small_clip()), 3)
        raise RuntimeError("the power is gone")

    path = tmp_path / "film.mov"
    path.write_bytes(b"the one before")
    with pytest.raises(RuntimeError, match="power"):
        write_clip(path, broken(), (320, 180), Fraction(25), CODECS["prores"])
    assert path.read_bytes() == b"the one before"
    assert list(tmp_path.iterdir()) == [path]
    with pytest.raises(BadInputError, match=r"does not end in \.webm"):
        write_clip(path, iter(()), (320, 180), Fraction(25), CODECS["vp9"])


@needs_chromium
def test_chromium_plays_it(tmp_path):
    made = small_clip(seconds=1.2)
    path = tmp_path / "film.webm"
    write_clip(path, frames(made), (320, 180), made.rate, CODECS["vp9"])
    film = base64.b64encode(path.read_bytes()).decode()
    with chromium() as browser:
        page = browser.new_page()
        page.set_content(f"<video src='data:video/webm;base64,{film}' muted></video>")
        told = page.evaluate(
            """async () => {
                const v = document.querySelector("video");
                if (v.readyState < 1) await new Promise((r, no) => { v.onloadedmetadata = r; v.onerror = () => no(v.error.message); });
                await v.play();
                await new Promise(r => { v.onended = r; });
                const c = document.createElement("canvas"); c.width = v.videoWidth; c.height = v.videoHeight;
                const x = c.getContext("2d"); x.drawImage(v, 0, 0);
                const d = x.getImageData(0, 0, c.width, c.height).data;
                let clear = 0, full = 0;
                for (let k = 3; k < d.length; k += 4) { clear += d[k] === 0; full += d[k] === 255; }
                return [v.videoWidth, v.videoHeight, v.duration, v.currentTime, clear, full];
            }"""
        )
    assert told[:2] == [320, 180]
    assert told[2] == pytest.approx(1.2, abs=0.03)
    assert told[3] == pytest.approx(1.2, abs=0.05)
    assert told[4] > 0.3 * 320 * 180  # what is not there lets the page through
    assert told[5] > 40


# --- the command --------------------------------------------------------------------------------------------------------


def run(config, *arguments):
    return CliRunner().invoke(main, ["clip", *map(str, arguments), "--data", str(config.data_dir)])


def test_the_command_writes_a_film(config, pick, tmp_path):
    pick()
    out = tmp_path / "pull-in.webm"
    told = run(config, "12.1", "--out", out, "--tour", "close Theophilus=0.5", "--layers-only", "--rate", "29.97")
    assert told.exit_code == 0, told.output
    assert told.stdout.strip() == str(out)
    read, drawn = read_back(out, "vp9")
    assert (read["size"], read["rate"], len(drawn)) == ((1920, 1080), Fraction(30000, 1001), round(0.5 * 30000 / 1001))


def test_what_may_not_be_shown_is_no_film(config, pick, tmp_path):
    pick(consent="")
    out = tmp_path / "film.mov"
    told = run(config, "12.1", "--out", out)
    assert told.exit_code == 3
    assert "nobody has said" in told.stderr.lower() or "consent" in told.stderr.lower(), told.stderr
    assert not out.exists()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("12.9", "--out", "a.mov"), "Edition 12 has 1 pictures"),
        (("4711", "--out", "a.mov"), "no picture 4711"),
        (("twelve", "--out", "a.mov"), "names no picture"),
        (("12.1", "--out", "a.mp4"), "must end in .mov"),
        (("12.1", "--out", "a.mov", "--codec", "vp9"), "must end in .mov"),
        (("12.1", "--out", "a.mov", "--tour", "around"), "is no view"),
        (("12.1", "--out", "a.mov", "--tour", "close Grimaldi"), "not in the light"),
    ],
)
def test_wrong_usage_is_told(config, pick, tmp_path, monkeypatch, arguments, words):
    monkeypatch.chdir(tmp_path)
    pick()
    told = run(config, *arguments)
    assert told.exit_code != 0
    assert words in told.stderr
    assert not list(tmp_path.glob("a.*"))


# --- kept, and on air ---------------------------------------------------------------------------------------------------


def test_a_tour_is_kept_and_taken_back(storage, pick):
    item = pick()
    assert kept_tour(storage, item) == ()
    keep_tour(storage, item, TOUR, "Ana", NOW)
    assert kept_tour(storage, item) == TOUR
    keep_tour(storage, item, (), "Ana", NOW)
    assert kept_tour(storage, item) == ()


def test_the_plan_has_the_views_and_the_way_between_them(config, storage, pick, edition):
    item = pick()
    studio = Studio(storage, config, run_once)
    (plain,) = make_plan(studio, edition, "hd", 90.0).items
    assert plain.views == ()
    keep_tour(storage, item, TOUR, "Ana", NOW)
    (found,) = make_plan(studio, edition, "hd", 90.0).items
    views = found.all_views
    assert len(views) == 4
    assert [layer.kind for layer in found.layers] == ["picture", "credit"]
    assert [v.kind for v in found.views] == ["upright", "named", "close_up"]
    assert {layer.kind for layer in views[1].layers} <= {"picture", "scale", "credit"}
    assert views[2].layers == plain.layers
    assert views[1].move is not None
    assert (views[2].move, views[3].move.seconds, views[3].feature) == (None, 3.0, "Theophilus")
    for view in (views[1], views[3]):
        shares, matrices = zip(*view.move.path, strict=True)
        assert (shares[0], shares[-1]) == (0.0, 1.0)
        assert matrices[0] == pytest.approx((1, 0, 0, 1, 0, 0), abs=1e-5)
        assert matrices[-1] == view.move.matrix
    # the picture of the whole, moved, is that of the close-up where both have it
    a, b, c, d, _, _ = views[3].move.matrix
    assert a == pytest.approx(d)
    assert a > 1.5
    assert (b, c) == pytest.approx((0, 0), abs=1e-6)


def test_another_light_and_another_evening_are_views_until_somebody_takes_one_back(
    config, storage, media, pick, edition, client
):
    item, other = pick(), pick(sender="Bo Ek")
    relit, against = View(kind=ViewKind.RELIT, hours=24.0), View(kind=ViewKind.AGAINST, against=other)
    keep_tour(storage, item, (View(kind=ViewKind.UPRIGHT), relit, against, View(kind=ViewKind.CLOSE_UP, feature="Grimaldi")), "Ana", NOW)  # fmt: skip
    studio = Studio(storage, config, run_once)
    plan = make_plan(studio, edition, "hd", 90.0)
    _, lit, two = plan.items[0].all_views
    assert [x.kind for x in lit.layers] == ["picture", "rendering", "credit"]
    assert all(x.base for x in lit.layers)
    assert "a rendering, not a photograph" in lit.layers[1].title
    assert [(x.kind, x.base, x.url.split("/")[0]) for x in two.layers] == [
        ("picture", True, str(item)),
        ("against", False, str(other)),
        ("credit", True, str(item)),
        ("credit", True, str(other)),
    ]
    assert (two.title, two.other) == ("Against Bo Ek", Other(other, "Bo Ek", "Bo Ek"))
    # what cannot be shown is told, and the rest stands
    assert [why.partition(":")[0] for _, why in plan.left_out] == ["View 4, Close"]
    assert "not in the light" in plan.left_out[0][1]
    # while nothing may be made the picture stands as it can, and more is said to come
    waiting = make_plan(studio, edition, "vertical", 0.0)
    assert (waiting.items, len(waiting.making)) == ((), 2)
    one, theirs = (x.url.split("/") for x in two.layers[:2])
    with client.get(f"/rundown/12/items/{item}/tour/3.png") as sent:
        assert sent.status_code == 200
    page = client.get(f"/rundown/12/items/{item}/tour").text
    assert f'<option value="{other}" selected>Bo Ek, 17 October 2026 (edition 12)' in page
    assert client.get(f"/air/12/items/{other}/{theirs[1]}.png?v={theirs[2]}").status_code == 200
    picture = rundowns.rundown(storage, edition.id).item(other).picture_id
    submission = list_by_id(storage, [picture])[0].picture.submission.id
    add_consent(storage, submission, ConsentRecord(state="refused", kind="phone", evidence="No.", noted_by="Ana"), NOW)
    assert stopped_items(studio, edition) == [other]
    assert client.get(f"/air/12/items/{other}/{theirs[1]}.png?v={theirs[2]}").status_code == 404
    assert client.get(f"/air/12/items/{item}/{one[1]}.png?v={one[2]}").status_code == 200
    plan = make_plan(studio, edition, "hd", 90.0)
    assert [v.kind for v in plan.items[0].all_views] == ["upright", "relit"]
    assert any("Of the other evening" in why for _, why in plan.left_out)
    forget(storage, media, "Bo Ek", NOW)
    assert other in stopped_items(studio, edition)


def test_nothing_of_what_may_not_be_shown_is_toured(config, storage, pick, edition):
    item = pick(consent="")
    keep_tour(storage, item, TOUR, "Ana", NOW)
    plan = make_plan(Studio(storage, config, run_once), edition, "hd", 90.0)
    assert (plan.items, len(plan.left_out)) == ((), 1)


@needs_chromium
def test_a_tour_is_led_through_in_the_browser(storage, pick, client):
    item, other = pick(), pick(sender="Bo Ek")
    views = (*TOUR[:2], TOUR[3], View(kind=ViewKind.AGAINST, against=other, move_s=1.0))
    keep_tour(storage, item, views, "Ana", NOW)
    with served(client.application) as url, chromium() as browser:
        window = browser.new_context().new_page()
        window.goto(f"{url}/air/12/presenter")
        window.get_by_text("All pictures are here").wait_for(timeout=60_000)
        told = window.locator("#steps .head, #steps .view").all_text_contents()[:4]
        assert told == ["Ilse Quendel: As it was sent", "Turned upright", "Close: Theophilus", "Against Bo Ek"]
        page = window.context.new_page()
        page.set_viewport_size({"width": 960, "height": 540})
        complaints = []
        listen_to(page, complaints)
        page.goto(f"{url}/air/12")
        page.locator("canvas.shown").first.wait_for()

        def shot():
            return np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("L")).astype(int)

        for place in range(1, 4):
            before = shot()
            page.keyboard.press("ArrowRight")
            page.locator("body[data-moving]").wait_for(state="attached")
            page.evaluate("document.getAnimations().forEach((a) => { a.pause(); a.currentTime = 300 + 0.5 * (a.effect.getTiming().duration || 0); })")  # fmt: skip
            half = shot()
            page.evaluate("document.getAnimations().forEach((a) => a.play())")
            page.locator("body:not([data-moving])").wait_for(state="attached")
            page.wait_for_timeout(400)
            after = shot()
            assert half.max() > 100  # the Moon is in sight on the way, and on its way
            assert min(np.abs(half - before).mean(), np.abs(half - after).mean()) > 0.5
            if place < 3:
                with client.get(f"/rundown/12/items/{item}/tour/{place + 1}.png") as sent:
                    still = Image.open(io.BytesIO(sent.data)).convert("L").resize((960, 540), Image.Resampling.BOX)
                page.keyboard.press("a")
                page.wait_for_timeout(400)
                assert np.abs(shot() - np.asarray(still).astype(int)).mean() < (1.5 if place == 2 else 3.0)
        assert complaints == []


# --- the page -----------------------------------------------------------------------------------------------------------


def rows(*views):
    """A form with these rows: (kind, feature, seconds, move)."""
    return {name: [str(v[k]) for v in views] for k, name in enumerate(("kind", "feature", "seconds", "move"))}


def press(client, item, what, form):
    token = client.get(f"/rundown/12/items/{item}/tour").text.partition('name="token" value="')[2].partition('"')[0]
    return client.post(f"/rundown/12/items/{item}/tour", data={**form, "do": what, "token": token})


def test_the_page_offers_the_usual_tour_and_keeps_another(client, storage, pick):
    item = pick()
    page = client.get(f"/rundown/12/items/{item}/tour").text
    assert "not on air yet" in page
    assert page.count("<fieldset>") == 5
    assert "Close: Maurolycus" in page
    assert 'option value="Theophilus"' in page
    assert "moondesk clip 12.1 --out" in page
    form = rows(("as_sent", "", 3, 0), ("named", "", 5, 2), ("close_up", "Theophilus", 6, 3))
    assert press(client, item, "keep", form).status_code == 303
    assert [(v.kind.value, v.feature, v.seconds, v.move_s) for v in kept_tour(storage, item)] == [
        ("as_sent", "", 3.0, 0.0),
        ("named", "", 5.0, 2.0),
        ("close_up", "Theophilus", 6.0, 3.0),
    ]
    assert "On air it is shown like this" in client.get(f"/rundown/12/items/{item}/tour").text
    press(client, item, "up-3", form)
    assert [v.kind.value for v in kept_tour(storage, item)] == ["as_sent", "close_up", "named"]
    press(client, item, "remove-1", form)
    assert [v.kind.value for v in kept_tour(storage, item)] == ["named", "close_up"]
    press(client, item, "add", form)
    assert len(kept_tour(storage, item)) == 4
    press(client, item, "keep", {**rows(("named", "Theophilus", 4, 2)), "light": "1"})
    assert [(v.feature, v.spotlight) for v in kept_tour(storage, item)] == [("Theophilus", True)]
    press(client, item, "plain", form)
    assert kept_tour(storage, item) == ()
    press(client, item, "usual", form)
    assert len(kept_tour(storage, item)) == 5


@pytest.mark.parametrize(
    ("form", "words"),
    [
        (rows(("sideways", "", 4, 2)), "no such view"),
        (rows(("close_up", "", 4, 2)), "Nothing is named"),
        (rows(("close_up", "Grimaldi", 4, 2)), "not in the light"),
        (rows(("named", "", "long", 2)), "a number that is none"),
        (rows(("named", "", "nan", 2)), "0.5 to 120 seconds"),
        (rows(("named", "", 4000, 2)), "0.5 to 120 seconds"),
    ],
)
def test_a_wrong_form_is_told_and_nothing_kept(client, storage, pick, form, words):
    item = pick()
    told = press(client, item, "keep", form)
    assert told.status_code == 400
    assert words in told.text
    assert kept_tour(storage, item) == ()


def test_stills_are_of_their_views(client, pick):
    item = pick()
    with client.get(f"/rundown/12/items/{item}/tour/1.png") as sent:
        assert (sent.status_code, sent.mimetype) == (200, "image/png")
    assert client.get(f"/rundown/12/items/{item}/tour/9.png").status_code == 404


def test_what_may_not_be_shown_has_no_tour(client, pick):
    item = pick(consent="")
    page = client.get(f"/rundown/12/items/{item}/tour").text
    assert "<fieldset>" not in page
    assert 'role="alert"' in page
    assert client.get(f"/rundown/12/items/{item}/tour/1.png").status_code == 404


def test_tomorrow_is_said_of_this_evening_alone():
    taken = datetime(2026, 10, 17, 19, tzinfo=UTC)
    tonight, later = taken + timedelta(hours=2), taken + timedelta(days=3)
    assert "tomorrow" in in_english(rendering_words(24.0, taken, tonight))
    for words in (rendering_words(24.0, taken, later), rendering_words(24.0, None, tonight)):
        assert in_english(words) == "24 hours after the picture: a rendering, not a photograph"
    assert in_english(rendering_words(-6.0, taken, tonight)).startswith("6 hours before the picture: a rendering")

"""What stands on air for mixers: files of fixed names that are replaced, addresses of each part, fill and key."""

from __future__ import annotations

import io
import json
import time
from datetime import UTC, datetime

import numpy as np
import pytest
from fakes import add_edition
from PIL import Image
from test_air_control import against, item

from moondesk.service.errors import BadInputError
from moondesk.service.exports.air_signals import STILLS, still
from moondesk.service.programme.air_plan import PlannedLayer, plan_of
from moondesk.service.programme.air_steps import OnAir
from moondesk.service.store.air import AirState, make_link
from moondesk.service.store.records import EditionPlan
from moondesk.service.web.desk.app import create_app, handout_of
from moondesk.service.web.desk.onair import handout, onair

NOW = datetime(2026, 3, 26, 18, 0, tzinfo=UTC)
NOW_MS = int(NOW.timestamp() * 1000)
#: Of each layer a colour with its alpha, and the columns of 32 that it covers.
LAYERS = {
    "picture": ((90, 90, 90, 255), (0, 32)),
    "terminator": ((255, 0, 0, 128), (4, 12)),
    "feature": ((0, 200, 0, 255), (8, 16)),
    "credit": ((255, 255, 255, 64), (20, 30)),
    "second": ((7, 7, 7, 255), (0, 32)),
}


def drawn(kind):
    pixels = np.zeros((18, 32, 4), np.uint8)
    colour, (left, right) = LAYERS[kind]
    pixels[:, left:right] = colour
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


def opened(data):
    return np.asarray(Image.open(io.BytesIO(data)).convert("RGBA")).astype(int)


def shown(*kinds):
    one = item(1)
    return OnAir(one, 0, tuple(layer for layer in one.layers if layer.kind in kinds))


def read(layer: PlannedLayer):
    return drawn(layer.kind)


def test_parts_fill_and_key_add_up():
    now = shown("picture", "terminator", "feature", "credit")
    whole, names, credit = (opened(still(n, now, None, read)) for n in ("current.png", "current-names.png", "current-credit.png"))  # fmt: skip
    fill, key = (opened(still(n, now, None, read))[..., :3] for n in ("current-fill.png", "current-key.png"))
    assert (whole[..., 3] == 255).all()  # a photograph fills the frame
    assert (key == 255).all()
    assert np.array_equal(whole[..., :3], fill)
    assert names[0, 5].tolist() == [255, 0, 0, 128]  # straight: the colour as it was painted
    assert names[0, 9].tolist() == [0, 200, 0, 255]
    assert names[0, 20].tolist() == [0, 0, 0, 0]
    assert credit[0, 25].tolist() == [255, 255, 255, 64]
    # over the picture as Pillow lays them
    expected = Image.open(io.BytesIO(drawn("picture")))
    for kind in ("terminator", "feature", "credit"):
        expected = Image.alpha_composite(expected, Image.open(io.BytesIO(drawn(kind))))
    assert np.abs(np.asarray(expected).astype(int) - whole).max() <= 1
    # without the photograph: the fill is on black and multiplied, the key is the alpha
    bare = shown("terminator", "credit")
    fill, key = (opened(still(n, bare, None, read)) for n in ("current-fill.png", "current-key.png"))
    assert fill[0, 5, :3].tolist() == [128, 0, 0]
    assert key[0, 5, 0] == 128
    assert key[0, 25, 0] == 64
    assert fill[0, 0].tolist() == [0, 0, 0, 255]
    assert opened(still("next.png", None, now, read))[..., 3].min() == 255
    nothing = opened(still("current.png", None, None, read))
    assert nothing.shape == (1080, 1920, 4)
    assert nothing.max() == 0


@pytest.fixture
def rundown(monkeypatch):
    told = {"items": [item(1), item(2)], "stopped": []}
    monkeypatch.setattr(onair, "make_plan", lambda *_: plan_of(12, "The Evening Sky", tuple(told["items"]), None))
    monkeypatch.setattr(handout, "layer_png", lambda *asked: drawn("second" if asked[2] == 7 else asked[3]))
    monkeypatch.setattr(handout, "stopped_items", lambda *_: told["stopped"])
    return told


@pytest.fixture
def app(config, storage, rundown):
    add_edition(storage, EditionPlan(number=12))
    return create_app(config, now=lambda: NOW)


def put(app, storage, at, step, **more):
    edition = onair.read_edition(storage, 12)
    with app.app_context():
        try:
            onair.steps().put(storage, edition.id, AirState(at, {"step": step, **more}), NOW_MS)
        finally:
            onair.close_storage()


def wait_for(check, seconds=15):
    end = time.monotonic() + seconds
    while not check():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_the_folder_follows_each_step_and_is_left_empty(app, storage, rundown, tmp_path):
    folder = tmp_path / "air"
    out = handout_of(app, folder)
    names = {*STILLS, "credit.txt", "state.json"}
    assert {p.name for p in folder.iterdir()} == names

    def told():
        return json.loads((folder / "state.json").read_text())

    def pixel(name, x):
        return opened((folder / name).read_bytes())[0, x].tolist()

    out.start()
    try:
        wait_for(lambda: told()["on_air"])
        assert (folder / "credit.txt").read_text() == "Sender 1, Graz\n"
        wait_for(lambda: pixel("current.png", 0) == [90, 90, 90, 255])
        assert pixel("next.png", 5)[0] > 150  # with the terminator
        put(app, storage, NOW_MS, {"item": 2, "count": 2})
        wait_for(lambda: told()["on_air"]["item"] == 2)
        assert told()["on_air"]["layers"] == ["picture", "terminator", "feature"]
        assert pixel("current-names.png", 9) == [0, 200, 0, 255]
        rundown["stopped"] = [2]  # its sender takes it back
        wait_for(lambda: told()["on_air"]["item"] == 1)
        assert "Sender 2" not in "".join((folder / n).read_text() for n in ("credit.txt", "state.json"))
        # two evenings in one frame, the second in from the right; it goes when either sender takes it back
        rundown["items"] = [against(item(1), item(7)), item(2)]
        put(app, storage, NOW_MS + 1, {"item": 1, "count": 0, "view": 1, "wipe": 25})
        wait_for(lambda: told()["on_air"]["against"])
        assert (folder / "credit.txt").read_text() == "Sender 1, Graz\nSender 7, Graz\n"
        wait_for(lambda: pixel("current-picture.png", 28) == [7, 7, 7, 255])
        assert pixel("current-picture.png", 20) == [90, 90, 90, 255]
        rundown["stopped"] = [2, 7]
        wait_for(lambda: told()["on_air"] and not told()["on_air"]["against"])
        assert "Sender 7" not in "".join((folder / n).read_text() for n in ("credit.txt", "state.json"))
        put(app, storage, NOW_MS + 2, {"item": 1, "count": 0}, blank=True)
        wait_for(lambda: told()["on_air"] is None)
        assert opened((folder / "current.png").read_bytes()).max() == 0
        assert (folder / "credit.txt").read_text() == ""
        put(app, storage, NOW_MS + 3, {"item": 1, "count": 0})
        wait_for(lambda: told()["on_air"])
    finally:
        out.stop()
    assert told()["on_air"] is None
    assert opened((folder / "current.png").read_bytes()).max() == 0
    assert opened((folder / "current-key.png").read_bytes())[..., 0].max() == 0
    assert {p.name for p in folder.iterdir()} == names  # and nothing half written
    (tmp_path / "file").write_text("")
    with pytest.raises(BadInputError, match="cannot be written"):
        handout_of(app, tmp_path / "file" / "under")


def test_an_address_gives_each_part_and_only_by_its_secret(app, storage, rundown):
    secret = make_link(storage, "mixer", "Ada", NOW)
    client = app.test_client()
    base = f"/onair/{secret}/still"
    first = client.get(f"{base}/current-names.png")
    assert (first.status_code, first.mimetype) == (200, "image/png")
    assert opened(first.data)[..., 3].max() == 0
    put(app, storage, NOW_MS, {"item": 1, "count": 1})
    second = client.get(f"{base}/current-names.png")
    assert opened(second.data)[0, 5].tolist() == [255, 0, 0, 128]
    again = client.get(f"{base}/current-names.png", headers={"If-None-Match": second.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert client.get(f"{base}/credit.txt").text == "Sender 1, Graz\n"
    assert client.get(f"{base}/state.json").json["on_air"]["item"] == 1
    rundown["stopped"] = [1, 2]
    assert opened(client.get(f"{base}/current.png").data).max() == 0
    assert client.get(f"{base}/credit.txt").text == ""
    assert client.get(f"{base}/current-other.png").status_code == 404
    assert client.get(f"/onair/{'x' * 32}/still/current.png").status_code == 404
    assert client.get(f"/onair/{secret}?show=credit&signal=key&ground=none").status_code == 200
    assert client.get(f"/onair/{secret}?show=nonsense").status_code == 400

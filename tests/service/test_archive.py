"""The archive at the desk: by day, by feature and light, a night, a month, what was on air; and that who takes a
picture back, or is forgotten, is in none of it, nor in what was made of it before."""

from __future__ import annotations

import hashlib
import io
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec

import pytest
from fakes import add_edition
from PIL import Image
from test_composite_command import TAKEN, add, placed

from moondesk.service.jobs.warm_pool import at_once
from moondesk.service.store import aired, rundowns
from moondesk.service.store.archive import pictures_showing
from moondesk.service.store.backup import backup, check
from moondesk.service.store.forget import forget
from moondesk.service.store.records import ConsentRecord, EditionPlan
from moondesk.service.store.submissions import add_consent
from moondesk.service.web.desk.app import create_app

NOW = datetime(2026, 10, 24, 18, 0, tzinfo=UTC)
NIGHT, MONTH = "/archive/nights/2026-10-17", "/archive/months/2026-10-12"


class Here:
    run = staticmethod(at_once)

    def warm(self):
        pass


@pytest.fixture
def edition(storage, media):
    """Three pictures of the evening of 17 October and one of the 19th; a fifth of the 17th may not be shown."""
    made = add_edition(storage, EditionPlan(number=12, air_utc=NOW - timedelta(hours=1)))
    for number, name in enumerate(("Ilse", "Bo", "Cy"), 1):
        add(storage, media, made, number, name, sender_address=f"{name}@viewers.example")
    add(storage, media, made, 4, "Eike", taken=TAKEN + timedelta(days=2), dim=0.8)
    add(storage, media, made, 9, "Dora", "refused")
    return made


@pytest.fixture
def client(edition, config):
    app = create_app(config, now=lambda: NOW)
    app.extensions["moondesk.workshop"] = Here()
    return app.test_client()


def token(client) -> str:
    return client.get("/").text.split('name="token" value="')[1].split('"')[0]


def page(client, path, status=200) -> str:
    with client.get(path) as answer:
        assert answer.status_code == status, path
        return answer.get_data(as_text=True)


def send(client, path, **fields):
    return client.post(path, data={"token": token(client), **fields})


def test_days_of_the_lunation_hold_what_may_be_shown(client, config):
    """New Moon 2026-10-10 15:50 UTC (USNO's table): the 17th is day 7 or 8 by any count from it (common practice)."""
    whole = page(client, "/archive")
    day = next(d for d in (7, 8) if f"day={d}#" in whole)
    shown = page(client, f"/archive?day={day}")
    assert all(f">{name}</a>" in shown for name in ("Ilse", "Bo", "Cy"))
    assert ">Eike</a>" not in shown
    assert ">Dora</a>" not in shown
    assert "One more may not be shown" in shown
    assert f"day={day + 2}#" in whole
    assert "No picture of day 25" in page(client, "/archive?day=25")


def test_a_feature_at_sunrise(client, storage):
    """The light of each picture against its own annotation; the terminator of a waxing Moon is where the Sun rises
    (common knowledge)."""
    found = placed()[2]
    low = [m for m in found.features if m.seen >= 0.5 and 0 < m.sun_altitude_deg < 12]
    high = [m for m in found.features if m.seen >= 0.5 and m.sun_altitude_deg > 40]
    assert low, "the sample is a waxing Moon with features along its terminator"
    name = low[0].feature.name
    shown = page(client, f"/archive?feature={name}&light=sunrise")
    assert all(f">{who}</a>" in shown for who in ("Ilse", "Bo", "Cy", "Eike"))
    assert "climbing" in shown
    assert ">Dora</a>" not in shown
    assert "No picture that may be shown" in page(client, f"/archive?feature={name}&light=sunset")
    assert "No picture that may be shown" in page(client, f"/archive?feature={high[0].feature.name}&light=sunrise")
    assert pictures_showing(storage, high[0].feature.name, "high", 99)
    assert pictures_showing(storage, name, "sunrise", 99)[0].sun_deg == pytest.approx(low[0].sun_altitude_deg, abs=0.01)


def test_a_night_is_put_together_with_all_names(client, media):
    before = page(client, NIGHT)
    assert "Make it" in before
    assert send(client, NIGHT).status_code == 303
    shown = page(client, NIGHT)
    assert all(f"<li>{name}</li>" in shown for name in ("Ilse", "Bo", "Cy"))
    assert "Dora" not in shown
    sizes = {}
    for name in ("composite.png", "captioned.png"):
        with client.get(f"{NIGHT}/{name}") as answer, Image.open(io.BytesIO(answer.get_data())) as image:
            sizes[name] = image.size
            assert image.info.keys() <= {"srgb"}
    assert sizes["composite.png"] == (1001, 1001)
    assert sizes["captioned.png"][0] == 1001
    assert sizes["captioned.png"][1] > 1060
    lone = page(client, "/archive/nights/2026-10-19")
    assert "are the least" in lone
    answer = send(client, "/archive/nights/2026-10-19")
    assert (answer.status_code, "can be laid over each other" in answer.text) == (422, True)
    page(client, "/archive/nights/2026-10-19/composite.png", 404)


def test_a_months_poster_and_march(client):
    assert "Make them" in page(client, MONTH)
    assert send(client, MONTH).status_code == 303
    shown = page(client, MONTH)
    assert "march" in shown
    for name, size in (("sheet", (3508, 4961)), ("feed", (1080, 1350)), ("story", (1080, 1920))):
        with client.get(f"{MONTH}/{name}.png") as answer, Image.open(io.BytesIO(answer.get_data())) as image:
            assert image.size == size
    if find_spec("av"):
        for name in ("march.mp4", "march-upright.mp4"):
            with client.get(f"{MONTH}/{name}") as answer:
                assert answer.get_data()[4:8] == b"ftyp"
    else:
        with client.get(f"{MONTH}/march.webp") as answer, Image.open(io.BytesIO(answer.get_data())) as image:
            assert image.n_frames > 2
    assert "No picture of these evenings" in page(client, "/archive/months/2025-01-01")
    for wrong in ("2026-13-01", "x", "0001-01-01"):
        page(client, f"/archive/months/{wrong}", 404)


def picked(client, storage, edition, picture_id):
    """In the rundown, and noted as aired."""
    item = rundowns.add(storage, edition.id, picture_id, "Ada", NOW).item_id
    answer = send(client, "/rundown/12/aired", item=str(item))
    assert answer.status_code == 303, answer.text
    return item


def test_the_history_keeps_the_frame_as_it_was_aired(client, storage, media, edition, config, tmp_path):
    with client.get(
        f"/rundown/12/items/{rundowns.add(storage, edition.id, 1, 'Ada', NOW).item_id}/frame/whole.png"
    ) as answer:
        before = answer.get_data()
    item = picked(client, storage, edition, 1)
    (line,) = aired.lines(storage)
    assert (line.edition_number, line.picture_id, line.credit) == (12, 1, "Ilse")
    assert line.frame == hashlib.sha256(before).hexdigest()
    with client.get(f"/history/{line.id}/frame.png") as answer:
        assert answer.get_data() == before
    rundowns.edit(
        storage,
        edition.id,
        item,
        {"credit_line": "Somebody else"},
        rundowns.rundown(storage, edition.id).version,
        "Ada",
        NOW,
    )
    with client.get(f"/history/{line.id}/frame.png") as answer:
        assert answer.get_data() == before  # as it was, whatever is typed since
    for path, there in (
        ("/history", True),
        ("/history?q=ilse", True),
        ("/history?q=12", True),
        ("/history?q=Bo", False),
        ("/history?feature=Nowhere", False),
    ):
        assert ("Credit: Ilse" in page(client, path)) is there, path
    backup(config.data_dir, tmp_path / "backup")
    assert (tmp_path / "backup" / "originals" / line.frame[:2] / line.frame).read_bytes() == before
    assert check(tmp_path / "backup").problems == ()
    assert send(client, "/rundown/12/aired", **{"item": str(item), "not": "1"}).status_code == 303
    assert aired.lines(storage) == ()


def test_a_consent_taken_back_is_in_nothing_of_the_archive(client, storage, edition):
    picked(client, storage, edition, 1)
    send(client, NIGHT)
    send(client, MONTH)
    (line,) = aired.lines(storage)
    add_consent(storage, 1, ConsentRecord(state="refused", kind="phone", evidence="Not any more.", noted_by="Ada"), NOW)
    for path in ("/archive", "/archive?day=7", "/archive?day=8", NIGHT, MONTH, "/history", "/history?q=ilse"):
        assert "Ilse" not in page(client, path).replace("q=ilse", ""), path
    assert "Taken back by its sender" in page(client, "/history")
    page(client, f"/history/{line.id}/frame.png", 404)
    page(client, f"{NIGHT}/composite.png", 404)  # it was made with that picture
    assert "2 more may not be shown" in page(client, NIGHT)
    assert send(client, NIGHT).status_code == 422  # two are too few


def test_who_is_forgotten_leaves_a_nameless_line(client, storage, media, edition):
    picked(client, storage, edition, 1)
    send(client, NIGHT)
    send(client, MONTH)
    (line,) = aired.lines(storage)
    assert (media.root / "originals" / line.frame[:2] / line.frame).is_file()
    forget(storage, media, "Ilse@viewers.example", NOW)
    assert not (media.root / "originals" / line.frame[:2] / line.frame).exists()
    made = list((media.root / "derived" / "made").iterdir())
    assert [folder for folder in made if folder.name.startswith("night")] == []
    (left,) = aired.lines(storage)
    assert (left.edition_number, left.aired_utc, left.picture_id, left.credit, left.frame) == (
        12,
        line.aired_utc,
        None,
        "",
        "",
    )
    shown = page(client, "/history")
    assert "only this line stays" in shown
    for path in ("/archive", "/archive?day=7", "/archive?day=8", NIGHT, MONTH, "/history"):
        assert "Ilse" not in page(client, path), path

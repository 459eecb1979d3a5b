"""Comparing pictures: what lies on what, what is called new, what is not certain, which pair an edition gives.

The pictures are drawn from known poses, so that no core needs to place them: a bright dot at a named place of the Moon.
"""

from __future__ import annotations

import itertools
import os
import re
from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta

import cv2
import fakes
import numpy as np
import pytest
from fakes import add_edition

from moondesk import records
from moondesk.comparison.common_frame import Framed, common_pose
from moondesk.ephemeris.aspect import aspect_at
from moondesk.moon.geometry import surface_to_pixel
from moondesk.records import Place, Pose
from moondesk.sentences import sentences_of
from moondesk.service.jobs import comparison_pictures
from moondesk.service.jobs.comparison_pictures import FRAME_PX
from moondesk.service.programme.evenings import load_calendar
from moondesk.service.programme.picture_choice import two_evenings
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.editions import list_editions
from moondesk.service.store.media import DERIVED, Media, sha256_of
from moondesk.service.store.pictures import list_pictures, read_picture
from moondesk.service.store.records import Arrival, Edition, EditionPlan, Enclosure, ListedPicture, StoredAnnotation
from moondesk.service.store.submissions import add_submission
from moondesk.service.web.desk.app import create_app
from moondesk.service.web.desk.comparing.compare_page import ComparePage, gap_in_words

VIENNA = Place(48.2, 16.4)
EVENING = datetime(2026, 3, 26, 19, 0, tzinfo=UTC)
DOTS = ((5.0, 25.0), (42.0, 48.0), (-50.0, 35.0))
KEY = "ab" * 8


@pytest.fixture
def config(tmp_path):
    return Config(data_dir=tmp_path / "data", programme=Programme("The Evening Sky", "Europe/Vienna", VIENNA))


@pytest.fixture
def client(config):
    return create_app(config).test_client()


def pose_at(when, x=300.0, y=260.0, radius=200.0, north=20.0, mirrored=False):
    a = aspect_at(when, VIENNA)
    return Pose(x=x, y=y, radius_px=radius, north_screen_deg=north, mirrored=mirrored, libration_lat_deg=a.libration_lat_deg, libration_lon_deg=a.libration_lon_deg, sub_solar_lat_deg=a.sub_solar_lat_deg,
                sub_solar_lon_deg=a.sub_solar_lon_deg, distance_radii=a.distance_km / 1737.4, sigma_pct_radius=0.05)  # fmt: skip


def photograph(pose, width=600, height=520):
    """Grey, with a white dot at each of DOTS and the sky black."""
    ys, xs = np.mgrid[0:height, 0:width]
    grey = np.where(np.hypot(xs - pose.x, ys - pose.y) < pose.radius_px, 70.0, 0.0)
    at = surface_to_pixel(pose, *np.array(DOTS).T)
    for x, y in zip(at.x, at.y, strict=True):
        grey = np.maximum(grey, 255 * np.exp(-((xs - x) ** 2 + (ys - y) ** 2) / 8))
    return np.rint(grey).astype(np.uint8)


@pytest.fixture
def put(storage, config):
    """Puts a placed picture into the store, as the placing would leave it; its id."""
    count = itertools.count(1)
    editions = {}

    def add(who, pose, taken, number=1, sure=True, photo=True, status=records.Status.ANNOTATED):
        if number not in editions:
            evenings = () if taken is None else (taken.date(),)
            editions[number] = add_edition(storage, EditionPlan(number=number, evenings=evenings))
        n = next(count)
        sha = sha256_of(f"picture {n}".encode())
        arrival = Arrival(
            key=f"file:{n}",
            source="folder",
            origin="a",
            enclosures=(Enclosure(given_name=f"{n}.jpg", size_bytes=9 * n, sha256=sha, media_type="image/jpeg"),),
            sender_name=who,
        )
        add_submission(storage, editions[number].id, arrival, EVENING)
        time = None if taken is None else records.TimeCandidate(taken, 1.0, "told")
        annotation = records.Annotation(
            status=status, sure=sure, reasons=() if sure else sentences_of("Two turns fit nearly as well."), width=600, height=520,
            taken=records.TimeReadings(candidates=(), earliest_utc=None, latest_utc=None), time=time, clock=records.Clock(records.ClockVerdict.AGREES, None, None), pose=pose,
            terminator=records.Terminator(80.0, 0.6, 270.0, 0.2),
            dated=records.EveningKnowledge(records.EveningVerdict.SURE if time else records.EveningVerdict.UNKNOWN))  # fmt: skip
        picture_id = max(p.picture.id for p in list_pictures(storage, editions[number].id, 99))
        add_annotation(
            storage,
            StoredAnnotation(
                picture_id=picture_id, annotation=annotation, engine_version="fake 1", made_utc=EVENING, derived_key=KEY
            ),
            [],
        )
        if photo:
            folder = Media(config.data_dir).derived_folder(sha, KEY)
            folder.mkdir(parents=True)
            cv2.imwrite(str(folder / DERIVED["photo"]), photograph(pose))
        return picture_id

    return add


@pytest.fixture
def pair(put):
    """Two evenings, the second picture mirrored, turned and smaller."""
    later = EVENING + timedelta(days=1)
    return (
        put("Ilse", pose_at(EVENING), EVENING),
        put("Bo", pose_at(later, 310.0, 250.0, 150.0, 130.0, True), later, 2),
    )


def frames_of(page):
    return [a.replace("&amp;", "&") for a in re.findall(r'<img src="(/compare/[^"]+)"', page)]


def test_the_same_place_lies_on_the_same_spot_of_both_frames(client, pair):
    """By the light of the dots in the served pictures: within 0.3 %R of each other, and where the Moon's place is."""
    page = client.get(f"/compare?pictures={pair[1]},{pair[0]}").get_data(as_text=True)
    addresses = frames_of(page)
    assert [f"/compare/{k}/frame.jpg" in a for k, a in zip(pair, addresses, strict=True)] == [True, True]
    later = EVENING + timedelta(days=1)
    framed = [Framed(pose_at(EVENING), 600, 520), Framed(pose_at(later, 310.0, 250.0, 150.0, 130.0, True), 600, 520)]
    frame = common_pose(framed, FRAME_PX)
    expected = surface_to_pixel(frame, *np.array(DOTS).T)
    found = []
    for address in addresses:
        with client.get(address) as response:
            assert (response.status_code, response.mimetype) == (200, "image/jpeg")
            shown = cv2.imdecode(np.frombuffer(response.data, np.uint8), cv2.IMREAD_GRAYSCALE).astype(float)
        assert shown.shape == (FRAME_PX, FRAME_PX)
        spots = []
        for x, y in zip(expected.x, expected.y, strict=True):
            left, top = int(x) - 16, int(y) - 16
            part = np.maximum(shown[top : top + 33, left : left + 33] - 90, 0)
            assert part.max() > 60
            ys, xs = np.mgrid[0:33, 0:33]
            spots.append((left + (xs * part).sum() / part.sum(), top + (ys * part).sum() / part.sum()))
        found.append(np.array(spots))
    tolerance = 0.003 * frame.radius_px
    assert np.hypot(*(found[0] - found[1]).T).max() < tolerance
    assert np.hypot(*(found[0] - np.stack([expected.x, expected.y], axis=1)).T).max() < tolerance


def test_what_has_come_into_the_light_is_listed_and_outlined(client, pair):
    page = client.get(f"/compare?pictures={pair[0]},{pair[1]}").get_data(as_text=True)
    listed = page.split('id="new"')[1]
    for words in ("Newly in the light", "Copernicus", "Fra Mauro", "Sea of Rains"):
        assert words in page, words
    assert "Ptolemaeus" not in listed  # lit on both evenings
    assert "Kepler" not in listed  # dark on both
    assert "24 hours lie between Ilse&#39;s picture and Bo&#39;s picture" in page
    assert 'id="outlines"' in page
    assert page.count('<use href="#outlines"/>') == 3  # each picture, and the two over each other
    assert "Gone into the dark" not in page
    assert page.index("/compare/1/frame.jpg") < page.index("/compare/2/frame.jpg")  # the first taken first


def test_pictures_that_are_not_certain_stay_out_of_the_frame_and_say_so(client, pair, put):
    unsure = put("Karl", pose_at(EVENING), EVENING, sure=False)
    page = client.get(f"/compare?pictures={pair[0]},{unsure},{pair[1]}").get_data(as_text=True)
    assert len(frames_of(page)) == 2
    assert "Not certain: as it was sent" in page
    assert "Two turns fit nearly as well." in page
    assert f"/pictures/{unsure}/photo.jpg" in page
    with client.get(f"/compare/{unsure}/frame.jpg?with={pair[0]},{unsure}") as response:
        assert response.status_code == 404
    alone = client.get(f"/compare?pictures={pair[0]},{unsure}").get_data(as_text=True)
    assert "nothing to lay over each other" in alone
    assert "compare.js" not in alone
    assert "Newly in the light" not in alone


def test_nothing_is_called_new_where_the_times_do_not_carry_it(client, pair, put):
    without = put("Eva", pose_at(EVENING), None)
    page = client.get(f"/compare?pictures={without},{pair[1]}").get_data(as_text=True)
    assert "The date of at most one of these pictures is known" in page
    assert "Newly in the light" not in page
    soon = put("Rosa", pose_at(EVENING + timedelta(minutes=40)), EVENING + timedelta(minutes=40))
    page = client.get(f"/compare?pictures={pair[0]},{soon}").get_data(as_text=True)
    assert "Only 40 minutes lie between them" in page
    # said to be of the next evening, but its light is that of four days later
    wrong = put("Max", pose_at(EVENING + timedelta(days=4)), EVENING + timedelta(days=1))
    page = client.get(f"/compare?pictures={pair[0]},{wrong}").get_data(as_text=True)
    assert "does not fit the 24 hours" in page
    assert "(it is 7" in page  # hours
    assert "Newly in the light" not in page
    month = put("Ida", pose_at(EVENING + timedelta(days=27)), EVENING + timedelta(days=27))
    page = client.get(f"/compare?pictures={pair[1]},{month}").get_data(as_text=True)
    assert "another lunation" in page
    assert "Newly in the light" not in page
    assert "Dark in the later picture, lit in the earlier" in page


def test_a_waning_moon_loses(client, put):
    days = [datetime(2026, 4, day, 22, 0, tzinfo=UTC) for day in (6, 7)]
    ids = [put(name, pose_at(when), when) for name, when in zip(("A", "B"), days, strict=True)]
    page = client.get(f"/compare?pictures={ids[0]},{ids[1]}").get_data(as_text=True)
    assert "Gone into the dark" in page
    assert "Newly in the light" not in page


def test_an_edition_gives_this_evening_against_the_last(client, pair, put):
    put("Far away", pose_at(EVENING, radius=60.0), EVENING)
    put("Unsure", pose_at(EVENING), EVENING, sure=False)
    page = client.get("/compare?edition=2").get_data(as_text=True)
    assert "This evening of edition 2 against the last one before it." in page
    assert re.findall(r'data-id="(\d+)"', page) == [str(pair[0]), str(pair[1])]
    first = client.get("/compare?edition=1").get_data(as_text=True)
    assert "There is no surely placed picture of an evening before 26 March 2026." in first
    assert 'name="pictures"' in first  # to choose oneself


def test_frames_are_kept_beside_the_picture_and_go_with_it(client, pair, config, storage):
    address = frames_of(client.get(f"/compare?pictures={pair[0]},{pair[1]}").get_data(as_text=True))[0]
    with client.get(address) as response:
        first = response.data
    sha = read_picture(storage, pair[0]).enclosure.sha256
    folder = Media(config.data_dir).derived_folder(sha, KEY)
    kept = list(folder.glob("frame-*.jpg"))
    assert len(kept) == 1
    assert f"v={kept[0].stem.removeprefix('frame-')}" in address
    kept[0].unlink()
    with client.get(address) as response:
        assert response.data == first
    # whatever version is asked for, only files of that name are served
    for version in ("../photo", "0" * 16, "x" * 16, "%2e%2e%2fphoto"):
        with client.get(f"/compare/{pair[0]}/frame.jpg?v={version}") as response:
            assert response.status_code == 404


def here(fn, *args):
    return fn(fakes.load(), *args)


def test_only_the_newest_frames_of_a_picture_are_kept(config, monkeypatch):
    monkeypatch.setattr(comparison_pictures, "MOST_FRAMES", 3)
    media, sha, pose = Media(config.data_dir), sha256_of(b"one"), pose_at(EVENING)
    folder = media.derived_folder(sha, KEY)
    folder.mkdir(parents=True)
    cv2.imwrite(str(folder / DERIVED["photo"]), photograph(pose))
    picture = Framed(pose, 600, 520)
    frame = common_pose([picture], FRAME_PX)
    for k in range(5):
        path = comparison_pictures.photo_in_frame(media, here, sha, KEY, picture, replace(frame, x=frame.x + k))
        assert path is not None
        assert path.is_file()
        os.utime(path, (k, k))
    assert len(list(folder.glob("frame-*.jpg"))) == 3
    assert comparison_pictures.photo_in_frame(media, here, sha256_of(b"another"), KEY, picture, frame) is None


def test_a_close_up_can_be_seen_as_the_part_they_share_or_as_the_whole_disc(client, pair, put):
    later = EVENING + timedelta(days=1)
    near = put("Nela", pose_at(later, -200.0, 300.0, 900.0, 5.0), later)
    shared = client.get(f"/compare?pictures={pair[0]},{near}").get_data(as_text=True)
    whole = client.get(f"/compare?pictures={pair[0]},{near}&part=whole").get_data(as_text=True)
    assert "Show the whole disc" in shared
    assert "Show what they share" in whole
    assert frames_of(shared) != frames_of(whole)


@pytest.mark.parametrize(
    ("query", "status", "words"),
    [
        ("pictures=1", 400, "Two to four pictures can be compared; one picture is chosen."),
        ("pictures=1,2,3,4,5", 400, "5 pictures are chosen"),
        ("pictures=1,x", 400, "named by their numbers"),
        ("pictures=1&pictures=2&pictures=3&pictures=4&pictures=5", 400, "5 pictures"),
        ("pictures=1,99", 404, "There is no picture 99"),
        ("edition=x", 400, "is no edition"),
        ("edition=77", 404, "There is no edition 77"),
        ("pictures=", 200, "Choose two to four"),
        ("pictures=1&pictures=2", 200, "Side by side"),
        ("pictures=1,1,2", 200, "Side by side"),
    ],
)
def test_odd_addresses_are_told(client, pair, query, status, words):
    response = client.get(f"/compare?{query}")
    assert response.status_code == status
    assert words in response.get_data(as_text=True)


def test_an_empty_store_says_so(client):
    assert "No picture to compare yet" in client.get("/compare").get_data(as_text=True)


def test_waiting_and_missing_pictures_are_told(client, pair, put, storage):
    edition = list_editions(storage)[0]
    enclosure = Enclosure(given_name="w.jpg", size_bytes=1, sha256="c" * 64, media_type="image/jpeg")
    add_submission(
        storage,
        edition.id,
        Arrival(key="file:w", source="folder", origin="a", enclosures=(enclosure,), sender_name="Waiter"),
        EVENING,
    )
    waiting = max(p.picture.id for p in list_pictures(storage, edition.id, 99))
    page = client.get(f"/compare?pictures={pair[0]},{waiting},{pair[1]}").get_data(as_text=True)
    assert "It has not been placed yet." in page
    assert len(frames_of(page)) == 2


def listed(storage_picture, edition_id, taken, sure=True):
    from moondesk.service.store.records import AnnotationSummary, SentPicture, Submission

    arrival = Arrival(key=f"k{storage_picture}", source="folder", origin="a", enclosures=())
    sent = SentPicture(
        storage_picture,
        Submission(1, edition_id, EVENING, arrival),
        Enclosure(given_name="a", size_bytes=1, sha256=None, media_type=None),
    )
    return ListedPicture(
        sent,
        AnnotationSummary(
            status=records.Status.ANNOTATED,
            sure=sure,
            reason="",
            taken_utc=taken,
            time_source="told",
            clock_verdict=records.ClockVerdict.AGREES,
            best_seen=(),
            derived_key=KEY,
        ),
    )


def test_the_last_evening_is_the_latest_before_this_one(config):
    calendar = load_calendar(config)
    edition = Edition(5, EditionPlan(number=9, evenings=(date(2026, 3, 27),)))
    some = [
        listed(1, 4, EVENING - timedelta(days=3)),
        listed(2, 4, EVENING),
        listed(3, 5, EVENING + timedelta(days=1)),
        listed(4, 5, EVENING + timedelta(days=2)),
        listed(5, 4, EVENING + timedelta(hours=5)),
        listed(6, 4, EVENING, sure=False),
    ]
    found = two_evenings(edition, some, calendar, lambda p: p.picture.id)
    assert [p.picture.id for p in found.this] == [3]
    assert [p.picture.id for p in found.last] == [5, 2]  # after midnight it is still that evening; the better first
    nothing = two_evenings(edition, some[:2], calendar, lambda p: 0.0)
    assert not nothing
    assert "No picture of edition 9" in nothing.reason


def test_lengths_of_time_in_words():
    assert gap_in_words(timedelta(hours=24, minutes=1)) == "24 hours 1 minute"
    assert gap_in_words(timedelta(days=2, hours=1)) == "2 days 1 hour"
    assert gap_in_words(timedelta(days=7)) == "7 days"
    assert gap_in_words(timedelta(seconds=10)) == "0 minutes"


def test_the_template_uses_every_field_and_nothing_else(config):
    from jinja2 import meta, nodes

    environment = create_app(config).jinja_env
    tree = environment.parse(environment.loader.get_source(environment, "compare.html")[0])
    own = {macro.name for macro in tree.find_all(nodes.Macro)}
    names = meta.find_undeclared_variables(tree) - own - {"url_for"}
    assert names | {"programme"} == {f.name for f in fields(ComparePage)}


def test_the_page_holds_nothing_inline_and_its_headings_are_in_order(client, pair):
    for query in (f"pictures={pair[0]},{pair[1]}", ""):
        page = client.get(f"/compare?{query}").get_data(as_text=True)
        assert not re.search(r"<style|style=|\son\w+=|javascript:", page)
        levels = [int(n) for n in re.findall(r"<h([1-6])", page)]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(b - a <= 1 for a, b in itertools.pairwise(levels))
        assert all("alt=" in tag for tag in re.findall(r"<img [^>]*>", page))
        ids = re.findall(r'\sid="([^"]+)"', page)
        assert len(ids) == len(set(ids))


def test_a_frame_goes_when_its_sender_is_forgotten(client, pair, config, storage):
    from moondesk.service.store.forget import forget

    with client.get(frames_of(client.get(f"/compare?pictures={pair[0]},{pair[1]}").get_data(as_text=True))[0]):
        pass
    assert len(list((config.data_dir / "derived").rglob("frame-*.jpg"))) == 1
    forget(storage, Media(config.data_dir), "Ilse", EVENING)
    assert not list((config.data_dir / "derived").rglob("frame-*.jpg"))
    assert client.get(f"/compare?pictures={pair[0]},{pair[1]}").status_code == 404

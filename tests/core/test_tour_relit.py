"""A disc in another light: what the picture has stays, the rest is honest, and words always say that it is a rendering."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from air_pictures import sample

from moondesk.drawing.frame import Format, FrameRequest, Texts
from moondesk.moon.geometry import pixel_to_disc, pixel_to_surface, sun_altitude_deg
from moondesk.tour.clip import Clip, relit_count, relit_frames
from moondesk.tour.relit import MOST_HOURS, RelitDisc, sun_after, why_not_relit
from moondesk.tour.views import View, ViewKind

SMALL = Format("hd", 480, 270)
WORDS = "As it will look tomorrow evening: a rendering, not a photograph"
PICTURES = ("20261017_211435.jpg", "IMG_2231.jpg", "DSC_0412.jpg")


@pytest.fixture(scope="module", params=PICTURES)
def lit(request):
    """Picture, annotation, height of the Sun now and tomorrow, distance from the middle, and the disc tomorrow."""
    rgb, annotation = sample(request.param)
    ys, xs = np.mgrid[0 : rgb.shape[0], 0 : rgb.shape[1]].astype(float)
    lat, lon = pixel_to_surface(annotation.pose, xs, ys)
    now = sun_altitude_deg(lat, lon, *sun_after(annotation.pose, 0.0))
    then = sun_altitude_deg(lat, lon, *sun_after(annotation.pose, 24.0))
    off = np.hypot(*pixel_to_disc(annotation.pose, xs, ys))
    disc = RelitDisc(rgb, annotation)
    return rgb.mean(axis=2), now, then, off, disc.at(24.0).mean(axis=2), disc


def test_the_sun_goes_on_by_a_twelfth_part_of_the_sky_each_day():
    """12.19 degrees a day, 360 in a synodic month of 29.53 days, westwards (the sunrise goes from east to west)."""
    pose = sample(PICTURES[0])[1].pose
    assert (pose.sub_solar_lon_deg - sun_after(pose, 24.0)[1]) % 360.0 == pytest.approx(12.19, abs=0.01)


def test_at_its_own_time_it_is_the_picture(lit):
    rgb, *_, disc = lit
    assert np.abs(disc.at(0.0).mean(axis=2) - rgb).max() == 0
    near = disc.at(0.01).mean(axis=2)
    assert np.median(np.abs(near - rgb)) < 2.0


def test_what_the_light_reaches_is_bright_and_the_rest_is_dark(lit):
    rgb, now, then, off, tomorrow, _ = lit
    newly = (now < -3) & (then > 4) & (off < 0.93)
    still = (now < -3) & (then < -3) & (off < 0.93)
    stays = (now > 15) & (then > 15) & (off < 0.93)
    assert newly.sum() > 500
    assert np.median(tomorrow[newly]) > 0.3 * np.median(tomorrow[stays])
    assert np.abs(np.median(tomorrow[still]) - np.median(rgb[still])) < 4.0


def test_the_pictures_own_detail_stays(lit):
    """Where light falls before and after, pixels of like height of the Sun keep their order."""
    rgb, now, then, off, tomorrow, _ = lit
    band = (now > 30) & (then > 30) & (off < 0.85)
    if band.sum() < 2000:
        band = (now > 12) & (then > 12) & (off < 0.9)
    assert np.corrcoef(rgb[band], tomorrow[band])[0, 1] > 0.85


def test_no_rim_where_the_terminator_was_and_no_bright_noise(lit):
    """Along the former terminator the ground is as bright as that on both sides, and no pixel is far above its neighbours."""
    _, now, then, off, tomorrow, _ = lit
    well = (then > 7) & (off < 0.9)
    at, before, after = (np.median(tomorrow[well & (abs(now - h) < 1.5)]) for h in (0.0, -4.0, 6.0))
    assert min(before, after) - 14 < at < max(before, after) + 14
    assert tomorrow[off < 0.98].max() <= 255
    assert (tomorrow[(now < 2) & (off < 0.97)] > 250).mean() < 0.002


def test_the_sky_stays(lit):
    rgb, _, _, off, tomorrow, _ = lit
    assert np.abs(tomorrow - rgb)[off > 1.2].max() <= 1


def test_too_far_is_no_rendering(lit):
    with pytest.raises(ValueError, match="too many"):
        lit[-1].at(MOST_HOURS + 1)


def clip(name=PICTURES[0]):
    rgb, annotation = sample(name)
    whole = FrameRequest(format=SMALL, texts=Texts(credit="Þórunn Vale"))
    return Clip(rgb=rgb, annotation=annotation, whole=whole, tour=(View(kind=ViewKind.UPRIGHT),), rate=Fraction(5))


def test_words_stand_on_each_frame_that_is_no_photograph():
    drawn = list(relit_frames(clip(), 24.0, 1.0, WORDS))
    assert len(drawn) == relit_count(Fraction(5), 1.0) == 25
    caption = drawn[-1][13:62, 300:436, :3].astype(int)
    plain = drawn[0][13:62, 300:436, :3].astype(int)
    assert (caption.max(axis=2) > 200).mean() > 0.05
    assert (plain.max(axis=2) > 200).mean() == 0.0
    moved = [
        n
        for n, frame in enumerate(drawn)
        if (np.abs(frame[70:220, 200:].astype(int) - drawn[0][70:220, 200:]) > 6).any()
    ]
    assert moved
    for n in moved:
        assert np.abs(drawn[n][13:62, 300:436, :3].astype(int) - caption).max() <= 1, n


def test_without_words_there_is_no_rendering():
    with pytest.raises(ValueError, match="bears words"):
        list(relit_frames(clip(), 24.0, 1.0, "\U0001f680"))


def test_what_is_not_placed_is_not_lit_anew():
    rgb, annotation = sample("20261022_211502.jpg")
    assert why_not_relit(annotation).advice == "Only a placed picture can be lit anew."
    with pytest.raises(ValueError, match="placed picture"):
        RelitDisc(rgb, annotation)
    assert why_not_relit(sample(PICTURES[0])[1]) is None

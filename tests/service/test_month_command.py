"""`moondesk month`: one picture an evening on a poster and in the march; who said no is on neither."""

from __future__ import annotations

import sys
from datetime import timedelta

import numpy as np
import pytest
from click.testing import CliRunner
from fakes import add_edition
from PIL import Image
from test_composite_command import TAKEN, add

from moondesk.service.cli.main import main
from moondesk.service.exports.animation import STANDS_MS, STEP_MS
from moondesk.service.exports.collection_files import SMALL_STEPS
from moondesk.service.jobs.engine import load_engine
from moondesk.service.store.records import EditionPlan
from moondesk.stacking.march import DAY, RATE, STANDS


def run(config, *asked):
    told = CliRunner().invoke(main, ["month", "2026-10-16", "--data", str(config.data_dir), *map(str, asked)])
    return told.exit_code, told.output


@pytest.fixture
def month(storage, media, config):
    """Evenings of 17, 18 and 20 October 2026; of the last one two pictures, of which one may not be shown."""
    edition = add_edition(storage, EditionPlan(number=12))
    for number, (name, days) in enumerate((("Ilse", 0), ("Марко", 1), ("Þóra", 3)), 1):
        add(storage, media, edition, number, name, taken=TAKEN + timedelta(days=days), dim=1.0 - 0.2 * days)
    add(storage, media, edition, 9, "Dora", "refused", taken=TAKEN + timedelta(days=3))
    return config


@pytest.mark.parametrize(("shape", "size"), [("paper", (3508, 4961)), ("feed", (1080, 1350)), ("story", (1080, 1920))])
def test_a_poster_in_three_sizes(month, tmp_path, shape, size):
    code, told = run(month, "--sheet", tmp_path / "month.png", "--for", shape)
    assert code == 0, told
    assert [line.split(": ")[1] for line in told.splitlines()[1:]] == ["Ilse", "Марко", "Þóra"]
    assert "17 October 2026" in told
    assert "Dora" not in told
    with Image.open(tmp_path / "month.png") as image:
        assert image.size == size
        assert image.info.keys() <= {"srgb"}
        assert 8 < np.asarray(image).mean() < 90


@pytest.mark.parametrize("suffix", [".webp", ".gif"])
def test_the_small_march_stands_on_pictures_and_runs_through_the_light_between(month, tmp_path, suffix):
    code, told = run(month, "--march", tmp_path / f"march{suffix}")
    assert code == 0, told
    with Image.open(tmp_path / f"march{suffix}") as image:
        assert image.size == (768, 432)
        assert (
            image.n_frames == 3 + SMALL_STEPS + 2 * SMALL_STEPS or suffix == ".gif"
        )  # a GIF joins frames that are alike
        assert image.info.get("loop") == 0
        durations = []
        for k in range(image.n_frames):
            image.seek(k)
            image.load()
            durations.append(image.info.get("duration"))
    if suffix == ".webp":
        assert [k for k, ms in enumerate(durations) if ms == STANDS_MS] == [0, SMALL_STEPS + 1, 3 * SMALL_STEPS + 2]
        assert set(durations) == {STANDS_MS, STEP_MS}


def test_nothing_to_show_is_told(storage, config, tmp_path):
    add_edition(storage, EditionPlan(number=12))
    code, told = run(config, "--sheet", tmp_path / "x.png")
    assert (code, "may be shown" in told) == (3, True)
    assert run(config)[0] == 2
    assert run(config, "--march", tmp_path / "x.avi")[0] == 2


@pytest.mark.parametrize(("asked", "size"), [((), (1920, 1080)), (("--upright",), (1080, 1920))])
def test_the_film_has_its_size_rate_length_and_colours(month, tmp_path, asked, size):
    av = pytest.importorskip("av", reason="the extra video is not installed")
    code, told = run(month, "--march", tmp_path / "march.mp4", *asked)
    assert code == 0, told
    with av.open(tmp_path / "march.mp4") as film:
        stream = film.streams.video[0]
        context = stream.codec_context
        assert (context.name, context.pix_fmt) == ("h264", "yuv420p")
        assert (stream.width, stream.height) == size
        assert stream.average_rate == RATE
        assert float(stream.duration * stream.time_base) == pytest.approx((3 * STANDS + 3 * DAY) / RATE, abs=0.1)
        assert (context.color_primaries, context.color_trc, context.colorspace, context.color_range) == (1, 1, 1, 1)
        assert not film.metadata.keys() - {"major_brand", "minor_version", "compatible_brands", "encoder"}


def at_once_without_an_encoder(fn, *args):
    """As a child of an installation without the extra."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(sys.modules, "av", None)
        return fn(load_engine(), *args)


def test_mp4_without_its_encoder_says_how_to_get_it(month, tmp_path, monkeypatch):
    monkeypatch.setattr("moondesk.service.cli.month.at_once", at_once_without_an_encoder)
    code, told = run(month, "--march", tmp_path / "march.mp4")
    assert code != 0
    assert "pip install 'moondesk[video]'" in told
    assert not (tmp_path / "march.mp4").exists()

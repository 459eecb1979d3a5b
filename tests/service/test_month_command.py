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
from moondesk.service.exports.animation import FADE_MS, STANDS_MS
from moondesk.service.jobs.engine import load_engine
from moondesk.service.store.records import EditionPlan
from moondesk.stacking.month import CAPTION, CELL, FADES, HEAD, SIDE, STRIP


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


def test_a_poster_with_its_empty_places(month, tmp_path):
    code, told = run(month, "--sheet", tmp_path / "month.png")
    assert code == 0, told
    assert [line.split(": ")[1] for line in told.splitlines()[1:]] == ["Ilse", "Марко", "Þóra"]
    assert "17 October 2026" in told
    assert "Dora" not in told
    with Image.open(tmp_path / "month.png") as image:
        page = np.asarray(image)
        assert page.shape[1] == 5940
        assert not image.info
    margin = (5940 - 6 * CELL) // 7
    light = [page[HEAD : HEAD + CELL, margin + k * (CELL + margin) :][:, :CELL].mean() for k in range(6)]
    assert [bool(k > 10) for k in light] == [False, True, True, False, True, False]
    words = page[HEAD + CELL : HEAD + CELL + CAPTION, margin : margin + CELL]
    assert words.max() > 200  # an evening without a picture has its date all the same


@pytest.mark.parametrize("suffix", [".webp", ".gif"])
def test_the_march_stands_on_pictures_and_runs_through_fades(month, tmp_path, suffix):
    code, told = run(month, "--march", tmp_path / f"march{suffix}")
    assert code == 0, told
    with Image.open(tmp_path / f"march{suffix}") as image:
        assert image.size == (SIDE, SIDE + STRIP)
        assert image.n_frames == 3 + 2 * FADES or suffix == ".gif"  # a GIF joins frames that are alike
        assert image.info.get("loop") == 0
        durations = []
        for k in range(image.n_frames):
            image.seek(k)
            image.load()
            durations.append(image.info.get("duration"))
    if suffix == ".webp":
        assert durations == [STANDS_MS, *[FADE_MS] * FADES, STANDS_MS, *[FADE_MS] * FADES, STANDS_MS]


def test_nothing_to_show_is_told(storage, config, tmp_path):
    add_edition(storage, EditionPlan(number=12))
    code, told = run(config, "--sheet", tmp_path / "x.png")
    assert (code, "may be shown" in told) == (3, True)
    assert run(config)[0] == 2
    assert run(config, "--march", tmp_path / "x.avi")[0] == 2


def test_mp4_plays_as_long_as_the_others(month, tmp_path):
    av = pytest.importorskip("av", reason="the extra video is not installed")
    code, told = run(month, "--march", tmp_path / "march.mp4")
    assert code == 0, told
    with av.open(tmp_path / "march.mp4") as film:
        stream = film.streams.video[0]
        assert (stream.codec_context.name, stream.codec_context.pix_fmt) == ("h264", "yuv420p")
        assert (stream.width, stream.height) == (SIDE, SIDE + STRIP)
        assert float(stream.duration * stream.time_base) == pytest.approx((3 * STANDS_MS + 8 * FADE_MS) / 1000, abs=0.1)
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

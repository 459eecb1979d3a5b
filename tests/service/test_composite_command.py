"""`moondesk composite`: an evening's pictures put together, their senders named, who said no left out."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from click.testing import CliRunner
from fakes import add_edition
from PIL import Image

from moondesk import annotate_picture
from moondesk.files.picture import decode_rgb
from moondesk.quality.measurement import measure_quality
from moondesk.records import Clock, ClockVerdict, Known, TimeCandidate
from moondesk.service.cli.main import main
from moondesk.service.jobs.derived_pictures import jpeg
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.measured import quality_text
from moondesk.service.store.media import DERIVED, write_whole
from moondesk.service.store.pictures import list_pictures
from moondesk.service.store.records import Arrival, ConsentRecord, EditionPlan, Enclosure, StoredAnnotation
from moondesk.service.store.submissions import add_submission

SAMPLE = Path(__file__).resolve().parents[2] / "sample_submissions" / "20261017_211435.jpg"
TAKEN = datetime(2026, 10, 17, 20, 14, tzinfo=UTC)
KEY = "ab" * 8


@cache
def placed():
    data = SAMPLE.read_bytes()
    rgb, found = decode_rgb(data), annotate_picture(data, Known())
    return data, rgb, found, quality_text(measure_quality(rgb, found))


def add(storage, media, edition, number, name, state="given", taken=TAKEN, dim=1.0, **more):
    """The sample as another viewer's picture of the same evening."""
    data, rgb, found, quality = placed()
    sha = media.put(data + b"\0" * number)
    consents = (ConsentRecord(state=state, kind="table", evidence="told"),)
    arrival = Arrival(
        key=f"file:{sha}",
        source="folder",
        origin="a",
        enclosures=(Enclosure(given_name=f"{number}.jpg", size_bytes=len(data), sha256=sha, media_type="image/jpeg"),),
        sender_name=name,
        consents=consents,
        **more,
    )
    add_submission(storage, edition.id, arrival, TAKEN)
    picture_id = max(p.picture.id for p in list_pictures(storage, edition.id, 99))
    annotation = replace(found, time=TimeCandidate(taken, 2.0, "told"), clock=Clock(ClockVerdict.AGREES, taken, 0.5))
    add_annotation(
        storage,
        StoredAnnotation(
            picture_id=picture_id,
            annotation=annotation,
            engine_version="fake 1",
            made_utc=TAKEN,
            derived_key=KEY,
            quality=quality,
        ),
        [],
    )
    write_whole(media.derived_folder(sha, KEY) / DERIVED["photo"], jpeg((rgb * dim).astype(rgb.dtype), 92))


def run(config, evening, out):
    told = CliRunner().invoke(main, ["composite", evening, "--out", str(out), "--data", str(config.data_dir)])
    return told.exit_code, told.output


def test_an_evenings_pictures_are_put_together_and_their_senders_named(storage, media, config, tmp_path):
    edition, out = add_edition(storage, EditionPlan(number=12)), tmp_path / "all.png"
    for number, name in enumerate(("Ilse", "Bo", "Cy"), 1):
        add(storage, media, edition, number, name)
    add(storage, media, edition, 9, "Dora", "refused")
    code, told = run(config, "2026-10-17", out)
    assert code == 0, told
    assert "3 pictures" in told
    assert all(name in told for name in ("Ilse", "Bo", "Cy"))
    assert "Dora" not in told
    assert "1 of the evening may not be shown" in told
    with Image.open(out) as image:
        assert (image.size, image.mode) == ((1001, 1001), "RGB")
        assert image.info.keys() <= {"srgb"}


def test_too_few_or_another_evening_is_told(storage, media, config, tmp_path):
    edition = add_edition(storage, EditionPlan(number=12))
    add(storage, media, edition, 1, "Ilse")
    for evening in ("2026-10-17", "2026-10-18"):
        code, told = run(config, evening, tmp_path / "x.png")
        assert code == 3
        assert "surely placed pictures are the least" in told
    assert not (tmp_path / "x.png").exists()

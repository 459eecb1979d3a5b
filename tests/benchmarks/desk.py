"""How long the desk's pages take with 20,000 submissions in the store. By hand: python -m tests.benchmarks.desk

The store is generated: one picture of the sample programme is placed for real, and its annotation stands for all (with
all its features), so that rows have their real size; names, places, equipment and editions differ. 50 an edition, as
many as a good evening brings, but one edition has 1,000.
"""

from __future__ import annotations

import argparse
import random
import shutil
import statistics
import tempfile
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from moondesk import annotate_picture
from moondesk.files.picture import decode_rgb
from moondesk.quality.measurement import measure_quality
from moondesk.records import Known
from moondesk.service.jobs.engine import engine_version
from moondesk.service.programme.words import best_seen, feature_name
from moondesk.service.settings.config import Config, Programme
from moondesk.service.store.annotations import add_annotation
from moondesk.service.store.editions import add_edition
from moondesk.service.store.measured import quality_text
from moondesk.service.store.records import Arrival, ConsentRecord, EditionPlan, Enclosure, StoredAnnotation, Suggestion
from moondesk.service.store.storage import Storage
from moondesk.service.store.submissions import add_submission
from moondesk.service.web.desk.app import create_app

SAMPLES = Path(__file__).parents[2] / "sample_submissions"
START = datetime(2024, 1, 1, 18, tzinfo=UTC)


def generate(data_dir: Path, count: int, seed: int) -> int:
    """Fill a store; the number of the edition with 1,000 submissions."""
    data = (SAMPLES / "DSC_0412.jpg").read_bytes()
    annotation = annotate_picture(data, Known())
    quality = measure_quality(decode_rgb(data), annotation)
    names = [feature_name(m) for m in best_seen(annotation, 6)]
    rng, made, edition, number = random.Random(seed), 0, None, 0
    with Storage(data_dir) as storage:
        storage.execute("pragma synchronous = off")
        while made < count:
            number += 1
            when = START + timedelta(days=number)
            edition = add_edition(
                storage,
                EditionPlan(
                    number=number,
                    kind="live",
                    recording_utc=None,
                    air_utc=when + timedelta(hours=4),
                    evenings=(when.date(),),
                ),
                when,
            )
            for k in range(1000 if number == 2 else 50):
                person = rng.randrange(4000)
                enclosure = Enclosure(
                    given_name=f"IMG_{made}.jpg", size_bytes=3_000_000, sha256=f"{made:064x}", media_type="image/jpeg"
                )
                arrival = Arrival(
                    key=f"mail:{made:064x}",
                    source="mail",
                    origin="mailbox",
                    enclosures=(enclosure,),
                    received_utc=when + timedelta(minutes=k % 200),
                    sender_name=f"Sender {person}",
                    sender_address=f"sender{person}@example.org",
                    credit_line="",
                    subject=f"My Moon {made}",
                    message_id=f"<{made}@example.org>",
                    place_name=rng.choice(["Averim", "Dolmen Bay", "Quill", "Ostrava Hill", ""]),
                    equipment=rng.choice(["6 inch Dobsonian", "phone", "80 mm refractor", ""]),
                    suggestions=(Suggestion("consent", "suggested", "You may show it.", "mail"),),
                    consents=(ConsentRecord(state="given", kind="mail", evidence="You may show it.", noted_by="Ada"),)
                    if made % 4
                    else (),
                )
                submission = add_submission(storage, edition.id, arrival, when)
                (row,) = storage.read("select id from pictures where submission_id = ?", [submission])
                dated = replace(annotation, time=replace(annotation.time, utc=when + timedelta(minutes=k % 200)))
                add_annotation(
                    storage,
                    StoredAnnotation(
                        picture_id=row["id"],
                        annotation=dated,
                        engine_version=engine_version(),
                        made_utc=when,
                        derived_key="0" * 16,
                        quality=quality_text(replace(quality, burnt_share=rng.random())),
                    ),
                    names,
                )
                made += 1
    return number


def words_of(taken: list[float]) -> str:
    """The times of a page, ms: the median, what 95 of 100 stay within, and the worst."""
    within = statistics.quantiles(taken, n=20, method="inclusive")[-1]
    return f"median {statistics.median(taken):6.0f} ms, 95 % {within:6.0f} ms, worst {max(taken):6.0f} ms"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--times", type=int, default=21)
    args = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="desk-"))
    try:
        begun = time.perf_counter()
        last = generate(folder, args.count, args.seed)
        size = sum(f.stat().st_size for f in folder.iterdir()) / 1e6
        print(f"{args.count} submissions in {last} editions, {size:.0f} MB, in {time.perf_counter() - begun:.0f} s")
        client = create_app(
            Config(data_dir=folder, programme=Programme("The Evening Sky", "Europe/Vienna"))
        ).test_client()
        for name, path in (
            ("inbox", f"/?edition={last - 1}"), ("inbox of 1,000", "/?edition=2"),
            ("inbox, all editions", "/?edition=all"),
            ("search, all editions", "/?edition=all&q=sender+77"), ("search, edition", f"/?edition={last - 1}&q=quill"),
            ("shows a feature, all editions", "/?edition=all&shows=Copernicus&first=1"),
            ("picture page", f"/pictures/{args.count // 2}"), ("progress", "/progress"),
            ("archive", "/archive"), ("archive, a day", "/archive?day=9"),
            ("archive, feature at sunrise", "/archive?feature=Copernicus&light=sunrise"),
            ("archive, night of 1,000", f"/archive/nights/{START.date() + timedelta(days=2)}"),
            ("archive, month", f"/archive/months/{START.date() + timedelta(days=20)}"), ("history", "/history"),
        ):  # fmt: skip
            taken = []
            for _ in range(args.times):
                begun = time.perf_counter()
                assert client.get(path).status_code == 200
                taken.append(1000 * (time.perf_counter() - begun))
            print(f"{name:32} {words_of(taken)}")
    finally:
        shutil.rmtree(folder)


if __name__ == "__main__":
    main()

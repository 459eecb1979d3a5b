"""Each bad input and fault by its number, as it comes in: a sentence says what, why and what to do; the rest goes on.

Numbers 1 to 12 are looked at one by one in tests/core/test_bad_inputs.py. What other modules test already is named
in ELSEWHERE, and that those tests are there is checked.
"""

from __future__ import annotations

import ast
import io
import re
import sqlite3
import threading
import time
from dataclasses import replace
from datetime import UTC, datetime
from email.message import EmailMessage
from pathlib import Path

import exifread
import fakes
import numpy as np
import pytest
from PIL import Image, features

from moondesk.records import Known, NotFound
from moondesk.service.errors import StorageError
from moondesk.service.intake.intake import Intake, open_edition
from moondesk.service.intake.mail import read_mail
from moondesk.service.jobs.derived_pictures import draw_roles
from moondesk.service.jobs.engine import load_engine
from moondesk.service.jobs.placing import PlacingJob, place_all
from moondesk.service.jobs.waiting import place_waiting
from moondesk.service.settings.config import Config, IntakeLimits
from moondesk.service.store.media import DERIVED, Media, keep_files
from moondesk.service.store.pictures import count_pictures, list_pictures
from moondesk.service.store.records import Arrival, Enclosure
from moondesk.service.store.storage import DATABASE_NAME, Storage
from moondesk.service.store.submissions import add_submission
from moondesk.service.web.desk.app import create_app

TESTS = Path(__file__).resolve().parents[1]
SAMPLES = TESTS.parent / "sample_submissions"
NOW = datetime(2026, 3, 26, 8, 0, tzinfo=UTC)

#: Number: (file, test) where a module's own tests show the same; paths below tests/.
ELSEWHERE = {
    14: [
        ("service/test_mail.py", "test_a_bad_header_costs_that_header_and_never_the_mail"),
        ("service/test_mail.py", "test_8_bit_and_wrongly_declared_headers_keep_their_letters"),
    ],
    15: [
        ("service/test_mail.py", "test_2000_nested_messages_do_not_stop_it"),
        ("service/test_mail.py", "test_100000_parts_are_capped"),
        ("service/test_mail.py", "test_damaged_base64_is_kept_for_the_decoder_to_judge"),
    ],
    16: [
        ("service/test_mail.py", "test_too_large_a_mail_is_refused_with_a_sentence"),
        ("service/test_public.py", "test_too_large_a_form_is_413_with_advice"),
        ("service/test_public.py", "test_over_the_limit_the_browser_sees_413_and_not_a_broken_line"),
    ],
    17: [("service/test_killed.py", "test_killed")],
    18: [
        ("service/test_watch.py", "test_the_line_is_cut_at_seeded_points"),
        ("service/test_watch.py", "test_mails_numbered_anew_are_not_doubled"),
        ("service/test_watch.py", "test_one_mail_that_cannot_be_given_does_not_hold_up_the_rest"),
        ("service/test_watch.py", "test_a_server_that_says_nothing"),
    ],
    19: [
        ("service/test_workers.py", "test_a_killed_worker_costs_only_its_own_picture"),
        ("service/test_workers.py", "test_a_picture_that_hangs_is_given_up"),
        ("service/test_children.py", "test_a_dead_child_costs_only_its_own_call"),
    ],
    20: [("service/test_killed.py", "test_killed_at_fifty_more_instants")],
    21: [("service/test_media.py", "test_a_full_disk_is_a_sentence")],
    22: [
        ("service/test_cluster.py", "test_a_worker_killed_midway_loses_nothing"),
        ("service/test_cluster.py", "test_nobody_at_the_address"),
    ],
    23: [
        ("service/test_public.py", "test_a_form_without_its_own_token_is_not_taken"),
        ("service/test_public.py", "test_the_rate_is_limited_before_the_token_and_before_the_form_is_read"),
        ("service/test_public.py", "test_another_address_has_its_own_limit_and_none_can_be_feigned"),
        ("service/test_public.py", "test_many_send_at_once"),
    ],
    25: [
        ("service/test_workers.py", "test_derived_pictures_carry_no_metadata"),
        ("service/test_backup.py", "test_a_restored_folder_has_the_same_originals_and_lists_the_same"),
    ],
}


@pytest.mark.parametrize("number", ELSEWHERE)
def test_what_is_tested_elsewhere_is_there(number: int) -> None:
    for file, name in ELSEWHERE[number]:
        tree = ast.parse((TESTS / file).read_text(encoding="utf-8"))
        assert name in {node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)}, (file, name)


def take(folder: Path, storage: Storage, media: Media, config: Config) -> dict:
    edition = open_edition(storage, config, NOW, lambda _: None)
    return {
        i.origin: i
        for i in Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(folder)
    }


def jpeg(**options: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (80, 60), (70, 60, 50)).save(out, "JPEG", **options)
    return out.getvalue()


def bad_pictures() -> dict[str, bytes]:
    """By the number of the bad input they are one of."""
    progressive = jpeg(progressive=True)
    scan = progressive.rindex(b"\xff\xda")
    noise = io.BytesIO()
    Image.fromarray(np.random.default_rng(1).integers(0, 256, (90, 90, 3), dtype=np.uint8)).save(noise, "PNG")
    bomb = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + (20_000).to_bytes(4, "big") * 2 + b"\x08\x02\0\0\0" + bytes(90_000)
    return {
        "02.png": bomb,
        "03.jpg": progressive[:scan] + progressive[scan:-2] * 500 + progressive[-2:],
        "04.jpg": jpeg()[:-300],
        "04.png": noise.getvalue()[:-9000],
        "07.jpg": b"",
        "07.png": fakes.png(1, 1),
        "08.jpg": b"<html>Please sign in</html>",
        "08b.jpg": b"%!PS-Adobe-3.0 EPSF-3.0\n",
        "09.heic": b"\0\0\0\x14ftypqt  \0\0\0\0qt  " + bytes(100),
        "09.gif": b"GIF89a" + bytes(40),
    }


def test_01_to_12_every_bad_picture_is_listed_with_its_sentence_and_the_good_one_is_placed(
    tmp_path, storage, media, config
):
    folder = tmp_path / "came"
    folder.mkdir()
    for name, data in bad_pictures().items():
        (folder / name).write_bytes(data)
    (folder / "z.jpg").write_bytes((SAMPLES / "DSC_0412.jpg").read_bytes())
    items = take(folder, storage, media, config)
    assert set(items) == {*bad_pictures(), "z.jpg"}
    engine = load_engine()
    placed = {
        p.enclosure.given_name: s.annotation
        for p, s in place_waiting(storage, media, config, lambda: engine, engine.version, lambda: NOW)
    }
    for name in bad_pictures():
        if name in placed:
            assert placed[name].status == "unreadable", name
            said = f"{placed[name].reason} {placed[name].advice}"
        else:
            assert items[name].outcome == "refused", name
            said = items[name].sentence
        assert re.search(r"The (file|picture|JPEG) .+\. (Please|If) .+\.", said), (name, said)
        assert "Error" not in said
    assert placed["z.jpg"].status == "annotated"
    # what was refused is kept as it came
    kept = {p.picture.enclosure.given_name: p.picture.enclosure.sha256 for p in list_pictures(storage, 1)}
    for name, data in bad_pictures().items():
        assert media.path(kept[name]).read_bytes() == data


def test_09_of_a_live_photo_the_still_picture_is_taken_and_the_video_listed(tmp_path, storage, media, config):
    message = EmailMessage()
    message["From"] = "zoe@example.org"
    message.set_content("Hello")
    message.add_attachment(fakes.png(), maintype="image", subtype="png", filename="IMG_0815.PNG")
    video = b"\0\0\0\x14ftypqt  \0\0\0\0qt  " + b"com.apple.quicktime.content.identifier" + bytes(60)
    message.add_attachment(video, maintype="video", subtype="quicktime", filename="IMG_0815.MOV")
    folder = tmp_path / "came"
    folder.mkdir()
    (folder / "m.eml").write_bytes(message.as_bytes())
    item = take(folder, storage, media, config)["m.eml"]
    assert (item.outcome, item.pictures) == ("taken", 1)
    assert "IMG_0815.MOV: The file is the moving half of a Live Photo. If its still picture came along" in item.sentence
    kept = {p.picture.enclosure.given_name: p.picture.enclosure for p in list_pictures(storage, 1)}
    assert media.path(kept["IMG_0815.MOV"].sha256).read_bytes() == video
    assert kept["IMG_0815.PNG"].refused is None


def test_13_names_are_text_and_never_paths(tmp_path, storage, media, config):
    names = [
        "../../../tmp/evil.png",
        "a\0b.png",
        "<script>alert(1).png",
        "月面.png",
        "x" * 300 + ".png",
        "moon\u202egnp.exe.png",
        "चंद्र.heic",
        ".png",
        "C:\\windows\\moon.png",
    ]
    message = EmailMessage()
    message["From"] = "Zoë <zoe@example.org>"
    message.set_content("Hello")
    for k, name in enumerate(names):
        message.add_attachment(fakes.png(shade=k), maintype="image", subtype="png", filename=name.replace("\0", "%00"))
    folder = tmp_path / "came"
    folder.mkdir()
    (folder / "m.eml").write_bytes(message.as_bytes().replace(b"%00", b"\0"))
    before = {p for p in tmp_path.rglob("*") if p.is_file()}
    take(folder, storage, media, config)
    given = [p.picture.enclosure.given_name for p in list_pictures(storage, 1)]
    assert len(given) == len(names)
    for name in given:
        assert 0 < len(name) <= 120
        assert not set("/\\\0\n\u202e") & set(name), name
    assert "月面.png" in given
    written = {p for p in tmp_path.rglob("*") if p.is_file()} - before
    assert all(re.fullmatch(r"[0-9a-f]{64}|moondesk\.db.*", p.name) for p in written)
    page = create_app(config).test_client().get("/").get_data(as_text=True)
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert" in page


@pytest.mark.parametrize(
    "head",
    [
        b"From: M\xfcller <m@example.org>\nSubject: M\xfcnd",
        b"From: =?x-unknown?Q?M=FCller?= <m@example.org>",
        b"From: m@example.org\nCc: a@example.org, ,",
        b"From: (((((((((((((((((" + b"(" * 3000,
        b"From: m@example.org\nDate: yesterday",
        b"From: m@example.org\nMessage-ID: <[...]>",
        b"Subject: no sender at all",
    ],
)
def test_14_a_forged_header_costs_itself_and_the_picture_is_taken(head, tmp_path, storage, media, config):
    folder = tmp_path / "came"
    folder.mkdir()
    body = (
        b"\nMIME-Version: 1.0\nContent-Type: image/png; name*=utf-16''%FF%FEM%00\nContent-Transfer-Encoding: 8bit\n\n"
    )
    (folder / "a.eml").write_bytes(head + body + fakes.png())
    (folder / "b.png").write_bytes(fakes.png(shade=5))
    items = take(folder, storage, media, config)
    assert items["a.eml"].pictures == items["b.png"].pictures == 1


def test_15_a_mail_of_endless_parts_or_senders_ends_in_time():
    started = time.process_time()
    many = read_mail(b"From: " + b", ".join(b"a%d@example.org" % k for k in range(20_000)) + b"\n\nHello")
    assert not isinstance(many, NotFound)
    deep = read_mail(b"".join(b"Content-Type: message/rfc822\n\n" for _ in range(2000)))
    assert isinstance(deep, NotFound) or deep.attachments == ()
    assert time.process_time() - started < 5


def test_15_winmail_dat_is_told_for_what_it_is(tmp_path, storage, media, config):
    message = EmailMessage()
    message["From"] = "zoe@example.org"
    message.set_content("Hello")
    message.add_attachment(b'x\x9f>"' + bytes(100), maintype="application", subtype="ms-tnef", filename="winmail.dat")
    folder = tmp_path / "came"
    folder.mkdir()
    (folder / "m.eml").write_bytes(message.as_bytes())
    said = take(folder, storage, media, config)["m.eml"].sentence
    assert "winmail.dat" in said
    assert "ordinary attachment" in said


def test_16_what_is_over_the_limit_stays_where_it_is_and_is_told(tmp_path, storage, media, config):
    folder = tmp_path / "came"
    folder.mkdir()
    (folder / "large.jpg").write_bytes(fakes.png() + bytes(5000))
    (folder / "large.eml").write_bytes(b"From: a@example.org\n\n" + b"x" * 9000)
    (folder / "good.png").write_bytes(fakes.png())
    items = take(folder, storage, media, replace(config, limits=IntakeLimits(picture_bytes=4000, mail_bytes=8000)))
    assert {name: item.outcome for name, item in items.items()} == {
        "large.jpg": "refused",
        "large.eml": "refused",
        "good.png": "taken",
    }
    for name in ("large.jpg", "large.eml"):
        assert "larger than" in items[name].sentence
        assert "smaller" in items[name].sentence


def test_17_the_same_thing_again_is_known_and_no_error(tmp_path, storage, media, config):
    folder = tmp_path / "came"
    folder.mkdir()
    message = EmailMessage()
    message["From"] = "zoe@example.org"
    message.add_attachment(fakes.png(), maintype="image", subtype="png", filename="moon.png")
    for name in ("1.eml", "again.eml"):
        (folder / name).write_bytes(message.as_bytes())
    items = take(folder, storage, media, config)
    assert [items[n].outcome for n in ("1.eml", "again.eml")] == ["taken", "known"]
    assert {i.outcome for i in take(folder, storage, media, config).values()} == {"known"}
    assert count_pictures(storage, 1).total == 1


def test_21_a_store_that_another_holds_is_waited_for(config, storage, media, tmp_path):
    (tmp_path / "a.png").write_bytes(fakes.png())
    edition = open_edition(storage, config, NOW, lambda _: None)
    other = sqlite3.connect(config.data_dir / DATABASE_NAME, isolation_level=None, check_same_thread=False)
    other.execute("begin immediate")
    release = threading.Timer(0.5, lambda: other.execute("rollback"))
    release.start()
    try:
        item = next(
            Intake(storage=storage, media=media, edition=edition, config=config, now=lambda: NOW).take_path(
                tmp_path / "a.png"
            )
        )
    finally:
        release.join()
        other.close()
    assert item.outcome == "taken"


def test_21_a_folder_that_cannot_be_written_is_a_sentence(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(StorageError, match="cannot be used") as told:
        Storage(tmp_path / "file")
    assert "--data" in told.value.advice


CAPTIONS = [
    "चाँद मेरी छत से",
    "พระจันทร์คืนนี้",
    "月面の写真",
    "🌙🔭 ✨",
    "<b onclick=x>bold</b>",
    "Robert'); drop table pictures;--",
    'NEAR(a b) OR "c*',
    "{{ 7 * 7 }}",
    "\x00\x1b[31mred",
]


def test_24_captions_in_any_script_and_any_syntax_are_text(config, storage, media):
    edition = open_edition(storage, config, NOW, lambda _: None)
    for k, caption in enumerate(CAPTIONS):
        data = fakes.png(shade=k)
        add_submission(
            storage,
            edition.id,
            Arrival(
                key=f"file:{k:064x}",
                source="folder",
                origin=f"{k}.png",
                enclosures=(
                    Enclosure(
                        given_name=f"{k}.png", size_bytes=len(data), sha256=media.put(data), media_type="image/png"
                    ),
                ),
                sender_name=caption,
                credit_line=caption,
                subject=caption,
                place_name=caption,
                equipment=caption,
            ),
            NOW,
        )
    list(place_waiting(storage, media, config, fakes.load, "fake 1", lambda: NOW))
    client = create_app(config).test_client()
    pages = [client.get("/"), *(client.get(f"/pictures/{p.picture.id}") for p in list_pictures(storage, edition.id))]
    assert {page.status_code for page in pages} == {200}
    text = "".join(page.get_data(as_text=True) for page in pages)
    for whole in CAPTIONS[:4]:
        assert whole in text
    assert "<b onclick" not in text
    assert "{{ 7 * 7 }}" in text
    assert count_pictures(storage, edition.id).total == len(CAPTIONS)


def _with_position() -> dict[str, bytes]:
    """One file of each kind that can hold a position, a maker and an XMP packet."""
    exif = Image.Exif()
    exif.update({0x010F: "Camera maker", 0xA431: "SERIAL-4711"})
    exif[0x8825] = {1: "N", 2: (48.0, 12.0, 0.0), 3: "E", 4: (16.0, 22.0, 0.0)}
    block, xmp = exif.tobytes(), b"<x:xmpmeta>SERIAL-4711</x:xmpmeta>"
    picture = Image.fromarray(np.random.default_rng(2).integers(0, 256, (60, 80, 3), dtype=np.uint8))
    files = {}
    for kind in ("JPEG", "PNG", "WEBP", "TIFF", *(("AVIF",) if features.check("avif") else ())):
        out = io.BytesIO()
        how = {} if kind == "TIFF" else {"exif": block}
        picture.save(out, kind, **how, **({} if kind in ("PNG", "TIFF") else {"xmp": xmp}))
        files[kind] = out.getvalue()
    try:
        import pillow_heif
    except ImportError:
        return files
    out = io.BytesIO()
    pillow_heif.encode("RGB", picture.size, picture.tobytes(), out, exif=block, xmp=xmp)
    return {**files, "HEIC": out.getvalue()}


@pytest.mark.parametrize("kind", sorted(_with_position()))
def test_25_no_published_file_carries_position_maker_or_serial(kind, tmp_path):
    data = _with_position()[kind]
    assert kind == "TIFF" or b"Camera maker" in data
    assert kind not in ("JPEG", "PNG") or tags_of(data), "the reader finds them where they are, in the kinds we write"
    engine = load_engine()
    drawn = draw_roles(engine, engine.decode_rgb(data), fakes.annotation(), tuple(DERIVED))
    assert drawn.problems == ()
    keep_files(tmp_path, drawn.files)
    written = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    assert set(written) >= {"photo.jpg", "thumbnail.jpg", "labelled.png", "upright.png"}
    for name, body in written.items():
        for mark in (b"Camera maker", b"SERIAL-4711", b"Exif\0\0", b"eXIf", b"xmpmeta", b"GPS"):
            assert mark not in body, (name, mark)
        assert not tags_of(body), name


def tags_of(data: bytes) -> dict[str, object]:
    """By a reader that is neither ours nor the library's that wrote the file: exifread."""
    return {k: v for k, v in exifread.process_file(io.BytesIO(data)).items() if not k.startswith("JFIF")}


def test_a_fault_in_one_picture_leaves_the_order_of_the_others(tmp_path):
    (tmp_path / "bad.jpg").write_bytes(b"\xff\xd8\xff")
    (tmp_path / "good.jpg").write_bytes((SAMPLES / "DSC_0412.jpg").read_bytes())
    jobs = [PlacingJob(path=tmp_path / name, known=Known()) for name in ("bad.jpg", "good.jpg", "gone.jpg")]
    placed = list(place_all(jobs, load_engine, 0, 60))
    assert [p.annotation.status for p in placed] == ["unreadable", "annotated", "unreadable"]

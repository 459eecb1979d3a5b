"""ZIP archives, ordinary and hostile: every file is there or told, and nothing grows past its limit."""

from __future__ import annotations

import io
import random
import struct
import time
import zipfile
from dataclasses import replace

import pytest
from fakes import png

from moondesk.records import NotFound
from moondesk.sentences import join_words
from moondesk.service.intake.archives import is_archive, unpack
from moondesk.service.settings.config import IntakeLimits

LIMITS = IntakeLimits()


def archive(files: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as opened:
        for name, data in files.items():
            opened.writestr(name, data)
    return buffer.getvalue()


def test_files_come_out_by_their_own_names_without_what_systems_add():
    data = archive(
        {
            "Moon/": b"",
            "Moon/a.png": png(),
            "Moon/b.png": png(shade=3),
            "__MACOSX/Moon/._a.png": b"x",
            "Moon/.DS_Store": b"x",
            "Thumbs.db": b"x",
        }
    )
    assert is_archive(data)
    members = unpack(data, LIMITS)
    assert [(m.name, m.data, join_words(m.refusal)) for m in members] == [
        ("a.png", png(), ""),
        ("b.png", png(shade=3), ""),
    ]


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\Users\\m.png", "m.png"),
        ("/absolute.png", "absolute.png"),
        ("mond über.png", "mond über.png"),
        ("月面.png", "月面.png"),
        ("a\u202egnp.exe", "a gnp.exe"),
        ("dir/" + "x" * 300 + ".png", "x" * 120),
    ],
)
def test_names_are_text_and_never_paths(name, expected):
    assert [m.name for m in unpack(archive({name: b"data"}), LIMITS)] == [expected]


def test_a_name_in_utf_8_that_does_not_say_so():
    data = archive({"mond_uber_ae.png": b"x"}).replace(b"mond_uber_ae.png", "mond_über_ä.png".encode()[:16])
    assert "über" in unpack(data, LIMITS)[0].name


def test_a_bomb_is_unpacked_no_further_than_its_limit():
    data = archive({"bomb.png": bytes(50_000_000), "moon.png": png()})
    assert len(data) < 100_000
    began = time.process_time()
    bomb, moon = unpack(data, replace(LIMITS, picture_bytes=1_000_000))
    assert time.process_time() - began < 1
    assert (bomb.data, join_words(bomb.refusal)) == (None, "It is larger than 1 MB. Please ask for a smaller picture.")
    assert moon.data == png()


def test_sizes_that_lie_are_not_believed():
    data = bytearray(archive({"bomb.png": bytes(5_000_000)}))
    for at in (i for i in range(len(data) - 4) if data[i : i + 4] in (b"PK\x01\x02", b"PK\x03\x04")):
        offset = 24 if data[at : at + 4] == b"PK\x01\x02" else 22
        data[at + offset : at + offset + 4] = struct.pack("<I", 10)  # uncompressed size: ten bytes
    (bomb,) = unpack(bytes(data), replace(LIMITS, picture_bytes=1_000_000))
    assert bomb.data is None


def test_all_files_together_have_a_limit_and_so_has_their_number():
    data = archive({f"{k}.png": bytes(900_000) for k in range(5)})
    members = unpack(data, replace(LIMITS, archive_bytes=2_000_000))
    assert [m.data is None for m in members] == [False, False, True, True, True]
    assert "together are too large" in join_words(members[2].refusal)
    many = unpack(archive({f"{k}.png": b"x" for k in range(9)}), replace(LIMITS, archive_files=3))
    assert [m.name for m in many] == ["0.png", "1.png", "2.png", "3.png"]
    assert "more than 3 files" in join_words(many[3].refusal)


def test_a_directory_of_a_hundred_thousand_entries_is_not_read():
    answer = unpack(b"PK\x03\x04" + b"PK\x01\x02" * 100_000, LIMITS)
    assert isinstance(answer, NotFound)
    assert "more than 5000 entries" in answer.reason


def test_an_office_document_is_told_for_what_it_is():
    answer = unpack(archive({"[Content_Types].xml": b"<x/>", "word/media/image1.png": png()}), LIMITS)
    assert isinstance(answer, NotFound)
    assert "office document" in answer.reason


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_other_methods_are_told(method):
    (member,) = unpack(archive({"a.png": png()}, method), LIMITS)
    assert (member.data, join_words(member.refusal).split(".")[0]) == (
        None,
        "It is packed in a way that is not opened here",
    )


def test_a_locked_file_is_told():
    data = bytearray(archive({"a.png": png()}))
    data[6] |= 1  # flag bit 0 of the local header and of the directory (APPNOTE 4.4.4)
    data[data.index(b"PK\x01\x02") + 8] |= 1
    (member,) = unpack(bytes(data), LIMITS)
    assert "password" in join_words(member.refusal)


def test_damage_costs_the_file_or_the_archive_and_never_raises():
    whole = archive({"a.png": png(), "b.png": png(shade=9)})
    assert isinstance(unpack(whole[: len(whole) // 2], LIMITS), NotFound)
    rng = random.Random(7)
    for _ in range(600):
        data = bytearray(whole)
        for _ in range(rng.randrange(1, 6)):
            data[rng.randrange(4, len(data))] = rng.randrange(256)
        answer = unpack(bytes(data), LIMITS)
        assert isinstance(answer, NotFound) or all(m.data is not None or m.refusal for m in answer)

"""What is merged and what is asked; which few pictures are compared."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from photos import jpeg, photo
from PIL import Image

from moondesk.duplicates.fingerprint import ViewingGeometry, sketch
from moondesk.duplicates.raster import PixelRaster, read_raster
from moondesk.service.jobs import duplicate_rules as duplicates
from moondesk.service.jobs.duplicate_rules import CopyCandidate, sender_key, worth_comparing
from moondesk.service.store.media import sha256_of

STANCE = ViewingGeometry(
    north_screen_deg=20.0, mirrored=False, libration_lat_deg=3.0, libration_lon_deg=-4.0, sub_solar_lon_deg=50.0
)


class Store:
    """Originals by hash, and what is held of them."""

    def __init__(self) -> None:
        self.files: dict[str, bytes] = {}
        self.held: list[CopyCandidate] = []
        self.loaded: list[str] = []

    def add(self, data: bytes, sender: str = "ann@example.org", **known: object) -> CopyCandidate:
        raster = read_raster(data)
        drawn = sketch(raster.grey) if isinstance(raster, PixelRaster) else None
        made = CopyCandidate(picture_id=len(self.held) + 1, sha256=sha256_of(data), sender=sender, sender_name=sender.partition("@")[0].title(), sketch=drawn,
                    **known)  # type: ignore[arg-type]  # fmt: skip
        self.files[made.sha256] = data
        self.held.append(made)
        return made

    def get(self, sha256: str) -> bytes | None:
        self.loaded.append(sha256)
        return self.files.get(sha256)

    def duplicates(self, new: CopyCandidate) -> tuple[duplicates.Finding, ...]:
        """As the search does it: what the sketches say, then the files of those that are worth opening."""
        first, opened = duplicates.first_look(new, self.held)
        chosen = tuple(h for h in self.held if h.picture_id in opened)
        closer = duplicates.closer_look(new, chosen, self) if chosen else ()
        return duplicates.sort_findings((*first, *closer))


@pytest.fixture
def store() -> Store:
    made = Store()
    made.add(jpeg(photo(1), 92))
    return made


def test_the_same_file_twice(store: Store):
    (found,) = store.duplicates(store.add(jpeg(photo(1), 92)))
    assert (found.kind, found.other_id, found.better) == ("version_of", 1, 1)
    assert not store.loaded, "the hash says it all"


def test_the_same_file_by_somebody_else_is_asked(store: Store):
    (found,) = store.duplicates(store.add(jpeg(photo(1), 92), "bea@example.org"))
    assert (found.kind, found.words) == ("ask", "Ann sent the very same file. Whose picture is it?")


def test_unknown_senders_are_never_one(store: Store):
    store.add(jpeg(photo(2), 92), "")
    (found,) = store.duplicates(store.add(jpeg(photo(2), 92), ""))
    assert found.kind == "ask"


def test_a_smaller_copy_is_a_version_and_the_larger_one_is_shown(store: Store):
    small = Image.open(io.BytesIO(store.files[store.held[0].sha256])).resize((320, 240), Image.Resampling.BICUBIC)
    (found,) = store.duplicates(store.add(jpeg(small, 75)))
    assert (found.kind, found.better) == ("version_of", 1)
    assert found.words == "The same picture, sent again (at 80 % of the size)."


def test_a_better_copy_that_comes_later_is_shown(store: Store):
    whole = Image.open(io.BytesIO(store.files[store.held[0].sha256]))
    later = Store()
    later.add(jpeg(whole.resize((320, 240), Image.Resampling.BICUBIC), 75))
    (found,) = later.duplicates(later.add(store.files[store.held[0].sha256]))
    assert (found.kind, found.other_id, found.better) == ("version_of", 1, 2)


def test_a_copy_by_somebody_else_is_asked(store: Store):
    copy = Image.open(io.BytesIO(store.files[store.held[0].sha256]))
    (found,) = store.duplicates(store.add(jpeg(copy, 70), "bea@example.org"))
    assert (found.kind, found.words) == ("ask", "Ann sent the same picture. Whose is it?")


def test_clocks_that_differ_are_asked_about(store: Store):
    store.held[0] = replace(store.held[0], clock="2026:05:24 21:05:00")
    copy = Image.open(io.BytesIO(store.files[store.held[0].sha256]))
    (found,) = store.duplicates(store.add(jpeg(copy, 70), clock="2026:05:24 21:05:03"))
    assert found.kind == "ask"
    assert "21:05:03" in found.words
    (found,) = store.duplicates(store.add(jpeg(copy, 71), clock="2026:05:24 21:05:00"))[:1]
    assert found.kind == "version_of"


def test_the_next_frame_is_never_merged(store: Store):
    kinds = {f.kind for f in store.duplicates(store.add(jpeg(photo(1, noise=2), 92)))}
    assert kinds <= {"ask"}


def test_another_picture_is_nothing(store: Store):
    assert store.duplicates(store.add(jpeg(photo(9), 92))) == ()


def test_files_that_are_gone_or_broken_do_no_harm(store: Store):
    store.add(b"not a picture at all")
    new = store.add(jpeg(Image.open(io.BytesIO(store.files[store.held[0].sha256])), 70))
    assert [f.other_id for f in store.duplicates(new)] == [1]
    store.files.clear()
    assert store.duplicates(new) == ()


def test_few_are_compared():
    drawn = sketch(np.asarray(photo(3).convert("L")))
    many = [
        CopyCandidate(
            picture_id=i,
            sha256=f"{i:064d}",
            sender=f"s{i % 400}",
            sender_name="",
            sketch=drawn,
            stance=replace(STANCE, north_screen_deg=i / 30),
        )
        for i in range(2000)
    ]
    new = CopyCandidate(picture_id=5000, sha256="f" * 64, sender="s7", sender_name="", sketch=drawn, stance=STANCE)
    chosen = worth_comparing(new, many)
    limit = duplicates.MOST_ALIKE + duplicates.MOST_OF_SENDER + duplicates.MOST_PLACED
    assert 0 < len(chosen) <= limit
    assert sum(h.sender == "s7" for h in chosen) == 5
    assert any(abs(h.stance.north_screen_deg - 20) < 0.6 for h in chosen if h.stance)
    assert worth_comparing(replace(new, sketch=None, sender=""), many) == []


def test_the_key_of_a_sender():
    assert sender_key(" Ann@Example.org ") == sender_key("ann@example.ORG", "@moon") == "ann@example.org"
    assert sender_key("", "@Moon  Fan") == "@moon fan"
    assert sender_key("", "") == ""

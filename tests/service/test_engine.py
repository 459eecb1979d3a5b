"""The engine's mark: it changes with what decides a placement, and with nothing else."""

from __future__ import annotations

import hashlib

import pytest

from moondesk.service.jobs.engine import ENGINE_FILES, content_mark, engine_version, load_engine, product_version


@pytest.fixture
def core(tmp_path):
    folder = tmp_path / "core"
    (folder / "data").mkdir(parents=True)
    (folder / "solver.py").write_bytes(b"GATE = 0.35\n")
    (folder / "data" / "map.png").write_bytes(b"\x89PNG\r\n\x1a\n\0\0")
    return folder


def test_the_mark_is_the_digest_of_names_lengths_and_bytes(core):
    # written out once by hand, so that a store made by one release is understood by the next
    whole = b"core/data/map.png\x0010\x00\x89PNG\r\n\x1a\n\0\0core/solver.py\x0012\x00GATE = 0.35\n"
    assert content_mark([core]) == hashlib.sha256(whole).hexdigest()[:12]


@pytest.mark.parametrize(
    ("name", "data", "same"),
    [
        ("solver.py", b"GATE = 0.36\n", False),
        ("solver.py", b"GATE = 0.35\r\n", True),  # as a clone on another system writes it
        ("data/map.png", b"\x89PNG\n\x1a\n\0\0", False),  # not a text: its line ends are data
        ("more.py", b"", False),
        ("__pycache__/solver.pyc", b"compiled", True),
        (".solver.py.swp", b"an editor's", True),
    ],
)
def test_what_changes_the_mark(core, name, data, same):
    before = content_mark([core])
    (core / name).parent.mkdir(exist_ok=True)
    (core / name).write_bytes(data)
    assert (content_mark([core]) == before) is same


def test_a_renamed_file_and_bytes_moved_from_one_to_the_next_change_it(core):
    before = content_mark([core])
    (core / "solver.py").rename(core / "solve.py")
    renamed = content_mark([core])
    (core / "solve.py").rename(core / "solver.py")
    (core / "a.py").write_bytes(b"ab")
    (core / "b.py").write_bytes(b"c")
    split = content_mark([core])
    (core / "a.py").write_bytes(b"a")
    (core / "b.py").write_bytes(b"bc")
    assert len({before, renamed, split, content_mark([core])}) == 4


def test_the_products_own_mark_covers_core_and_derived_pictures():
    names = [p.name for p in ENGINE_FILES]
    assert {"pose", "data", "rating", "pipeline.py", "derive.py"} <= set(names)
    assert "frames" not in names
    assert all(p.exists() for p in ENGINE_FILES)
    assert engine_version() == content_mark(ENGINE_FILES)
    assert load_engine().version == engine_version()
    assert product_version()

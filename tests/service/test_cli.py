"""The command line: lines, files, exit codes. The core is the stand-in, save where a test says so."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import click
import fakes
import pytest
from click.testing import CliRunner

from moondesk.service import cli
from moondesk.service.cli import COMMANDS
from moondesk.service.cli.demo import find_samples
from moondesk.service.cli.main import main
from moondesk.service.store.editions import list_editions
from moondesk.service.store.pictures import count_pictures
from moondesk.service.store.settings import load_config

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True)
def stand_in(monkeypatch):
    monkeypatch.setattr("moondesk.service.jobs.engine.load_engine", fakes.load)
    monkeypatch.setattr("moondesk.service.jobs.engine.engine_version", lambda: "fake 1")
    # one process: the pool has its own tests
    for command in ("take", "demo", "list"):
        monkeypatch.setattr(
            f"moondesk.service.cli.{command}.load_config", lambda data, workers=None: load_config(data, workers=0)
        )


def run(*args) -> tuple[int, str, str]:
    result = CliRunner().invoke(main, [str(a) for a in args])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.exit_code, result.stdout, result.stderr


def test_take_prints_a_line_each_and_a_second_run_has_nothing_to_do(folder, tmp_path):
    for name in ("page.jpg", "submissions.csv"):
        (folder / name).unlink()
    code, out, err = run("take", folder, "--data", tmp_path / "data")
    assert code == 0, err
    assert len(out.splitlines()) == 3
    assert "Names: sure" in out
    assert "best seen: Copernicus, Mare Imbrium (Sea of Rains)." in out
    assert "3 taken, 0 taken before" in err
    code, out, err = run("take", folder, "--data", tmp_path / "data")
    assert (code, out) == (3, "")
    assert "0 taken, 3 taken before" in err


def test_take_tells_what_was_refused_and_ends_with_1(folder, tmp_path):
    code, out, err = run("take", folder, "--data", tmp_path / "data")
    assert code == 1
    assert "page.jpg: page.jpg: The file is a web page" in err
    assert 'b.jpg: submissions.csv, line 3: received_utc "not a time"' in err
    assert "The table names gone.jpg, which is not in the folder." in err
    assert out.splitlines()[-1].startswith("Ilse")  # the newest evening first


def test_place_writes_lines_and_pictures_and_stores_nothing(folder, tmp_path, monkeypatch):
    monkeypatch.setenv("MOONDESK_DATA", str(tmp_path / "untouched"))
    monkeypatch.chdir(tmp_path)
    out_dir = tmp_path / "pictures"
    code, out, err = run(
        "place",
        folder / "a.png",
        folder / "sub" / "c.png",
        "--known",
        folder / "submissions.csv",
        "--jsonl",
        tmp_path / "out.jsonl",
        "--pictures",
        out_dir,
        "--workers",
        1,
    )
    assert code == 0, err
    lines = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text().splitlines()]
    assert [line["file"] for line in lines] == [(folder / "a.png").as_posix(), (folder / "sub" / "c.png").as_posix()]
    assert lines[0]["status"] == "annotated"
    assert len(lines[0]["sha256"]) == 64
    assert sorted(p.name for p in out_dir.iterdir()) == [
        "a_labelled.png",
        "a_upright.png",
        "c_labelled.png",
        "c_upright.png",
    ]
    assert len(out.splitlines()) == 2
    assert "line 3: received_utc" in err
    assert not (tmp_path / "untouched").exists()


def test_place_to_stdout_is_json_alone_and_1_where_something_is_unreadable(folder, tmp_path):
    (tmp_path / "bad.png").write_bytes(fakes.png(fakes.RAISES))
    (tmp_path / "sub").mkdir()
    (tmp_path / "sub" / "bad.png").write_bytes(fakes.png())
    code, out, err = run(
        "place",
        tmp_path / "bad.png",
        tmp_path / "sub" / "bad.png",
        "--jsonl",
        "-",
        "--workers",
        1,
        "--pictures",
        tmp_path / "p",
    )
    assert code == 1
    assert [json.loads(line)["status"] for line in out.splitlines()] == ["unreadable", "annotated"]
    assert "planted fault" in err
    assert sorted(p.name for p in (tmp_path / "p").iterdir()) == ["bad-2_labelled.png", "bad-2_upright.png"]


@pytest.mark.parametrize(
    "args",
    [
        ["place"],
        ["place", "gone.jpg"],
        ["take", "gone"],
        ["take"],
        ["nonsense"],
        ["serve", "--port", "x"],
        ["serve", "--host", "0.0.0.0"],
    ],
)
def test_wrong_usage_ends_with_2_and_a_sentence(args, tmp_path):
    code, _, err = run(*args, *(["--data", tmp_path] if args[0] == "serve" else []))
    assert code == 2
    assert err.strip()
    assert "Traceback" not in err


def test_a_table_without_its_column_ends_with_2(folder, tmp_path):
    (tmp_path / "t.csv").write_text("name\nBo\n")
    code, _, err = run("place", folder / "a.png", "--known", tmp_path / "t.csv")
    assert code == 2
    assert 't.csv has no column "file"' in err


def test_demo_places_the_samples_and_names_its_data_folder(folder, tmp_path, monkeypatch):
    (folder / "programme.toml").write_text(
        "[programme]\nname='Sky'\nzone='Europe/Vienna'\n[edition]\nnumber=5\nevenings=[2026-03-25]\n"
    )
    monkeypatch.setattr("moondesk.service.cli.demo.find_samples", lambda: folder)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    code, out, err = run("demo", "--no-serve")
    assert code == 1  # one of the files is no picture
    assert "Ilse                      25 March 2026, 20:04 (19:04 UTC)" in out
    data = Path(out.rstrip().rsplit(" ", 1)[-1])
    assert f"Data folder: {data}\n" in err
    from moondesk.service.store.storage import Storage

    with Storage(data) as storage:
        (edition,) = list_editions(storage)
        assert (edition.plan.number, edition.plan.day_number, count_pictures(storage, edition.id).sure) == (5, 7, 3)


def test_the_demo_finds_its_samples_from_any_folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "sample_submissions").mkdir()  # somebody else's folder of that name
    installed = {p.name for p in find_samples().iterdir()}
    assert installed == {p.name for p in (ROOT / "sample_submissions").iterdir()}


def test_every_command_documents_its_exit_codes():
    for command in COMMANDS:
        assert "3 nothing to do" in run(command, "--help")[1].replace("\n  ", " ")


def test_the_list_of_commands_says_what_each_says_of_itself():
    for name, line in COMMANDS.items():
        own = main.get_command(click.Context(main), name)
        assert click.Command(name, help=line).get_short_help_str(1000) == own.get_short_help_str(1000) == line
    modules = {p.stem for p in Path(cli.__file__).parent.glob("*.py")}
    assert modules - set(COMMANDS) == {"__init__", "main", "console", "data_folder", "placing"}


def test_the_help_loads_nothing_that_is_slow():
    code = (
        "import sys, moondesk.service.cli.main; "
        "bad = {'numpy', 'cv2', 'PIL', 'flask', 'sqlite3', 'waitress', 'jinja2', 'astropy', 'babel'} & set(sys.modules); "
        "sys.exit(str(bad) if bad else 0)"
    )
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True, timeout=30)


def test_placing_loads_neither_the_web_nor_the_store(tmp_path):
    (tmp_path / "a.png").write_bytes(fakes.png())
    (tmp_path / "script.py").write_text(
        "import sys\nfrom moondesk.service.cli.main import main\n"
        "if __name__ == '__main__':\n"
        "    try:\n        main(['place', sys.argv[1], '--workers', '1'])\n"
        "    except SystemExit as end:\n        assert end.code == 0\n"
        "    slow = {'flask', 'sqlite3', 'waitress', 'jinja2', 'skimage', 'scipy', 'astropy'}\n"
        "    assert not slow & set(sys.modules), slow & set(sys.modules)\n"
    )
    done = subprocess.run(
        [sys.executable, tmp_path / "script.py", tmp_path / "a.png"],
        cwd=ROOT,
        text=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        timeout=120,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("a.png")


def test_the_version_names_product_and_core():
    code, out, _ = run("--version")
    assert code == 0
    assert re.fullmatch(r"moondesk, version \S+( tree)?, core \S+( 1)?\n", out)

"""The command line: thin commands; everything heavy is imported inside them, so that `--help` is there at once.

Exit codes: 0 all went well; 1 some pictures could not be read; 2 wrong usage; 3 nothing to do.
Results go to stdout, progress and complaints to stderr; the progress bar only where stderr is a terminal.
"""

from __future__ import annotations

import logging
import shlex
import sys
from collections.abc import Iterable
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

import click

from moondesk.service.arrivals import ARRIVAL_WAYS
from moondesk.service.cli.account import account
from moondesk.service.cli.composite import composite
from moondesk.service.cli.console import (
    EXIT_NOTHING,
    EXIT_OK,
    EXIT_SOME_FAILED,
    errors,
    line_of,
    output,
    picture_names,
    progress,
    stored_in,
)
from moondesk.service.cli.export import export
from moondesk.service.cli.frames import frames
from moondesk.service.cli.kit import kit, sample_kit
from moondesk.service.cli.month import month
from moondesk.service.cli.options import EXIT_CODES, cluster_option, data_option, port_option, workers_option
from moondesk.service.cli.rundown import rundown
from moondesk.service.cli.send import send
from moondesk.service.cli.work import place_and_tell, retry, tell_held, work
from moondesk.service.folders import SHELL
from moondesk.service.languages import LANGUAGES
from moondesk.service.settings.config import LOOPBACK, Config, default_data_dir, load_config
from moondesk.service.web.running import ended_by_system, serve_desk, tell_missing

if TYPE_CHECKING:
    from moondesk.service.store.backup import Report
    from moondesk.service.store.marks import Backups
    from moondesk.service.store.storage import Storage

SAMPLES = "sample_submissions"


def _speak(data: Path, language: str) -> None:
    """Set the language of what goes out as the desk would."""
    from moondesk.service.store.settings import keep_settings
    from moondesk.service.store.storage import Storage

    if language != "en":
        with Storage(data) as storage:
            keep_settings(storage, {"programme.language": language}, datetime.now(UTC), "moondesk")


def _show_version(context: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        from moondesk.service.jobs.engine import engine_version, product_version

        click.echo(f"moondesk, version {product_version()}, core {engine_version()}")
        context.exit()


@click.group(epilog=EXIT_CODES, context_settings={"help_option_names": ["-h", "--help"]})
@click.option(
    "--version",
    is_flag=True,
    expose_value=False,
    is_eager=True,
    callback=_show_version,
    help="Show the version and exit.",
)
def main() -> None:
    """Places the Moon photographs of a programme's viewers and shows them at the presenter's desk."""
    logging.basicConfig(stream=sys.stderr, level=logging.WARNING, format="%(levelname)s %(name)s: %(message)s")


@main.command(epilog=EXIT_CODES)
@click.option("--serve/--no-serve", default=True, help="Serve the desk afterwards (default), or stop.")
@click.option(
    "--language",
    type=click.Choice(tuple(LANGUAGES)),
    default="en",
    show_default=True,
    help="Language of notes, frames and replies; it can be changed at the desk.",
)
@click.option(
    "--kit",
    "kit_into",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Pick the pictures that rank first and write everything that leaves the desk into this folder.",
)
@port_option
@workers_option
def demo(serve: bool, language: str, kit_into: Path | None, port: int | None, workers: int | None) -> None:
    """Take the sample submissions into a fresh folder, place them, show them at the desk."""
    import shutil
    import tempfile

    samples = find_samples()
    tell_missing()
    if serve:
        from moondesk.service.web.listening import free_port

        with errors():
            free_port(LOOPBACK, port, may_move=True)  # told before the minute's work, not after it
    data, kept = Path(tempfile.mkdtemp(prefix="moondesk-demo-")), False
    with ended_by_system(), errors():
        try:
            click.echo(f"Data folder: {data}{' (removed when the demo ends)' if serve else ''}", err=True)
            settings = samples / "programme.toml"
            if settings.is_file():
                shutil.copyfile(settings, data / "moondesk.toml")
            _speak(data, language)
            code = _take_and_place([samples], load_config(data, workers), quiet=True)
            if kit_into is not None:
                code = sample_kit(data, kit_into) or code
            if serve:
                serve_desk(data, LOOPBACK, port, may_move=True, workers=workers)
            else:
                click.echo(f"\nTo look at them: moondesk serve --data {data}")
                kept = True
        finally:
            if not kept:
                shutil.rmtree(data, ignore_errors=True)
    sys.exit(code)


@main.command(epilog=EXIT_CODES)
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path, exists=True, dir_okay=False)
)
@click.option(
    "--known",
    metavar="TABLE.csv",
    type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help='What is known of the pictures: a table with a column "file".',
)
@click.option(
    "--jsonl",
    metavar="OUT",
    type=click.Path(dir_okay=False, allow_dash=True),
    help="Write one JSON object a picture; - for stdout.",
)
@click.option(
    "--pictures",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Write the labelled and the upright pictures into this folder.",
)
@workers_option
def place(
    files: tuple[Path, ...], known: Path | None, jsonl: str | None, pictures: Path | None, workers: int | None
) -> None:
    """Place pictures without storing them; one line each."""
    import os
    from dataclasses import replace

    from moondesk.service.jobs.child_pool import start_server

    start_server(["moondesk.service.jobs.preload"])  # first, so that it loads while this process does
    from moondesk.records import Known
    from moondesk.service.intake.tables import Table, read_table
    from moondesk.service.jobs.engine import load_engine
    from moondesk.service.jobs.placing import Job, place_all

    with errors():
        table = read_table(known) if known else Table()
        for remark in (*table.remarks, *(r for row in table.rows.values() for r in row.remarks)):
            click.echo(remark, err=True)
        if pictures:
            pictures.mkdir(parents=True, exist_ok=True)
        names = picture_names(files)
        jobs, now = [], datetime.now(UTC)
        for file in files:
            row = table.row_for(file.as_posix())
            labelled, upright = (
                pictures / f"{names[file]}_{role}.png" if pictures else None for role in ("labelled", "upright")
            )
            known_of = replace(row.known() if row else Known(), now_utc=now, given_name=file.name)
            jobs.append(
                Job(
                    path=file,
                    known=known_of,
                    derived_folder=None,
                    labelled=labelled,
                    upright=upright,
                    line_name=file.as_posix() if jsonl else None,
                )
            )
        with output(jsonl) as lines:
            placed_all = place_all(
                jobs,
                load_engine,
                min(len(jobs), workers or os.cpu_count() or 1),
                Config(data_dir=Path()).limits.place_seconds,
            )
            failed = 0
            for file, placed in zip(files, progress(placed_all, len(jobs)), strict=True):
                failed += not placed.annotation.status.facts.opens
                if lines:
                    lines.write(placed.line + "\n")
                    lines.flush()
                click.echo(line_of(file.name, placed.annotation, "UTC"), err=jsonl == "-")
                for problem in placed.problems:
                    click.echo(f"{file.name}: {problem}", err=True)
    sys.exit(EXIT_SOME_FAILED if failed else EXIT_OK)


@main.command(epilog=EXIT_CODES)
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(path_type=Path, exists=True))
@data_option
@workers_option
@cluster_option
def take(paths: tuple[Path, ...], data: Path | None, workers: int | None, cluster: str | None) -> None:
    """Take pictures and mails into the store, and place them.

    A PATH is a folder (with its submissions.csv), a Maildir, an mbox file, a mail (.eml), a ZIP archive or a picture;
    a folder may hold any of the others. What was taken before is left alone.
    """
    with errors():
        code = _take_and_place(paths, load_config(data or default_data_dir(), workers), quiet=False, cluster=cluster)
    sys.exit(code)


@main.command("list", epilog=EXIT_CODES)
@data_option
@click.option("--edition", type=int, default=None, help="This edition only (default: all).")
@click.option("--jsonl", is_flag=True, help="One JSON object a line.")
def list_submissions(data: Path | None, edition: int | None, jsonl: bool) -> None:
    """List the submissions, one line each, in the order in which they came in."""
    import json

    from moondesk.service.programme.listing import listed_line, listed_words
    from moondesk.service.store.editions import read_edition
    from moondesk.service.store.submissions import each_submission

    count = 0
    with errors(), _store(data) as storage:
        terms = load_config(data or default_data_dir()).entry_terms
        if edition is not None:
            read_edition(storage, edition)  # a number that is none is told
        for listed in each_submission(storage, edition):
            count += 1
            click.echo(
                json.dumps(listed_line(listed, terms), ensure_ascii=False) if jsonl else listed_words(listed, terms)
            )
    sys.exit(EXIT_OK if count else EXIT_NOTHING)


@main.command(epilog=EXIT_CODES)
@click.argument("sender")
@click.option("--yes", is_flag=True, help="Do not ask.")
@data_option
def forget(sender: str, yes: bool, data: Path | None) -> None:
    """Erase all that came from SENDER: an address, or the whole name where no address is known. It cannot be undone."""
    from moondesk.service.store.forget import erase_files, submissions_of
    from moondesk.service.store.forget import forget as forget_sender
    from moondesk.service.store.marks import tell_backups
    from moondesk.service.store.media import Media
    from moondesk.service.store.senders import also_theirs

    with errors(), _store(data) as storage:
        media = Media(data or default_data_dir())
        erase_files(storage, media)  # of an earlier run that was cut short
        tell_backups(storage)
        ids = submissions_of(storage, sender)
        if not ids:
            click.echo("Nothing came from this sender.", err=True)
            sys.exit(EXIT_NOTHING)
        also = also_theirs(storage, ids)
        if not yes:
            click.confirm(f"Erase {len(ids)} submissions with their pictures, for good?", abort=True, err=True)
        done = forget_sender(storage, media, sender, datetime.now(UTC), "the command line")
    click.echo(f"Erased: {done.submissions} submissions, {done.originals} originals and what was made of them.")
    for sentence in _backup_words(done.backups):
        click.echo(sentence)
    for other, count in also:
        click.echo(
            f"{count} more may be theirs, under “{other}”. To erase them too: moondesk forget {shlex.quote(other)}",
            err=True,
        )


def _backup_words(backups: Backups) -> list[str]:
    """What is true of the copies; nobody knows of those that were not made by `moondesk backup`."""
    said = []
    if backups.told:
        said.append(
            "These backups hold them until they are made anew; restored as they are, they are erased again: "
            f"{', '.join(map(str, backups.told))}."
        )
    if backups.unreached:
        said.append(
            "These backups hold them too and cannot be reached now; they are told when they can. Restored "
            f"before that, name this data folder with --forgotten: {', '.join(map(str, backups.unreached))}."
        )
    return [*said, "Copies that were made in another way are not known here."]


@main.command("backup", epilog=EXIT_CODES)
@click.argument("target", metavar="FOLDER", type=click.Path(path_type=Path, file_okay=False))
@data_option
def back_up(target: Path, data: Path | None) -> None:
    """Copy the store and all originals into a folder, hashes checked; it may be in use meanwhile."""
    from moondesk.service.store.backup import backup

    with errors():
        _told(backup(data or default_data_dir(), target), "copied into", target)


@main.command(epilog=EXIT_CODES)
@click.argument("source", metavar="FOLDER", type=click.Path(path_type=Path, file_okay=False, exists=True))
@click.option("--check", "only_check", is_flag=True, help="Only check that the backup is whole; nothing is written.")
@click.option(
    "--forgotten",
    multiple=True,
    metavar="FOLDER",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    help="A data folder or another backup that knows who was forgotten after this one was made; may be given "
    "several times.",
)
@data_option
def restore(source: Path, only_check: bool, forgotten: tuple[Path, ...], data: Path | None) -> None:
    """Bring a backup back as a data folder that does not exist yet, or only check it.

    Whoever was forgotten after the backup was made is erased from what comes back.
    """
    from moondesk.service.store.backup import check
    from moondesk.service.store.restoring import restore as bring_back

    with errors():
        if only_check:
            _told(check(source), "found whole in", source)
        else:
            folder = data or default_data_dir()
            _told(bring_back(source, folder, forgotten), "restored into", folder)


def _store(data: Path | None) -> Storage:
    """The store of a data folder, which must be there already."""
    from moondesk.service.store.storage import Storage

    return Storage(stored_in(data))


def _told(report: Report, done: str, where: Path) -> None:
    for problem in report.problems:
        click.echo(problem, err=True)
    if report.problems:
        sys.exit(EXIT_SOME_FAILED)
    for note in report.notes:
        click.echo(note, err=True)
    click.echo(f"The store and its {report.originals} originals were {done} {where}.")
    if report.removed:
        click.echo(f"{report.removed} files that the store does not name any more were removed there.")
    if report.strays:
        click.echo(
            f"{report.strays} files of the source belong to nothing in its store, left by a program that was "
            "ended. They are not brought back; the next backup removes them, a folder in use by itself.",
            err=True,
        )
    if report.erased:
        click.echo(f"{report.erased} submissions of people who were forgotten after the backup were erased again.")


@main.command(epilog=EXIT_CODES)
@data_option
@port_option
@click.option(
    "--host",
    default=LOOPBACK,
    show_default=True,
    help="Address to listen on. Beyond this machine only with accounts, and behind a proxy with https: see "
    "[desk] in moondesk.toml.",
)
@click.option(
    "--work/--no-work",
    "placing",
    default=True,
    help="Place what comes in beside the desk (default), or leave that to moondesk work.",
)
@workers_option
def serve(data: Path | None, port: int | None, host: str, placing: bool, workers: int | None) -> None:
    """Serve the desk, and place what comes in: to this machine, and by https to others once it has accounts."""
    with errors():
        tell_missing()
        serve_desk(data or default_data_dir(), host, port, placing=placing, workers=workers)


@main.command(epilog=EXIT_CODES)
@data_option
@click.option(
    "--port",
    type=click.IntRange(0, 65535),
    default=None,
    help="Port of the upload page (default 8760; 0 takes a free one).",
)
@click.option(
    "--host",
    default=LOOPBACK,
    show_default=True,
    help="Address to listen on. Others reach it through a proxy with https before it (see [public] in "
    "moondesk.toml), or directly with 0.0.0.0.",
)
def receive(data: Path | None, port: int | None, host: str) -> None:
    """Serve the audience's upload page, an application of its own; the desk is not in it."""
    from moondesk.service.jobs.housekeeping import keep_house_by_the_hour
    from moondesk.service.web.public.app import create_public_app, public_server, serve_public

    with errors(), ended_by_system():
        tell_missing()
        app = create_public_app(load_config(data or default_data_dir()))
        keep_house_by_the_hour(data or default_data_dir(), _complain)
        server = public_server(app, host, port)
        shown = f"[{server.effective_host}]" if ":" in server.effective_host else server.effective_host
        click.echo(f"The upload page: http://{shown}:{server.effective_port}/   (stop with Ctrl-C)")
        serve_public(app, server)


def find_samples() -> Path:
    """The sample submissions: in the installed package (see `moondesk.service.building`), or beside it in the source tree."""
    for folder in (SHELL / "samples", SHELL.parent / SAMPLES):
        if folder.is_dir():
            return folder
    raise click.UsageError("The sample submissions are missing from this installation. Install moondesk anew.")


def _take_and_place(paths: Iterable[Path], config: Config, quiet: bool, cluster: str | None = None) -> int:
    from moondesk.service.jobs.child_pool import start_server

    start_server(["moondesk.service.jobs.preload"])  # first, so that it loads while this process does
    from moondesk.service.intake.intake import Intake, open_edition
    from moondesk.service.jobs.housekeeping import keep_house, keep_house_once
    from moondesk.service.programme.evenings import load_calendar
    from moondesk.service.store.media import Media
    from moondesk.service.store.storage import Storage

    def now() -> datetime:
        return datetime.now(UTC)

    media = Media(config.data_dir)
    counted = dict.fromkeys(("taken", "known", "refused", "left"), 0)
    keep_house_once(config.data_dir, _complain)
    with Storage(config.data_dir) as storage:
        edition = open_edition(storage, config, now(), load_calendar(config).day_of_plan)
        intake = Intake(storage=storage, media=media, edition=edition, config=config, now=now)
        for path in paths:
            for item in intake.take_path(path):
                counted[item.outcome] += 1
                if item.outcome == "refused" or (item.sentence and item.outcome == "taken"):
                    click.echo(f"{item.origin}: {item.sentence}", err=True)
        placed, failed = place_and_tell(storage, config, cluster)
        tell_held(storage)
        keep_house(storage, config.data_dir, config.mail_days, now())
    if not quiet or counted["refused"]:
        click.echo(
            f"{counted['taken']} taken, {counted['known']} taken before, {counted['refused']} refused, "
            f"{counted['left']} left alone; {placed} placed. Data folder: {config.data_dir}",
            err=True,
        )
    if failed or counted["refused"]:
        return EXIT_SOME_FAILED
    return EXIT_OK if placed or counted["taken"] else EXIT_NOTHING


def _complain(sentence: str) -> None:
    click.echo(sentence, err=True)


for command in (work, retry, account, frames, send, composite, month, export, rundown, kit):
    main.add_command(command)
for way in ARRIVAL_WAYS.values():
    if way.command:
        module, _, name = way.command.partition(":")
        main.add_command(getattr(import_module(module), name))

if __name__ == "__main__":
    main()

"""`moondesk take`: pictures and mails into the store, and placed."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say, workers_option
from moondesk.service.cli.data_folder import data_option
from moondesk.service.cli.placing import cluster_option, now, open_intake, place_and_tell, tell_held
from moondesk.service.jobs import child_pool
from moondesk.service.jobs.housekeeping import keep_house, run_housekeeping_once
from moondesk.service.settings.config import Config, default_data_dir
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage


@click.command(epilog=EXIT_CODES)
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(path_type=Path, exists=True))
@data_option
@workers_option
@cluster_option
def command(paths: tuple[Path, ...], data: Path | None, workers: int | None, cluster: str | None) -> None:
    """Take pictures and mails into the store, and place them.

    A PATH is a folder (with its submissions.csv), a Maildir, an mbox file, a mail (.eml), a ZIP archive or a picture;
    a folder may hold any of the others. What was taken before is left alone.
    """
    with errors():
        code = take_and_place(paths, load_config(data or default_data_dir(), workers), quiet=False, cluster=cluster)
    sys.exit(code)


def take_and_place(paths: Iterable[Path], config: Config, quiet: bool, cluster: str | None = None) -> int:
    """Take all that lies there and place it; an exit code. quiet: count only where something was refused."""
    child_pool.start_server(["moondesk.service.jobs.preload"])  # first: it loads while this process goes on
    counted = dict.fromkeys(("taken", "known", "refused", "left"), 0)
    run_housekeeping_once(config.data_dir, say)
    with Storage(config.data_dir) as storage:
        intake = open_intake(storage, config)
        for path in paths:
            for item in intake.take_path(path):
                counted[item.outcome] += 1
                if item.outcome == "refused" or (item.sentence and item.outcome == "taken"):
                    say(f"{item.origin}: {item.sentence}")
        placed, failed = place_and_tell(storage, config, cluster)
        tell_held(storage)
        keep_house(storage, config.data_dir, config.mail_days, now())
    if not quiet or counted["refused"]:
        say(
            f"{counted['taken']} taken, {counted['known']} taken before, {counted['refused']} refused, "
            f"{counted['left']} left alone; {placed} placed. Data folder: {config.data_dir}"
        )
    if failed or counted["refused"]:
        return EXIT_SOME_FAILED
    return EXIT_OK if placed or counted["taken"] else EXIT_NOTHING

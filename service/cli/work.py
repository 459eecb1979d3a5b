"""`moondesk work`: what waits is placed, once or as it comes."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK, EXIT_SOME_FAILED
from moondesk.service.cli.console import errors, say_when, stop_event, workers_option
from moondesk.service.cli.data_folder import data_option
from moondesk.service.cli.placing import LOOK_SECONDS, cluster_option, place_and_tell, tell_held
from moondesk.service.errors import BadInputError
from moondesk.service.jobs.housekeeping import run_housekeeping_hourly, run_housekeeping_once
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.disks import network_kind
from moondesk.service.store.settings import load_config
from moondesk.service.store.storage import Storage


@click.command(epilog=EXIT_CODES)
@data_option
@workers_option
@cluster_option
@click.option("--follow", is_flag=True, help="Go on until stopped, placing what comes in.")
def command(data: Path | None, workers: int | None, cluster: str | None, follow: bool) -> None:
    """Place the pictures that wait. Any number of these may run at once, beside the desk and on its machine.

    Other machines help by --cluster: one program writes to the store, the others only place.
    """
    with errors():
        config, stop = load_config(data or default_data_dir(), workers), stop_event()
        kind = network_kind(config.data_dir)
        if kind and not cluster:
            raise BadInputError(
                f"The data folder {config.data_dir} lies on a network's file system ({kind}), on which two machines "
                "that write break the store.",
                "On the machine that runs the desk run moondesk work --cluster ADDRESS: it alone writes, and the "
                "others place. The desk places by itself, too.",
            )
        if follow:
            run_housekeeping_hourly(config.data_dir, say_when, stop)
        else:
            run_housekeeping_once(config.data_dir, say_when)
        count = failed = 0
        with Storage(config.data_dir) as storage:
            while True:
                done, bad = place_and_tell(storage, config, cluster, stop.is_set)
                count, failed = count + done, failed + bad
                if not follow or stop.wait(LOOK_SECONDS):
                    break
            if not follow:
                tell_held(storage)
    sys.exit(EXIT_SOME_FAILED if failed else EXIT_OK if count or follow else EXIT_NOTHING)

"""`moondesk list`: a line for each submission."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import click

from moondesk.service.cli import EXIT_CODES, EXIT_NOTHING, EXIT_OK
from moondesk.service.cli.console import errors
from moondesk.service.cli.data_folder import data_option, open_store
from moondesk.service.programme.listing import submission_object, submission_words
from moondesk.service.settings.config import default_data_dir
from moondesk.service.store.editions import read_edition
from moondesk.service.store.settings import load_config
from moondesk.service.store.submissions import each_submission


@click.command(epilog=EXIT_CODES)
@data_option
@click.option("--edition", type=int, default=None, help="This edition only (default: all).")
@click.option("--jsonl", is_flag=True, help="One JSON object a line.")
def command(data: Path | None, edition: int | None, jsonl: bool) -> None:
    """List the submissions, one line each, in the order in which they came in."""
    count = 0
    with errors(), open_store(data) as storage:
        terms = load_config(data or default_data_dir()).entry_terms
        if edition is not None:
            read_edition(storage, edition)  # a number that is none is told
        for listed in each_submission(storage, edition):
            count += 1
            click.echo(
                json.dumps(submission_object(listed, terms), ensure_ascii=False)
                if jsonl
                else submission_words(listed, terms)
            )
    sys.exit(EXIT_OK if count else EXIT_NOTHING)

"""The command line's group: it knows its commands by their rows, and loads a command's module when it is asked for."""

from __future__ import annotations

import logging
import sys
from importlib import import_module

import click

from moondesk.service.cli import COMMANDS, EXIT_CODES


class Commands(click.Group):
    """Lists the commands without loading them, so that `--help` is there at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"moondesk.service.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        click.Group(commands=[click.Command(name, help=line) for name, line in COMMANDS.items()]).format_commands(
            ctx, formatter
        )


def _show_version(context: click.Context, _: click.Parameter, wanted: bool) -> None:
    if wanted and not context.resilient_parsing:
        from moondesk.service.jobs.engine import engine_version, product_version

        click.echo(f"moondesk, version {product_version()}, core {engine_version()}")
        context.exit()


@click.group(cls=Commands, epilog=EXIT_CODES, context_settings={"help_option_names": ["-h", "--help"]})
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

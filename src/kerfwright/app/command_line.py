"""The ``kerfwright`` command. Each errand has a module of its own that adds itself to ``app``."""

import sys

import typer

from kerfwright.app import commands
from kerfwright.app.exits import INPUT_TO_MEND, STOPPED_BY_THE_PERSON
from kerfwright.basics import KerfwrightError, Stopped


def main() -> None:
    """Run the command line; errors of input are told without a traceback."""
    app = typer.Typer(
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        help="Proves a cutting job on the router you built, before the cutter touches wood.",
    )
    commands.add_to(app)
    try:
        app()
    except KerfwrightError as error:
        print(error, file=sys.stderr)
        raise SystemExit(INPUT_TO_MEND) from None
    except (KeyboardInterrupt, Stopped):
        print("stopped; nothing was changed", file=sys.stderr)
        raise SystemExit(STOPPED_BY_THE_PERSON) from None

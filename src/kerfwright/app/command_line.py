"""The ``kerfwright`` command. Each errand has a module of its own that adds itself to ``app``."""

import io
import os
import sys
from typing import Annotated

import typer

from kerfwright import __version__
from kerfwright.app import commands
from kerfwright.app.exits import INPUT_TO_MEND, NOTHING_STOPS_IT, STOPPED_BY_THE_PERSON
from kerfwright.basics import KerfwrightError, Stopped


def _say_version(wanted: bool) -> None:
    if wanted:
        print(f"kerfwright {__version__}")
        raise typer.Exit


def _options(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_say_version, is_eager=True, help="Say which version this is."
        ),
    ] = False,
) -> None:
    """Options that stand before any command."""


def main() -> None:
    """Run the command line; errors of input are told without a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # it may be closed, or something else's
            stream.reconfigure(errors="replace")  # a terminal without ² or ± still gets the rest
    app = typer.Typer(
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
        help="Proves a cutting job on the router you built, before the cutter touches wood.",
    )
    asked = sys.argv[1:]
    if not asked and sys.stdout is not None:  # nothing behind it: the page
        sys.argv.append("open")
        asked = ["open"]
    commands.add_to(app, asked)
    app.callback(help=app.info.help)(_options)
    try:
        try:
            app()
        finally:
            if sys.stdout is not None:  # it may be closed
                sys.stdout.flush()
    except KerfwrightError as error:
        print(error, file=sys.stderr)
        raise SystemExit(INPUT_TO_MEND) from None
    except BrokenPipeError:  # the reader, head or less, has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(NOTHING_STOPS_IT) from None
    except OSError as error:
        print(f"the output cannot be written: {error.strerror}", file=sys.stderr)
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(INPUT_TO_MEND) from None
    except (KeyboardInterrupt, Stopped):
        print("stopped; nothing was written", file=sys.stderr)
        raise SystemExit(STOPPED_BY_THE_PERSON) from None

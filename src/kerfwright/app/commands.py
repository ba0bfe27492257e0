"""Which errands the command line knows."""

import typer

from kerfwright.app import prove_command


def add_to(app: typer.Typer) -> None:
    """Register every command."""
    prove_command.add_to(app)

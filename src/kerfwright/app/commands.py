"""Which errands the command line knows."""

import typer

from kerfwright.app import machine_command, moves_command, prove_command, time_command


def add_to(app: typer.Typer) -> None:
    """Register every command."""
    prove_command.add_to(app)
    time_command.add_to(app)
    moves_command.add_to(app)
    machine_command.add_to(app)

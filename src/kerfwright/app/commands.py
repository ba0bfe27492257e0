"""Which errands the command line knows."""

import typer


def add_to(app: typer.Typer) -> None:
    """Register every command."""

"""How long work tells where it is, and how it is told to stop."""

from typing import Protocol


class Stopped(Exception):
    """The person asked for the work to stop. Nothing was written."""


class Progress(Protocol):
    """Called by long work several times a second; raises ``Stopped`` to end it."""

    def __call__(self, stage: str, done: float) -> None:
        """``stage`` in shop words, ``done`` from 0 to 1 within that stage."""


def silent(stage: str, done: float) -> None:
    """A ``Progress`` that says nothing and never stops."""

"""The set-up of one job: the board on the table, zero, cutters in their slots."""

from kerfwright.setup.setup import Setup

__all__ = ["Setup"]

"""Wood and boards: species, moisture, size, and the height field that a cut leaves."""

from kerfwright.stock.board import Board, Wood

__all__ = ["Board", "Wood"]

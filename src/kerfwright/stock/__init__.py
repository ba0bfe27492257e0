"""Wood and boards: species, moisture, size, and the height field that a cut leaves."""

from kerfwright.stock.board import Board, BoardError, Wood
from kerfwright.stock.movement import Movement, Sawn, movement_of
from kerfwright.stock.read_stock import (
    THICKNESS_U_MM,
    Stock,
    board_of,
    read_grain,
    read_stock,
    wood_assumptions,
)
from kerfwright.stock.wood import WoodError, find_wood, wood_names

__all__ = [
    "THICKNESS_U_MM",
    "Board",
    "BoardError",
    "Movement",
    "Sawn",
    "Stock",
    "Wood",
    "WoodError",
    "board_of",
    "find_wood",
    "movement_of",
    "read_grain",
    "read_stock",
    "wood_assumptions",
    "wood_names",
]

"""A set-up from the command line: a board in words, and cutters in words."""

from collections.abc import Sequence

from kerfwright.basics import InputError, Place
from kerfwright.cutter import Cutter, read_slot
from kerfwright.machine import MachineModel
from kerfwright.setup.place_board import build_setup, middle_of_table_mm
from kerfwright.setup.setup import Setup
from kerfwright.setup.zero import AXES, UNSAID, read_axis_zero
from kerfwright.stock import read_stock

_ZERO_AT = {"x": "left", "y": "front", "z": "top"}


def setup_from_words(stock: str, slots: Sequence[str], machine: MachineModel) -> Setup:
    """The set-up that a line of words means.

    Zero is the left front top corner of the board, the board lies in the middle of the table.
    Everything taken for granted is in ``assumed``.

    Parameters
    ----------
    stock : str
        As for ``stock.read_stock``: ``310 x 310 x 30 mm hard maple``.
    slots : sequence of str
        As for ``cutter.read_slot``: ``1: ball 3 mm, 2 flutes``.
    machine : MachineModel
        Table and spoil board are taken from it.

    Raises
    ------
    InputError
        If something cannot be read; its place is ``--stock`` or ``--cutter``.
    """
    read = read_stock(stock)
    cutters: dict[int, Cutter] = {}
    for text in slots:
        slot, cutter = read_slot(text)
        if slot in cutters:
            raise InputError(
                Place(file="--cutter", text=text[:200]),
                f"slot {slot} is given twice",
                "give each slot once",
            )
        cutters[slot] = cutter
    if not cutters:
        raise InputError(
            Place(file="--cutter"), "no cutter is given", 'add --cutter "1: ball 3 mm, 2 flutes"'
        )
    board = read.board
    return build_setup(
        board=board,
        zero=[read_axis_zero(axis, _ZERO_AT[axis], UNSAID, board) for axis in AXES],
        corner_mm=middle_of_table_mm(board, machine),
        slots=cutters,
        first_slot=None,
        machine=machine,
        assumed=(
            *read.assumed,
            "zero at the left front top corner of the board",
            "the board lies in the middle of the table",
        ),
    )

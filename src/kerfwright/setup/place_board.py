"""Putting board, zero and cutters together on a machine, however they were described."""

from collections.abc import Mapping, Sequence

from kerfwright.cutter import Cutter
from kerfwright.fixture import Clamp
from kerfwright.machine import MachineModel
from kerfwright.setup.setup import Setup
from kerfwright.setup.zero import AXES, AxisZero
from kerfwright.stock import Board

DEFAULT_TOLERANCE_MM = 0.2


def middle_of_table_mm(board: Board, machine: MachineModel) -> tuple[float, float]:
    """Where the board's left front corner is when it lies in the middle. [mm, machine]"""
    return (
        machine.table_at_mm[0] + 0.5 * (machine.table_mm[0] - board.length_mm),
        machine.table_at_mm[1] + 0.5 * (machine.table_mm[1] - board.width_mm),
    )


def build_setup(
    *,
    board: Board,
    zero: Sequence[AxisZero],
    corner_mm: tuple[float, float],
    slots: Mapping[int, Cutter],
    first_slot: int | None,
    machine: MachineModel,
    assumed: Sequence[str],
    below_board_mm: float = 0.0,
    tolerance_mm: float = DEFAULT_TOLERANCE_MM,
    clamps: Sequence[Clamp] = (),
) -> Setup:
    """A ``Setup``, the board lying flat on the spoil board.

    Parameters
    ----------
    zero : sequence of AxisZero
        Along X, Y and Z.
    corner_mm : tuple
        Left front corner of the board in machine X and Y. [mm]
    first_slot : int or None
        What is in the spindle at the start; None takes the only cutter there is, if it is one.
    assumed : sequence of str
        What the reader of the description had to assume.
    """
    words = [*assumed, *(axis.assumed for axis in zero if axis.assumed)]
    words.append(
        "the board lies flat on the spoil board"
        if machine.spoil_board_mm > 0.0
        else "the board lies flat on the table: no spoil board"
    )
    words += dict.fromkeys(text for slot in sorted(slots) for text in slots[slot].assumed)
    if first_slot is None and len(slots) == 1:
        first_slot = next(iter(slots))
        words.append(f"the cutter of slot {first_slot} is in the spindle from the start")
    return Setup(
        board=board,
        zero_on_board_mm=(zero[0].known.value, zero[1].known.value, zero[2].known.value),
        zero_u_mm=(zero[0].known.u or 0.0, zero[1].known.u or 0.0, zero[2].known.u or 0.0),
        board_at_mm=(*corner_mm, machine.spoil_board_mm + board.thickness_mm),
        slots=dict(sorted(slots.items())),
        first_slot=first_slot,
        below_board_mm=below_board_mm,
        tolerance_mm=tolerance_mm,
        clamps=tuple(clamps),
        assumed=tuple(words),
        known={f"zero.{name}": axis.known for name, axis in zip(AXES, zero, strict=True)},
    )

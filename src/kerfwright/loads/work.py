"""How the board of a job gives on the table: what holds it, as springs."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.machine import Held, HeldBoard, held_board
from kerfwright.setup import Setup
from kerfwright.setup.hold import Grip

FloatArray = NDArray[np.float64]

_SEED = 4127  #: of what is drawn of the hold-down


def work_of(setup: Setup, share: float = 0.5) -> HeldBoard | None:
    """The board of a job on what holds it, in the machine's frame; None: nothing is said of it.

    Parameters
    ----------
    setup : Setup
        Its ``hold`` counts, with the middle of each force.
    share : float
        Where in the ranges of stiffness, see ``machine.held_board``.
    """
    hold, board = setup.hold, setup.board
    if hold is None:
        return None
    middle = np.array([0.5 * board.length_mm, 0.5 * board.width_mm, -board.thickness_mm])
    return held_board(
        (board.length_mm, board.width_mm),
        np.array(setup.board_at_mm) + middle,
        board.wood.density_kg_per_m3,
        hold.weight_n,
        [_held(grip, middle[:2], board.thickness_mm) for grip in hold.grips],
        share,
    )


def works_of(setup: Setup, count: int) -> list[HeldBoard | None]:
    """The board in the middle of all ranges, then so many that it might be, the same every time."""
    shares = np.random.default_rng(_SEED).uniform(size=count).tolist()
    return [work_of(setup, share) for share in (0.5, *shares)]


def _held(grip: Grip, middle_mm: FloatArray, thickness_mm: float) -> Held:
    at = np.array(grip.at_mm) - middle_mm
    if grip.kind == "tape":
        return Held(kind="tape", at_mm=at, each=grip.area_mm2)
    if grip.kind == "vacuum":
        return Held(kind="pressed", at_mm=at, each=grip.force_n.value)
    if grip.kind == "clamp":
        # It presses over a disc about as wide as twice the board is thick: four places stand for it
        # that turn as stiffly as that.
        ring = (
            thickness_mm / sqrt(2.0) * np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
        )
        spread = (at[:, None] + ring).reshape(-1, 2)
        return Held(kind="pressed", at_mm=spread, each=0.25 * grip.force_n.value)
    return Held(kind=grip.kind, at_mm=at)

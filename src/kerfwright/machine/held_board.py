"""The work and its hold-down between the table and the cutter, as springs."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from kerfwright.basics.units import GRAVITY_MM_PER_S2
from kerfwright.machine.materials import density_kg_per_m3
from kerfwright.machine.model import FloatArray
from kerfwright.physics import frame, held_boards
from kerfwright.physics.inertia import KG_PER_MM3, inertia_force_n
from kerfwright.tables import read_table

#: Of a screw over its thread, of a nail: usual ones, common practice, no source. [mm]
SCREW_MM, NAIL_MM = 4.0, 1.2
#: The board that the card stands on the table: plywood on four screws so far from its edges. [mm]
USUAL_MM, _FROM_EDGE_MM = (200.0, 150.0, 18.0), 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """Places that hold a board alike."""

    kind: str  #: of the table ``hold_stiffness``: screw, nail, pressed, tape
    at_mm: FloatArray  #: (k, 2) from the board's middle
    each: float = 1.0  #: what presses each place [N], or its area [mm²]; 1 for screws and nails


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldBoard:
    """How a board gives at the cutter, against the table under it."""

    middle_mm: FloatArray  #: (3,) of its underside, in the frame in which it is asked
    give: FloatArray  #: (6, 6) there

    def at(self, point_mm: FloatArray) -> FloatArray:
        """Movement for a force on the wood at points. (n, 3) to (n, 6, 6), shifts first."""
        return frame.seen_from(self.give, point_mm - self.middle_mm)

    def shifts_at(self, point_mm: FloatArray) -> FloatArray:
        """The same for shifts alone, at very many points. (n, 3) to (n, 3, 3)

        A polynomial of the arm: what it turns, times the arm on both sides.
        """
        levers = [frame.carried(one)[:3, 3:] for one in np.eye(3)]
        own, mixed, turns = self.give[:3, :3], self.give[:3, 3:], self.give[3:, 3:]
        parts = [own, *(mixed @ lever.T + lever @ mixed.T for lever in levers)]
        parts += [levers[i] @ turns @ levers[j].T for i in range(3) for j in range(3)]
        arm = point_mm - self.middle_mm
        many = len(arm)
        squares = (arm[:, :, None] * arm[:, None, :]).reshape(many, 9)
        basis = np.concatenate([np.ones((many, 1)), arm, squares], axis=1)
        shifts: FloatArray = (basis @ np.array(parts).reshape(13, 9)).reshape(many, 3, 3)
        return shifts


def held_board(
    sides_mm: tuple[float, float],
    middle_mm: FloatArray,
    density_kg: float,
    weight_n: float,
    held: Sequence[Held],
    share: float = 0.5,
) -> HeldBoard:
    """A board on springs.

    Parameters
    ----------
    sides_mm : tuple
        Along X and Y. [mm]
    middle_mm : array (3,)
        Middle of its underside. [mm]
    density_kg, weight_n : float
        Of its wood; of the board. [kg/m³, N]
    held : sequence of Held
        What holds it. Where nothing does its weight does, as a pressed joint.
    share : float
        Where in all ranges it is, from 0, all soft, to 1, all stiff; in the middle of logarithms.
    """
    places, stiff = [np.zeros((0, 2))], [np.zeros(0)]
    for one in held:
        places.append(one.at_mm)
        stiff.append(np.full(len(one.at_mm), _sideways(one, density_kg, share)))
    weight = float(held_boards.pressed_stiffness_n_per_mm(weight_n, _between("pressed", 1 - share)))
    matrix = held_boards.board_stiffness(
        np.array(sides_mm),
        np.concatenate(places),
        np.concatenate(stiff),
        weight,
        _between("bed", share),
    )
    give: FloatArray = np.asarray(np.linalg.inv(matrix), dtype=np.float64)
    return HeldBoard(middle_mm=middle_mm, give=give)


def usual_give_mm_per_n(share: float = 0.5) -> FloatArray:
    """What the card takes for the work: how its middle gives at the top, along X, Y, Z. (3,)"""
    along, across, thick = USUAL_MM
    x, y = 0.5 * along - _FROM_EDGE_MM, 0.5 * across - _FROM_EDGE_MM
    corners = np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
    density = density_kg_per_m3("plywood")
    weight = inertia_force_n(density * along * across * thick * KG_PER_MM3, GRAVITY_MM_PER_S2)
    board = held_board(
        (along, across), np.array([0.0, 0.0, -thick]), density, float(weight),
        [Held(kind="screw", at_mm=corners)], share,
    )  # fmt: skip
    return np.diagonal(board.at(np.zeros((1, 3)))[0])[:3]


def _sideways(held: Held, density_kg: float, share: float) -> float:
    """How stiff one place is against sliding. [N/mm]"""
    if held.kind == "pressed":
        length = _between("pressed", 1.0 - share)  # rougher is softer
        return float(held_boards.pressed_stiffness_n_per_mm(held.each, length))
    times = _between(held.kind, share)
    if held.kind == "tape":
        return times * held.each
    below = density_kg_per_m3("medium-density fiberboard")  # what they go into
    slip, diameter = (
        (held_boards.slip_modulus_n_per_mm, SCREW_MM)
        if held.kind == "screw"
        else (held_boards.nail_slip_modulus_n_per_mm, NAIL_MM)
    )
    return times * float(slip(density_kg, below, diameter))


def _between(kind: str, share: float) -> float:
    low, high = _range(kind)
    return float(low * (high / low) ** share)


@cache
def _range(kind: str) -> tuple[float, float]:
    row = next(row for row in read_table("hold_stiffness") if row["kind"] == kind)
    return float(row["low"]), float(row["high"])

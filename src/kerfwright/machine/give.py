"""How the nose gives under any force and moment, at any places that it can reach."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from kerfwright.machine.model import FloatArray, MachineModel
from kerfwright.machine.structure import frame_at, parts_at_nose, places_mm, scaled


@dataclass(frozen=True, slots=True, kw_only=True)
class NoseGive:
    """Six by six: movements x, y, z and turns about X, Y, Z for forces and moments along them.

    In mm/N, rad/N (a turn for a force, and a shift for a moment) and rad/(N mm). The cutter is not
    in it.
    """

    at_mm: tuple[FloatArray, FloatArray, FloatArray]  #: machine X, Y, nose above the table, rising
    compliance: FloatArray  #: (nx, ny, nz, 6, 6)
    parts: Mapping[str, FloatArray]  #: part in shop words -> (nx, ny, nz, 6, 6); they add up to it

    @property
    def shares(self) -> dict[str, FloatArray]:
        """Part -> (nx, ny, nz, 3): its share of the movement along X, Y, Z under such a push."""
        own = np.diagonal(self.compliance, axis1=-2, axis2=-1)[..., :3]
        return {
            name: np.diagonal(part, axis1=-2, axis2=-1)[..., :3] / own
            for name, part in self.parts.items()
        }


def nose_give(
    machine: MachineModel, x_mm: FloatArray, y_mm: FloatArray, nose_mm: FloatArray
) -> NoseGive:
    """The give on a grid.

    Parameters
    ----------
    machine : MachineModel
        Its middle values count.
    x_mm, y_mm, nose_mm : array (nx,), (ny,), (nz,)
        Machine X and Y, and the nose's height above the table top, each rising. [mm]

    Returns
    -------
    NoseGive
        Where a push was tried it is scaled as the card is; turns are not.

    Raises
    ------
    ValueError
        If a place is out of the nose's reach or the places do not rise.
    """
    lowest = machine.nose_height_mm - machine.z.travel_mm
    spans = (
        ("X", x_mm, 0.0, machine.x.travel_mm),
        ("Y", y_mm, 0.0, machine.y.travel_mm),
        ("nose", nose_mm, lowest, machine.nose_height_mm),
    )
    shares = []
    for name, places, low, high in spans:
        at = np.asarray(places, dtype=np.float64)
        if at.ndim != 1 or not len(at) or np.any(np.diff(at) <= 0.0):
            raise ValueError(f"{name}: places must rise")
        if at[0] < low - 1e-9 or at[-1] > high + 1e-9:
            raise ValueError(f"{name}: it reaches from {low:g} to {high:g} mm")
        shares.append(np.clip((at - low) / (high - low), 0.0, 1.0))
    built = frame_at(machine.values, machine.choices, *shares)
    parts, _ = parts_at_nose(built, 6)
    parts = scaled(parts, built, np.array(machine.pushed_scale))
    return NoseGive(
        at_mm=places_mm(built),
        compliance=np.asarray(np.sum(list(parts.values()), axis=0)),
        parts=parts,
    )

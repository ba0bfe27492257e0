"""Where a swing takes each part of the machine's outline, for the pictures of it."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from kerfwright.machine import FrameMode, MachineModel
from kerfwright.report.machine_outline import OutlinePart, machine_outline

FloatArray = NDArray[np.float64]

#: Of the spindle's two masses above the nose. [mm]
_LOW_MM, _HIGH_MM = 20.0, 160.0


def sways(machine: MachineModel, mode: FrameMode) -> list[dict[str, list[float]] | None]:
    """For each part of ``machine_outline``: how it moves, the largest movement of any body being 1.

    ``plan`` along X and Y, seen from above; ``low`` and ``high`` along X and Z, of its lowest and
    its highest line seen from the front with Z at its lowest, straight between. None: it stands.
    """
    return [_sway(machine, mode, part) for part in machine_outline(machine)]


def _sway(
    machine: MachineModel, mode: FrameMode, part: OutlinePart
) -> dict[str, list[float]] | None:
    field = swing_field(machine, mode, part)
    if field is None:
        return None
    down = -part.shift[2] * machine.z.travel_mm
    heights = [y + down for _, y in part.front] or [0.0]
    return {
        "plan": _two(field(height_in_plan(machine, part)), 0, 1),
        "low": _two(field(min(heights)), 0, 2),
        "high": _two(field(max(heights)), 0, 2),
    }


def _two(way: FloatArray, one: int, other: int) -> list[float]:
    return [float(f"{way[axis]:.3g}") for axis in (one, other)]


def height_in_plan(machine: MachineModel, part: OutlinePart) -> float:
    """The height at which a part seen from above is taken: of spindle and uprights their tops."""
    nose = machine.nose_height_mm - machine.z.travel_mm
    if part.name == "upright":
        return max(y for _, y in part.front)
    above = {"collet": _LOW_MM, "spindle": _HIGH_MM}.get(part.name, 0.5 * (_LOW_MM + _HIGH_MM))
    return nose + above


def swing_field(
    machine: MachineModel, mode: FrameMode, part: OutlinePart
) -> Callable[[float], FloatArray] | None:
    """Movement of a part at a height above the table; None where it stands still."""
    moves = mode.moves
    if part.name in ("table", "spoil board") and "table" in moves:
        return lambda _: moves["table"]
    if "table" in moves:
        return None
    if part.name == "beam":
        return lambda _: moves["gantry"]
    if part.name == "upright":  # its foot stands, its top goes with the beam
        low, high = min(y for _, y in part.front), max(y for _, y in part.front)
        return lambda z: moves["gantry"] * float(np.clip((z - low) / (high - low), 0.0, 1.0))
    if part.name == "carriage":
        return lambda _: moves["carriage"]
    if part.name in ("Z plate", "mount", "spindle", "collet"):
        nose = machine.nose_height_mm - machine.z.travel_mm
        one, other = moves["spindle"], moves["spindle's top"]
        return lambda z: one + (other - one) * (z - nose - _LOW_MM) / (_HIGH_MM - _LOW_MM)
    return None

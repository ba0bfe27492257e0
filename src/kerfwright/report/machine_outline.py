"""The machine in outline, to scale: what moves with which axis, in plan and from the front.

Drawn with X and Y at the lower end of their travel and Z right up; a part then moves by its
``shift`` times how far each axis has gone. All in the machine's frame. [mm]
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, pi, sin
from typing import Literal

from kerfwright.machine import MachineModel

Outline = tuple[tuple[float, float], ...]
Kind = Literal["wood", "grain", "metal", "dark", "rail", "travel"]
Span = tuple[float, float]

_ROUND = 24  #: corners of a circle
_SPINDLE_MM = 64.0  #: across, where its plate is not described
_COLLET_MM = 16.0


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlinePart:
    """One part; an empty outline where a view does not show it."""

    name: str
    kind: Kind
    shift: tuple[int, int, int]  #: of X, Y and Z
    plan: Outline = ()
    front: Outline = ()


def machine_outline(machine: MachineModel) -> tuple[OutlinePart, ...]:
    """The parts, lowest first."""
    return (*_below(machine), *_gantry(machine), *_carriage(machine))


def _along(machine: MachineModel) -> int:
    return 0 if machine.choices["frame.moves_along"] == "x" else 1


def _shift(machine: MachineModel, *axes: int) -> tuple[int, int, int]:
    """What moves with some axes; with a table that moves nothing else goes along its axis."""
    stands = machine.choices["frame.moves"] == "table"
    one = [1 if axis in axes and not (stands and axis == _along(machine)) else 0 for axis in (0, 1)]
    return one[0], one[1], 1 if 2 in axes else 0


def _below(machine: MachineModel) -> list[OutlinePart]:
    shift = [0, 0, 0]
    if machine.choices["frame.moves"] == "table":
        shift[_along(machine)] = -1
    with_table = (shift[0], shift[1], 0)
    left, front = machine.table_at_mm
    across = left, left + machine.table_mm[0]
    deep = front, front + machine.table_mm[1]
    thick = machine.values.get("table.core", 60.0) + 2.0 * machine.values.get("table.skin", 12.0)
    spoil = machine.spoil_board_mm
    low = machine.nose_height_mm - machine.z.travel_mm
    return [
        *_rails(machine),
        OutlinePart(name="table", kind="wood", shift=with_table, plan=_box(across, deep),
                    front=_box(across, (-thick, 0.0))),
        OutlinePart(name="spoil board", kind="grain", shift=with_table,
                    front=_box(across, (0.0, spoil)) if spoil > 0.0 else ()),
        OutlinePart(name="where the spindle reaches", kind="travel", shift=with_table,
                    plan=_box((0.0, machine.x.travel_mm), (0.0, machine.y.travel_mm)),
                    front=_box((0.0, machine.x.travel_mm), (low, machine.nose_height_mm))),
    ]  # fmt: skip


def _rails(machine: MachineModel) -> list[OutlinePart]:
    """As long as the travel and what runs on them need."""
    numbers, along = machine.values, _along(machine)
    axis = "xy"[along]
    half = numbers[f"rails.{axis}.along"] / 2.0
    travel = machine.axes[along].travel_mm
    middle = machine.axes[1 - along].travel_mm / 2.0
    if machine.choices["frame.moves"] == "table":
        apart = numbers[f"rails.{axis}.across"]
        ends = (machine.table_at_mm[along] + machine.table_mm[along] / 2.0 - travel - half,
                machine.table_at_mm[along] + machine.table_mm[along] / 2.0 + half)  # fmt: skip
    else:
        apart = numbers["frame.beam.length"] + numbers["frame.upright.thickness"]
        at = numbers["frame.nose_before_beam"]
        ends = at - half, at + travel + half
    out = []
    for side in (-1.0, 1.0):
        across = _around(middle + side * apart / 2.0, 14.0)
        plan = _box(ends, across) if along == 0 else _box(across, ends)
        out.append(OutlinePart(name="rail", kind="rail", shift=(0, 0, 0), plan=plan))
    return out


def _gantry(machine: MachineModel) -> list[OutlinePart]:
    numbers, along = machine.values, _along(machine)
    shift = _shift(machine, along)
    length, thick = numbers["frame.beam.length"], numbers["frame.upright.thickness"]
    at = numbers["frame.nose_before_beam"]
    middle = machine.axes[1 - along].travel_mm / 2.0
    level = machine.nose_height_mm + numbers["frame.nose_below_beam"]
    half = numbers["frame.beam.depth"] / 2.0
    foot = level - numbers["frame.upright.height"]
    wide, deep = numbers["frame.upright.width"], numbers["frame.beam.width"]

    def plan(one: Span, other: Span) -> Outline:
        return _box(one, other) if along == 0 else _box(other, one)

    parts = []
    for side in (-1.0, 1.0):
        across = _around(middle + side * (length + thick) / 2.0, thick)
        seen = _around(at, wide) if along == 0 else across
        parts.append(
            OutlinePart(name="upright", kind="grain", shift=shift,
                        plan=plan(_around(at, wide), across),
                        front=_box(seen, (foot, level + half)))
        )  # fmt: skip
    seen = _around(at, deep) if along == 0 else _around(middle, length)
    beam = OutlinePart(name="beam", kind="metal", shift=shift,
                       plan=plan(_around(at, deep), _around(middle, length)),
                       front=_box(seen, (level - half, level + half)))  # fmt: skip
    return [*parts, beam]


def _carriage(machine: MachineModel) -> list[OutlinePart]:
    """Carriage, Z plate, spindle and collet, the spindle's axis at the zero of X and Y."""
    numbers, along = machine.values, _along(machine)
    shift = _shift(machine, 0, 1)
    down = (shift[0], shift[1], 1)
    before = numbers["frame.nose_before_beam"]
    deep, face = numbers["frame.beam.width"], 0.6 * before
    wide, thick = numbers["frame.z_plate.width"], numbers["frame.z_plate.thickness"]
    nose = machine.nose_height_mm
    level = nose + numbers["frame.nose_below_beam"]
    half = 0.45 * numbers["frame.beam.depth"]
    reach = machine.spindle.nose_diameter_mm or _SPINDLE_MM
    behind = max(before - deep / 2.0, face)

    def plan(one: Span, other: Span) -> Outline:
        return _box(one, other) if along == 0 else _box(other, one)

    def seen(one: Span, other: Span) -> Span:
        return one if along == 0 else other

    block, plate = (face, behind), (face - thick, face)
    mount = (0.0, face - thick)
    around = _around(0.0, wide)
    body, arm = _around(0.0, 0.8 * wide), _around(0.0, reach + 10.0)
    return [
        OutlinePart(name="carriage", kind="grain", shift=shift,
                    plan=plan(block, body),
                    front=_box(seen(block, body), (level - half, level + half))),
        OutlinePart(name="Z plate", kind="dark", shift=down, plan=plan(plate, around),
                    front=_box(seen(plate, around), (nose + 40.0, nose + 220.0))),
        OutlinePart(name="mount", kind="dark", shift=down,
                    plan=plan(mount, arm),
                    front=_box(seen(mount, arm), (nose + 50.0, nose + 120.0))),
        OutlinePart(name="spindle", kind="metal", shift=down, plan=_circle(reach / 2.0),
                    front=_box(_around(0.0, reach), (nose + 15.0, nose + 175.0))),
        OutlinePart(name="collet", kind="dark", shift=down, plan=_circle(_COLLET_MM / 2.0),
                    front=_box(_around(0.0, _COLLET_MM), (nose, nose + 15.0))),
    ]  # fmt: skip


def moved(outline: Outline, by: Sequence[float]) -> list[tuple[float, float]]:
    """An outline shifted along the paper and up it."""
    return [(x + by[0], y + by[1]) for x, y in outline]


def _around(middle: float, size: float) -> Span:
    return middle - size / 2.0, middle + size / 2.0


def _box(across: Span, up: Span) -> Outline:
    (x0, x1), (y0, y1) = across, up
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def _circle(radius: float) -> Outline:
    turns = [2.0 * pi * k / _ROUND for k in range(_ROUND)]
    return tuple((radius * cos(turn), radius * sin(turn)) for turn in turns)

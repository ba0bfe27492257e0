"""What the motors ask of the supply: power, current and heat, on the low-voltage side alone."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from kerfwright.basics import Estimate
from kerfwright.machine.model import AxisModel, MachineModel
from kerfwright.physics import drivers, supply

#: Share of its input that a supply gives on: common practice, no source.
_SUPPLY_GIVES = 0.87
#: Share that a driver gives on: common practice, no source.
_DRIVER_GIVES = 0.9
#: Supplies within a volt are taken to be one.
_SAME_V = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyResults:
    """One supply with the axes that hang on it."""

    volts: float
    axes: tuple[str, ...]
    hardest: Estimate  #: all its motors pulling their most at once, each where that takes most [W]
    standing: Estimate  #: all standing at their idle current [W]
    load: Estimate  #: the first as a current [A]
    heat: Estimate  #: that stays in the box then: of drivers and supply [W]
    fuse: Estimate | None  #: least rating; None beyond the voltage that this may speak of [A]


def supplies_of(
    machine: MachineModel, of: Callable[[Callable[[MachineModel], float]], Estimate]
) -> tuple[SupplyResults, ...]:
    """Axes by their supply; ``of`` gives a figure its spread."""
    groups: list[tuple[float, list[int]]] = []
    for index, axis in enumerate(machine.axes):
        volts = machine.values[f"axes.{axis.name}.driver.supply"]
        mine = next((axes for one, axes in groups if abs(one - volts) <= _SAME_V), None)
        if mine is None:
            groups.append((volts, [index]))
        else:
            mine.append(index)
    return tuple(_supply(volts, axes, of) for volts, axes in groups)


def _supply(
    volts: float, axes: list[int], of: Callable[[Callable[[MachineModel], float]], Estimate]
) -> SupplyResults:  # fmt: skip
    def hardest(m: MachineModel) -> float:
        return sum(_hardest_w(m, m.axes[index]) for index in axes)

    def amperes(m: MachineModel) -> float:
        own = m.values[f"axes.{m.axes[axes[0]].name}.driver.supply"]
        return float(supply.load_current_a(hardest(m), own)) if own <= supply.MOST_V else 0.0

    def heat(m: MachineModel) -> float:
        lost = 1.0 - _DRIVER_GIVES + (1.0 / _SUPPLY_GIVES - 1.0)
        return lost * hardest(m)

    low = volts <= supply.MOST_V
    return SupplyResults(
        volts=volts,
        axes=tuple("XYZ"[index] for index in axes),
        hardest=of(hardest),
        standing=of(lambda m: sum(_standing_w(m, m.axes[index]) for index in axes)),
        load=of(amperes),
        heat=of(heat),
        fuse=of(lambda m: amperes(m) / supply.FUSE_SHARE) if low else None,
    )


def _hardest_w(machine: MachineModel, axis: AxisModel) -> float:
    """The most that the motors of an axis take, at whatever speed it runs."""
    at = f"axes.{axis.name}"
    turns, top = axis.curve_rev_per_s, axis.top_speed_mm_per_s / axis.lead_mm
    turns = np.append(turns[turns < top], top)
    watts = supply.motor_input_w(
        machine.values[f"{at}.driver.current"],
        machine.values[f"{at}.motor.resistance"],
        axis.pull_nmm(turns * axis.lead_mm),
        turns,
        _DRIVER_GIVES,
    )
    return axis.motors * float(watts.max())


def _standing_w(machine: MachineModel, axis: AxisModel) -> float:
    at = f"axes.{axis.name}"
    current = machine.values[f"{at}.driver.current"] * axis.idle_share
    heat = drivers.copper_heat_w(current, machine.values[f"{at}.motor.resistance"])
    return axis.motors * float(heat) / _DRIVER_GIVES

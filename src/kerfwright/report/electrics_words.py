"""Driver settings, supply, wires, fuse and heat in plain quantities: the low-voltage side alone."""

from collections.abc import Iterator
from math import sqrt

from kerfwright.basics import Estimate
from kerfwright.machine import MachineModel, MachineResults, SupplyResults
from kerfwright.physics import supply
from kerfwright.report.figures import estimate_words

#: Wires of which the drop is told. [mm²]
_AREAS_MM2 = (0.75, 1.5)
#: An enclosure of half a square metre stands for any: its rise goes with heat over surface. [m²]
_BOX_M2 = 0.5
MAINS = (
    "all before the supply's low-voltage terminals, its earth and its fuses are for a licensed "
    "electrician, under your local code"
)


def electrics_pairs(machine: MachineModel, results: MachineResults) -> Iterator[tuple[str, str]]:
    """Each figure with its name."""
    yield from _drivers(machine)
    for one in results.supplies:
        path = f"axes.{one.axes[0].lower()}.driver.supply"
        yield from _supply(one, machine.known[path].kind == "default")
    yield "mains", MAINS


def _drivers(machine: MachineModel) -> Iterator[tuple[str, str]]:
    """What to set the drivers to, axes that are set alike together."""
    axes_of: dict[str, list[str]] = {}
    for axis in machine.axes:
        peak = machine.values[f"axes.{axis.name}.driver.current"]
        words = (
            f"{peak:.2f} A peak, which is {peak / sqrt(2.0):.2f} A RMS; {axis.microsteps} "
            f"microsteps, {axis.positions_per_rev} steps a turn; {100.0 * axis.idle_share:.0f} % "
            "of the current left when it stands"
        )
        axes_of.setdefault(words, []).append(axis.name.upper())
    for words, axes in axes_of.items():
        yield f"drivers of {', '.join(axes)}", words


def _supply(one: SupplyResults, guessed: bool) -> Iterator[tuple[str, str]]:
    name = f"{one.volts:.3g} V for {', '.join(one.axes)}" + (" (a guess)" if guessed else "")
    if one.fuse is None:
        yield (
            name,
            f"is more than {supply.MOST_V:.0f} V of direct current: wires, fuses and touch are for "
            "a licensed electrician",
        )
        return
    yield (
        name,
        f"at most {estimate_words(_bare(one.hardest), 'W')}: {estimate_words(_bare(one.load), 'A')}"
        f", all its motors pulling their most at once; {one.standing.value:.0f} W standing idle",
    )
    yield "its wires", _drops(one)
    yield (
        "its fuse",
        f"for direct current at that voltage, {one.fuse.value:.1f} A or more (the load fills "
        "three quarters of it), and no more than its thinnest wire may carry",
    )
    rise = float(supply.enclosure_rise_degc(one.heat.value, _BOX_M2))
    flow = float(supply.fan_flow_m3_per_h(one.heat.value, 10.0))
    yield (
        "heat in its box",
        f"up to {estimate_words(_bare(one.heat), 'W')} from drivers and supply; closed, of painted "
        f"steel with {_BOX_M2:g} m² of free surface, it gets {rise:.0f} °C warmer than the room; "
        f"{flow:.0f} m³ of air an hour hold it to 10 °C. Never in a wooden box",
    )


def _drops(one: SupplyResults) -> str:
    each = []
    for area in _AREAS_MM2:
        drop = float(supply.wire_drop_v(one.load.value, 1000.0, area))
        each.append(f"{drop:.2f} V in {area:g} mm²")
    return (
        f"at that current each metre to the drivers and back loses {' or '.join(each)}; their "
        "maker or the local code says what they may carry"
    )


def _bare(estimate: Estimate) -> Estimate:
    return Estimate(value=estimate.value, low=estimate.low, high=estimate.high)

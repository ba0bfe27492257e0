"""The machine drawn to scale, with its curves and how far its nose gives."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from kerfwright.basics.units import INCH_MM, MINUTE_S
from kerfwright.machine import PUSH_N, AxisResults, MachineModel, MachineResults
from kerfwright.report import paper
from kerfwright.report.figures import clean
from kerfwright.report.machine_card import answer

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

HEIGHT_PX = 1300.0
VIEW_TOP_PX, VIEW_PX = 160.0, 400.0
CURVE_TOP_PX, CURVE_PX = 660.0, 190.0
MAP_TOP_PX, MAP_PX = 982.0, 210.0
METAL = "#c9cbc6"
METAL_DARK = "#8f948d"
INK = "#5b6b63"
#: From stiff to soft: fresh paper to walnut.
GIVES = ("#fffdf7", "#f3e8cd", "#e6d0a3", "#d3b079", "#bb8d53")


def draw_machine(machine: MachineModel, results: MachineResults, path: Path) -> None:
    """Draw the machine at ``path``, a ``.png`` 1200 pixels wide or an ``.svg``."""
    sentence = clean(f"{machine.name}: {answer(results)}.")
    with paper.on_paper():
        figure = paper.sheet(HEIGHT_PX)
        paper.title(figure, 40.0, 22.0, sentence, paper.WIDTH_PX - 80.0)
        _views(figure, machine)
        for index, axis in enumerate(results.axes):
            _curve(figure, machine, axis, index)
        for index in range(3):
            _map(figure, machine, index)
        paper.save(figure, path)


def _views(figure: "Figure", machine: MachineModel) -> None:
    """Seen from above and from the front, in one scale."""
    left, right = _extent(machine, 0)
    front, back = _extent(machine, 1)
    bottom = -machine.values.get("table.core", 60.0) - 2.0 * machine.values.get("table.skin", 12.0)
    top = machine.nose_height_mm + machine.values["frame.nose_below_beam"]
    top += machine.values["frame.beam.depth"] + 60.0
    room = paper.WIDTH_PX - 2 * 70.0 - 90.0
    scale = min(
        room / 2.0 / (right - left),
        (VIEW_PX - 40.0) / max(back - front, top - bottom + 40.0),
    )
    width = scale * (right - left)
    views = (
        ("from above", 70.0, scale * (back - front), (front, back)),
        ("from the front", paper.WIDTH_PX - 70.0 - width, scale * (top - bottom), (bottom, top)),
    )
    for name, at, height, (low, high) in views:
        axes = paper.axes_px(figure, at, VIEW_TOP_PX + VIEW_PX - height, width, height)
        axes.set_xlim(left, right)
        axes.set_ylim(low, high)
        axes.set_axis_off()
        paper.write_px(figure, at, VIEW_TOP_PX - 30.0, name, size=11.0, weight="bold")
        (_from_above if name == "from above" else _from_front)(axes, machine)
    note = f"drawn to one scale; nose in the middle of its travel; pencil line: {_travels(machine)}"
    paper.write_px(figure, 70.0, VIEW_TOP_PX + VIEW_PX + 26.0, note, size=8.5, color=paper.FAINT)


def _travels(machine: MachineModel) -> str:
    return "travel of the spindle axis, " + ", ".join(
        f"{a.name.upper()} {a.travel_mm:.0f} mm ({a.travel_mm / INCH_MM:.1f} in)"
        for a in machine.axes
    )


def _extent(machine: MachineModel, axis: int) -> tuple[float, float]:
    """What a view must show along X or Y: table, travel, beam and feet. [mm]"""
    table = machine.table_at_mm[axis], machine.table_at_mm[axis] + machine.table_mm[axis]
    travel = machine.axes[axis].travel_mm
    low, high = min(table[0], 0.0), max(table[1], travel)
    if _moving(machine) == axis:
        before = machine.values["frame.nose_before_beam"]
        reach = 0.5 * max(machine.values["frame.upright.width"], machine.values["frame.beam.width"])
        return min(low, travel / 2 - reach) - 30.0, max(high, travel / 2 + before + reach) + 30.0
    over = machine.values["frame.beam.length"] / 2 + machine.values["frame.upright.thickness"]
    return min(low, travel / 2 - over) - 30.0, max(high, travel / 2 + over) + 30.0


def _moving(machine: MachineModel) -> int:
    return 0 if machine.choices["frame.moves_along"] == "x" else 1


def _box(axes: "Axes", spans: Sequence[tuple[float, float]], colour: str, **look: object) -> None:
    """A rectangle from (low, high) along the paper and up it."""
    from matplotlib.patches import Rectangle

    (x0, x1), (y0, y1) = spans
    style: dict[str, object] = {
        "facecolor": colour,
        "edgecolor": paper.PENCIL,
        "linewidth": 0.9,
        **look,
    }
    axes.add_patch(Rectangle((x0, y0), x1 - x0, y1 - y0, **style))  # type: ignore[arg-type]


def _travel_box(axes: "Axes", spans: Sequence[tuple[float, float]]) -> None:
    _box(axes, spans, "none", linestyle=(0, (6, 3)), linewidth=1.1, zorder=6)


def _around(middle: float, size: float) -> tuple[float, float]:
    return middle - size / 2.0, middle + size / 2.0


def _from_above(axes: "Axes", machine: MachineModel) -> None:
    from matplotlib.patches import Circle

    numbers, moving = machine.values, _moving(machine)
    table = [
        (machine.table_at_mm[i], machine.table_at_mm[i] + machine.table_mm[i]) for i in range(2)
    ]
    _box(axes, table, paper.WOOD)
    _grain(axes, table)
    middle = [machine.axes[i].travel_mm / 2.0 for i in range(2)]
    beam_at = middle[moving] + numbers["frame.nose_before_beam"]
    length, thick = numbers["frame.beam.length"], numbers["frame.upright.thickness"]

    def spans(along: tuple[float, float], across: tuple[float, float]) -> list[tuple[float, float]]:
        return [along, across] if moving == 0 else [across, along]

    other = middle[1 - moving]
    for side in (-1.0, 1.0):
        foot = _around(other + side * (length + thick) / 2.0, thick)
        _box(axes, spans(_around(beam_at, numbers["frame.upright.width"]), foot), paper.WOOD_GRAIN)
    _box(axes, spans(_around(beam_at, numbers["frame.beam.width"]), _around(other, length)), METAL)
    nose = middle[moving]
    plate = nose + 0.6 * numbers["frame.nose_before_beam"]
    wide = numbers["frame.z_plate.width"]
    _box(axes, spans((plate, beam_at), _around(other, 0.8 * wide)), paper.WOOD_GRAIN, alpha=0.8)
    plate_span = (plate - numbers["frame.z_plate.thickness"], plate)
    _box(axes, spans((nose, plate_span[0]), _around(other, 70.0)), METAL_DARK)
    _box(axes, spans(plate_span, _around(other, wide)), METAL_DARK)
    axes.add_patch(
        Circle((middle[0], middle[1]), 32.0, facecolor=METAL, edgecolor=paper.PENCIL, zorder=5)
    )
    axes.plot(*middle, "+", color=paper.PENCIL, markersize=7, zorder=7)
    _travel_box(axes, [(0.0, machine.x.travel_mm), (0.0, machine.y.travel_mm)])
    _arrow(axes, "X", (0.0, 0.0), (90.0, 0.0))
    _arrow(axes, "Y", (0.0, 0.0), (0.0, 90.0))


def _from_front(axes: "Axes", machine: MachineModel) -> None:
    numbers, moving = machine.values, _moving(machine)
    deep = numbers.get("table.core", 60.0) + 2.0 * numbers.get("table.skin", 12.0)
    across = (machine.table_at_mm[0], machine.table_at_mm[0] + machine.table_mm[0])
    spoil = machine.spoil_board_mm
    _box(axes, [across, (-deep, 0.0)], paper.WOOD)
    if spoil > 0.0:
        _box(axes, [across, (0.0, spoil)], paper.WOOD_GRAIN)
    middle = machine.x.travel_mm / 2.0
    nose = machine.nose_height_mm - machine.z.travel_mm / 2.0
    beam = machine.nose_height_mm + numbers["frame.nose_below_beam"]
    foot = beam - numbers["frame.upright.height"]
    half = numbers["frame.beam.depth"]
    if moving == 0:
        at = middle + numbers["frame.nose_before_beam"]
        wide = numbers["frame.upright.width"]
        _box(axes, [_around(at, wide), (foot, beam + half / 2)], paper.WOOD_GRAIN, alpha=0.55)
        _box(axes, [_around(at, numbers["frame.beam.width"]), _around(beam, half)], METAL)
        face = middle + 0.6 * numbers["frame.nose_before_beam"]
        _box(axes, [(face, at), _around(beam, 0.9 * half)], paper.WOOD_GRAIN, alpha=0.8)
        plate = (face - numbers["frame.z_plate.thickness"], face)
        _box(axes, [(middle, plate[0]), (nose + 50.0, nose + 130.0)], METAL_DARK)
    else:
        length, thick = numbers["frame.beam.length"], numbers["frame.upright.thickness"]
        for side in (-1.0, 1.0):
            at = middle + side * (length + thick) / 2.0
            _box(axes, [_around(at, thick), (foot, beam + half / 2)], paper.WOOD_GRAIN)
        _box(axes, [_around(middle, length), _around(beam, half)], METAL)
        plate = _around(middle, numbers["frame.z_plate.width"])
    _box(axes, [plate, (nose + 40.0, nose + 220.0)], METAL_DARK)
    _box(axes, [_around(middle, 64.0), (nose + 15.0, nose + 165.0)], METAL, zorder=4)
    _box(axes, [_around(middle, 16.0), (nose, nose + 15.0)], METAL_DARK, zorder=4)
    low = machine.nose_height_mm - machine.z.travel_mm
    _travel_box(axes, [(0.0, machine.x.travel_mm), (low, machine.nose_height_mm)])
    _arrow(axes, "X", (0.0, low), (90.0, low))
    _arrow(axes, "Z", (0.0, low), (0.0, low + 90.0))


def _grain(axes: "Axes", table: Sequence[tuple[float, float]]) -> None:
    (left, right), (front, back) = table
    for share in np.linspace(0.08, 0.92, 9):
        y = front + share * (back - front)
        axes.plot([left + 4, right - 4], [y, y], color=paper.WOOD_GRAIN, linewidth=0.6, zorder=1)


def _arrow(axes: "Axes", name: str, start: tuple[float, float], end: tuple[float, float]) -> None:
    style = {"arrowstyle": "-|>", "color": paper.PENCIL, "linewidth": 1.2, "shrinkA": 0.0}
    axes.annotate("", end, start, arrowprops=style, zorder=8)
    axes.annotate(
        name, end, (3.0, 3.0), textcoords="offset points", weight="bold", fontsize=9, zorder=8
    )


def _curve(figure: "Figure", machine: MachineModel, axis: AxisResults, index: int) -> None:
    """Push at the carriage and torque of one motor against speed."""
    width = 292.0
    left = 78.0 + index * (width + 92.0)
    axes = paper.axes_px(figure, left, CURVE_TOP_PX, width, CURVE_PX)
    speed = axis.speed_mm_per_s * MINUTE_S / 1000.0
    axes.fill_between(speed, axis.thrust.low, axis.thrust.high, color=paper.WOOD, linewidth=0)
    axes.plot(speed, axis.thrust.value, color=paper.PENCIL, linewidth=1.6)
    top = axis.top_speed.value * MINUTE_S / 1000.0
    axes.axvline(top, color=paper.STOP, linewidth=1.1, linestyle=(0, (4, 2)))
    high = 1.12 * float(np.max(axis.thrust.high)) or 1.0
    axes.set_ylim(0.0, high)
    axes.set_xlim(0.0, float(speed[-1]))
    axes.annotate(
        f"rapid {top * 1000.0:.0f} mm/min",
        (top, high),
        (4.0, -4.0),
        textcoords="offset points",
        va="top",
        fontsize=8.0,
        color=paper.STOP,
    )
    axes.set_xlabel("speed [m/min]", fontsize=8.5)
    if index == 0:
        axes.set_ylabel("push at the carriage [N]", fontsize=8.5)
    axes.spines["top"].set_visible(False)
    _torque(axes, axis, index == 2)
    lead = machine.axes[index].lead_mm
    heading = f"{axis.name}: {lead:.4g} mm a turn, before it loses steps"
    paper.write_px(figure, left, CURVE_TOP_PX - 24.0, heading, size=10.0, weight="bold")
    if index == 0:
        note = (
            "line and band: push with friction and weight paid, nineteen times in twenty; "
            "dotted: torque of one motor"
        )
        at = CURVE_TOP_PX + CURVE_PX + 52.0
        paper.write_px(figure, left, at, note, size=8.5, color=paper.FAINT)


def _torque(axes: "Axes", axis: AxisResults, labelled: bool) -> None:
    """Torque of one motor, on the right."""
    speed = axis.speed_mm_per_s * MINUTE_S / 1000.0
    other = axes.twinx()
    other.plot(speed, axis.pull.value / 1000.0, color=INK, linewidth=1.1, linestyle=(0, (1, 1.5)))
    other.set_ylim(0.0, 1.12 * float(np.max(axis.pull.high)) / 1000.0)
    other.spines["top"].set_visible(False)
    if labelled:
        other.set_ylabel("one motor's torque [N m]", fontsize=8.5, color=INK)


def _map(figure: "Figure", machine: MachineModel, index: int) -> None:
    """How far the nose moves under a push along one axis, over X and Y, Z at its lowest."""
    from matplotlib.colors import LinearSegmentedColormap

    x, y, _ = machine.compliance_at_mm
    width = 292.0
    left = 78.0 + index * (width + 92.0)
    gives = PUSH_N * machine.compliance_mm_per_n[:, :, 0, index, index].T
    wide = min(width, MAP_PX * float(x[-1] / y[-1]))
    high = wide * float(y[-1] / x[-1])
    axes = paper.axes_px(figure, left, MAP_TOP_PX, wide, high)
    colours = LinearSegmentedColormap.from_list("gives", GIVES)
    most = PUSH_N * float(
        np.diagonal(machine.compliance_mm_per_n[:, :, 0], axis1=-2, axis2=-1).max()
    )
    levels = np.linspace(0.0, 1.02 * most, 13)
    axes.contourf(x, y, gives, levels=levels, cmap=colours)
    if float(np.ptp(gives)) > 0.01 * most:
        lines = axes.contour(x, y, gives, levels=5, colors=paper.PENCIL, linewidths=0.6)
        axes.clabel(lines, list(lines.levels)[::2], fmt="%.3f", fontsize=7.5)
    else:
        middle = float(x[-1]) / 2.0, float(y[-1]) / 2.0
        axes.text(*middle, f"{gives.mean():.3f} mm", ha="center", fontsize=9)
    axes.set_aspect("equal")
    axes.set_xlabel("X [mm]", fontsize=8.5)
    if index == 0:
        axes.set_ylabel("Y [mm]", fontsize=8.5)
    heading = f"pushed along {'XYZ'[index]} with {PUSH_N:.0f} N: moves [mm]"
    paper.write_px(figure, left, MAP_TOP_PX - 24.0, heading, size=10.0, weight="bold")
    if index == 0:
        note = "spindle nose, Z at its lowest; darker gives more"
        at = MAP_TOP_PX + high + 56.0
        paper.write_px(figure, left, at, note, size=8.5, color=paper.FAINT)

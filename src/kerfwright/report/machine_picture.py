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
from kerfwright.report.machine_outline import OutlinePart, machine_outline, moved

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
    """Seen from above and from the front, in one scale, each axis in the middle of its travel."""
    parts = machine_outline(machine)
    middle = [axis.travel_mm / 2.0 for axis in machine.axes]
    seen: dict[str, list[tuple[OutlinePart, list[tuple[float, float]]]]] = {}
    for name, up in (("from above", 1), ("from the front", 2)):
        way = 1.0 if up == 1 else -1.0  # Z counts down from its top
        seen[name] = [
            (part, moved(outline, (part.shift[0] * middle[0], way * part.shift[up] * middle[up])))
            for part in parts
            if (outline := part.plan if up == 1 else part.front)
        ]
    spans = {name: extent([points for _, points in drawn]) for name, drawn in seen.items()}
    room = paper.WIDTH_PX - 2 * 70.0 - 90.0
    wide = sum(right - left for left, right, _, _ in spans.values())
    scale = min(room / wide, *((VIEW_PX - 40.0) / (top - low) for _, _, low, top in spans.values()))
    at = 70.0
    for name, drawn in seen.items():
        left, right, low, top = spans[name]
        width, height = scale * (right - left), scale * (top - low)
        if name == "from the front":
            at = paper.WIDTH_PX - 70.0 - width
        axes = paper.axes_px(figure, at, VIEW_TOP_PX + VIEW_PX - height, width, height)
        axes.set_xlim(left, right)
        axes.set_ylim(low, top)
        axes.set_axis_off()
        paper.write_px(figure, at, VIEW_TOP_PX - 30.0, name, size=11.0, weight="bold")
        for part, points in drawn:
            draw_part(axes, part, points)
        _arrows(axes, name, drawn)
    note = f"drawn to one scale; nose in the middle of its travel; pencil line: {_travels(machine)}"
    paper.write_px(figure, 70.0, VIEW_TOP_PX + VIEW_PX + 26.0, note, size=8.5, color=paper.FAINT)


def extent(outlines: Sequence[Sequence[tuple[float, float]]]) -> tuple[float, float, float, float]:
    """Left, right, low and high end of what a view shows. [mm]"""
    across = [x for points in outlines for x, _ in points]
    up = [y for points in outlines for _, y in points]
    return min(across) - 30.0, max(across) + 30.0, min(up) - 30.0, max(up) + 30.0


def draw_part(axes: "Axes", part: OutlinePart, points: list[tuple[float, float]]) -> None:
    from matplotlib.patches import Polygon

    style = {
        "wood": (paper.WOOD, 0.9), "grain": (paper.WOOD_GRAIN, 0.9), "metal": (METAL, 0.9),
        "dark": (METAL_DARK, 0.9), "rail": (METAL_DARK, 0.5), "travel": ("none", 1.1),
    }  # fmt: skip
    colour, line = style[part.kind]
    patch = Polygon(points, closed=True, facecolor=colour, edgecolor=paper.PENCIL, linewidth=line)
    if part.kind == "travel":
        patch.set(linestyle=(0, (6, 3)), zorder=6)
    axes.add_patch(patch)
    if part.name == "table" and points[2][1] - points[0][1] > 150.0:
        (left, low), (right, high) = points[0], points[2]
        for share in np.linspace(0.08, 0.92, 9):
            y = low + share * (high - low)
            axes.plot([left + 4, right - 4], [y, y], color=paper.WOOD_GRAIN, lw=0.6, zorder=1)


def _arrows(
    axes: "Axes",
    name: str,
    drawn: Sequence[tuple[OutlinePart, list[tuple[float, float]]]],
) -> None:
    """The axes' letters at the corner from which the travel counts."""
    corner = next(points[0] for part, points in drawn if part.kind == "travel")
    _arrow(axes, "X", corner, (corner[0] + 90.0, corner[1]))
    _arrow(axes, "Y" if name == "from above" else "Z", corner, (corner[0], corner[1] + 90.0))
    if name == "from above":
        nose = next(points for part, points in drawn if part.name == "collet")
        at = sum(x for x, _ in nose) / len(nose), sum(y for _, y in nose) / len(nose)
        axes.plot(*at, "+", color=paper.PENCIL, markersize=7, zorder=7)


def _travels(machine: MachineModel) -> str:
    return "travel of the spindle axis, " + ", ".join(
        f"{a.name.upper()} {a.travel_mm:.0f} mm ({a.travel_mm / INCH_MM:.1f} in)"
        for a in machine.axes
    )


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

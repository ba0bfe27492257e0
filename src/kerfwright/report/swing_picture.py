"""How the frame swings: the machine to scale, moved by each of its first modes."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kerfwright.machine import FrameMode, MachineModel
from kerfwright.report import paper
from kerfwright.report.figures import clean
from kerfwright.report.give_map import shares_words
from kerfwright.report.machine_outline import OutlinePart, machine_outline, moved
from kerfwright.report.machine_picture import draw_part, extent
from kerfwright.report.swing_shape import height_in_plan, swing_field
from kerfwright.report.swing_words import swing_hertz, swing_means, swing_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]
Points = list[tuple[float, float]]

TOP_PX, ROW_PX, VIEW_PX = 120.0, 470.0, 330.0
SWEEP_PX = 330.0
_PUSH_N = 10.0
_LINES = ((paper.PENCIL, "-"), (paper.STOP, (0, (6, 2))), (paper.PROUD[2], (0, (1.5, 1.5))))
#: The largest movement is drawn as this share of what a view shows.
_DRAWN = 0.05


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """The nose under a force that swings."""

    hertz: FloatArray  #: (k,), rising
    mm_per_n: FloatArray  #: (k, 3)


def draw_swings(
    machine: MachineModel, modes: Sequence[FrameMode], sweep: Sweep, path: Path
) -> None:
    """Draw a row for each mode, and the sweep, at ``path``: a ``.png`` or ``.svg``, 1200 wide."""
    lowest = modes[0]
    sentence = clean(
        f"{machine.name}: swings slowest at {swing_hertz(lowest)}, along {'XYZ'[lowest.along]}."
    )
    with paper.on_paper():
        figure = paper.sheet(TOP_PX + ROW_PX * len(modes) + 50.0 + SWEEP_PX)
        paper.title(figure, 40.0, 22.0, sentence, paper.WIDTH_PX - 80.0)
        for row, mode in enumerate(modes):
            _row(figure, machine, mode, TOP_PX + row * ROW_PX)
        note = (
            "to scale, in the middle of the bed with Z down; pencil: at rest; the swing itself is "
            "drawn many times too large"
        )
        bottom = TOP_PX + ROW_PX * len(modes)
        paper.write_px(figure, 70.0, bottom, note, size=8.5, color=paper.FAINT)
        _sweep(figure, sweep, bottom + 50.0)
        paper.save(figure, path)


def _sweep(figure: "Figure", sweep: Sweep, top: float) -> None:
    """How far the nose swings at each frequency; the force that stands is on the left."""
    heading = f"pushed to and fro with {_PUSH_N:.0f} N, it swings this far [mm]"
    paper.write_px(figure, 70.0, top, heading, size=11.0, weight="bold")
    axes = paper.axes_px(figure, 130.0, top + 36.0, paper.WIDTH_PX - 220.0, SWEEP_PX - 120.0)
    for index, (colour, line) in enumerate(_LINES):
        far = _PUSH_N * sweep.mm_per_n[:, index]
        axes.plot(sweep.hertz, far, color=colour, linestyle=line, label=f"along {'XYZ'[index]}")
    axes.set_yscale("log", subs=(2.0, 5.0))
    for ticks in (axes.yaxis.set_major_formatter, axes.yaxis.set_minor_formatter):
        ticks(lambda far, _: f"{far:g}")  # plain decimals, no powers
    axes.set_xlim(float(sweep.hertz[0]), float(sweep.hertz[-1]))
    axes.set_xlabel("times a second [Hz]", fontsize=8.5)
    axes.spines[["top", "right"]].set_visible(False)
    axes.legend(frameon=False, fontsize=8.5)


def _row(figure: "Figure", machine: MachineModel, mode: FrameMode, top: float) -> None:
    heading = f"{swing_hertz(mode)}: {swing_words(mode)} along {'XYZ'[mode.along]}"
    paper.write_px(figure, 70.0, top, heading, size=11.0, weight="bold")
    told = f"{shares_words(mode.shares)}; {swing_means(machine, mode)}"
    for line, text in enumerate(paper.wrapped(told, paper.WIDTH_PX - 140.0, 9.5)):
        paper.write_px(figure, 70.0, top + 24.0 + line * paper.line_px(9.5), text, size=9.5)
    views = {name: _seen(machine, up) for name, up in (("above", 1), ("front", 2))}
    spans = {name: extent([points for _, points in drawn]) for name, drawn in views.items()}
    room = paper.WIDTH_PX - 2 * 70.0 - 60.0
    wide = sum(right - left for left, right, _, _ in spans.values())
    scale = min(room / wide, *(VIEW_PX / (high - low) for _, _, low, high in spans.values()))
    size = _DRAWN * max(max(b - a, d - c) for a, b, c, d in spans.values())
    at = 70.0
    for (name, drawn), up in zip(views.items(), (1, 2), strict=True):
        left, right, low, high = spans[name]
        width, height = scale * (right - left), scale * (high - low)
        bottom = top + 80.0 + VIEW_PX
        axes = paper.axes_px(figure, at, bottom - height, width, height)
        label = f"from {'above' if up == 1 else 'the front'}"
        paper.write_px(figure, at, bottom + 4.0, label, size=8.5, color=paper.FAINT)
        axes.set_xlim(left, right)
        axes.set_ylim(low, high)
        axes.set_axis_off()
        for part, points in drawn:
            swung = _swung(machine, mode, part, points, up, size)
            draw_part(axes, part, swung)
            if swung != points:
                _ghost(axes, points)
        at = paper.WIDTH_PX - 70.0 - scale * (spans["front"][1] - spans["front"][0])


def _seen(machine: MachineModel, up: int) -> list[tuple[OutlinePart, Points]]:
    """The parts of a view, X and Y in the middle, Z at its lowest; without the travel's line."""
    x, y, z = machine.axes
    at = (x.travel_mm / 2.0, y.travel_mm / 2.0, -z.travel_mm)
    return [
        (part, moved(outline, (part.shift[0] * at[0], part.shift[up] * at[up])))
        for part in machine_outline(machine)
        if part.kind != "travel" and (outline := part.plan if up == 1 else part.front)
    ]


def _ghost(axes: "Axes", points: Points) -> None:
    from matplotlib.patches import Polygon

    line = {"facecolor": "none", "edgecolor": paper.FAINT, "linewidth": 0.8, "zorder": 6}
    axes.add_patch(Polygon(points, closed=True, linestyle=(0, (3, 2)), **line))


def _swung(
    machine: MachineModel,
    mode: FrameMode,
    part: OutlinePart,
    points: Points,
    up: int,
    size: float,
) -> Points:
    """An outline where the swing has taken it. ``size``: how far the largest movement is drawn."""
    field = swing_field(machine, mode, part)
    if field is None:
        return points
    middle = height_in_plan(machine, part)
    out = []
    for across, upward in points:
        way = size * field(upward if up == 2 else middle)
        out.append((across + float(way[0]), upward + float(way[up])))
    return out

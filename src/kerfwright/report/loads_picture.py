"""Loads through the shop minutes: pull left in each motor, power, bending, chip."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.units import MINUTE_S
from kerfwright.prove import Proof, Verdict
from kerfwright.report import paper
from kerfwright.report.figures import amount
from kerfwright.setup import Setup
from kerfwright.stock.by_block import extremes_by_block

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PINS = 24
LEFT_PX, RIGHT_PX = 262.0, 74.0
STRIP_PX, GAP_PX = 84.0, 16.0
LANE_PX = 54.0
LETTER_PX = 6.2  #: width of a letter of the labels, on average
INK = "#5b6b63"  #: what a load is drawn in
OVER = "#cf6a35"  #: the part of it beyond a limit

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strip:
    """One load through time."""

    name: str
    values: FloatArray  #: (k,)
    unit: str  #: "share" is drawn in per cent
    limits: tuple[FloatArray, ...]  #: (k,) each, NaN where there is none; the first is passed
    says: tuple[str, ...]  #: of each limit
    low_is_bad: bool = False

    @property
    def scale(self) -> float:
        """Drawn units in one of ``unit``."""
        return 100.0 if self.unit == "share" else 1.0


def draw_loads(proof: Proof, *paths: Path) -> None:
    """Draw the loads once and write it at each path: ``.png`` 1200 pixels wide, or ``.svg``."""
    sentence = proof.verdict.sentence
    strips = _strips(proof)
    lines = len(paper.title_lines(sentence, paper.WIDTH_PX - 80.0))
    top = 24.0 + lines * paper.line_px(15.0) + 12.0
    height = top + LANE_PX + len(strips) * (STRIP_PX + GAP_PX) + 86.0
    with paper.on_paper():
        figure = paper.sheet(height)
        paper.title(figure, 40.0, 24.0, sentence, paper.WIDTH_PX - 80.0)
        time_min = proof.series.time_s / MINUTE_S
        width = paper.WIDTH_PX - LEFT_PX - RIGHT_PX
        until = max(float(time_min[-1]) if time_min.size else 0.0, 1e-3)
        _slots(figure, proof, until, top + LANE_PX, len(strips))
        for index, strip in enumerate(strips):
            strip_top = top + LANE_PX + index * (STRIP_PX + GAP_PX)
            axes = paper.axes_px(figure, LEFT_PX, strip_top, width, STRIP_PX)
            axes.set_xlim(0.0, until)
            _draw_strip(axes, strip, time_min, until)
            _label(figure, strip, strip_top)
            axes.tick_params(labelbottom=index == len(strips) - 1)
        axes.set_xlabel("shop minutes from the start of the program", fontsize=9.0)
        _pins(figure, proof.verdict, until, top, height - 86.0 - GAP_PX)
        _footing(figure, height)
        for path in paths:
            paper.save(figure, path)


def _strips(proof: Proof) -> list[_Strip]:
    series = proof.series
    limit = {margin.name: margin.limit for margin in proof.verdict.margins}

    def strip(name: str, values: FloatArray, unit: str, limited_by: str, **more: Any) -> _Strip:
        one = limit.get(limited_by)
        return _Strip(
            name=name,
            values=values,
            unit=unit,
            limits=() if one is None else (np.full(values.size, one),),
            says=() if one is None else (f"limit {amount(one, unit)}",),
            **more,
        )

    return [
        *(
            strip(f"pull left, {axis.upper()}", getattr(series, f"pull_left_{axis}"), "share",
                  f"pull left {axis}", low_is_bad=True)
            for axis in "xyz"
        ),
        strip("power at the cutter", series.power_w, "W", "power"),
        strip("cutter bends", series.deflection_mm, "mm", "deflection"),
        _chip(proof),
    ]  # fmt: skip


def _chip(proof: Proof) -> _Strip:
    """The chip, between what is usual for the cutter that is in the spindle."""
    thick, thin = chip_limits(proof)
    says = []
    for words, limit in (("usual at most", thick), ("and at least", thin)):
        known = limit[np.isfinite(limit)]
        if known.size:
            low, high = amount(float(known.min()), "mm"), amount(float(known.max()), "mm")
            says.append(f"{words} {low}" + ("" if low == high else f" or {high}, by cutter"))
    return _Strip(
        name="thickest chip",
        values=proof.series.chip_mm,
        unit="mm",
        limits=(thick, thin) if says else (),
        says=tuple(says),
    )


def chip_limits(proof: Proof) -> tuple[FloatArray, FloatArray]:
    """The thickest and the thinnest chip that is usual for what is in the spindle, in each bin.

    NaN where nothing is in it, or what is there never cuts. [mm]
    """
    slot = proof.series.slot.astype(np.int64)
    slot = np.where(slot > 0, slot, proof.setup.first_slot or 0)
    thick, thin = np.full(slot.size, np.nan), np.full(slot.size, np.nan)
    for number, usual in proof.usual_chips.items():
        mine = slot == number
        thick[mine], thin[mine] = usual.high_mm, usual.low_mm
    return thick, thin


def _draw_strip(axes: "Axes", strip: _Strip, time_min: FloatArray, until_min: float) -> None:
    from matplotlib.ticker import MaxNLocator

    time, values, limits = _thinned(strip, time_min)
    values, limits = values * strip.scale, [limit * strip.scale for limit in limits]
    rest = 100.0 if strip.low_is_bad else 0.0
    look: dict[str, Any] = {"step": "pre", "linewidth": 0.0, "zorder": 2}
    axes.fill_between(time, values, rest, color=INK, alpha=0.75, **look)
    if limits:
        beyond = values < limits[0] if strip.low_is_bad else values > limits[0]
        if beyond.any():
            far = np.where(beyond, values, limits[0])
            axes.fill_between(time, far, limits[0], color=OVER, **{**look, "zorder": 3})
    for limit, line in zip(limits, ("solid", "dashed"), strict=False):
        axes.step(time, limit, where="pre", color=paper.STOP, lw=1.1, ls=line, zorder=4)
    finite = np.concatenate([values, *limits])
    finite = finite[np.isfinite(finite)]
    low = min([0.0, *finite.tolist()])
    high = max([rest, *finite.tolist()])
    room = 0.06 * (high - low or 1.0)
    axes.set_ylim(low - (room if low < 0.0 else 0.0), high + room)
    axes.set_xlim(0.0, until_min)
    axes.yaxis.set_major_locator(MaxNLocator(3, steps=[1, 2, 5, 10]))
    axes.xaxis.set_major_locator(MaxNLocator(12, steps=[1, 2, 5, 10]))
    axes.grid(axis="x", color=paper.RULE, lw=0.6, zorder=1)
    axes.set_facecolor("none")
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    if strip.unit == "mm":
        _inches(axes)


def _inches(axes: "Axes") -> None:
    """The same scale in inches, on the right."""
    from matplotlib.ticker import MaxNLocator

    inch = axes.secondary_yaxis("right", functions=(paper.inches, paper.millimetres))
    inch.yaxis.set_major_locator(MaxNLocator(2, steps=[1, 2, 5, 10]))
    inch.yaxis.set_major_formatter(lambda value, _: f"{value:.3f}".strip("0").rstrip(".") or "0")
    inch.set_ylabel("in", fontsize=8.0, color=paper.FAINT, rotation=0, labelpad=8.0)
    inch.tick_params(colors=paper.FAINT)
    inch.spines["right"].set_visible(False)


def _thinned(
    strip: _Strip, time_min: FloatArray
) -> tuple[FloatArray, FloatArray, list[FloatArray]]:
    """At most one bin for two pixels, the worst of those that it stands for; drawn as steps.

    Limits are those at the bin's end.

    A step thinner than that would fade away at its edges.
    """
    bins = strip.values.size
    if bins == 0:
        return time_min, strip.values, list(strip.limits)
    block = max(-(-bins // int((paper.WIDTH_PX - LEFT_PX - RIGHT_PX) / 2.0)), 1)
    high, low = extremes_by_block(
        np.asarray(strip.values, dtype=np.float64).reshape(1, -1), (1, block)
    )
    worst = (low if strip.low_is_bad else high)[0]
    last = np.minimum(np.arange(1, worst.size + 1) * block, bins) - 1
    # Bins are known by their ends: the first needs a start, or it would not be seen.
    limits = [np.concatenate((limit[last[:1]], limit[last])) for limit in strip.limits]
    return np.concatenate(([0.0], time_min[last])), np.concatenate((worst[:1], worst)), limits


def _label(figure: "Figure", strip: _Strip, top: float) -> None:
    unit = "%" if strip.unit == "share" else strip.unit
    paper.write_px(figure, 40.0, top + 2.0, strip.name, size=10.0, weight="bold")
    paper.write_px(figure, 40.0, top + 21.0, f"in {unit}", size=8.5, color=paper.FAINT)
    row = top + 37.0
    for words in strip.says:
        for line in paper.wrapped(words, LEFT_PX - 90.0, 8.0):
            paper.write_px(figure, 40.0, row, line, size=8.0, color=paper.STOP)
            row += 13.0


def _slots(figure: "Figure", proof: Proof, until_min: float, top: float, strips: int) -> None:
    """Which cutter is in the spindle, as bands behind all strips."""
    series = proof.series
    height = strips * (STRIP_PX + GAP_PX) - GAP_PX
    width = paper.WIDTH_PX - LEFT_PX - RIGHT_PX
    axes = paper.axes_px(figure, LEFT_PX, top, width, height)
    axes.set_xlim(0.0, until_min)
    axes.set_ylim(0.0, 1.0)
    axes.set_axis_off()
    for index, (slot, start_min, end_min) in enumerate(runs(series.slot, series.time_s)):
        axes.axvspan(
            start_min, end_min, color=paper.FRESH if index % 2 == 0 else "#efe9da", lw=0.0, zorder=0
        )
        if end_min - start_min < 0.04 * until_min:
            continue
        words = slot_words(proof.setup, slot, (end_min - start_min) / until_min * width)
        axes.text(
            start_min,
            1.0,
            f" {words}",
            va="bottom",
            fontsize=8.5,
            color=paper.FAINT,
            parse_math=False,
        )


def slot_words(setup: Setup, slot: int, room_px: float) -> str:
    """What is in the spindle, as long as there is room for it; nothing where there is none."""
    slot = slot or setup.first_slot or 0
    if slot == 0:
        choices = ["no cutter yet"]
    else:
        cutter = setup.slots.get(slot)
        choices = [f"cutter {slot}: {cutter.name}"] if cutter is not None else []
        choices += [f"cutter {slot}", f"{slot}"]
    return next((words for words in choices if len(words) + 1 <= room_px / LETTER_PX), "")


def runs(slot: NDArray[np.int16], time_s: FloatArray) -> list[tuple[int, float, float]]:
    """Stretches with one cutter: slot, start and end. [min]"""
    if slot.size == 0:
        return []
    change = np.flatnonzero(np.diff(slot)) + 1
    first = np.concatenate(([0], change))
    last = np.concatenate((change, [slot.size])) - 1
    starts = np.where(first > 0, time_s[np.maximum(first - 1, 0)], 0.0) / MINUTE_S
    ends = time_s[last] / MINUTE_S
    # Only the longest are worth a band: a job with hundreds of changes would be all stripes.
    runs = list(zip(slot[first].tolist(), starts.tolist(), ends.tolist(), strict=True))
    return runs if len(runs) <= 40 else []


def _pins(figure: "Figure", verdict: Verdict, until_min: float, top: float, bottom: float) -> None:
    """The findings on a lane above the strips, each with a pencil line down through them."""
    pins = [(n, f, f.time_s) for n, f in paper.numbered(verdict.findings) if f.time_s is not None]
    width = paper.WIDTH_PX - LEFT_PX - RIGHT_PX
    axes = paper.axes_px(figure, LEFT_PX, top, width, bottom - top)
    axes.set_xlim(0.0, width)
    axes.set_ylim(bottom - top, 0.0)
    axes.set_axis_off()
    axes.set_zorder(5)
    pins = pins[:MOST_PINS]
    wanted = [
        float(np.clip(time_s / MINUTE_S / until_min, 0.0, 1.0)) * width for _, _, time_s in pins
    ]
    for (number, finding, _), x, place in zip(
        pins, wanted, side_by_side(wanted, width), strict=True
    ):
        axes.plot(
            [x, x], [38.0, bottom - top], color=paper.PENCIL, lw=0.8, alpha=0.7, ls=(0, (4, 3))
        )
        axes.plot([place, x], [14.0, 38.0], color=paper.PENCIL, lw=0.8)
        paper.pin(axes, (place, 14.0), number, finding.severity)


def side_by_side(wanted: Sequence[float], width: float, distance: float = 26.0) -> list[float]:
    """Places along a lane in the order of time, none nearer than a pin's width to another."""
    order = np.argsort(wanted, kind="stable")
    places = np.zeros(len(wanted))
    after = -np.inf
    for index in order:
        after = places[index] = max(wanted[index], after + distance)
    before = max(width, (len(wanted) - 1) * distance) + distance
    for index in reversed(order):  # what was pushed over the end comes back
        before = places[index] = min(places[index], before - distance)
    return [float(place) for place in places]


def _footing(figure: "Figure", height: float) -> None:
    paper.write_px(
        figure,
        40.0,
        height - 30.0,
        "Each point is the worst within its stretch of time. Pull left: 100 % is an idle motor, "
        "0 % one that just stalls. Pins are numbered as in the verdict.",
        size=8.5,
        color=paper.FAINT,
    )

"""The strip of shop minutes: what the machine does when, how near its limits, where to look."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.units import MINUTE_S
from kerfwright.kernels import cutting
from kerfwright.prove import Proof
from kerfwright.report import paper
from kerfwright.report.figures import both_ways, duration, moment, time_span
from kerfwright.report.loads_picture import chip_limits, runs, side_by_side, slot_words
from kerfwright.report.minutes import minutes

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FloatArray = NDArray[np.float64]

LEFT_PX, RIGHT_PX = 118.0, 40.0
WIDTH_PX = paper.WIDTH_PX - LEFT_PX - RIGHT_PX
PINS_PX, SLOTS_PX, DOES_PX, NEAR_PX, AXIS_PX = 52.0, 26.0, 74.0, 34.0, 58.0
LIST_SIZE = 9.5
MOST_PINS, MOST_LISTED = 24, 14
BINS = 540
#: What the machine does, from below: name, colour.
DOES = (
    ("takes wood", "#8a6a3c"),
    ("feeds through air", "#cdb98d"),
    ("rapid", "#9fb0b8"),
    ("stands still", paper.FRESH),
)
#: Shares of a limit from which the lane below gets darker, and the colours.
NEAR = ((0.0, paper.FRESH), (0.5, "#f3e3c3"), (0.75, "#e6b871"), (0.9, "#d98b45"), (1.0, "#8e3a10"))
WORDS = {"pull": "pull of a motor", "power": "power", "deflection": "push on the cutter",
         "chip": "chip"}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Near:
    """How much of the tightest limit is used, and which it is. (k,) each"""

    share: FloatArray
    which: list[str]
    end_min: FloatArray


def draw_strip(proof: Proof, *paths: Path) -> None:
    """Draw the strip once and write it at each path: ``.png`` 1200 pixels wide, or ``.svg``."""
    sentence = proof.verdict.sentence
    rows = _rows(proof)
    lines = len(paper.title_lines(sentence, paper.WIDTH_PX - 80.0))
    top = 24.0 + lines * paper.line_px(15.0) + 34.0
    if all(one.time_s is None for one in proof.verdict.findings):
        top -= PINS_PX - 10.0  # no pins, no room for them
    strip = top + PINS_PX + SLOTS_PX
    listed = strip + DOES_PX + NEAR_PX + AXIS_PX + 34.0
    height = listed + sum(len(words) * paper.line_px(LIST_SIZE) + 7.0 for _, words in rows) + 40.0
    with paper.on_paper():
        figure = paper.sheet(height)
        paper.title(figure, 40.0, 24.0, sentence, paper.WIDTH_PX - 80.0)
        _time_words(figure, proof, 24.0 + lines * paper.line_px(15.0) + 12.0)
        until = max(proof.verdict.totals.time_s, 1e-3) / MINUTE_S
        near = _near(proof)
        _slots(figure, proof, until, top + PINS_PX, SLOTS_PX + DOES_PX + NEAR_PX)
        _does(_lane(figure, strip, DOES_PX, until), proof, until)
        _near_lane(_lane(figure, strip + DOES_PX, NEAR_PX, until), near, until)
        _names(figure, strip)
        _axis(figure, strip + DOES_PX + NEAR_PX, until)
        _pins(figure, proof, until, top, PINS_PX + SLOTS_PX + DOES_PX + NEAR_PX)
        _key(figure, strip + DOES_PX + NEAR_PX + AXIS_PX, near)
        _list(figure, listed, rows)
        for path in paths:
            paper.save(figure, path)


def _time_words(figure: "Figure", proof: Proof, top: float) -> None:
    totals = proof.verdict.totals
    words = (
        f"{duration(totals.time_s)} ({time_span(*totals.time_spread_s)}, nineteen times in twenty);"
        f" it takes wood for {duration(totals.cutting_time_s)}"
    )
    paper.write_px(figure, 40.0, top, words, size=10.0, color=paper.FAINT)


def _lane(figure: "Figure", top: float, height: float, until: float) -> "Axes":
    axes = paper.axes_px(figure, LEFT_PX, top, WIDTH_PX, height)
    axes.set_xlim(0.0, until)
    axes.set_ylim(0.0, 1.0)
    axes.set_xticks([])
    axes.set_yticks([])
    axes.set_facecolor("none")
    return axes


def _shares(proof: Proof, until: float) -> FloatArray:
    """Share of each bin of time that goes to each of ``DOES``. (4, BINS)"""
    out = np.zeros((len(DOES), BINS))
    groups = proof.groups
    bin_min = until / BINS
    if groups is not None and len(groups.column):
        begin = groups.column[:, cutting.TIME].astype(np.float64) / MINUTE_S
        end = begin + groups.column[:, cutting.DURATION].astype(np.float64) / MINUTE_S
        takes = (groups.column[:, cutting.TAKEN] > 0.0) & ~groups.rapid
        sort = np.where(takes, 0, np.where(groups.rapid, 2, 1))
        for kind in range(3):
            mine = sort == kind
            out[kind] = _spread(begin[mine], end[mine], bin_min)
        out = np.minimum(out / bin_min, 1.0)
        out /= np.maximum(out.sum(axis=0), 1.0)
    out[3] = np.maximum(1.0 - out.sum(axis=0), 0.0)
    return out


def _spread(begin: FloatArray, end: FloatArray, bin_min: float) -> FloatArray:
    """Length of some stretches that falls into each bin. (BINS,)"""
    edges = np.arange(BINS + 1) * bin_min
    order = np.argsort(begin, kind="stable")
    begin, end = begin[order], end[order]
    # Stretches of one sort do not overlap, so what lies before an edge is a sum and a part.
    whole = np.concatenate([[0.0], np.cumsum(end - begin)])
    k = np.searchsorted(begin, edges, side="right")
    past = np.where(k > 0, np.minimum(edges - end[np.maximum(k - 1, 0)], 0.0), 0.0)
    return np.diff(whole[k] + past) if len(begin) else np.zeros(BINS)


def _does(axes: "Axes", proof: Proof, until: float) -> None:
    """What the machine does, as a strip of wood: each sort as high as its share of the time."""
    shares = _shares(proof, until)
    edges = np.linspace(0.0, until, BINS + 1)
    low = np.zeros(BINS)
    for share, (name, colour) in zip(shares, DOES, strict=True):
        if name == "stands still":
            still = np.append(share > 0.5, share[-1] > 0.5)
            axes.fill_between(
                edges, 0.0, still.astype(np.float64), where=still, step="post", fc="none",
                ec=paper.RULE, hatch="////", lw=0.0, zorder=1,
            )  # fmt: skip
            continue
        high = low + share
        axes.fill_between(
            edges, np.append(low, low[-1]), np.append(high, high[-1]), step="post", color=colour,
            lw=0.0, zorder=2,
        )  # fmt: skip
        low = high
    for spine in axes.spines.values():
        spine.set_zorder(6)


def _near(proof: Proof) -> _Near:
    series = proof.series
    limit = {margin.name: margin.limit for margin in proof.verdict.margins}
    used = {
        "pull": 1.0 - np.minimum(np.minimum(series.pull_left_x, series.pull_left_y),
                                 series.pull_left_z),
    }  # fmt: skip
    for key, name, values in (
        ("power", "power", series.power_w),
        ("deflection", "deflection", series.deflection_mm),
    ):
        if limit.get(name, 0.0) > 0.0:
            used[key] = values / limit[name]
    thick, _ = chip_limits(proof)
    if np.isfinite(thick).any():
        used["chip"] = series.chip_mm / thick
    keys = list(used)
    table = np.array([np.nan_to_num(used[key]) for key in keys])
    worst = np.argmax(table, axis=0) if table.size else np.zeros(0, np.int64)
    return _Near(
        share=table.max(axis=0) if table.size else np.zeros(0),
        which=[keys[k] for k in worst.tolist()],
        end_min=series.time_s / MINUTE_S,
    )


def _near_lane(axes: "Axes", near: _Near, until: float) -> None:
    """How near the tightest limit is, darker the nearer: the worst within each stretch."""
    if not near.share.size:
        return
    worst = _worst_within(near, until)
    edges = np.linspace(0.0, until, BINS + 1)
    for (low, colour), high in zip(NEAR, [*(one for one, _ in NEAR[1:]), np.inf], strict=True):
        inside = (worst >= low) & (worst < high)
        axes.fill_between(
            edges, 0.0, np.append(inside, inside[-1]).astype(np.float64), step="post",
            color=colour, lw=0.0, zorder=2,
        )  # fmt: skip
    for spine in axes.spines.values():
        spine.set_zorder(6)


def _worst_within(near: _Near, until: float) -> FloatArray:
    """The largest share within each bin of the picture. (BINS,)"""
    edges = np.linspace(0.0, until, BINS + 1)
    many = near.share.size
    first = np.minimum(np.searchsorted(near.end_min, edges[:-1], side="right"), many - 1)
    last = np.minimum(np.searchsorted(near.end_min, edges[1:], side="left"), many - 1)
    ends = np.column_stack([first, np.maximum(last, first) + 1]).ravel()
    told = np.maximum.reduceat(np.append(near.share, 0.0), ends)[::2]
    return np.asarray(np.where(edges[:-1] < near.end_min[-1], told, 0.0))


def _names(figure: "Figure", strip: float) -> None:
    for top, name in ((strip + 0.5 * DOES_PX, "what it\ndoes"),
                      (strip + DOES_PX + 0.5 * NEAR_PX, "how near\na limit")):  # fmt: skip
        paper.write_px(figure, 40.0, top, name, size=9.0, va="center", linespacing=1.25)


def _axis(figure: "Figure", top: float, until: float) -> None:
    from matplotlib.ticker import MaxNLocator

    axes = paper.axes_px(figure, LEFT_PX, top, WIDTH_PX, 1.0)
    axes.set_xlim(0.0, until)
    axes.set_yticks([])
    axes.set_facecolor("none")
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    seconds = until < 3.0
    axes.xaxis.set_major_locator(MaxNLocator(12, steps=[1, 2, 3, 5, 10]))
    if seconds:
        ticks = _whole(until * MINUTE_S)
        axes.set_xticks(ticks / MINUTE_S, [f"{tick:g}" for tick in ticks])
    unit = "seconds" if seconds else "shop minutes"
    axes.set_xlabel(f"{unit} from the start of the program", fontsize=9.0)


def _whole(until_s: float) -> FloatArray:
    """Marks on whole seconds, about ten of them."""
    step = next((s for s in (0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 20.0) if until_s / s <= 12.0), 30.0)
    return np.arange(0.0, until_s + 1e-9, step)


def _slots(figure: "Figure", proof: Proof, until: float, top: float, height: float) -> None:
    """Which cutter is in the spindle, written above its stretch; a pencil line at each change."""
    axes = paper.axes_px(figure, LEFT_PX, top, WIDTH_PX, height)
    axes.set_xlim(0.0, until)
    axes.set_ylim(0.0, 1.0)
    axes.set_axis_off()
    axes.set_zorder(4)
    for slot, start, end in _in_spindle(proof):
        room = (end - start) / until * WIDTH_PX
        words = slot_words(proof.setup, slot, room)
        axes.text(
            start, 1.0 - 3.0 / height, f" {words}", va="top", fontsize=8.5, color=paper.FAINT,
            parse_math=False,
        )  # fmt: skip
        if start > 0.0:
            axes.plot([start, start], [0.0, 1.0], color=paper.PENCIL, lw=1.2)


def _in_spindle(proof: Proof) -> list[tuple[int, float, float]]:
    """Stretches with one cutter, what is there from the start included. [min]"""
    out: list[tuple[int, float, float]] = []
    for slot, start, end in runs(proof.series.slot, proof.series.time_s):
        now = slot or proof.setup.in_spindle or 0
        if out and out[-1][0] in (now, 0):
            out[-1] = (now, out[-1][1], end)
        else:
            out.append((now, start, end))
    return out


def _pins(figure: "Figure", proof: Proof, until: float, top: float, height: float) -> None:
    """Pins with the numbers that they have on the board picture, each at its minute."""
    pins = [
        (number, found, found.time_s)
        for number, found in paper.numbered(proof.verdict.findings)
        if found.time_s is not None
    ][:MOST_PINS]
    axes = paper.axes_px(figure, LEFT_PX, top, WIDTH_PX, height)
    axes.set_xlim(0.0, WIDTH_PX)
    axes.set_ylim(height, 0.0)
    axes.set_axis_off()
    axes.set_zorder(5)
    wanted = [float(np.clip(t / MINUTE_S / until, 0.0, 1.0)) * WIDTH_PX for _, _, t in pins]
    for (number, found, _), x, place in zip(
        pins, wanted, side_by_side(wanted, WIDTH_PX), strict=True
    ):
        axes.plot([place, x], [16.0, PINS_PX - 8.0], color=paper.PENCIL, lw=0.8)
        axes.plot(
            [x, x], [PINS_PX - 8.0, height], color=paper.PENCIL, lw=0.8, alpha=0.7, ls=(0, (4, 3))
        )
        paper.pin(axes, (place, 16.0), number, found.severity)


def _key(figure: "Figure", top: float, near: _Near) -> None:
    """What the colours stand for, and what comes nearest to a limit."""
    axes = paper.axes_px(figure, LEFT_PX, top, WIDTH_PX, 20.0)
    axes.set_xlim(0.0, WIDTH_PX)
    axes.set_ylim(20.0, 0.0)
    axes.set_axis_off()
    x = 0.0
    entries = [(name, colour) for name, colour in DOES]
    for low, colour in NEAR[1:]:
        words = f"{low * 100:.0f} % of a limit" if low == NEAR[1][0] else f"{low * 100:.0f} %"
        entries.append((words + (" and beyond" if low == 1.0 else ""), colour))
    for name, colour in entries:
        _patch(axes, x, colour, name == "stands still")
        axes.text(x + 20.0, 10.0, name, va="center", fontsize=8.5, parse_math=False)
        x += 34.0 + 6.6 * len(name)
    if near.share.size:
        worst = int(np.argmax(near.share))
        words = f"nearest: {WORDS[near.which[worst]]}, {near.share[worst] * 100:.0f} %"
        axes.text(x + 10.0, 10.0, words, va="center", fontsize=8.5, color=paper.FAINT)


def _patch(axes: "Axes", x: float, colour: str, hatched: bool) -> None:
    from matplotlib.patches import Rectangle

    if hatched:
        axes.add_patch(
            Rectangle((x, 3.0), 14.0, 14.0, fc="none", ec=paper.RULE, hatch="//////", lw=0.0)
        )
        colour = "none"
    axes.add_patch(Rectangle((x, 3.0), 14.0, 14.0, fc=colour, ec=paper.PENCIL, lw=0.6))


Row = tuple[str, list[str]]  #: when, and lines of text


def _rows(proof: Proof) -> list[Row]:
    """What the person does and looks at, by the clock."""
    words_of = {one.id: one.words for one in proof.verdict.findings}
    out: list[Row] = []
    listed: list[dict[str, Any]] = list(minutes(proof))
    for one in listed[:MOST_LISTED]:
        words = str(one["words"])
        if one["kind"] == "look":
            found = both_ways(words_of.get(one["finding"], ""))
            words = f"{words[:1].upper()}{words[1:]}. {found}"
        else:
            words = f"{words[:1].upper()}{words[1:]}"
        lines = paper.wrapped(words, paper.WIDTH_PX - RIGHT_PX - LEFT_PX - 24.0, LIST_SIZE, most=2)
        out.append((moment(float(one["time_s"])), lines))
    if len(listed) > MOST_LISTED:
        out.append(("", [f"and {len(listed) - MOST_LISTED} more in the verdict"]))
    if not listed:
        out.append(("", ["Nothing to do or to look at on the way: stay with the machine."]))
    return out


def _list(figure: "Figure", top: float, rows: list[Row]) -> None:
    for when, lines in rows:
        paper.write_px(figure, 40.0, top, when, size=LIST_SIZE, weight="bold")
        for line in lines:
            paper.write_px(figure, LEFT_PX + 24.0, top, line, size=LIST_SIZE)
            top += paper.line_px(LIST_SIZE)
        top += 7.0

"""The board in plan, to scale: where the part will be proud or shy, and where to look."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Finding
from kerfwright.basics.units import INCH_MM
from kerfwright.prove import Proof
from kerfwright.report import paper
from kerfwright.report.figures import (
    amount,
    both_ways,
    clean,
    duration,
    leaning,
    leaning_estimate,
    moment,
    time_span,
)
from kerfwright.report.parts_words import label_parts, parts_facts
from kerfwright.stock.by_block import worst_by_block

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

MOST_PINS = 12
MARGIN_PX = 78.0
PIN_PX = 25.0
KEY_END_PX = 620.0
OVER_EDGE_PX = 6.0  #: how far a clamp is drawn over the board's edge
LIST_SIZE = 9.5
LEAST_MARKED_MM = 0.005  #: what is nearer to the program is rounding, no place to look at
#: Ends of the colour bands, in tolerances. Within half a tolerance the paper stays fresh.
STEPS = (0.5, 1.0, 2.0, 4.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """Where things stand on the page. [pixels]"""

    title_px: float
    board_width_px: float
    board_height_px: float
    list_left_px: float
    list_top_px: float
    list_width_px: float
    height_px: float

    @property
    def board_top_px(self) -> float:
        return self.title_px + 62.0

    @property
    def key_top_px(self) -> float:
        return self.board_top_px + self.board_height_px + 62.0


def draw_board(proof: Proof, *paths: Path) -> None:
    """Draw the board once and write it at each path: ``.png`` 1200 pixels wide, or ``.svg``."""
    pins = paper.numbered(proof.verdict.findings)[:MOST_PINS]
    rows = _list_rows(proof, pins)
    plan = _plan(proof, rows)
    with paper.on_paper():
        figure = paper.sheet(plan.height_px)
        paper.title(figure, 40.0, 24.0, proof.verdict.sentence, paper.WIDTH_PX - 80.0)
        axes = _board_axes(figure, plan, proof)
        _wood(axes, proof)
        _error(axes, proof, plan)
        if proof.verdict.ascut is not None:
            label_parts(
                axes, proof.verdict.ascut, plan.board_width_px / proof.setup.board.length_mm
            )
        _clamps(axes, proof, plan)
        _extremes(axes, proof)
        _pins(axes, pins, proof, plan)
        _key(figure, plan, proof.verdict.ascut.tolerance_mm if proof.verdict.ascut else None)
        _list(figure, plan, rows)
        for path in paths:
            paper.save(figure, path)


Row = tuple[int, str, list[str]]  #: pin's number, severity, lines of text


def _list_rows(proof: Proof, pins: list[tuple[int, Finding]]) -> list[Row]:
    width = _list_width(proof)
    rows: list[Row] = []
    for number, finding in pins:
        where = f"Line {finding.line}" if finding.line else ""
        if finding.time_s is not None:
            where += f"{', at ' if where else 'At '}{moment(finding.time_s)}"
        words = both_ways(f"{where}: {finding.words}" if where else finding.words)
        rows.append((number, finding.severity, paper.wrapped(words, width - 56.0, LIST_SIZE)))
    more = len(proof.verdict.findings) - len(pins)
    if more > 0:
        rows.append((0, "", [f"and {more} more in the verdict"]))
    if not rows:
        rows.append((0, "", ["Nothing found to mark."]))
    return rows + [(0, "", paper.wrapped(fact, width - 56.0, LIST_SIZE)) for fact in _facts(proof)]


def _facts(proof: Proof) -> list[str]:
    totals, ascut = proof.verdict.totals, proof.verdict.ascut
    facts = [
        f"Time {duration(totals.time_s)} ({time_span(*totals.time_spread_s)}, "
        "nineteen times in twenty)"
    ]
    if ascut is not None:
        facts += [
            f"As cut, 95 parts in 100 lie within {amount(ascut.ninety_five_mm, 'mm')} "
            "of the program",
            f"{'▲ ' * _marked(ascut.proud)}most proud: {leaning_estimate(ascut.proud)}",
            f"{'▼ ' * _marked(ascut.shy)}most shy: {leaning_estimate(ascut.shy)}",
        ]
        worst = max(ascut.walls, key=lambda wall: abs(wall.worst_mm), default=None)
        if worst is not None:
            facts.append(
                f"Worst wall: {leaning(worst.worst_mm)}, on the {worst.side} of "
                f"line {worst.first_line}"
            )
        facts += parts_facts(ascut)
    return facts


def _beside(proof: Proof) -> bool:
    board = proof.setup.board
    return board.length_mm < 1.7 * board.width_mm


def _list_width(proof: Proof) -> float:
    return 390.0 if _beside(proof) else paper.WIDTH_PX - 2.0 * MARGIN_PX


def _plan(proof: Proof, rows: list[Row]) -> _Plan:
    board = proof.setup.board
    widest = 640.0 if _beside(proof) else paper.WIDTH_PX - 2.0 * MARGIN_PX
    scale = min(widest / board.length_mm, 820.0 / board.width_mm)
    # A very long or narrow board keeps a strip that can still be seen; it is not to scale then.
    width, height = max(board.length_mm * scale, 40.0), max(board.width_mm * scale, 40.0)
    title = 24.0 + len(
        paper.title_lines(proof.verdict.sentence, paper.WIDTH_PX - 80.0)
    ) * paper.line_px(15.0)
    listed = sum(len(lines) for _, _, lines in rows) * paper.line_px(LIST_SIZE) + 12.0 * len(rows)
    under = title + 62.0 + height + 62.0 + 100.0
    if _beside(proof):
        left, top = max(MARGIN_PX + width + 90.0, KEY_END_PX), title + 62.0
        page = max(under, top + listed + 60.0)
    else:
        left, top = MARGIN_PX, under + 10.0
        page = top + listed + 50.0
    return _Plan(
        title_px=title,
        board_width_px=width,
        board_height_px=height,
        list_left_px=left,
        list_top_px=top,
        list_width_px=_list_width(proof),
        height_px=page,
    )


def _board_axes(figure: "Figure", plan: _Plan, proof: Proof) -> "Axes":
    from matplotlib.ticker import MaxNLocator

    board = proof.setup.board
    axes = paper.axes_px(
        figure, MARGIN_PX, plan.board_top_px, plan.board_width_px, plan.board_height_px
    )
    axes.set_xlim(0.0, board.length_mm)
    axes.set_ylim(0.0, board.width_mm)
    axes.set_facecolor(paper.WOOD)
    for spine in axes.spines.values():
        spine.set_zorder(5)

    top = axes.secondary_xaxis("top", functions=(paper.inches, paper.millimetres))
    right = axes.secondary_yaxis("right", functions=(paper.inches, paper.millimetres))
    for axis, pixels in (
        (axes.xaxis, plan.board_width_px),
        (axes.yaxis, plan.board_height_px),
        (top.xaxis, plan.board_width_px),
        (right.yaxis, plan.board_height_px),
    ):
        axis.set_major_locator(MaxNLocator(max(int(pixels / 80.0), 1), steps=[1, 2, 4, 5, 10]))
    axes.set_xlabel("mm from the left", fontsize=9.0)
    axes.set_ylabel("mm from the front", fontsize=9.0)
    top.set_xlabel("inches", fontsize=9.0)
    right.set_ylabel("inches", fontsize=9.0)
    for scale in (top, right):
        scale.tick_params(colors=paper.FAINT)
    return axes


def _wood(axes: "Axes", proof: Proof) -> None:
    """Grain lines, so that untouched wood looks like wood and shows which way it runs."""
    from matplotlib.collections import LineCollection

    board = proof.setup.board
    along = np.array([np.cos(board.grain_rad), np.sin(board.grain_rad)])
    across = np.array([-along[1], along[0]])
    middle = np.array([board.length_mm, board.width_mm]) / 2.0
    reach = float(np.hypot(*middle))
    run = np.linspace(-reach, reach, 60)
    lines = []
    for index, offset in enumerate(np.linspace(-reach, reach, 46)):
        wave = offset + 0.012 * reach * np.sin(run / reach * 2.6 + 1.7 * index)
        lines.append(middle + run[:, None] * along + wave[:, None] * across)
    axes.add_collection(
        LineCollection(lines, colors=paper.WOOD_GRAIN, linewidths=0.7, zorder=1), autolim=False
    )


def _error(axes: "Axes", proof: Proof, plan: _Plan) -> None:
    from matplotlib.colors import BoundaryNorm, ListedColormap

    verdict = proof.verdict
    if verdict.ascut is None:
        return
    tolerance = verdict.ascut.tolerance_mm
    thickness = proof.setup.board.thickness_mm
    rows, columns = proof.error_mm.shape
    if not rows or not columns:
        return
    block = max(
        int(np.ceil(proof.setup.board.width_mm / proof.cell_mm / plan.board_height_px)),
        int(np.ceil(proof.setup.board.length_mm / proof.cell_mm / plan.board_width_px)),
        1,
    )
    # Where the job goes right through and nothing is left, there is no wood to be proud or shy.
    gone, known = proof.height_mm <= -thickness, proof.error_mm
    if gone.any():
        gone &= ~(proof.height_mm + known > -thickness)
        known = np.where(gone, np.nan, known)
    error = worst_by_block(known, block) / tolerance
    through = _all_by_block(gone, block)
    shown: dict[str, Any] = {
        "origin": "lower",
        "interpolation": "nearest",
        "aspect": "auto",
        "extent": (
            proof.corner_mm[0],
            proof.corner_mm[0] + error.shape[1] * block * proof.cell_mm,
            proof.corner_mm[1],
            proof.corner_mm[1] + error.shape[0] * block * proof.cell_mm,
        ),
    }
    limits = (axes.get_xlim(), axes.get_ylim())
    edges, colours = bands()
    axes.imshow(
        np.ma.masked_invalid(np.clip(error, edges[0] + 1e-6, edges[-1] - 1e-6)),
        cmap=ListedColormap(colours),
        norm=BoundaryNorm(edges, len(colours)),
        zorder=2,
        **shown,
    )
    axes.imshow(
        np.ma.masked_equal(through.astype(np.uint8), 0),
        cmap=ListedColormap([paper.HOLE]),
        zorder=3,
        **shown,
    )
    middles = [
        np.minimum(np.arange(count) * block + block // 2, cells - 1)
        for count, cells in zip(error.shape, (rows, columns), strict=True)
    ]
    height = proof.height_mm[np.ix_(*middles)]
    axes.imshow(_shade(height, block * proof.cell_mm), zorder=3, **shown)
    _edges(axes, through, shown["extent"])
    _tolerance_lines(axes, error, shown["extent"])
    axes.set_xlim(limits[0])
    axes.set_ylim(limits[1])


def _shade(height_mm: NDArray[np.floating[Any]], side_mm: float) -> NDArray[np.float32]:
    """Pencil shading of slopes that face right and front, as if lit from the left back corner.

    Level places are left as they are, so that the colours there are those of the key.
    """
    shade = np.zeros((*height_mm.shape, 4), dtype=np.float32)
    if min(height_mm.shape) >= 2:
        up, across = np.gradient(np.nan_to_num(height_mm), side_mm)
        away = (up - across) / 2.0
        shade[..., :3] = np.where(away > 0.0, 0.2, 1.0)[..., None]
        shade[..., 3] = 0.18 * (1.0 - np.exp(-4.0 * np.abs(away)))  # a gentle slope shows too
    return shade


def bands() -> tuple[list[float], list[str]]:
    """Ends of the colour bands in tolerances, from most shy to most proud, and their colours."""
    edges = [-2.0 * STEPS[-1], *(-step for step in reversed(STEPS)), *STEPS, 2.0 * STEPS[-1]]
    return edges, [*reversed(paper.SHY), paper.FRESH, *paper.PROUD]


def _tolerance_lines(
    axes: "Axes", error: NDArray[np.floating[Any]], extent: tuple[float, ...]
) -> None:
    """Pencil lines where the error passes the tolerance: solid for proud, dashed for shy."""
    if min(error.shape) < 2:
        return
    filled = np.where(np.isnan(error), 0.0, error)
    for level, dashes in ((1.0, "solid"), (-1.0, "dashed")):
        if (filled > level).any() and (filled < level).any():
            axes.contour(
                *_centres(error.shape, extent),
                filled,
                levels=[level],
                colors=paper.PENCIL,
                linewidths=0.7,
                linestyles=dashes,
                zorder=4,
            )


def _edges(axes: "Axes", through: NDArray[np.bool_], extent: tuple[float, ...]) -> None:
    if min(through.shape) >= 2 and through.any() and not through.all():
        axes.contour(
            *_centres(through.shape, extent),
            through.astype(np.float32),
            levels=[0.5],
            colors=paper.FAINT,
            linewidths=0.8,
            zorder=4,
        )


def _centres(
    shape: tuple[int, ...], extent: tuple[float, ...]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    left, right, front, back = extent
    columns = (np.arange(shape[1], dtype=np.float64) + 0.5) / shape[1]
    rows = (np.arange(shape[0], dtype=np.float64) + 0.5) / shape[0]
    return left + columns * (right - left), front + rows * (back - front)


def _all_by_block(flags: NDArray[np.bool_], block: int) -> NDArray[np.bool_]:
    """Whether every cell of a block is flagged; cells beyond the map count as flagged."""
    rows, columns = flags.shape
    padded = np.pad(flags, ((0, -rows % block), (0, -columns % block)), constant_values=True)
    tiled = padded.reshape(padded.shape[0] // block, block, padded.shape[1] // block, block)
    return np.asarray(tiled.all(axis=(1, 3)))


def _marked(error: Estimate) -> bool:
    return abs(error.value) >= LEAST_MARKED_MM


def _clamps(axes: "Axes", proof: Proof, plan: _Plan) -> None:
    """Clamps in plan: a pencil frame with its diagonals, as one marks what must be kept clear."""
    from matplotlib.patches import Rectangle

    board = proof.setup.board
    # They stand over the board's edge: a little of that is shown, the rest would cover the scale.
    over = np.array([board.length_mm / plan.board_width_px, board.width_mm / plan.board_height_px])
    low, high = -OVER_EDGE_PX * over, np.array([board.length_mm, board.width_mm])
    high = high + OVER_EDGE_PX * over
    stops = [f.words for f in proof.verdict.findings if f.severity == "stop"]
    for clamp in proof.setup.clamps:
        box = np.array(clamp.box_mm)
        (left, front), (right, back) = np.maximum(box[:2], low), np.minimum(box[2:], high)
        if left >= right or front >= back:
            continue
        hit = any(f'the clamp "{clamp.name}"' in words for words in stops)
        colour = paper.STOP if hit else paper.PENCIL
        look: dict[str, Any] = {"clip_on": False, "zorder": 6}
        axes.add_patch(
            Rectangle(
                (left, front), right - left, back - front, fc=paper.FRESH, ec="none", alpha=0.6,
                **look,
            )
        )  # fmt: skip
        for x, y in (
            ([left, right, right, left, left], [front, front, back, back, front]),
            ([left, right], [front, back]),
            ([left, right], [back, front]),
        ):
            axes.plot(x, y, color=colour, lw=1.3 if len(x) > 2 else 0.6, scalex=False,
                      scaley=False, **look)  # fmt: skip
        axes.text(
            (left + right) / 2.0, (front + back) / 2.0, clean(clamp.name)[:20], ha="center",
            va="center", fontsize=7.5, color=colour, zorder=6.5, parse_math=False,
            bbox={"fc": paper.FRESH, "ec": "none", "pad": 0.8, "alpha": 0.85},
        )  # fmt: skip


def _extremes(axes: "Axes", proof: Proof) -> None:
    ascut = proof.verdict.ascut
    if ascut is None:
        return
    for error, spot, mark in (
        (ascut.proud, ascut.proud_spot, "^"),
        (ascut.shy, ascut.shy_spot, "v"),
    ):
        if not _marked(error):
            continue
        axes.plot(
            [spot.x_mm], [spot.y_mm], mark, ms=8.0, mfc=paper.PENCIL, mec=paper.FRESH, zorder=7
        )


def _pins(axes: "Axes", pins: list[tuple[int, Finding]], proof: Proof, plan: _Plan) -> None:
    per_mm = (
        plan.board_width_px / proof.setup.board.length_mm,
        plan.board_height_px / proof.setup.board.width_mm,
    )
    placed = [(n, f, f.spot) for n, f in pins if f.spot is not None]
    points = [
        (
            float(np.clip(spot.x_mm * per_mm[0], 0.0, plan.board_width_px)),
            float(np.clip(spot.y_mm * per_mm[1] + _aside_px(found), 0.0, plan.board_height_px)),
        )
        for _, found, spot in placed
    ]
    places = paper.apart(points, PIN_PX, 0.0, (plan.board_width_px, plan.board_height_px))
    for (number, finding, _), point, place in zip(placed, points, places, strict=True):
        at = (place[0] / per_mm[0], place[1] / per_mm[1])
        if place != point:
            from_x, from_y = point[0] / per_mm[0], point[1] / per_mm[1]
            axes.plot([from_x, at[0]], [from_y, at[1]], color=paper.PENCIL, lw=0.9, zorder=8)
            axes.plot([from_x], [from_y], ".", color=paper.PENCIL, ms=4.0, zorder=8)
        paper.pin(axes, at, number, finding.severity)


def _aside_px(found: Finding) -> float:
    """What is found of a whole part is pinned above its middle, where its label stands."""
    return 0.0 if found.line else 1.6 * PIN_PX


def _key(figure: "Figure", plan: _Plan, tolerance_mm: float | None) -> None:
    """What the colours mean, in mm with inches below."""
    from matplotlib.patches import Rectangle

    top = plan.key_top_px
    swatches = [(paper.WOOD, "untouched"), (paper.HOLE, "cut through")]
    if tolerance_mm is None:
        paper.write_px(figure, MARGIN_PX, top, "nothing is cut", size=9.0)
        return
    edges, colours = bands()
    width = 41.0
    axes = paper.axes_px(figure, MARGIN_PX, top + 18.0, width * len(colours), 16.0)
    axes.set_xlim(0.0, len(colours))
    axes.set_ylim(0.0, 1.0)
    axes.set_axis_off()
    for index, colour in enumerate(colours):
        axes.add_patch(Rectangle((index, 0.0), 1.0, 1.0, fc=colour, ec=paper.PENCIL, lw=0.6))
    fine = 3 if STEPS[0] * tolerance_mm >= 0.04 else 4
    for index, edge in enumerate(edges[1:-1], start=1):
        size = abs(edge) * tolerance_mm
        at = MARGIN_PX + width * index
        look: dict[str, Any] = {"ha": "center", "size": 7.5}
        paper.write_px(figure, at, top + 37.0, f"{size:.2g}", **look)
        paper.write_px(
            figure,
            at,
            top + 50.0,
            f"{size / INCH_MM:.{fine}f}".lstrip("0"),
            color=paper.FAINT,
            **look,
        )
    end = MARGIN_PX + width * len(colours)
    paper.write_px(figure, MARGIN_PX, top, "shy: too much gone", size=8.5)
    paper.write_px(figure, end, top, "proud: too much left", size=8.5, ha="right")
    paper.write_px(figure, end + 6.0, top + 37.0, "mm", size=7.5)
    paper.write_px(figure, end + 6.0, top + 50.0, "in", size=7.5, color=paper.FAINT)
    side = paper.axes_px(figure, end + 40.0, top, 16.0, 36.0)
    side.set_xlim(0.0, 1.0)
    side.set_ylim(0.0, 36.0)
    side.set_axis_off()
    for index, (colour, words) in enumerate(swatches):
        side.add_patch(
            Rectangle((0.0, 22.0 - 20.0 * index), 1.0, 13.0, fc=colour, ec=paper.PENCIL, lw=0.6)
        )
        paper.write_px(figure, end + 62.0, top + 20.0 * index, words, size=8.5)
    paper.write_px(
        figure,
        MARGIN_PX,
        top + 70.0,
        f"Lines: the tolerance, {amount(tolerance_mm, 'mm')}; solid proud, dashed shy.",
        size=8.5,
    )


def _list(figure: "Figure", plan: _Plan, rows: list[Row]) -> None:
    height = plan.height_px - plan.list_top_px
    axes = paper.axes_px(figure, plan.list_left_px, plan.list_top_px, plan.list_width_px, height)
    axes.set_xlim(0.0, plan.list_width_px)
    axes.set_ylim(height, 0.0)
    axes.set_axis_off()
    top = 0.0
    line = paper.line_px(LIST_SIZE)
    for number, severity, lines in rows:
        if number:
            paper.pin(axes, (11.0, top + 8.0), number, severity)
        for index, words in enumerate(lines):
            axes.text(
                34.0, top + index * line, words, va="top", fontsize=LIST_SIZE, parse_math=False
            )
        top += len(lines) * line + 12.0

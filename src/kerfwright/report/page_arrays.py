"""What the page draws of a proof, as plain files: maps, path, curves, and when each line runs.

Arrays are little-endian, so that a browser takes them as they are. docs/page.md names each file.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels import cutting
from kerfwright.prove import Proof
from kerfwright.prove.proof import Workings
from kerfwright.report.loads_picture import chip_limits
from kerfwright.stock.by_block import extremes_by_block, worst_by_block
from kerfwright.stock.field import NEVER, Field

FloatArray = NDArray[np.float64]

MOST_CELLS = 4_000_000  #: of a map: what a browser can draw
MOST_POINTS = 1_000_000  #: of the path
UNTOUCHED = -32768
NEVER_CUT = 65535
_LARGEST = 32767
_STEPS_AT_ONCE = 500_000
#: Columns of ``moments``: when each stretch of the path begins, its line, and its middle.
TIME, LINE, X, Y, Z = range(5)

_SERIES = (
    ("pull_left_x", "pull left in the X motor", "%"),
    ("pull_left_y", "pull left in the Y motor", "%"),
    ("pull_left_z", "pull left in the Z motor", "%"),
    ("power_w", "power at the cutter", "W"),
    ("deflection_mm", "how far the wood pushes the cutter", "mm"),
    ("chip_mm", "feed per tooth", "mm"),
)
_LIMITED_BY = {"power_w": "power", "deflection_mm": "deflection"}


def write_arrays(folder: Path, proof: Proof) -> None:
    """Write everything into a folder of its own. The proof must carry its workings."""
    workings = proof.workings
    if workings is None:
        raise ValueError("this proof kept no workings")
    maps = _write_maps(folder, proof, workings)
    maps["path"] = _write_path(folder, proof, workings)
    _write_json(folder / "maps.json", maps)
    _write_json(folder / "series.json", _series(proof))
    _write_moments(folder, proof, workings)


def _write_maps(folder: Path, proof: Proof, workings: Workings) -> dict[str, Any]:
    cells = _Cells.of(proof)
    height, error = proof.height_mm, proof.error_mm
    clock = _Clock.of(workings)
    span = cells.span(workings.swept.field)
    board = proof.setup.board
    low = float(min(height.min(initial=0.0), -board.thickness_mm))
    zero_mm, step_mm = 0.5 * low, max(-low, 1e-3) / (2.0 * _LARGEST)

    def write_height(name: str, high: NDArray[Any]) -> None:
        levels = np.clip(np.round((high - zero_mm) / step_mm), -_LARGEST, _LARGEST)
        (folder / name).write_bytes(levels.astype("<i2").tobytes())

    def write_time(name: str, made_by: NDArray[np.int32]) -> None:
        # A later step has a later time, so the last step of some cells has their last.
        (folder / name).write_bytes(clock.tick[cells.last(made_by)].tobytes())

    write_height("height.i16", cells.highest(height, cells.more))
    write_time("time.u16", workings.swept.field.makers(*span))
    worst = worst_by_block(error, cells.more).astype(np.float64)
    error_step = max(float(np.nanmax(np.abs(worst), initial=0.0)), 1e-3) / _LARGEST
    scaled = np.where(np.isnan(worst), UNTOUCHED, np.round(worst / error_step))
    (folder / "error.i16").write_bytes(scaled.astype("<i2").tobytes())
    keyframes: list[dict[str, float]] = []
    for frame, field in _keyframes(workings):
        high, made_by = field.heights(*span), field.makers(*span)
        write_height(f"height.{len(keyframes)}.i16", cells.highest(high, cells.fine * cells.more))
        write_time(f"time.{len(keyframes)}.u16", made_by)
        keyframes.append({"after_s": clock.at(frame)})
    rows, columns = cells.shape
    return {
        "rows": rows,
        "columns": columns,
        "cell_mm": proof.cell_mm * cells.more,
        "corner_mm": list(proof.corner_mm),
        "height": {"zero_mm": zero_mm, "step_mm": step_mm},
        "error": {"step_mm": error_step, "untouched": UNTOUCHED},
        "time": {"step_s": clock.step_s, "never": NEVER_CUT},
        "keyframes": keyframes,
        "tolerance_mm": proof.setup.tolerance_mm,
        "board_mm": [board.length_mm, board.width_mm, board.thickness_mm],
    }


def _keyframes(workings: Workings) -> Iterator[tuple[int, Field]]:
    """The board at each cutter change after which wood was already gone."""
    swept = workings.swept
    for number, frame in enumerate(swept.keyframes.frames):
        if frame.step > 0:
            yield frame.step, swept.keyframes.field(number, swept.field)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cells:
    """The cells of the page's maps: those of the proof's, or larger where they are too many."""

    fine: int  #: cells of the field in one of the proof's maps, along a side
    more: int  #: cells of the proof's maps in one of the page's
    first: tuple[int, int]  #: row and column of the field where the maps begin
    map_shape: tuple[int, int]  #: of the proof's maps

    @classmethod
    def of(cls, proof: Proof) -> "_Cells":
        cell_mm = proof.verdict.provenance.cell_mm
        rows, columns = proof.height_mm.shape
        more = max(1, int(np.ceil(np.sqrt(rows * columns / MOST_CELLS))))
        first = (round(proof.corner_mm[1] / cell_mm), round(proof.corner_mm[0] / cell_mm))
        fine = max(1, round(proof.cell_mm / cell_mm))
        return cls(fine=fine, more=more, first=first, map_shape=(rows, columns))

    @property
    def shape(self) -> tuple[int, int]:
        return -(-self.map_shape[0] // self.more), -(-self.map_shape[1] // self.more)

    def span(self, field: Field) -> tuple[int, int, int, int]:
        """Rows and columns of the field that the maps cover."""
        row, column = self.first
        rows, columns = (self.fine * many for many in self.map_shape)
        return row, min(row + rows, field.rows), column, min(column + columns, field.columns)

    def highest(self, values: NDArray[np.float32], block: int) -> FloatArray:
        """Of the proof's map or of the field's cells over ``span``, by ``block`` x ``block``."""
        return extremes_by_block(values, block)[0].astype(np.float64)

    def last(self, made_by: NDArray[np.int32]) -> NDArray[np.int32]:
        """The last step that cut each, of the field's cells over ``span``."""
        block = self.fine * self.more
        out = np.full(self.shape, NEVER, np.int32)
        for row, column in product(range(block), range(block)):
            part = made_by[row::block, column::block]
            here = out[: part.shape[0], : part.shape[1]]
            np.maximum(here, part, out=here)
        return out


@dataclass(frozen=True, slots=True, kw_only=True)
class _Clock:
    """From steps of the sweep to the time since the start."""

    first_step: NDArray[np.int64]  #: (g + 1,)
    begin_s: FloatArray  #: (g + 1,)
    step_s: float  #: one tick of the maps
    tick: NDArray[np.uint16]  #: (steps + 1,) of each step; ``NEVER_CUT`` at the end, for ``NEVER``

    @classmethod
    def of(cls, workings: Workings) -> "_Clock":
        swept = workings.swept
        last = max(swept.steps, int(swept.first_step[-1]) + 1) if len(swept.first_step) else 1
        total = workings.trajectory.time_s
        first_step = np.append(swept.first_step.astype(np.int64), last)
        begin_s = np.append(swept.column[:, cutting.TIME].astype(np.float64), total)
        step_s = max(total, 1e-3) / (NEVER_CUT - 1)
        tick = np.full(last + 1, NEVER_CUT, "<u2")
        for begin in range(0, last, _STEPS_AT_ONCE):
            step = np.arange(begin, min(begin + _STEPS_AT_ONCE, last))
            tick[step] = np.round(np.interp(step, first_step, begin_s) / step_s)
        return cls(first_step=first_step, begin_s=begin_s, step_s=step_s, tick=tick)

    def at(self, step: int) -> float:
        return float(np.interp(step, self.first_step, self.begin_s))


def _write_path(folder: Path, proof: Proof, workings: Workings) -> dict[str, Any]:
    """Float32 x, y, z [mm on the board] and time [s], thinned; and how far that may be off."""
    trajectory = workings.trajectory
    points = trajectory.point_mm + np.array(proof.setup.zero_on_board_mm)
    at_s = np.append(trajectory.move_start_s, float(trajectory.node_s[-1]))
    kept, off_mm = thinned(points, MOST_POINTS)
    out = np.column_stack([points[kept], at_s[kept]]).astype("<f4")
    (folder / "path.f32").write_bytes(out.tobytes())
    return {"points": len(kept), "of": len(points), "off_mm": off_mm}


def thinned(points: FloatArray, most: int) -> tuple[NDArray[np.int64], float]:
    """Which points of a path to keep, and how far what is left out lies from the lines drawn.

    Parameters
    ----------
    points : (n, 3)
    most : how many may be kept, four or more.

    Notes
    -----
    The path is cut into pieces of as many points each. Of each its two ends are kept and the point
    farthest from the line between them, so that no corner that stands out is lost.
    """
    many = len(points)
    if many <= most:
        return np.arange(many), 0.0
    piece = -(-2 * many // (most - 2))
    first = np.arange(0, many - 1, piece)
    last = np.minimum(first + piece, many - 1)
    owner = np.minimum(np.arange(many) // piece, len(first) - 1)
    off = _from_line(points, points[first][owner], points[last][owner])
    order = np.lexsort((off, owner))
    farthest = order[np.searchsorted(owner[order], np.arange(len(first)), side="right") - 1]
    kept = np.unique(np.concatenate([first, farthest, [many - 1]]))
    leg = np.maximum(np.searchsorted(kept, np.arange(many), side="right") - 1, 0)
    leg = np.minimum(leg, len(kept) - 2)
    left = _from_line(points, points[kept[leg]], points[kept[leg + 1]])
    return kept, float(left.max())


def _from_line(points: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    along = b - a
    long2 = np.maximum((along**2).sum(axis=1), 1e-12)
    share = np.clip(((points - a) * along).sum(axis=1) / long2, 0.0, 1.0)
    return np.asarray(np.linalg.norm(points - a - share[:, None] * along, axis=1))


def _series(proof: Proof) -> dict[str, Any]:
    limits = {margin.name: margin.limit for margin in proof.verdict.margins}
    columns = []
    for name, words, unit in _SERIES:
        factor = 100.0 if unit == "%" else 1.0
        limit: float | list[float | None] | None
        if name == "chip_mm":  # of the cutter that is in the spindle
            limit = [_rounded(one) for one in chip_limits(proof)[0].tolist()]
        else:
            limit = 0.0 if unit == "%" else limits.get(_LIMITED_BY[name])
        value = [_rounded(factor * one) for one in getattr(proof.series, name).tolist()]
        columns.append({"name": name, "words": words, "unit": unit, "limit": limit, "value": value})
    return {"time_s": [round(at, 3) for at in proof.series.time_s.tolist()], "columns": columns}


def _rounded(value: float) -> float | None:
    return float(f"{value:.4g}") if np.isfinite(value) else None


def _write_moments(folder: Path, proof: Proof, workings: Workings) -> None:
    """What the pointer is on, and when each line of the program begins to move."""
    groups = proof.groups
    assert groups is not None
    at = groups.column[:, [cutting.TIME, cutting.X, cutting.Y, cutting.Z]].astype(np.float64)
    moments = np.column_stack([at[:, 0], groups.line, at[:, 1:]])
    np.save(folder / "moments.npy", moments, allow_pickle=False)
    starts = np.full(proof.verdict.totals.lines + 1, np.nan)
    line, first = np.unique(workings.line, return_index=True)
    there = (line >= 1) & (line < len(starts))
    starts[line[there]] = workings.trajectory.move_start_s[first[there]]
    np.save(folder / "lines.npy", starts, allow_pickle=False)


def _write_json(path: Path, value: dict[str, Any]) -> None:
    path.write_text(json.dumps(value, allow_nan=False), encoding="utf-8")

"""The board as it will be cut, seen from above its front edge: parallel lines stay parallel."""

from dataclasses import dataclass
from math import cos, radians, sin
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kerfwright.prove import Proof
from kerfwright.report import paper
from kerfwright.report.figures import amount, clean
from kerfwright.stock.by_block import worst_by_block

FloatArray = NDArray[np.float64]

#: The board is turned about its upright, then looked down upon.
TURNED, DOWN = radians(24.0), radians(42.0)
WIDE_PX = paper.WIDTH_PX - 160
MOST_CELLS = 1_000_000  #: of the map that is looked at
MOST_TALL_PX = 900
_LIGHT = np.array([-0.55, 0.35, 0.76])  #: from the left, from behind
_AMBIENT = 0.45
#: How light upright faces are, and how much more those that face the light.
_WALL, _WALL_TURNED = 0.60, 0.12
_OVER_CELLS = 9
_FINER = 2  #: pixels are averages of so many squared
_EDGE_PX = 1.5  #: less height than this in one step backwards is a slope, more a wall


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wood:
    """Heights of the whole board on one grid, as cut. NaN: nothing is left."""

    height_mm: FloatArray
    cell_mm: float
    thickness_mm: float


def draw_solid(proof: Proof, *paths: Path) -> None:
    """Draw the board as cut and write it at each path: ``.png`` 1200 pixels wide, or ``.svg``."""
    picture = look_at(proof)
    rows, columns = picture.shape[:2]
    with paper.on_paper():
        figure = paper.sheet(rows + 150.0)
        paper.title(figure, 40.0, 24.0, "The board as it will be cut", paper.WIDTH_PX - 80.0)
        left = 0.5 * (paper.WIDTH_PX - columns)
        axes = paper.axes_px(figure, left, 84.0, columns, rows)
        axes.imshow(picture, interpolation="nearest", aspect="auto")
        axes.set_axis_off()
        board = proof.setup.board
        words = (
            f"{clean(board.wood.name)}, {amount(board.length_mm, 'mm')} by"
            f" {amount(board.width_mm, 'mm')} by {amount(board.thickness_mm, 'mm')}; seen from"
            " above its front edge, cutter marks, give and play included"
        )
        for number, line in enumerate(paper.wrapped(words, WIDE_PX, 9.5)):
            paper.write_px(figure, 40.0, rows + 100.0 + number * paper.line_px(9.5), line, size=9.5)
        for path in paths:
            paper.save(figure, path)


def look_at(proof: Proof) -> NDArray[np.uint8]:
    """The picture itself, (rows, columns, 4), with nothing where there is no board.

    Seen along parallel lines: what stands at a depth v behind the front and at a height z is drawn
    v sin(DOWN) + z cos(DOWN) up. A pixel shows the first wood, from the front, that reaches up to
    it: on its top, or on the wall below it.
    """
    wood = _turned(_whole_board(proof))
    cell = wood.cell_mm
    scale = min(WIDE_PX / (wood.height_mm.shape[1] * cell), MOST_TALL_PX / _tall_mm(wood))
    scale *= _FINER
    columns = _FINER * (int(wood.height_mm.shape[1] * cell * scale) // _FINER)
    rows = _FINER * (int(_tall_mm(wood) * scale) // _FINER + 1)
    at = np.minimum(
        (np.arange(columns) / scale / cell).astype(np.int64), wood.height_mm.shape[1] - 1
    )
    behind = (np.arange(len(wood.height_mm)) + 0.5) * cell * sin(DOWN) * scale
    lift, slope = cos(DOWN) * scale, max(_EDGE_PX, cell * sin(DOWN) * scale + 0.5)
    # By columns of cells, each as one row in memory.
    height, light, wall_light, dark = (
        np.ascontiguousarray(part.T) for part in (wood.height_mm, *_light(wood), _darkness(wood))
    )
    tone, deep_tone = (_tone(code) for code in (paper.WOOD, paper.WOOD_GRAIN))
    out = np.zeros((len(height), rows // _FINER, 4), np.float32)
    up = np.arange(rows) + 0.5
    tops = behind + (height + wood.thickness_mm) * lift
    reach = np.maximum.accumulate(np.where(np.isnan(tops), -np.inf, tops), axis=1)
    for cells in np.unique(at).tolist():
        first = np.searchsorted(reach[cells], up)
        seen = first < len(behind)
        first = np.minimum(first, len(behind) - 1)
        top = tops[cells][first]
        shown = seen & (up >= np.where(np.isnan(top), np.nan, behind[first]))
        bright = np.where(top - up > slope, wall_light[cells][first], light[cells][first]) * shown
        colour = tone + (deep_tone - tone) * dark[cells][first][:, None]
        picture = np.column_stack([colour * bright[:, None], shown])
        out[cells] = sum(picture[part::_FINER] for part in range(_FINER)) / _FINER
    return _pixels(out[:, ::-1], at)


def _pixels(strips: NDArray[np.float32], at: NDArray[np.int64]) -> NDArray[np.uint8]:
    """The picture, where there is board by how much of it there is.

    ``strips`` (columns of cells, rows, 4): colour times how much board there is, and that; ``at``:
    which of them is seen in each column of pixels, of which ``_FINER`` are averaged.
    """
    parts = (strips[at[part::_FINER]] for part in range(_FINER))
    mean = np.asarray(sum(parts) / np.float32(_FINER))
    mean[..., :3] /= np.maximum(mean[..., 3:], 1e-6)
    mean[..., 3] *= 255.0
    return np.ascontiguousarray(mean.clip(0.0, 255.0).round().astype(np.uint8).swapaxes(0, 1))


def _whole_board(proof: Proof) -> _Wood:
    """The maps laid into the board, as cut."""
    board, cell = proof.setup.board, proof.cell_mm
    cut = proof.height_mm + np.nan_to_num(proof.error_mm)
    block = max(1, int(np.ceil(np.sqrt(board.length_mm * board.width_mm / MOST_CELLS) / cell)))
    if block > 1:
        cut = worst_by_block(cut, block)
    cell *= block
    rows = int(np.ceil(board.width_mm / cell - 1e-9))
    columns = int(np.ceil(board.length_mm / cell - 1e-9))
    height = np.zeros((rows, columns))
    row, column = round(proof.corner_mm[1] / cell), round(proof.corner_mm[0] / cell)
    part = height[row : row + len(cut), column : column + cut.shape[1]]
    part[:] = cut[: part.shape[0], : part.shape[1]]
    height[height <= -board.thickness_mm + 1e-3] = np.nan
    return _Wood(height_mm=height, cell_mm=cell, thickness_mm=board.thickness_mm)


def _turned(wood: _Wood) -> _Wood:
    """The same, turned about its upright; NaN around it."""
    rows, columns = wood.height_mm.shape
    c, s = cos(TURNED), sin(TURNED)
    wide, deep = int(columns * c + rows * s) + 1, int(columns * s + rows * c) + 1
    x, y = np.meshgrid(np.arange(wide) + 0.5 - wide / 2, np.arange(deep) + 0.5 - deep / 2)
    column = np.floor(x * c + y * s + columns / 2).astype(np.int64)
    row = np.floor(y * c - x * s + rows / 2).astype(np.int64)
    inside = (row >= 0) & (row < rows) & (column >= 0) & (column < columns)
    height = np.full((deep, wide), np.nan)
    height[inside] = wood.height_mm[row[inside], column[inside]]
    return _Wood(height_mm=height, cell_mm=wood.cell_mm, thickness_mm=wood.thickness_mm)


def _tall_mm(wood: _Wood) -> float:
    return len(wood.height_mm) * wood.cell_mm * sin(DOWN) + wood.thickness_mm * cos(DOWN)


def _light(wood: _Wood) -> tuple[FloatArray, FloatArray]:
    """How light each top is by which way it faces, and each wall that ends there."""
    filled = np.nan_to_num(wood.height_mm, nan=-wood.thickness_mm)
    across, along = np.gradient(filled, wood.cell_mm)
    flat = np.hypot(along, across)
    facing = (-along * _LIGHT[0] - across * _LIGHT[1] + _LIGHT[2]) / np.hypot(flat, 1.0)
    top = _AMBIENT + (1.0 - _AMBIENT) * np.clip(facing / _LIGHT[2], 0.0, 1.25)
    # Which way a wall runs is seen over some cells: its own edge goes in steps.
    across, along = np.gradient(_mean_over(filled, _OVER_CELLS), wood.cell_mm)
    return top, _WALL + _WALL_TURNED * along / np.maximum(np.hypot(along, across), 1e-9)


def _mean_over(values: FloatArray, many: int) -> FloatArray:
    """Of each cell the mean of ``many`` by ``many`` around it; mirrored beyond the edges."""
    half = many // 2
    out = np.pad(values, half, mode="symmetric")
    for _ in range(2):  # down the columns, then along the rows
        whole = np.concatenate([np.zeros((1, out.shape[1])), out.cumsum(axis=0)])
        out = ((whole[many:] - whole[:-many]) / many).T
    return out


def _darkness(wood: _Wood) -> FloatArray:
    """How far from the tone of the wood to that of its grain: darker where it is cut deeper."""
    return np.sqrt(np.clip(-np.nan_to_num(wood.height_mm) / max(wood.thickness_mm, 1e-9), 0.0, 1.0))


def _tone(code: str) -> FloatArray:
    """A colour's red, green and blue, 0 to 255."""
    return np.array([int(code[k : k + 2], 16) for k in (1, 3, 5)], np.float64)

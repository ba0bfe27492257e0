"""Where a mesh is not closed, and whether one sees into it from above."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.mesh import highest

FloatArray = NDArray[np.float64]

_SAME = 2.0**-20  #: corners are one that lie closer than this share of the mesh's size
_ACROSS = 2000  #: cells along the longer side of the map on which a hole is looked for
_BEYOND = 1.5  #: cells from an open edge, where it is looked
_WIDER = 3.0  #: cells that a hole must be wide to be seen for certain
_LONG = 20.0  #: cells: it is looked beside the middle of an open edge, beside the ends of long ones
_STEEP = 0.2  #: a triangle is a wall whose normal goes up by no more of its length
#: Of the mesh's height: a drop of less is no hole, and a rim that close to the lowest place is open
#: below, not above.
_DEEP = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Gaps:
    """What is open of a mesh."""

    edges: int  #: of triangles that no other one shares
    seen_mm: tuple[FloatArray, FloatArray] | None  #: corners of a box round holes, from above
    least_mm: float  #: narrower ones may have been overlooked


def gaps_of(corners_mm: FloatArray) -> Gaps:
    """Look for open edges of a mesh, and from above for holes beside them.

    A million triangles took 1.5 s and 250 MB, 8 s and 700 MB where none of them shared an edge.
    """
    ends, third = _open_edges(corners_mm)
    low, high = corners_mm.min(axis=(0, 1)), corners_mm.max(axis=(0, 1))
    cell = float((high - low)[:2].max()) / _ACROSS
    seen = _seen(corners_mm, ends, third, cell) if len(ends) else None
    return Gaps(edges=len(ends), seen_mm=seen, least_mm=_WIDER * cell)


def _open_edges(corners_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both ends of each edge that belongs to one triangle alone, and that one's third corner."""
    low = corners_mm.min(axis=(0, 1))
    step = float((corners_mm.max(axis=(0, 1)) - low).max()) * _SAME
    x, y, z = np.rint((corners_mm - low) / step).astype(np.int64).reshape(-1, 3).T
    _, number = np.unique((x << 42) | (y << 21) | z, return_inverse=True)
    number = number.reshape(-1, 3)
    whole = (number != np.roll(number, 1, axis=1)).all(axis=1)
    number, corners_mm = number[whole], corners_mm[whole]
    begin, end = number, np.roll(number, -1, axis=1)
    edge = np.minimum(begin, end) * np.int64(3 * len(whole)) + np.maximum(begin, end)
    _, first, many = np.unique(edge, return_index=True, return_counts=True)
    triangle, side = np.divmod(np.sort(first[many == 1]), 3)
    ends = np.stack([corners_mm[triangle, (side + i) % 3] for i in range(2)], axis=1)
    return ends, corners_mm[triangle, (side + 2) % 3]


def _seen(
    corners_mm: FloatArray, ends: FloatArray, third: FloatArray, cell: float
) -> tuple[FloatArray, FloatArray] | None:
    """A box round the open edges beside which one looks into the mesh from above."""
    from scipy import ndimage  # large, and asked for where a mesh is open

    low, high = corners_mm.min(axis=(0, 1)), corners_mm.max(axis=(0, 1))
    columns, rows = (max(1, int(np.ceil(side / cell))) for side in (high - low)[:2])
    top = np.full((rows, columns), -np.inf)
    highest(corners_mm, low[0] + 0.5 * cell, low[1] + 0.5 * cell, cell, top)
    within = ndimage.binary_fill_holes(np.isfinite(top))
    deep = _DEEP * (high[2] - low[2])
    across, steep, long = _beside(ends, third, _LONG * cell)
    # On the other side of a wall's upper rim one looks as far as the wall itself falls by so much.
    behind = -_BEYOND * cell - _STEEP * deep
    shows = np.zeros(len(ends), np.bool_)
    for share, such in ((0.5, True), (0.1, long), (0.9, long)):
        at = ends[:, 0] + share * (ends[:, 1] - ends[:, 0])
        for beyond, asked in ((_BEYOND * cell, such), (behind, such & steep)):
            x, y = ((at[:, :2] - low[:2] + beyond * across) / cell).T
            column, row = np.floor(x).astype(np.int64), np.floor(y).astype(np.int64)
            here = asked & (x >= 0.0) & (column < columns) & (y >= 0.0) & (row < rows)
            column, row, z = column[here], row[here], at[here, 2]
            nothing = within[row, column] & (top[row, column] == -np.inf) & (z > low[2] + deep)
            lower = (top[row, column] < z - deep) & (top[row, column] > -np.inf)
            shows[np.flatnonzero(here)[nothing | lower]] = True
    if not shows.any():
        return None
    return ends[shows].min(axis=(0, 1)), ends[shows].max(axis=(0, 1))


def _beside(
    ends: FloatArray, third: FloatArray, long_mm: float
) -> tuple[FloatArray, NDArray[np.bool_], NDArray[np.bool_]]:
    """The way across each edge in plan, away from its triangle; whether that is a wall; if long.

    An edge that stands upright has no way across.
    """
    way = ends[:, 1] - ends[:, 0]
    normal = np.cross(way, third - ends[:, 0])
    steep = np.abs(normal[:, 2]) <= _STEEP * np.linalg.norm(normal, axis=1)
    across = np.stack([way[:, 1], -way[:, 0]], axis=1)
    across[(across * (third - ends[:, 0])[:, :2]).sum(axis=1) > 0.0] *= -1.0
    length = np.linalg.norm(across, axis=1, keepdims=True)
    across = np.divide(across, length, out=np.zeros_like(across), where=length > 0.0)
    return across, steep, length[:, 0] > long_mm

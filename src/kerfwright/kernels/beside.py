"""The nearest pass on either side of places on a path."""

from math import floor, hypot, sqrt
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Floats = NDArray[np.floating[Any]]

MOST_SQUARES = 1000  #: along either side of the grid in which neighbours are looked for
LEFT, RIGHT = 0, 1
_AT_ONCE = 32_768  #: places put into squares in one go


def nearest_beside(
    at_mm: Floats,
    way: Floats,
    those: IntArray,
    asked: IntArray,
    within_mm: float,
    limits: FloatArray,
) -> tuple[IntArray, FloatArray, FloatArray]:
    """For some places the nearest neighbour whose way runs beside theirs, on the left and right.

    Parameters
    ----------
    at_mm, way : (n, 3) places, and the travel there, of any length but 0.
    those : (m,) numbers of the places that may be neighbours, rising; asked : (k,) of those that
        are asked for, each one of them.
    within_mm : nearer than this a place is a neighbour at all.
    limits : (4,) how far along the travel a neighbour may stand [mm], how near the ways may come
        [mm], the least share of the distance between them that lies in plan [-], the least cosine
        between them, to or fro [-].

    Returns
    -------
    near : (k, 2) number of the neighbour on the left and on the right, -1 for none; of those as
        near as any the one nearest along the travel too, then the first.
    apart_mm : (k, 2) between the two ways, square to the travel.
    slope : (k, 2) rise of that for each mm in plan.
    """
    # Column by column: along the rows of three numbers it takes many times as long.
    x, y = (at_mm[those, axis] for axis in range(2))
    low, high = np.array([(one.min(), one.max()) for one in (x, y)], np.float64).T
    side_mm = max(within_mm, float((high - low).max()) / MOST_SQUARES)
    across, up = (np.floor((high - low) / side_mm).astype(np.int64) + 1).tolist()
    number = np.empty(len(those), np.int32)
    for begin in range(0, len(those), _AT_ONCE):
        some = slice(begin, begin + _AT_ONCE)
        squares = np.floor((np.stack([x[some], y[some]], axis=1) - low) / side_mm)
        number[some] = squares[:, 1] * across + squares[:, 0]
    order = np.argsort(number, kind="stable")
    first = np.searchsorted(number[order], np.arange(across * up + 1))
    order = those[order]
    near, apart = np.full((len(asked), 2), -1), np.full((len(asked), 2), np.inf)
    slope = np.zeros((len(asked), 2))
    _look_beside(
        at_mm, way, asked, within_mm, limits, low, side_mm, across, up, order, first, near, apart,
        slope,
    )  # fmt: skip
    return near, apart, slope


@inner_kernel(**NUMPY)
def _unit(way, k):  # type: ignore[no-untyped-def]
    x, y, z = float(way[k, 0]), float(way[k, 1]), float(way[k, 2])
    per = 1.0 / sqrt(x * x + y * y + z * z)
    return per * x, per * y, per * z


@kernel(**NUMPY)
def _look_beside(  # type: ignore[no-untyped-def]
    at, way, asked, within, limits, low, side_mm, across, up, order, first, near, apart, slope
):
    """``nearest_beside``, by squares of a grid: places of square s are order[first[s]] and on."""
    for row in range(asked.shape[0]):
        a = asked[row]
        u, v, w = _unit(way, a)
        ax, ay, az = float(at[a, 0]), float(at[a, 1]), float(at[a, 2])
        here_x = floor((ax - low[0]) / side_mm)
        here_y = floor((ay - low[1]) / side_mm)
        nearest = np.full(2, np.inf)
        for y in range(max(here_y - 1, 0), min(here_y + 2, up)):
            for x in range(max(here_x - 1, 0), min(here_x + 2, across)):
                square = y * across + x
                for place in range(first[square], first[square + 1]):
                    b = order[place]
                    dx, dy, dz = float(at[b, 0]) - ax, float(at[b, 1]) - ay, float(at[b, 2]) - az
                    far = dx * dx + dy * dy + dz * dz
                    if far >= within * within:
                        continue
                    along = dx * u + dy * v + dz * w
                    if abs(along) > limits[0]:
                        continue
                    bx, by, bz = dx - along * u, dy - along * v, dz - along * w
                    between, level = sqrt(bx * bx + by * by + bz * bz), hypot(bx, by)
                    if between < limits[1] or level < limits[2] * between:
                        continue
                    p, q, r = _unit(way, b)
                    if abs(p * u + q * v + r * w) < limits[3]:
                        continue
                    side = LEFT if u * by - v * bx > 0.0 else RIGHT
                    best = apart[row, side]
                    as_near = between == best and (
                        far < nearest[side] or (far == nearest[side] and b < near[row, side])
                    )
                    if between < best or as_near:
                        near[row, side], apart[row, side], nearest[side] = b, between, far
                        slope[row, side] = bz / max(level, 1e-9)


def nearest_beside_reference(
    at_mm: FloatArray, way: FloatArray, asked: IntArray, within_mm: float, limits: FloatArray
) -> tuple[IntArray, FloatArray, FloatArray]:
    """Each with each, all of which may be neighbours: the definition."""
    way = way / np.linalg.norm(way, axis=1)[:, None]
    between = at_mm[None] - at_mm[asked][:, None]
    mine = way[asked][:, None]
    far2 = (between**2).sum(axis=2)
    along = (between * mine).sum(axis=2)
    beside = between - along[..., None] * mine
    apart, level = np.linalg.norm(beside, axis=2), np.hypot(beside[..., 0], beside[..., 1])
    there = (far2 < within_mm**2) & (np.abs(along) <= limits[0]) & (apart >= limits[1])
    there &= level >= limits[2] * apart
    there &= np.abs((way[None] * mine).sum(axis=2)) >= limits[3]
    left = mine[..., 0] * beside[..., 1] - mine[..., 1] * beside[..., 0] > 0.0
    near = np.full((len(asked), 2), -1)
    told, slope = np.full(near.shape, np.inf), np.zeros(near.shape)
    for side, mask in ((LEFT, left), (RIGHT, ~left)):
        for row, those in enumerate(there & mask):
            found = np.flatnonzero(those)
            if len(found):
                b = found[np.lexsort((found, far2[row, found], apart[row, found]))[0]]
                near[row, side], told[row, side] = b, apart[row, b]
                slope[row, side] = beside[row, b, 2] / max(level[row, b], 1e-9)
    return near, told, slope

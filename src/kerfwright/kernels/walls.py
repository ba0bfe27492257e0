"""Upright walls that run through cells: what a cell keeps beside the height at its centre.

A cutter's wall covers part of a cell: all on one side of a straight line. A cell through which
walls run keeps those lines, each with the height down to which it was cut, as long as they show;
what stands at any height is the square without the parts cut to there, a convex polygon. So
whatever comes later, shallower, deeper, from the same side or another, takes just what was left.

Lengths across a cell are in cells, from its centre; heights in mm. Derived here;
tests/kernels/test_walls.py holds it against dense sampling.
"""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.engagement import rim_share

MOST_CUTS = 6
#: Places in the record of a cell: highest wood, share of the cell in which it stands, mean height,
#: how many cuts; then for each cut, the deepest first, the line's normal in x and y, its distance,
#: and the floor.
TOP, SHARE, MEAN, COUNT, CUTS = range(5)
WIDTH = 4
RECORD = CUTS + WIDTH * MOST_CUTS
#: Polygons are worked out in two rows of x and two of y, so long.
MOST_CORNERS = 4 + MOST_CUTS + 2
_SAME = np.float32(1e-4)  #: of a cell: lines that lie no further apart are one
_CORNER = np.float32(0.7072)  #: from the centre of a cell to its corner
_AREA = 1e-7  #: of a cell: less is no wood


@inner_kernel(**BORROWING)
def _clip(x, y, n, nx, ny, off, to_x, to_y):  # type: ignore[no-untyped-def]
    """The part of a polygon beyond a line. Returns how many corners it has."""
    m = 0
    before = nx * x[n - 1] + ny * y[n - 1] - off
    for i in range(n):
        here = nx * x[i] + ny * y[i] - off
        if (here > 0.0) != (before > 0.0):
            k = i - 1 if i > 0 else n - 1
            t = before / (before - here)
            to_x[m] = x[k] + t * (x[i] - x[k])
            to_y[m] = y[k] + t * (y[i] - y[k])
            m += 1
        if here > 0.0:
            to_x[m], to_y[m] = x[i], y[i]
            m += 1
        before = here
    return m


@inner_kernel(**BORROWING)
def _area(x, y, n):  # type: ignore[no-untyped-def]
    twice = 0.0
    for i in range(1, n - 1):
        twice += (x[i] - x[0]) * (y[i + 1] - y[0]) - (x[i + 1] - x[0]) * (y[i] - y[0])
    return 0.5 * twice


@inner_kernel(**BORROWING)
def settle(record, polygons):  # type: ignore[no-untyped-def]
    """Drop the cuts of a cell that no longer show. Returns the mean height of what stands. [mm]"""
    count, kept = int(record[COUNT]), 0
    top = float(record[TOP])
    mean, area, below = top, 1.0, 0.0
    polygons[0, 0], polygons[1, 0] = -0.5, -0.5
    polygons[0, 1], polygons[1, 1] = 0.5, -0.5
    polygons[0, 2], polygons[1, 2] = 0.5, 0.5
    polygons[0, 3], polygons[1, 3] = -0.5, 0.5
    n, side = 4, 0
    for i in range(count):
        at = CUTS + WIDTH * i
        floor = float(record[at + 3])
        if floor >= top:
            break
        m = _clip(
            polygons[side], polygons[side + 1], n, float(record[at]), float(record[at + 1]),
            float(record[at + 2]), polygons[2 - side], polygons[3 - side],
        )  # fmt: skip
        left = _area(polygons[2 - side], polygons[3 - side], m)
        if left >= area - _AREA:
            continue
        if left < _AREA:
            top = floor
            break
        mean = floor if kept == 0 else mean + area * (floor - below)
        to = CUTS + WIDTH * kept
        if to < at:
            for k in range(WIDTH):
                record[to + k] = record[at + k]
        kept += 1
        n, side, area, below = m, 2 - side, left, floor
    record[COUNT], record[TOP], record[SHARE] = kept, top, area if kept > 0 else 1.0
    return mean + area * (top - below) if kept > 0 else top


@inner_kernel(**BORROWING)
def cover(record, nx, ny, off, floor, polygons):  # type: ignore[no-untyped-def]
    """Cut a cell down to ``floor`` on the near side of a line. Returns its mean height. [mm]"""
    count = int(record[COUNT])
    at = count  # where the new cut goes
    alone = True  # whether it leaves nothing of the others to be seen
    for i in range(count):
        k = CUTS + WIDTH * i
        x, y = nx - record[k], ny - record[k + 1]
        # Within the cell the two lines lie no further apart than this, besides their distance.
        apart = _CORNER * np.sqrt(x * x + y * y)
        if record[k + 3] <= floor and record[k + 2] >= off + apart - _SAME:
            return float(record[MEAN])
        alone = alone and floor <= record[k + 3] and off >= record[k + 2] + apart
        if record[k + 3] > floor and at == count:
            at = i
    if alone:
        share = rim_share(off, nx, ny, np.float32(1.0))
        record[CUTS], record[CUTS + 1], record[CUTS + 2] = nx, ny, off
        record[CUTS + 3], record[COUNT] = floor, np.float32(1.0)
        record[SHARE] = np.float32(1.0) - share
        return record[TOP] - share * (record[TOP] - floor)
    if count == MOST_CUTS:
        at = _make_room(record, floor, at)
        count -= 1
    for k in range(CUTS + WIDTH * count - 1, CUTS + WIDTH * at - 1, -1):
        record[k + WIDTH] = record[k]
    k = CUTS + WIDTH * at
    record[k], record[k + 1], record[k + 2], record[k + 3] = nx, ny, off, floor
    record[COUNT] = count + 1
    return settle(record, polygons)


@inner_kernel(**BORROWING)
def _make_room(record, floor, at):  # type: ignore[no-untyped-def]
    """Forget the cut nearest below another; the wood of that thin layer is taken to be gone.

    Returns where the new cut goes now.
    """
    drop, thinnest = 0, 1e30
    for i in range(MOST_CUTS):
        here = float(record[CUTS + WIDTH * i + 3])
        above = (
            float(record[TOP]) if i == MOST_CUTS - 1 else float(record[CUTS + WIDTH * (i + 1) + 3])
        )
        if i == at - 1:
            above = float(floor)
        if above - here < thinnest:
            drop, thinnest = i, above - here
    for k in range(CUTS + WIDTH * drop, CUTS + WIDTH * (MOST_CUTS - 1)):
        record[k] = record[k + WIDTH]
    return at - 1 if drop < at else at


def mean_reference(record: NDArray[np.float32], samples: int = 200) -> float:
    """Mean height of what stands in a cell, by many places in it: the definition. [mm]"""
    y, x = (np.mgrid[0:samples, 0:samples] + 0.5) / samples - 0.5
    height = np.full(x.shape, float(record[TOP]))
    for nx, ny, off, floor in record[CUTS:].reshape(-1, WIDTH)[: int(record[COUNT])].tolist():
        height = np.where(nx * x + ny * y <= off, np.minimum(height, floor), height)
    return float(height.mean())

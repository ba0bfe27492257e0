"""Where about the cutter a step's wood was taken: volume and heights in bins of angle.

Cells are too coarse to be binned one by one: at the side of a slot one cell spans 20 degrees. So
the wood of a step is gathered in lanes along its travel, about a cell wide, and a lane is shared
out between the bins by the cutter's outline: see ``spreading``.
"""

from math import pi

import numpy as np

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel

BINS = 24  #: of the angle about the axis, 15 degrees each, from -pi
#: Rows of an engagement by bins: volume taken by the edge, lowest and highest place on the edge
#: that took it, volume taken by the disc at the cutter's end. One by lanes, of one step, has the
#: first three: depths taken, lowest and highest wood above the path at the wood's own place.
VOLUME, LOWEST, HIGHEST, FLOOR = 0, 1, 2, 3
ROWS = 4
LANE_ROWS = 3
MOST_LANES = 64
LANE_PAD = 2  #: places before the first lane and behind the last, for wood at the rim

#: By how much of its way a cutter goes up where it is lifted rather than moved along: the wood of
#: one that undercuts is then put in bins.
STEEP_UP = 0.5

#: Angle of a bin [rad]; then sine and cosine of its edges, of half a turn of them.
BIN_RAD = 2.0 * pi / BINS
EDGES = BINS // 2 + 2
_TURN = np.arange(EDGES) * BIN_RAD
COS_EDGES, SIN_EDGES = np.cos(_TURN), np.sin(_TURN)
FAR = float(np.float32(1e30))  #: height of no wood at all
_FAR = np.float32(FAR)


def lanes_for(radius_mm: float, cell_mm: float) -> int:
    """How many lanes, evenly over the cutter's width: none narrower than a cell."""
    return min(MOST_LANES, max(1, int(2.0 * radius_mm / cell_mm + 1e-6)))


def row_length(lanes: int) -> int:
    """Length of the rows of an engagement of one step, by lanes or by bins."""
    return max(lanes + 2 * LANE_PAD, BINS + 1)


@inner_kernel(inline="always", **BORROWING)
def rim_share(inside, nx, ny, cell):  # type: ignore[no-untyped-def]
    """Share of a square cell on the near side of a straight line.

    ``inside``: how far the line lies beyond the cell's centre; (nx, ny): its normal; all float32.
    """
    one = np.float32(1.0)
    half = np.float32(0.5)
    nx, ny = abs(nx), abs(ny)
    large = (nx if nx > ny else ny) * cell
    small = (ny if nx > ny else nx) * cell
    at = abs(inside)
    outer, inner = half * (large + small), half * (large - small)
    if at >= outer:
        beyond = np.float32(0.0)
    elif at <= inner:
        beyond = half - at / large
    else:
        beyond = half * (outer - at) * (outer - at) / (large * small)
    return one - beyond if inside > np.float32(0.0) else beyond


@inner_kernel(**BORROWING)
def nothing(engagement):  # type: ignore[no-untyped-def]
    """Set an engagement to one that took nothing."""
    for i in range(engagement.shape[1]):
        engagement[VOLUME, i] = np.float32(0.0)
        engagement[LOWEST, i] = _FAR
        engagement[HIGHEST, i] = -_FAR


@inner_kernel(inline="always", **BORROWING)
def put(out, b, volume, low, high):  # type: ignore[no-untyped-def]
    """Add wood between two places on the edge to a bin."""
    out[VOLUME, b] += volume
    if low < out[LOWEST, b]:
        out[LOWEST, b] = low
    if high > out[HIGHEST, b]:
        out[HIGHEST, b] = high

"""Where wood ends beside the axis before the cutter does.

Cells and lanes smear such an end over two lanes or three. How full they are, against the next one,
tells where it was: they are told as one lane, as wide as they are filled.
"""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.engagement import FAR, HIGHEST, LOWEST, VOLUME
from kerfwright.kernels.profile import RADIUS

NEAR = 1e-4  #: heights that differ by rounding [mm]
#: So far up its wood the outline over a lane's middle may be for the wood to end there: of one
#: lane, or of some told as one, whose lowest wood may stand anywhere in them.
ONE_LANE, SOME_LANES = 0.5, 0.9
_THINS = 0.85  #: of the wood's height a lane further on


@inner_kernel(**BORROWING)
def open_end(first, end, way, lanes, wood, under, form):  # type: ignore[no-untyped-def]
    """How many lanes at an end of a stretch with wood are filled in part, and their whole width.

    Where wood ends beside the axis before the cutter does, cells and lanes smear its end over two
    lanes or three. How full they are, against the next one, tells where it was.

    ``first``: lane at the end; ``end``: first one without wood beyond the other end; ``way``: 1 or
    -1 from here to there; ``under`` (lanes,): lowest place of the outline over each.
    """
    wide = 2.0 * form[RADIUS] / lanes
    beyond = first - way
    if beyond < 0 or beyond >= lanes or way * (end - first) < 4:
        return 0, 0.0
    # The outermost may have no more than a share of cells whose middles lie in the next.
    high = max(float(wood[HIGHEST, first]), float(wood[HIGHEST, first + way]))
    if under[beyond] >= high - NEAR:
        return 0, 0.0  # the cutter's own end at that depth
    third, fourth = first + 2 * way, first + 3 * way
    if wood[HIGHEST, third] - under[third] < _THINS * (wood[HIGHEST, fourth] - under[fourth]):
        return 0, 0.0  # it thins out: a round cutter went beside it before
    full = _filled(fourth, -FAR, wood, under)
    filled = 0.0
    for k in range(3):
        share = _filled(first + k * way, high, wood, under) / full
        if share > 0.98 or not share > 0.0:
            return (k, filled * wide) if k > 0 else (0, 0.0)
        filled += share
    return 3, filled * wide


@inner_kernel(**BORROWING)
def _filled(lane, high, wood, under):  # type: ignore[no-untyped-def]
    """Volume of a lane for each mm of height; ``high``: its top, where it does not tell."""
    lo, hi = float(wood[LOWEST, lane]), float(wood[HIGHEST, lane])
    if lo > hi:
        lo, hi = under[lane], high
    elif under[lane] < lo + ONE_LANE * (hi - lo):
        lo = under[lane]
    return wood[VOLUME, lane] / (hi - lo) if hi > lo else 0.0


def open_lanes(
    order: NDArray[np.int64], wood: NDArray[np.float64], under: NDArray[np.float64], lanes: int
) -> NDArray[np.float64]:
    """How full the lanes at the begin of a stretch are that its end runs through. (0 to 3,)"""
    beyond = order[0] - (1 if len(order) < 2 or order[1] > order[0] else -1)
    if len(order) < 4 or not 0 <= beyond < lanes:
        return np.zeros(0)
    if under[beyond] >= wood[HIGHEST, order[:2]].max() - NEAR:
        return np.zeros(0)
    tall = wood[HIGHEST, order[2:4]] - under[order[2:4]]
    if tall[0] < _THINS * tall[1]:
        return np.zeros(0)
    low, high = wood[LOWEST, order[:4]], wood[HIGHEST, order[:4]]
    low = np.where(under[order[:4]] < low + ONE_LANE * (high - low), under[order[:4]], low)
    filled = wood[VOLUME, order[:4]] / (high - low)
    share = filled[:3] / filled[3]
    return np.asarray(share[: int(np.argmax(np.append(share > 0.98, True)))])

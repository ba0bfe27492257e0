"""Which cuts are soft, and what following their give leaves of them."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.soft import settle
from kerfwright.loads.law import EdgeLaw

FloatArray = NDArray[np.float64]

#: From this product of K_c, depth and give on the width of the cut follows the give. [-]
FOLLOWS_FROM = 0.1
#: A cut with walls this even on both sides is a slot, which stays as wide as it is.
_SLOT_SHARE = 0.8
_LEAST_MM = 1e-3
_FLAT_SHARE = 0.9  #: of the way that lies in plan; steeper is a ramp or a plunge


@dataclass(frozen=True, slots=True, kw_only=True)
class SoftCuts:
    """Groups whose cut follows its give, (n,) each but the compliance."""

    group: NDArray[np.int64]
    side: FloatArray  #: 1: the wall stands left of the travel, -1: right
    heading_rad: FloatArray
    compliance_mm_per_n: FloatArray  #: (n, 3, 3) of the tip


def soft_cuts(
    law: EdgeLaw,
    cutter: Cutter,
    column: FloatArray,
    motion_mm: FloatArray,
    compliance_mm_per_n: FloatArray,
    feed: NDArray[np.bool_],
) -> SoftCuts:
    """Those of some groups in which K_c times depth times give is above ``FOLLOWS_FROM``.

    Parameters
    ----------
    column : (n, COLUMNS), see ``kernels.cutting``. motion_mm : (n, 3).
    compliance_mm_per_n : (n, 3, 3) of the tip.
    feed : (n,) whether it moves at feed.

    Notes
    -----
    Flat cutters along one wall. Slots stay as wide as they are. Balls, Vs, ramps and plunges keep
    their engagement as programmed, and so does the depth of every cut.
    """
    depth, width = column[:, cutting.DEPTH], column[:, cutting.WIDTH]
    left, right = column[:, cutting.LEFT], column[:, cutting.RIGHT]
    flat = np.hypot(motion_mm[:, 0], motion_mm[:, 1])
    one_wall = (np.maximum(left, right) > 0.0) & (
        np.minimum(left, right) <= _SLOT_SHARE * np.maximum(depth, _LEAST_MM)
    )
    free = (width > _LEAST_MM) & (width < cutter.diameter_mm * (1.0 - 1e-6))
    may = feed & one_wall & free & (flat > _FLAT_SHARE * column[:, cutting.WAY])
    may &= cutter.shape == "flat"
    group = np.flatnonzero(may)
    side = np.where(left[group] >= right[group], 1.0, -1.0)
    heading = np.arctan2(motion_mm[group, 1], motion_mm[group, 0])
    out = np.stack([-side * np.sin(heading), side * np.cos(heading)], axis=1)
    c = compliance_mm_per_n[group]
    square = np.einsum("ni,nij,nj->n", out, c[:, :2, :2], out)
    soft = law.chip_n_per_mm2.mean() * depth[group] * square > FOLLOWS_FROM
    return SoftCuts(
        group=group[soft], side=side[soft], heading_rad=heading[soft], compliance_mm_per_n=c[soft]
    )


def follow_give(
    cuts: SoftCuts,
    law: EdgeLaw,
    cutter: Cutter,
    column: FloatArray,
    in_parts: Callable[[int, Callable[[int, int], None]], None],
) -> None:
    """Give these groups the width, forces and power of their cut once it has followed its give.

    ``column`` (groups, COLUMNS) is changed in place; ``in_parts(count, work)`` calls
    ``work(first, end)`` for ranges that make up the count.
    """
    depth = column[cuts.group, cutting.DEPTH].copy()
    feed = column[cuts.group, cutting.FEED_PER_TOOTH].copy()

    def some(first: int, end: int) -> None:
        settle(
            first, end, cuts.group, column, cuts.side, depth, feed, cuts.heading_rad,
            cuts.compliance_mm_per_n, cutter.radius_mm, cutter.flutes, law.chip_n_per_mm2,
            law.edge_n_per_mm, law.shares.normal_chip, law.shares.normal_edge, cutter.runout_mm,
        )  # fmt: skip

    in_parts(len(cuts.group), some)

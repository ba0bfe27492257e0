"""What a proved job asked of each motor, by speed: what the card lays over the motor's curve."""

from typing import Any

import numpy as np

from kerfwright.kernels import cutting
from kerfwright.prove.proof import Proof

#: Enough to see the edge of a cloud of points.
_BINS = 48


def demand(proof: Proof) -> dict[str, Any]:
    """The largest torque asked of one motor at each speed, by axis. [mm/s, N mm]

    Speeds are put into bins of one width up to the fastest; each is told at the speed of the
    stretch of path that asked most. Empty bins are left out.
    """
    groups = proof.groups
    if groups is None or not len(groups.column):
        return {}
    seconds = np.maximum(groups.column[:, cutting.DURATION], 1e-9)
    out: dict[str, Any] = {}
    for index, axis in enumerate("xyz"):
        speed = np.abs(groups.motion_mm[:, index]) / seconds
        torque = np.abs(groups.column[:, cutting.ASKED_X + index])
        moving = speed > 1e-3
        speed, torque = speed[moving], torque[moving]
        if not len(speed):
            continue
        bins = np.minimum((speed / speed.max() * _BINS).astype(np.int64), _BINS - 1)
        order = np.lexsort((torque, bins))
        last = np.append(np.flatnonzero(np.diff(bins[order])), len(order) - 1)
        kept = order[last]
        out[axis] = {
            "speed_mm_per_s": [float(f"{v:.5g}") for v in speed[kept]],
            "torque_nmm": [float(f"{v:.5g}") for v in torque[kept]],
        }
    return out

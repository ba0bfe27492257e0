"""On which side of its play each axis stands."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, kernel


@kernel(**NUMPY)
def play_offsets(force_n, motion_mm, friction_n, play_mm, side, offset_mm):  # type: ignore[no-untyped-def]
    """Offset of the carriage from where its drive stands, group by group.

    A force beyond the guide's friction pushes the carriage to its side of the gap, whatever the
    motion; below that the carriage trails behind the drive.

    Parameters
    ----------
    force_n, motion_mm : (n, 3) of the wood on the cutter; travel in the group.
    friction_n, play_mm : (3,).
    side : (3,) -1, 0 (not known yet) or 1 at the start; left as it is at the end.
    offset_mm : (n, 3) written: half the play to one side or the other, 0 while not known.
    """
    for i in range(force_n.shape[0]):
        for axis in range(3):
            if abs(force_n[i, axis]) > friction_n[axis]:
                side[axis] = 1.0 if force_n[i, axis] > 0.0 else -1.0
            elif motion_mm[i, axis] > 1e-6:
                side[axis] = -1.0
            elif motion_mm[i, axis] < -1e-6:
                side[axis] = 1.0
            offset_mm[i, axis] = 0.5 * side[axis] * play_mm[axis]


def play_offsets_reference(
    force_n: NDArray[np.float64],
    motion_mm: NDArray[np.float64],
    friction_n: float,
    play_mm: float,
) -> NDArray[np.float64]:
    """One axis (n,), side not known at the start: the definition."""
    side = np.where(np.abs(force_n) > friction_n, np.sign(force_n), 0.0)
    trailing = np.where(np.abs(motion_mm) > 1e-6, -np.sign(motion_mm), 0.0)
    side = np.where(side == 0.0, trailing, side)
    told = np.flatnonzero(side)
    last = np.searchsorted(told, np.arange(len(side)), side="right") - 1
    held = np.where(last >= 0, side[told[np.maximum(last, 0)]] if len(told) else 0.0, 0.0)
    return np.asarray(0.5 * play_mm * held)

"""Steps of a path where they are run: beside where they were told, round corners, swinging."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING, INLINED
from kerfwright.kernels.compiling import inner_kernel, kernel

FloatArray = NDArray[np.float64]


@inner_kernel(**INLINED)
def _missed(k, axis, point_mm, length_mm, blend_mm):  # type: ignore[no-untyped-def]
    """How far a rounded corner passes its vertex k, along an axis."""
    if k < 1 or k >= length_mm.shape[0] or blend_mm[k] == 0.0:
        return 0.0
    before = (point_mm[k, axis] - point_mm[k - 1, axis]) / length_mm[k - 1]
    behind = (point_mm[k + 1, axis] - point_mm[k, axis]) / length_mm[k]
    return 0.25 * blend_mm[k] * (behind - before)


@kernel(**BORROWING)
def run_steps(  # type: ignore[no-untyped-def]
    steps, segment_of, follows, group_first, goes_on, group, offset_mm, point_mm, length_mm,
    blend_mm, swing_mm, swings,
):  # fmt: skip
    """Move the steps of a window to where they are run, and tell how their groups swing on average.

    Where two groups meet the tip is half way between their offsets, so the path stays whole.

    Parameters
    ----------
    steps : (w, 6) begin and end of each, moved. segment_of, follows, group_first, goes_on : of the
        window, see ``prove.sweep.Window``.
    group : number of its first group.
    offset_mm : (g, 3) of all groups, of the tip from where it is told.
    point_mm, length_mm, blend_mm : of the whole path, see ``Trajectory``.
    swing_mm : (w, 2, 3), see ``ringing.ring_steps``.
    swings : (g, 3) written for these groups.
    """
    groups, last = group_first.shape[0] - 1, steps.shape[0] - 1
    for own in range(groups):
        a, b, g = group_first[own], group_first[own + 1], group + own
        on = follows[b] if own + 1 < groups else goes_on
        for axis in range(3):
            here = offset_mm[g, axis]
            begin = end = here
            if g > 0 and follows[a]:
                begin = 0.5 * (offset_mm[g - 1, axis] + here)
            if on and g + 1 < offset_mm.shape[0]:
                end = 0.5 * (here + offset_mm[g + 1, axis])
            total = 0.0
            for i in range(a, b):
                s0, s1, k = swing_mm[i, 0, axis], swing_mm[i, 1, axis], segment_of[i]
                total += s0 + s1
                start = (begin if i == a else here) + s0
                stop = (end if i == b - 1 else here) + s1
                if i == 0 or segment_of[i - 1] != k:
                    start += _missed(k, axis, point_mm, length_mm, blend_mm)
                if i == last or segment_of[i + 1] != k:
                    stop += _missed(k + 1, axis, point_mm, length_mm, blend_mm)
                steps[i, axis] += start
                steps[i, 3 + axis] += stop
            swings[g, axis] = total / (2.0 * (b - a))


def run_reference(
    steps: FloatArray,
    segment_of: NDArray[np.int64],
    follows: NDArray[np.bool_],
    group_first: NDArray[np.int64],
    goes_on: bool,
    group: int,
    offset_mm: FloatArray,
    rounded_mm: FloatArray,
    swing_mm: FloatArray,
) -> FloatArray:
    """The steps where they are run, (w, 6), all at once: the definition.

    ``rounded_mm`` (n + 1, 3): how far the path passes each of its vertices.
    """
    moved = steps + swing_mm.reshape(-1, 6)
    many, groups = np.diff(group_first), len(group_first) - 1
    here = offset_mm[group : group + groups]
    moved += np.repeat(np.concatenate([here, here], axis=1), many, axis=0)
    on = np.append(follows[group_first[1:-1]], goes_on)
    for own in range(groups):
        g, a, b = group + own, group_first[own], group_first[own + 1] - 1
        if g > 0 and follows[a]:
            moved[a, :3] -= 0.5 * (offset_mm[g] - offset_mm[g - 1])
        if on[own] and g + 1 < len(offset_mm):
            moved[b, 3:] += 0.5 * (offset_mm[g + 1] - offset_mm[g])
    change = np.flatnonzero(np.diff(segment_of))
    first, last = np.append(0, change + 1), np.append(change, len(steps) - 1)
    moved[first, :3] += rounded_mm[segment_of[first]]
    moved[last, 3:] += rounded_mm[segment_of[last] + 1]
    return np.asarray(moved)

"""Look-ahead over a polyline whose corners are rounded by parabolas, under per-axis limits.

At vertex i the path leaves the incoming line at the distance ``blend_mm[i]`` before it and joins
the outgoing line at the same distance after it. With the unit directions p and q of the two lines,
the path's derivative runs linearly from p to q over the length 2 d, so with x = (ds/dt)² and a
constant path acceleration u each axis acceleration is linear along the piece: holding the limits
at both ends holds them everywhere. The parabola stays d |q - p| / 4 off the corner.

Nodes: 0 is the start, 2 i - 1 and 2 i the begin and end of the blend at vertex i, 2 n - 1 the end.
Every kernel works on a range of segments, so that no call takes long.
Derived here; closed forms and a plain reference hold it in tests/kernels/test_motion.py.
"""

from math import sqrt

import numpy as np
from numba import njit
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_LARGE = 1e30
_NO_TURN = 1e-12


@njit(cache=True, nogil=True, error_model="numpy")
def prepare(point_mm, corner_mm, first, end, unit, length_mm, blend_mm):  # type: ignore[no-untyped-def]
    """Directions, lengths and blend lengths of the segments ``first`` to ``end`` (excluded).

    Parameters
    ----------
    point_mm : (n + 1, 3) vertices; no two neighbours alike.
    corner_mm : (n + 1,) how far the path may leave each vertex; 0 where it must pass through it.
    unit, length_mm, blend_mm : (n, 3), (n,), (n + 1,), written. ``first`` must be 0 or follow an
        earlier call, since the blend at ``first`` looks back.
    """
    segments = length_mm.shape[0]
    for i in range(first, end):
        dx = point_mm[i + 1, 0] - point_mm[i, 0]
        dy = point_mm[i + 1, 1] - point_mm[i, 1]
        dz = point_mm[i + 1, 2] - point_mm[i, 2]
        length = sqrt(dx * dx + dy * dy + dz * dz)
        length_mm[i] = length
        unit[i, 0] = dx / length
        unit[i, 1] = dy / length
        unit[i, 2] = dz / length
        if i == 0:
            blend_mm[0] = 0.0
            continue
        a = unit[i, 0] - unit[i - 1, 0]
        b = unit[i, 1] - unit[i - 1, 1]
        c = unit[i, 2] - unit[i - 1, 2]
        turn = sqrt(a * a + b * b + c * c)
        d = 0.5 * min(length_mm[i - 1], length) if corner_mm[i] > 0.0 else 0.0
        if turn > _NO_TURN:
            d = min(d, 4.0 * corner_mm[i] / turn)
        blend_mm[i] = d
    if end == segments:
        blend_mm[segments] = 0.0


@njit(inline="always", error_model="numpy")
def _cap(unit, i, top, feed):  # type: ignore[no-untyped-def]
    """Largest speed² on segment i under the feed and the top speed of each axis."""
    speed = feed
    for axis in range(3):
        share = abs(unit[i, axis])
        if share * speed > top[axis]:
            speed = top[axis] / share
    return speed * speed


@njit(inline="always", error_model="numpy")
def _along(unit, i, limit):  # type: ignore[no-untyped-def]
    """Largest acceleration along segment i under the limit of each axis."""
    most = _LARGE
    for axis in range(3):
        share = abs(unit[i, axis])
        if share * most > limit[axis]:
            most = limit[axis] / share
    return most


@njit(inline="always", error_model="numpy")
def _bounds(x, unit, i, length, limit):  # type: ignore[no-untyped-def]
    """Least and greatest u over the blend between segments i - 1 and i, with slopes in x.

    The acceleration of an axis is p u + c x at the begin and (p + 3 l c) u + c x at the end, the
    speed² there being x + 2 l u.
    """
    low, low_slope, high, high_slope = -_LARGE, 0.0, _LARGE, 0.0
    for axis in range(3):
        p = unit[i - 1, axis]
        bend = (unit[i, axis] - p) / length
        for at_end in range(2):
            a = p + 3.0 * length * bend if at_end else p
            b = bend
            if a < 0.0:
                a, b = -a, -b
            if a < 1e-9:
                continue
            above = (limit[axis] - b * x) / a
            below = (-limit[axis] - b * x) / a
            if above < high:
                high, high_slope = above, -b / a
            if below > low:
                low, low_slope = below, -b / a
    return low, low_slope, high, high_slope


@njit(inline="always", error_model="numpy")
def _blend_back(cap, after, unit, i, length, limit):  # type: ignore[no-untyped-def]
    """Greatest speed² at the begin of a blend from which ``after`` can be kept at its end.

    The room between the bounds on u shrinks as x grows and is concave, so Newton's steps from
    above land on the answer in two or three rounds.
    """
    x = cap
    for axis in range(3):
        p = unit[i - 1, axis]
        bend = (unit[i, axis] - p) / length
        turning = abs(bend) * x > limit[axis]
        if turning and (abs(p) < 1e-9 or abs(p + 3.0 * length * bend) < 1e-9):
            x = limit[axis] / abs(bend)
    per_length = 1.0 / (2.0 * length)
    for _ in range(12):
        low, low_slope, high, high_slope = _bounds(x, unit, i, length, limit)
        u = (after - x) * per_length
        if u < high:
            high, high_slope = u, -per_length
        u = -x * per_length
        if u > low:
            low, low_slope = u, -per_length
        room = high - low
        slope = high_slope - low_slope
        if room >= -1e-9 * (abs(high) + abs(low)) or slope >= 0.0:
            break
        x -= room / slope
        if x < 0.0:
            return 0.0
    return x


@njit(cache=True, nogil=True, error_model="numpy")
def look_back(  # type: ignore[no-untyped-def]
    first, end, feed, top, limit, jump, stop, unit, length_mm, blend_mm, most
):
    """Greatest speed² allowed at every node by what comes after it.

    Parameters
    ----------
    first, end : segments from ``end`` - 1 down to ``first``; call from the last range backwards.
    feed : (n,) programmed speed of each segment. [mm/s]
    top, limit : (3,) top speed and acceleration of each axis. [mm/s, mm/s²]
    jump : (3,) how much the speed of each axis may jump at a vertex without blend. [mm/s]
    stop : (n + 1,) true where the path stands still at the vertex.
    most : (2 n,) written: speed² at the nodes. [mm²/s²]
    """
    segments = length_mm.shape[0]
    if end == segments:
        most[2 * segments - 1] = 0.0
    for i in range(end - 1, first - 1, -1):
        cap = _cap(unit, i, top, feed[i])
        straight = length_mm[i] - blend_mm[i] - blend_mm[i + 1]
        at = _along(unit, i, limit)
        x = min(most[2 * i + 1], cap)
        most[2 * i + 1] = x
        if straight > 0.0:
            x = min(cap, x + 2.0 * at * straight)
        if i == 0:
            most[0] = 0.0
            return
        before = min(cap, _cap(unit, i - 1, top, feed[i - 1]))
        x = min(x, before)
        d = blend_mm[i]
        if stop[i]:
            most[2 * i] = 0.0
            most[2 * i - 1] = 0.0
        elif d > 0.0:
            most[2 * i] = x
            turn = 0.0
            for axis in range(3):
                turn += abs(unit[i, axis] - unit[i - 1, axis])
            if turn < _NO_TURN:
                most[2 * i - 1] = min(before, x + 4.0 * at * d)
            else:
                most[2 * i - 1] = _blend_back(before, x, unit, i, 2.0 * d, limit)
        else:
            for axis in range(3):
                turn = abs(unit[i, axis] - unit[i - 1, axis])
                if turn * turn * x > jump[axis] * jump[axis]:
                    x = (jump[axis] / turn) ** 2
            most[2 * i] = x
            most[2 * i - 1] = x


@njit(cache=True, nogil=True, error_model="numpy")
def run_forward(  # type: ignore[no-untyped-def]
    first, end, feed, top, limit, wait_s, unit, length_mm, blend_mm, most, speed2, node_s
):
    """Speeds² and times at the nodes, going as fast as ``most`` and the axes allow.

    Parameters
    ----------
    wait_s : (n + 1,) time stood still at each vertex (dwell, cutter change). [s]
    speed2, node_s : (2 n,) written; call from the first range forwards. A wait at vertex i stands
        between nodes 2 i - 1 and 2 i.
    """
    segments = length_mm.shape[0]
    if first == 0:
        speed2[0] = 0.0
        node_s[0] = wait_s[0]
    x = speed2[2 * first]
    t = node_s[2 * first]
    for i in range(first, end):
        straight = length_mm[i] - blend_mm[i] - blend_mm[i + 1]
        at = _along(unit, i, limit)
        cap = _cap(unit, i, top, feed[i])
        y = most[2 * i + 1]
        if straight > 1e-12:
            y = min(y, x + 2.0 * at * straight)
            peak = 0.5 * (x + y) + at * straight
            if peak <= cap:
                t += (2.0 * sqrt(peak) - sqrt(x) - sqrt(y)) / at
            else:
                v = sqrt(cap)
                ramps = (2.0 * cap - x - y) / (2.0 * at)
                t += (2.0 * v - sqrt(x) - sqrt(y)) / at + (straight - ramps) / v
        else:
            y = min(y, x)
        speed2[2 * i + 1] = y
        node_s[2 * i + 1] = t
        x = y
        if i == segments - 1:
            return
        d = blend_mm[i + 1]
        y = min(x, most[2 * i + 2])
        if d > 0.0 and most[2 * i + 1] > 0.0:
            turn = 0.0
            for axis in range(3):
                turn += abs(unit[i + 1, axis] - unit[i, axis])
            if turn < _NO_TURN:
                y = x + 4.0 * at * d
            else:
                _, _, high, _ = _bounds(x, unit, i + 1, 2.0 * d, limit)
                y = x + 4.0 * d * high
            y = max(0.0, min(y, most[2 * i + 2]))
            both = sqrt(x) + sqrt(y)
            if both > 0.0:
                t += 4.0 * d / both
        t += wait_s[i + 1]
        speed2[2 * i + 2] = y
        node_s[2 * i + 2] = t
        x = y


def plan_reference(
    point_mm: FloatArray,
    corner_mm: FloatArray,
    feed: FloatArray,
    top: FloatArray,
    limit: FloatArray,
) -> float:
    """Time of a path without stops, by bisection instead of Newton's steps: the definition. [s]"""
    step = np.diff(point_mm, axis=0)
    length = np.linalg.norm(step, axis=1)
    unit = step / length[:, None]
    n = len(length)
    d = np.zeros(n + 1)
    for i in range(1, n):
        turn = float(np.linalg.norm(unit[i] - unit[i - 1]))
        d[i] = min(length[i - 1] / 2, length[i] / 2, 4 * corner_mm[i] / max(turn, 1e-300))
    with np.errstate(divide="ignore"):
        cap = np.minimum(feed, (top / np.abs(unit)).min(axis=1)) ** 2
        along = (limit / np.abs(unit)).min(axis=1)

    def range_of_u(x: float, i: int) -> tuple[float, float]:
        low, high = -np.inf, np.inf
        bend = (unit[i] - unit[i - 1]) / (2 * d[i])
        for a in (unit[i - 1], unit[i - 1] + 6 * d[i] * bend):
            for axis in range(3):
                ends = (
                    sorted((sign * limit[axis] - bend[axis] * x) / a[axis] for sign in (-1, 1))
                    if abs(a[axis]) > 1e-9
                    else [-np.inf, np.inf]
                )
                low, high = max(low, ends[0]), min(high, ends[1])
        return low, high

    def room(x: float, i: int, after: float) -> float:
        low, high = range_of_u(x, i)
        return float(min(high, (after - x) / (4 * d[i])) - max(low, -x / (4 * d[i])))

    most = np.zeros(2 * n)
    for i in range(n - 1, 0, -1):
        x = min(most[2 * i + 1], cap[i])
        most[2 * i + 1] = x
        x = min(cap[i], x + 2 * along[i] * (length[i] - d[i] - d[i + 1]), cap[i - 1])
        most[2 * i] = x
        low, high = 0.0, float(min(cap[i], cap[i - 1]))
        if room(high, i, x) < 0:
            for _ in range(200):
                middle = 0.5 * (low + high)
                low, high = (middle, high) if room(middle, i, x) >= 0 else (low, middle)
            high = low
        most[2 * i - 1] = high
    most[1] = min(most[1], cap[0])
    time, x = 0.0, 0.0
    for i in range(n):
        straight = length[i] - d[i] - d[i + 1]
        y = min(most[2 * i + 1], x + 2 * along[i] * straight)
        v = np.sqrt(min(cap[i], 0.5 * (x + y) + along[i] * straight))
        ramps = (2 * v * v - x - y) / (2 * along[i])
        time += (2 * v - np.sqrt(x) - np.sqrt(y)) / along[i] + max(straight - ramps, 0.0) / v
        x = y
        if i < n - 1:
            y = max(0.0, min(most[2 * i + 2], x + 4 * d[i + 1] * range_of_u(x, i + 1)[1]))
            time += 4 * d[i + 1] / (np.sqrt(x) + np.sqrt(y))
            x = y
    return float(time)

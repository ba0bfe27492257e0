"""Look-ahead over a polyline whose corners are rounded by parabolas, under per-axis limits.

At vertex i the path leaves the incoming line at the distance ``blend_mm[i]`` before it and joins
the outgoing line at the same distance after it. With the unit directions p and q of the two lines,
the path's derivative runs linearly from p to q over the length 2 d, so with x = (ds/dt)² and a
constant path acceleration u each axis acceleration is linear along the piece: holding the limits
at both ends holds them everywhere. The parabola stays d |q - p| / 4 off the corner. A corner that
costs speed is divided into up to PARTS pieces of constant u.

Nodes: ``node[i]`` is where the corner at vertex i begins and ``node[i + 1] - 1`` where it ends and
the line of segment i begins; node 0 is the start, ``node[n]`` the end. A vertex without rounding
has two nodes at one place, before and after a wait.

Limits of acceleration ``limit`` (3, 1) hold at any speed, with ``band`` None. A limit that falls
with speed is a table (3, bands): row a holds it while the axis moves at 0 to 1, 1 to 2, ... times
``band[a]`` [mm/s]. Each of the two is compiled for itself, so the plain one stays quick.

Every kernel works on a range of segments, so that no call takes long.
Derived here; closed forms and a plain reference hold it in tests/kernels/test_motion.py.
"""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

FloatArray = NDArray[np.float64]

PARTS = 4  #: pieces of a corner at most
#: A corner is active from this share of an axis' limit on, taken at full speed.
ACTIVE = 0.2
#: Share of its speed² that an active corner may change along one piece. Against a time-optimal
#: library on the same path 0.05 and four pieces leave 0.5 %, one piece leaves 3 %.
CHANGE = 0.05
_STRAIGHT = 0.01  #: turns less than this are not looked at
_LARGE = 1e30
_NO_TURN = 1e-12
_STILL = 1e-9


@kernel(**NUMPY)
def prepare(  # type: ignore[no-untyped-def]
    first, end, point_mm, corner_mm, feed, top, limit, unit, length_mm, blend_mm, node
):
    """Directions, lengths, corners and nodes of the segments ``first`` to ``end`` (excluded).

    Parameters
    ----------
    first, end : ``first`` must be 0 or follow an earlier call, since the corner there looks back.
    point_mm : (n + 1, 3) vertices; no two neighbours alike.
    corner_mm : (n + 1,) how far the path may leave each vertex; 0 where it must pass through it.
    feed : (n,) programmed speed of each segment. [mm/s]
    top : (3,) top speed of each axis. [mm/s]  limit : (3, bands). [mm/s²]
    unit, length_mm, blend_mm, node : (n, 3), (n,), (n + 1,), (n + 1,), written.
    """
    segments = length_mm.shape[0]
    for i in range(first, end):
        dx = point_mm[i + 1, 0] - point_mm[i, 0]
        dy = point_mm[i + 1, 1] - point_mm[i, 1]
        dz = point_mm[i + 1, 2] - point_mm[i, 2]
        length = sqrt(dx * dx + dy * dy + dz * dz)
        length_mm[i] = length
        per_length = 1.0 / length
        unit[i, 0] = dx * per_length
        unit[i, 1] = dy * per_length
        unit[i, 2] = dz * per_length
        if i == 0:
            blend_mm[0] = 0.0
            node[0] = 0
            node[1] = 1
            continue
        node[i + 1] = node[i] + 2
        if corner_mm[i] <= 0.0:
            blend_mm[i] = 0.0
            continue
        a = unit[i, 0] - unit[i - 1, 0]
        b = unit[i, 1] - unit[i - 1, 1]
        c = unit[i, 2] - unit[i - 1, 2]
        turn = sqrt(a * a + b * b + c * c)
        d = 0.5 * min(length_mm[i - 1], length)
        if d * turn > 4.0 * corner_mm[i]:
            d = 4.0 * corner_mm[i] / turn
        blend_mm[i] = d
        if feed[i] != feed[i - 1] or turn > _STRAIGHT:
            x = min(_cap(unit, i - 1, top, feed[i - 1]), _cap(unit, i, top, feed[i]))
            share = max(abs(a) / limit[0, 0], max(abs(b) / limit[1, 0], abs(c) / limit[2, 0]))
            if feed[i] != feed[i - 1] and share * x < d:
                # The slower feed rules the corner: it is no longer than twice what speed asks.
                d = share * x
                blend_mm[i] = d
            elif share * x > ACTIVE * 2.0 * d:
                change = 2.0 * share * _along(unit, i, limit, None, 0.0)
                node[i + 1] = node[i] + 1 + min(PARTS, 1 + int(change / CHANGE))
    if end == segments:
        blend_mm[segments] = 0.0


@inner_kernel(**NUMPY)
def _cap(unit, i, top, feed):  # type: ignore[no-untyped-def]
    """Largest speed² on segment i under the feed and the top speed of each axis."""
    speed = feed
    for axis in range(3):
        share = abs(unit[i, axis])
        if share * speed > top[axis]:
            speed = top[axis] / share
    return speed * speed


@inner_kernel(**NUMPY)
def _cap_in(unit, i, begin, length, whole, top, cap):  # type: ignore[no-untyped-def]
    """The same on a piece of the corner at vertex i; ``cap`` is what the feed allows."""
    x = cap
    for axis in range(3):
        p = unit[i - 1, axis]
        turn = unit[i, axis] - p
        a = abs(p + turn * begin / whole)
        b = abs(p + turn * (begin + length) / whole)
        share = max(a, b)
        if share * share * x > top[axis] * top[axis]:
            x = (top[axis] / share) ** 2
    return x


@inner_kernel(**NUMPY)
def _limit(limit, band, axis, speed):  # type: ignore[no-untyped-def]
    """Acceleration that an axis may use at a speed."""
    if band is None:
        return limit[axis, 0]
    return limit[axis, min(int(speed / band[axis]), limit.shape[1] - 1)]


@inner_kernel(**NUMPY)
def _along(unit, i, limit, band, speed):  # type: ignore[no-untyped-def]
    """Largest acceleration along segment i under the limit of each axis."""
    most = _LARGE
    for axis in range(3):
        share = abs(unit[i, axis])
        able = _limit(limit, band, axis, share * speed)
        if share * most > able:
            most = able / share
    return most


@inner_kernel(**NUMPY)
def _bounds(x, fastest, unit, i, begin, length, whole, limit, band):  # type: ignore[no-untyped-def]
    """Least and greatest u over a piece of the corner at vertex i, with slopes in x.

    The acceleration of an axis is p u + c x at the begin and (p + 3 l c) u + c x at the end, the
    speed² there being x + 2 l u. ``fastest``: speed on the piece that the limits are taken for.
    """
    low, low_slope, high, high_slope = -_LARGE, 0.0, _LARGE, 0.0
    per_whole = 1.0 / whole
    for axis in range(3):
        bend = (unit[i, axis] - unit[i - 1, axis]) * per_whole
        p = unit[i - 1, axis] + begin * bend
        able = _limit(limit, band, axis, max(abs(p), abs(p + length * bend)) * fastest)
        for at_end in range(2):
            a = p + 3.0 * length * bend if at_end else p
            if abs(a) < _STILL:
                continue  # such an axis bounds x, not u
            per_a = 1.0 / abs(a)
            slope = -bend * per_a if a >= 0.0 else bend * per_a
            above = able * per_a + slope * x
            below = slope * x - able * per_a
            if above < high:
                high, high_slope = above, slope
            if below > low:
                low, low_slope = below, slope
    return low, low_slope, high, high_slope


@inner_kernel(**NUMPY)
def _corner_back(  # type: ignore[no-untyped-def]
    cap, after, unit, i, begin, length, whole, limit, band
):
    """Greatest speed² at the begin of a piece from which ``after`` can be kept at its end.

    The room between the bounds on u shrinks as x grows and is concave, so Newton's steps from
    above land on the answer in two or three rounds. With limits that fall with speed a step may
    land below it: slower than need be by a band at most.
    """
    x = cap
    per_whole = 1.0 / whole
    for axis in range(3):
        bend = (unit[i, axis] - unit[i - 1, axis]) * per_whole
        p = unit[i - 1, axis] + begin * bend
        still = abs(p) < _STILL or abs(p + 3.0 * length * bend) < _STILL
        if still and abs(bend) * x > limit[axis, 0]:
            x = limit[axis, 0] / abs(bend)
    per_length = 1.0 / (2.0 * length)
    for _ in range(12):
        fastest = sqrt(max(x, after)) if band is not None else 0.0
        low, low_slope, high, high_slope = _bounds(
            x, fastest, unit, i, begin, length, whole, limit, band
        )
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


@inner_kernel(**NUMPY)
def _coasts(x, unit, i, whole, limit, band):  # type: ignore[no-untyped-def]
    """Whether the corner can be taken at a steady speed², limits not falling with speed."""
    if band is not None:
        return False
    x = x / whole
    return (
        abs(unit[i, 0] - unit[i - 1, 0]) * x <= limit[0, 0]
        and abs(unit[i, 1] - unit[i - 1, 1]) * x <= limit[1, 0]
        and abs(unit[i, 2] - unit[i - 1, 2]) * x <= limit[2, 0]
    )


@inner_kernel(**NUMPY)
def _ramp(x, way, cap, unit, i, limit, band):  # type: ignore[no-untyped-def]
    """Speed² after speeding up over a way from x, not beyond ``cap``; way left there and time."""
    if band is None:
        at = _along(unit, i, limit, band, 0.0)
        y = x + 2.0 * at * way
        if y <= cap:
            return y, 0.0, 2.0 * way / (sqrt(x) + sqrt(y)) if y > 0.0 else 0.0
        return cap, way - (cap - x) / (2.0 * at), (sqrt(cap) - sqrt(x)) / at
    time = 0.0
    v = sqrt(x)
    top = sqrt(cap)
    while way > 0.0 and v < top:
        next_v = top
        for axis in range(3):
            share = abs(unit[i, axis])
            k = int(share * v / band[axis] * (1.0 + 1e-12))
            if k + 1 < limit.shape[1] and share * next_v > (k + 1) * band[axis]:
                next_v = (k + 1) * band[axis] / share
        at = _along(unit, i, limit, band, v * (1.0 + 1e-12))
        need = (next_v * next_v - v * v) / (2.0 * at)
        if need > way:
            next_v = sqrt(v * v + 2.0 * at * way)
            need = way
        time += (next_v - v) / at
        way -= need
        v = next_v
    return v * v, max(way, 0.0), time


@kernel(**NUMPY)
def look_back(  # type: ignore[no-untyped-def]
    first, end, feed, top, limit, band, jump, stop, seen2, unit, length_mm, blend_mm, node, most
):
    """Greatest speed² allowed at every node by what comes after it.

    Parameters
    ----------
    first, end : segments from ``end`` - 1 down to ``first``; call from the last range backwards.
    feed : (n,) programmed speed of each segment. [mm/s]
    top : (3,) top speed of each axis. [mm/s]  limit, band : see above.
    jump : (3,) how much the speed of each axis may jump at a vertex without rounding. [mm/s]
    stop : (n + 1,) true where the path stands still at the vertex.
    seen2 : (n + 1,) speed² from which it can stop within what the controller sees ahead of the
        vertex, or None if that is the whole program. [mm²/s²]
    most : (node[n] + 1,) written: speed² at the nodes. [mm²/s²]
    """
    segments = length_mm.shape[0]
    if end == segments:
        most[node[segments]] = 0.0
    cap = _cap(unit, end - 1, top, feed[end - 1])
    for i in range(end - 1, first - 1, -1):
        straight = length_mm[i] - blend_mm[i] - blend_mm[i + 1]
        x = min(most[node[i + 1]], cap)
        most[node[i + 1]] = x
        if straight > 0.0:
            x = _ramp(x, straight, cap, unit, i, limit, band)[0]
        if i == 0:
            most[0] = 0.0
            return
        begins, ends = node[i], node[i + 1] - 1
        cap = _cap(unit, i - 1, top, feed[i - 1])
        d = blend_mm[i]
        if seen2 is not None:
            x = min(x, seen2[i])
        if stop[i]:
            for k in range(begins, ends + 1):
                most[k] = 0.0
            continue
        if d > 0.0:
            slower = min(feed[i - 1], feed[i])
            if ends - begins == 1:
                able = min(cap, _cap(unit, i, top, feed[i]))
                x = min(x, able)
                most[ends] = x
                if x < able or not _coasts(x, unit, i, 2.0 * d, limit, band):
                    x = _corner_back(able, x, unit, i, 0.0, 2.0 * d, 2.0 * d, limit, band)
                most[begins] = x
                continue
            part = 2.0 * d / (ends - begins)
            for k in range(ends - 1, begins - 1, -1):
                begin = part * (k - begins)
                able = _cap_in(unit, i, begin, part, 2.0 * d, top, slower * slower)
                x = min(x, able)
                most[k + 1] = x
                x = _corner_back(able, x, unit, i, begin, part, 2.0 * d, limit, band)
            most[begins] = min(x, cap)
            continue
        x = min(x, cap)
        for axis in range(3):
            turn = abs(unit[i, axis] - unit[i - 1, axis])
            if turn * turn * x > jump[axis] * jump[axis]:
                x = (jump[axis] / turn) ** 2
        most[ends] = x
        most[begins] = x


@kernel(**NUMPY)
def run_forward(  # type: ignore[no-untyped-def]
    first,
    end,
    feed,
    top,
    limit,
    band,
    wait_s,
    unit,
    length_mm,
    blend_mm,
    node,
    speed2,
    node_s,
):
    """Speeds² and times at the nodes, going as fast as what comes after and the axes allow.

    Parameters
    ----------
    wait_s : (n + 1,) time stood still at each vertex (dwell, cutter change). [s]
    speed2 : (node[n] + 1,) what ``look_back`` found; lowered in place. [mm²/s²]
    node_s : (node[n] + 1,) written; call from the first range forwards. A wait at a vertex stands
        before its last node. [s]
    """
    segments = length_mm.shape[0]
    if first == 0:
        speed2[0] = 0.0
        node_s[0] = wait_s[0]
    x = speed2[node[first + 1] - 1]
    t = node_s[node[first + 1] - 1]
    v = sqrt(x)
    for i in range(first, end):
        straight = length_mm[i] - blend_mm[i] - blend_mm[i + 1]
        y = speed2[node[i + 1]]
        if straight > 1e-12:
            cap = _cap(unit, i, top, feed[i])
            if x == cap and y == cap:
                t += straight / v
            else:
                if y > x:
                    y, left, time = _ramp(x, straight, y, unit, i, limit, band)
                else:
                    _, left, time = _ramp(y, straight, x, unit, i, limit, band)
                t += time
                if left > 0.0:
                    peak, left, time = _ramp(max(x, y), 0.5 * left, cap, unit, i, limit, band)
                    t += 2.0 * time
                    if left > 0.0:
                        t += 2.0 * left / sqrt(peak)
        else:
            y = min(y, x)
        if y != x:
            x = y
            v = sqrt(x)
        begins, ends = node[i + 1], node[i + 2] - 1 if i < segments - 1 else node[i + 1]
        speed2[begins] = x
        node_s[begins] = t
        if i == segments - 1:
            return
        d = blend_mm[i + 1]
        for k in range(begins, ends):
            y = min(x, speed2[k + 1])
            if d > 0.0 and speed2[begins] > 0.0:
                whole = 2.0 * d
                part = whole / (ends - begins)
                if x == speed2[k + 1] and _coasts(x, unit, i + 1, whole, limit, band):
                    t += part / v
                else:
                    fastest = sqrt(max(x, speed2[k + 1])) if band is not None else 0.0
                    _, _, high, _ = _bounds(
                        x, fastest, unit, i + 1, part * (k - begins), part, whole, limit, band
                    )
                    y = max(0.0, min(x + 2.0 * part * high, speed2[k + 1]))
                    w = sqrt(y)
                    if v + w > 0.0:
                        t += 2.0 * part / (v + w)
                    v = w
            elif y != x:
                v = sqrt(y)
            if k == ends - 1:
                t += wait_s[i + 1]
            speed2[k + 1] = y
            node_s[k + 1] = t
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
    d = np.zeros(len(length) + 1)
    for i in range(1, len(length)):
        turn = float(np.linalg.norm(unit[i] - unit[i - 1]))
        d[i] = min(length[i - 1] / 2, length[i] / 2, 4 * corner_mm[i] / max(turn, 1e-300))
    with np.errstate(divide="ignore"):
        cap = np.minimum(feed, (top / np.abs(unit)).min(axis=1)) ** 2
        along = (limit / np.abs(unit)).min(axis=1)
    pieces = []  # where it begins, how it bends, its length, the largest speed², acceleration
    for i in range(len(length)):
        if i > 0:
            bend = (unit[i] - unit[i - 1]) / (2 * d[i])
            able = min(cap[i - 1], cap[i])
            turn = np.abs(unit[i] - unit[i - 1])
            share = float((turn / limit).max())
            sharp = turn @ turn > _STRAIGHT**2 and share * able > ACTIVE * 2 * d[i]
            parts = min(PARTS, 1 + int(2 * share * along[i] / CHANGE)) if sharp else 1
            part = 2 * d[i] / parts
            for k in range(parts):
                begin = unit[i - 1] + part * k * bend
                if parts > 1:
                    most = np.maximum(np.abs(begin), np.abs(begin + part * bend))
                    able = min(feed[i - 1], feed[i], (top / most).min()) ** 2
                pieces.append((begin, bend, part, able, 0.0))
        pieces.append((unit[i], np.zeros(3), length[i] - d[i] - d[i + 1], cap[i], along[i]))

    def range_of_u(
        x: float, begin: FloatArray, bend: FloatArray, way: float
    ) -> tuple[float, float]:
        low, high = -np.inf, np.inf
        for a in (begin, begin + 3 * way * bend):
            moves = np.abs(a) > 1e-9
            both = np.sort(
                [(sign * limit - bend * x)[moves] / a[moves] for sign in (-1, 1)], axis=0
            )
            low, high = max(low, both[0].max()), min(high, both[1].min())
        return low, high

    def back(after: float, able: float, begin: FloatArray, bend: FloatArray, way: float) -> float:
        def room(x: float) -> float:
            low, high = range_of_u(x, begin, bend, way)
            return min(high, (after - x) / (2 * way)) - max(low, -x / (2 * way))

        if room(able) >= 0:
            return able
        low, high = 0.0, able
        for _ in range(80):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if room(middle) >= 0 else (low, middle)
        return low

    most = np.zeros(len(pieces) + 1)
    for k in range(len(pieces) - 1, -1, -1):
        begin, bend, way, able, at = pieces[k]
        after = min(most[k + 1], able)
        most[k + 1] = after
        most[k] = min(able, after + 2 * at * way) if at else back(after, able, begin, bend, way)
    time = x = 0.0
    for k, (begin, bend, way, able, at) in enumerate(pieces):
        if at:
            y = min(most[k + 1], x + 2 * at * way)
            v = np.sqrt(min(able, 0.5 * (x + y) + at * way))
            ramps = (2 * v * v - x - y) / (2 * at)
            time += (2 * v - np.sqrt(x) - np.sqrt(y)) / at + max(way - ramps, 0.0) / v
        else:
            y = max(0.0, min(most[k + 1], x + 2 * way * range_of_u(x, begin, bend, way)[1]))
            time += 2 * way / (np.sqrt(x) + np.sqrt(y))
        x = y
    return float(time)

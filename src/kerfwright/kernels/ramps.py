"""Changes of speed rounded off so that acceleration itself rises and falls at a limited rate.

A planned motion is a row of spans between slow places: in each the speed rises, stays, and falls
(any of the three may be missing). With the jerk limited every rise or fall begins and ends without
acceleration: from v0 to v1 with acceleration a and jerk j it takes |v1 - v0| / a + a / j, or
2 sqrt(|v1 - v0| / j) where that is less than 2 a / j, and goes at (v0 + v1) / 2 in the mean.
Where a span is too short for that, its top speed, or the speed at one of its ends, is lowered.

Derived here; rest-to-rest and other straight moves equal a general jerk-limited library's in
tests/kernels/test_ramps.py.
"""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

FloatArray = NDArray[np.float64]


@inner_kernel(**NUMPY)
def ramp_time(change, most, jerk):  # type: ignore[no-untyped-def]
    """Time to change the speed by ``change`` >= 0 under acceleration ``most``. [s]"""
    if change * jerk >= most * most:
        return change / most + most / jerk
    return 2.0 * sqrt(change / jerk)


@inner_kernel(**NUMPY)
def _reach(speed, way, most, jerk):  # type: ignore[no-untyped-def]
    """Largest speed that a ramp from ``speed`` comes to within a way."""
    if way <= 0.0:
        return speed
    edge = most * most / jerk
    if (speed + 0.5 * edge) * 2.0 * most / jerk < way:
        # (c / a + a / j) (v + c / 2) = way, c the change.
        half = speed + 0.5 * edge
        root = sqrt(half * half + 2.0 * (most * way - speed * edge))
        return speed + root - half
    # 2 sqrt(c / j) (v + c / 2) = way: with c = j y² it is j y³ + 2 v y = way, convex and rising.
    y = min((way / jerk) ** (1.0 / 3.0), way / (2.0 * speed) if speed > 0.0 else 1e30)
    for _ in range(60):
        over = jerk * y * y * y + 2.0 * speed * y - way
        step = over / (3.0 * jerk * y * y + 2.0 * speed)
        y -= step
        if abs(step) <= 1e-14 * y:
            break
    return speed + jerk * y * y


@kernel(**NUMPY)
def hold_ends(first, end, way, rise, fall, jerk, backwards, speed):  # type: ignore[no-untyped-def]
    """Lower the speeds between spans until every span is long enough for its ramp.

    Parameters
    ----------
    first, end : spans; with ``backwards`` from ``end`` - 1 down, and those calls come first.
    way, rise, fall, jerk : (m,) length, acceleration speeding up and slowing down, jerk.
    speed : (m + 1,) between the spans; lowered in place. [mm/s]
    """
    if backwards:
        for i in range(end - 1, first - 1, -1):
            if speed[i] > speed[i + 1]:
                speed[i] = min(speed[i], _reach(speed[i + 1], way[i], fall[i], jerk[i]))
        return
    for i in range(first, end):
        if speed[i + 1] > speed[i]:
            speed[i + 1] = min(speed[i + 1], _reach(speed[i], way[i], rise[i], jerk[i]))


@inner_kernel(**NUMPY)
def _needed(top, v0, v1, rise, fall, jerk):  # type: ignore[no-untyped-def]
    """Way that a rise from v0 and a fall to v1 take together."""
    return 0.5 * (v0 + top) * ramp_time(top - v0, rise, jerk) + 0.5 * (v1 + top) * ramp_time(
        top - v1, fall, jerk
    )


@inner_kernel(**NUMPY)
def top_speed(way, top, v0, v1, rise, fall, jerk):  # type: ignore[no-untyped-def]
    """Speed, at most ``top``, that a span's rise and fall leave room for."""
    low = max(v0, v1)
    if top <= low or _needed(top, v0, v1, rise, fall, jerk) <= way:
        return max(top, low)
    high = top
    for _ in range(60):
        middle = 0.5 * (low + high)
        if _needed(middle, v0, v1, rise, fall, jerk) <= way:
            low = middle
        else:
            high = middle
        if high - low <= 1e-13 * high:
            break
    return low


@inner_kernel(**NUMPY)
def _on_ramp(way, v0, v1, most, jerk):  # type: ignore[no-untyped-def]
    """Time since the begin of a rise from v0 to v1, and the speed, after a way of it."""
    change = v1 - v0
    total = ramp_time(change, most, jerk)
    length = 0.5 * (v0 + v1) * total
    if way <= 0.0 or change <= 0.0:
        return 0.0, v0
    if way >= length:
        return total, v1
    rounded = min(most / jerk, 0.5 * total)  # time of each of the two bends
    a = jerk * rounded
    middle = total - 2.0 * rounded
    v_a = v0 + 0.5 * a * rounded
    s_a = v0 * rounded + a * rounded * rounded / 6.0
    s_b = s_a + v_a * middle + 0.5 * a * middle * middle
    if s_a < way <= s_b:
        v = sqrt(v_a * v_a + 2.0 * a * (way - s_a))
        return rounded + (v - v_a) / a, v
    # In a bend: from its slow end, speed v0 + j t²/2; from its fast end, v1 - j t²/2 going back.
    start, turn, rest = (v0, jerk, way) if way <= s_a else (v1, -jerk, length - way)
    low, high = 0.0, rounded
    for _ in range(60):
        t = 0.5 * (low + high)
        if start * t + turn * t * t * t / 6.0 < rest:
            low = t
        else:
            high = t
    v = start + 0.5 * turn * t * t
    return (t if way <= s_a else total - t), v


@kernel(**NUMPY)
def lay_spans(  # type: ignore[no-untyped-def]
    first, end, begin, way, top, rise, fall, jerk, speed, along, span_s, since_s, node_speed
):
    """Times and speeds at the nodes of spans whose end speeds are settled.

    Parameters
    ----------
    begin : (m + 1,) node where each span begins, and the last node.
    top : (m,) greatest speed of the span as planned without a limit of jerk. [mm/s]
    along : (nodes,) way from the start of the path. [mm]
    span_s : (m,) written: what each span takes. [s]
    since_s, node_speed : (nodes,) written: time since the begin of the node's span, and speed.
    """
    for i in range(first, end):
        v0, v1 = speed[i], speed[i + 1]
        v = top_speed(way[i], top[i], v0, v1, rise[i], fall[i], jerk[i])
        up_s = ramp_time(v - v0, rise[i], jerk[i])
        down_s = ramp_time(v - v1, fall[i], jerk[i])
        up, down = 0.5 * (v0 + v) * up_s, 0.5 * (v1 + v) * down_s
        steady = max(way[i] - up - down, 0.0)
        steady_s = steady / v if steady > 0.0 else 0.0
        span_s[i] = up_s + steady_s + down_s
        for k in range(begin[i], begin[i + 1]):
            s = along[k] - along[begin[i]]
            if s <= up:
                since_s[k], node_speed[k] = _on_ramp(s, v0, v, rise[i], jerk[i])
            elif s <= up + steady:
                since_s[k], node_speed[k] = up_s + (s - up) / v, v
            else:
                left_s, node_speed[k] = _on_ramp(way[i] - s, v1, v, fall[i], jerk[i])
                since_s[k] = span_s[i] - left_s

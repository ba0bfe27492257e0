"""How the carriages swing on the machine's give while they are sped up, slowed and turned.

Each axis is one damped oscillator driven by its own commanded motion: with q the tip from where it
is told, ω and ζ of the axis there, q'' + 2 ζ ω q' + ω² q = -(commanded acceleration). Over a piece
of constant acceleration a it is solved exactly: q = -a/ω² + r, and r swings freely. A change of
acceleration Δa adds Δa/ω² to r, a jump of speed Δv takes Δv from r'.
"""

from math import cos, exp, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import INLINED
from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

FloatArray = NDArray[np.float64]

# What is carried from one call to the next.
AT_NODE, AT_VERTEX, PART, BEGIN_S, END_S = 0, 1, 2, 3, 4
#: Three of each.
FREE, FREE_SPEED, PULL, SPEED, SOFT, OMEGA, PLACE = 5, 8, 11, 14, 17, 20, 23
STATE = 26

_STILL2_MM2 = 1e-14  #: a swing of less than 1e-7 mm has died away
_NEAR2_MM2 = 25.0  #: the machine's give is looked up again after so much of a way
_NOTHING_S = 1e-12

# What is kept of a straight: times of its three parts, then speed and share of the way at their
# four ends, then which straight it is.
_TIMES, _SPEEDS, _WAYS, _WHICH = 0, 3, 7, 11
_LINE = 12


@inner_kernel(**INLINED)
def _unit(k, axis, point_mm, length_mm):  # type: ignore[no-untyped-def]
    """The share of an axis in the direction of segment k."""
    return (point_mm[k + 1, axis] - point_mm[k, axis]) * (1.0 / length_mm[k])


@inner_kernel(**INLINED)
def _node_velocity(k, n, axis, point_mm, length_mm, blend_mm, node, speed2):  # type: ignore[no-untyped-def]
    """Velocity at node n of the corner at vertex k."""
    v = sqrt(max(speed2[n], 0.0))
    segments = length_mm.shape[0]
    if k == 0:
        return v * _unit(0, axis, point_mm, length_mm)
    if k >= segments:
        return v * _unit(segments - 1, axis, point_mm, length_mm)
    parts = node[k + 1] - 1 - node[k]
    share = 1.0
    if parts > 0:
        share = (n - node[k]) / parts if blend_mm[k] > 0.0 or n == node[k] else 1.0
    before = _unit(k - 1, axis, point_mm, length_mm)
    return v * (before + share * (_unit(k, axis, point_mm, length_mm) - before))


@inner_kernel(**INLINED)
def _lay_line(  # type: ignore[no-untyped-def]
    k, point_mm, length_mm, blend_mm, node, speed2, node_s, feed, top, limit, line
):
    """The three parts of straight k: up to speed, level, down."""
    if line[_WHICH] == k:
        return
    line[_WHICH] = k
    begin, end = node[k + 1] - 1, node[k + 1]
    most, fastest = 1e30, feed[k]
    for axis in range(3):
        share = abs(_unit(k, axis, point_mm, length_mm))
        if share * most > limit[axis]:
            most = limit[axis] / share
        if share * fastest > top[axis]:
            fastest = top[axis] / share
    straight = length_mm[k] - blend_mm[k] - blend_mm[k + 1]
    x, y = max(speed2[begin], 0.0), max(speed2[end], 0.0)
    v0, v1 = sqrt(x), sqrt(y)
    taken = node_s[end] - node_s[begin]
    up, level, down, va, vb, risen, fallen = 0.0, taken, 0.0, v0, v1, 0.0, 0.0
    if straight > 0.0 and taken > _NOTHING_S:
        peak = max(min(fastest * fastest, 0.5 * (x + y) + most * straight), x, y)
        va = vb = sqrt(peak)
        up, down = (va - v0) / most, (vb - v1) / most
        level = max(straight - (2.0 * peak - x - y) / (2.0 * most), 0.0) / va
        # Where jerk is limited the line takes longer: its time is stretched evenly.
        stretch = taken / (up + level + down)
        up, level, down = up * stretch, level * stretch, down * stretch
        risen, fallen = (peak - x) / (2.0 * most * straight), (peak - y) / (2.0 * most * straight)
    line[_TIMES], line[_TIMES + 1], line[_TIMES + 2] = up, level, down
    line[_SPEEDS], line[_SPEEDS + 1], line[_SPEEDS + 2], line[_SPEEDS + 3] = v0, va, vb, v1
    line[_WAYS], line[_WAYS + 1], line[_WAYS + 2], line[_WAYS + 3] = 0.0, risen, 1.0 - fallen, 1.0


@inner_kernel(**INLINED)
def _bent(k, share, axis, point_mm, length_mm, move, blend_mm):  # type: ignore[no-untyped-def]
    """Direction on segment k; a chord of an arc turns evenly, as the arc does."""
    here = _unit(k, axis, point_mm, length_mm)
    first = last = here
    if k > 0 and move[k - 1] == move[k] and blend_mm[k] == 0.0:
        first = 0.5 * (_unit(k - 1, axis, point_mm, length_mm) + here)
    if k + 1 < length_mm.shape[0] and move[k + 1] == move[k] and blend_mm[k + 1] == 0.0:
        last = 0.5 * (_unit(k + 1, axis, point_mm, length_mm) + here)
    return first + share * (last - first)


@inner_kernel(**INLINED)
def _softness(at, low, soft, axis):  # type: ignore[no-untyped-def]
    """1/ω² of an axis, from its values at the grid's corners."""
    total = 0.0
    for corner in range(8):
        weight = 1.0
        i, j, k = low[0], low[1], low[2]
        for side in range(3):
            upper = (corner >> side) & 1
            weight *= at[side] if upper else 1.0 - at[side]
            if upper:
                if side == 0:
                    i += 1
                elif side == 1:
                    j += 1
                else:
                    k += 1
        if weight > 0.0:
            total += weight * soft[i, j, k, axis]
    return total


@inner_kernel(**INLINED)
def _look_up(state, place, grid_x, grid_y, grid_z, soft, at, low):  # type: ignore[no-untyped-def]
    """Take the machine's give at a place into the state; what swings goes on from where it is."""
    for axis in range(3):
        grid = grid_x if axis == 0 else (grid_y if axis == 1 else grid_z)
        low[axis], at[axis] = 0, 0.0
        last = grid.shape[0] - 1
        if last > 0:
            held = min(max(place[axis], grid[0]), grid[last])
            k = 0
            while k < last - 1 and grid[k + 1] <= held:
                k += 1
            low[axis] = k
            at[axis] = (held - grid[k]) / (grid[k + 1] - grid[k])
        state[PLACE + axis] = place[axis]
    for axis in range(3):
        now = _softness(at, low, soft, axis)
        state[FREE + axis] += state[PULL + axis] * (now - state[SOFT + axis])
        state[SOFT + axis] = now
        state[OMEGA + axis] = 1.0 / sqrt(now) if now > 0.0 else 0.0


@inner_kernel(**INLINED)
def _swing(state, axis, damping, time_s):  # type: ignore[no-untyped-def]
    """What swings freely of an axis, so long after the piece began: how far, how fast."""
    r, speed = state[FREE + axis], state[FREE_SPEED + axis]
    soft = state[SOFT + axis]
    if soft <= 0.0 or r * r + speed * speed * soft < _STILL2_MM2:
        return 0.0, 0.0
    omega = state[OMEGA + axis]
    turn = omega * sqrt(1.0 - damping * damping)
    c, s, fades = cos(turn * time_s), sin(turn * time_s), exp(-damping * omega * time_s)
    push = speed + damping * omega * r
    there = fades * (r * c + push / turn * s)
    return there, fades * (push * c - turn * r * s) - damping * omega * there


@inner_kernel(**INLINED)
def _next_piece(  # type: ignore[no-untyped-def]
    state, point_mm, move, length_mm, blend_mm, node, speed2, node_s, feed, top, limit, jerk, line
):
    """Go on with the piece of constant acceleration that comes next, if it lasts any time."""
    n, k, part = int(state[AT_NODE]), int(state[AT_VERTEX]), int(state[PART])
    on_line = n == node[k + 1] - 1
    if on_line:
        _lay_line(k, point_mm, length_mm, blend_mm, node, speed2, node_s, feed, top, limit,
                  line)  # fmt: skip
        lasts = line[_TIMES + part]
    else:
        lasts = node_s[n + 1] - node_s[n]
    state[BEGIN_S] = state[END_S]
    if lasts > _NOTHING_S:
        for axis in range(3):
            if on_line:
                u0 = line[_SPEEDS + part] * _bent(
                    k, line[_WAYS + part], axis, point_mm, length_mm, move, blend_mm
                )
                u1 = line[_SPEEDS + part + 1] * _bent(
                    k, line[_WAYS + part + 1], axis, point_mm, length_mm, move, blend_mm
                )
            else:
                u0 = _node_velocity(k, n, axis, point_mm, length_mm, blend_mm, node, speed2)
                u1 = _node_velocity(k, n + 1, axis, point_mm, length_mm, blend_mm, node, speed2)
            pull = (u1 - u0) / lasts
            change = pull - state[PULL + axis]
            soft = state[SOFT + axis]
            share = 1.0
            if soft > 0.0 and jerk[axis] < 1e30:
                half = 0.5 * abs(change) / jerk[axis] / sqrt(soft)
                share = sin(half) / half if half > 1e-6 else 1.0
            state[FREE + axis] += share * change * soft
            state[FREE_SPEED + axis] -= u0 - state[SPEED + axis]
            state[PULL + axis], state[SPEED + axis] = pull, u1
        state[END_S] = state[BEGIN_S] + lasts
    # Times are taken from the nodes, so that nothing adds up.
    if on_line and part < 2:
        state[PART] = part + 1
    else:
        state[PART] = 0
        state[AT_NODE] = n + 1
        state[END_S] = node_s[n + 1]
        if on_line:
            state[AT_VERTEX] = k + 1


@kernel(**NUMPY)
def ring_steps(  # type: ignore[no-untyped-def]
    state, point_mm, move, length_mm, blend_mm, node, speed2, node_s, feed, top, limit, to_nose_mm,
    grid_x, grid_y, grid_z, soft_s2, damping, jerk, time_s, swing_mm,
):  # fmt: skip
    """Swing of the tip at both ends of some steps.

    Parameters
    ----------
    state : (STATE,) zeros before the first step; goes on from call to call.
    point_mm .. limit : of the plan, see ``Trajectory``. Chords of an arc turn evenly: what their
        corners would strike into the machine is no more in the arc than in its controller.
    to_nose_mm : (3,) from the program's frame to the nose in the machine's.
    grid_x, grid_y, grid_z, soft_s2 (nx, ny, nz, 3) : 1/ω² of each axis over the machine. [s²]
    damping, jerk : share of critical, below 1; (3,) [mm/s³]. With limited jerk a change lasts
        τ = Δa / jerk and leaves sin(ωτ/2) / (ωτ/2) of the swing.
    time_s : (w, 2) begin and end of each step, rising.
    swing_mm : (w, 2, 3) written.
    """
    segments = length_mm.shape[0]
    at, low, line = np.empty(3), np.empty(3, np.int64), np.empty(_LINE)
    place, free, free_speed = np.empty(3), np.empty(3), np.empty(3)
    if state[END_S] == 0.0 and state[AT_NODE] == 0.0:
        state[BEGIN_S] = state[END_S] = node_s[0]
        for axis in range(3):
            place[axis] = point_mm[0, axis] + to_nose_mm[axis]
        _look_up(state, place, grid_x, grid_y, grid_z, soft_s2, at, low)
    line[_WHICH] = -1.0
    looked_s = -1.0  # how long after the piece began ``free`` and ``free_speed`` were asked for
    for i in range(time_s.shape[0]):
        for side in range(2):
            t = time_s[i, side]
            while t > state[END_S] and int(state[AT_VERTEX]) < segments:
                since = state[END_S] - state[BEGIN_S]
                if since > 0.0:  # what has swung until the next piece begins
                    for axis in range(3):
                        if since != looked_s:
                            free[axis], free_speed[axis] = _swing(state, axis, damping, since)
                        state[FREE + axis], state[FREE_SPEED + axis] = free[axis], free_speed[axis]
                looked_s = -1.0
                k = int(state[AT_VERTEX])
                if int(state[AT_NODE]) == node[k + 1] - 1 and state[PART] == 0.0:
                    far2 = 0.0
                    for axis in range(3):
                        place[axis] = point_mm[k, axis] + to_nose_mm[axis]
                        far2 += (place[axis] - state[PLACE + axis]) ** 2
                    if far2 > _NEAR2_MM2:
                        _look_up(state, place, grid_x, grid_y, grid_z, soft_s2, at, low)
                _next_piece(
                    state, point_mm, move, length_mm, blend_mm, node, speed2, node_s, feed, top,
                    limit, jerk, line,
                )  # fmt: skip
            since = t - state[BEGIN_S]
            for axis in range(3):
                if since != looked_s:
                    free[axis], free_speed[axis] = _swing(state, axis, damping, since)
                still = state[PULL + axis] * state[SOFT + axis]
                if t > state[END_S]:  # the program's motion is over
                    still = 0.0
                swing_mm[i, side, axis] = free[axis] - still
            looked_s = since


def swing_reference(
    time_s: FloatArray,
    change_s: FloatArray,
    speed_jump: FloatArray,
    pull_change: FloatArray,
    omega_rad_per_s: float,
    damping: float,
) -> FloatArray:
    """One axis by superposition, the definition: each change answered on its own. (n,) [mm]

    ``change_s`` (m,) when speed jumps by ``speed_jump`` and acceleration changes by
    ``pull_change`` (both (m,)); at rest before.
    """
    turn = omega_rad_per_s * np.sqrt(1.0 - damping**2)
    since = np.maximum(time_s[:, None] - change_s, 0.0)
    fades = np.exp(-damping * omega_rad_per_s * since)
    to_jump = fades * np.sin(turn * since) / turn
    to_pull = (
        1.0
        - fades * (np.cos(turn * since) + damping * omega_rad_per_s / turn * np.sin(turn * since))
    ) / omega_rad_per_s**2
    return np.asarray(-(to_jump @ speed_jump) - to_pull @ pull_change)

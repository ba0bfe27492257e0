"""A planned path cut into short steps, with speed and acceleration at each.

Steps are numbered in the order of travel and never depend on how the path is cut into windows.
Neighbouring steps of like direction are gathered into groups of about a millimetre, over which the
cut is taken as steady: one step of a few cells sees too few of them to tell a force.
"""

from math import ceil, sqrt

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel

#: Steps in one group at most, however short they are.
MOST_IN_GROUP = 64
#: Steps in one segment at most: a longer one leaves every machine's travel, and gets longer steps.
MOST_IN_SEGMENT = 200_000
_ALIKE = 0.94  #: cosine of the turn that ends a group, 20 degrees


@inner_kernel(inline="always", **NUMPY)
def _tangent(i, unit, limit):  # type: ignore[no-untyped-def]
    most = 1e30
    for axis in range(3):
        share = abs(unit[i, axis])
        if share * most > limit[axis]:
            most = limit[axis] / share
    return most


@inner_kernel(inline="always", **NUMPY)
def _part_of(i, way, blend_mm, node):  # type: ignore[no-untyped-def]
    """Piece of the corner at vertex i that lies ``way`` after its begin, and the piece's length."""
    parts = node[i + 1] - 1 - node[i]
    part = 2.0 * blend_mm[i] / parts
    return min(int(way / part), parts - 1), part


@inner_kernel(inline="always", **NUMPY)
def _time_at(i, s, at, cap, length_mm, blend_mm, node, speed2, node_s):  # type: ignore[no-untyped-def]
    """Time at the distance s from vertex i on segment i; the vertex is the middle of its corner."""
    d0, d1 = blend_mm[i], blend_mm[i + 1]
    s = min(s, length_mm[i])  # a hair beyond, it would stand in a corner that may not be there
    for side in range(2):
        k = i + side
        way = d0 + s if side == 0 else s - length_mm[i] + d1
        if (side == 0 and s < d0) or (side == 1 and s > length_mm[i] - d1):
            nth, part = _part_of(k, way, blend_mm, node)
            t0, t1 = node_s[node[k] + nth], node_s[node[k] + nth + 1]
            return t0 + (t1 - t0) * (way / part - nth)
    begin, end = node[i + 1] - 1, node[i + 1]
    straight = length_mm[i] - d0 - d1
    if straight <= 0.0:
        return node_s[begin]
    s -= d0
    x, y = speed2[begin], speed2[end]
    peak = min(cap, 0.5 * (x + y) + at * straight)
    v, v0, v1 = sqrt(max(peak, 0.0)), sqrt(x), sqrt(y)
    up = (peak - x) / (2.0 * at)
    down = (peak - y) / (2.0 * at)
    total = (2.0 * v - v0 - v1) / at + max(straight - up - down, 0.0) / v
    if s <= up:
        since = (sqrt(x + 2.0 * at * s) - v0) / at
    elif s >= straight - down:
        since = total - (sqrt(max(y + 2.0 * at * (straight - s), 0.0)) - v1) / at
    else:
        since = (v - v0) / at + (s - up) / v
    # Where jerk is limited the line took longer than this: its time is stretched evenly.
    return node_s[begin] + since * (node_s[end] - node_s[begin]) / total


@inner_kernel(inline="always", **NUMPY)
def _pulling(i, made, at, cap, straight, x, y, unit, velocity, acceleration):  # type: ignore[no-untyped-def]
    """Motion of one step for a whole move: where it is fastest it still pulls with all it may."""
    v = sqrt(max(min(cap, 0.5 * (x + y) + at * straight), 0.0))
    for axis in range(3):
        velocity[made, axis] = v * unit[i, axis]
        acceleration[made, axis] = at * unit[i, axis]


@inner_kernel(inline="always", **NUMPY)
def _turning(k, made, way, unit, blend_mm, node, speed2, velocity, acceleration):  # type: ignore[no-untyped-def]
    """Motion ``way`` after the begin of the corner at vertex k."""
    nth, part = _part_of(k, way, blend_mm, node)
    x0, x1 = speed2[node[k] + nth], speed2[node[k] + nth + 1]
    u = (x1 - x0) / (2.0 * part)
    here = x0 + 2.0 * u * (way - nth * part)
    v = sqrt(max(here, 0.0))
    d = blend_mm[k]
    for axis in range(3):
        p, q = unit[k - 1, axis], unit[k, axis]
        slope = p + way / (2.0 * d) * (q - p)
        velocity[made, axis] = v * slope
        acceleration[made, axis] = slope * u + (q - p) / (2.0 * d) * here


@inner_kernel(inline="always", **NUMPY)
def _going_straight(i, made, at, cap, rising, falling, unit, velocity, acceleration):  # type: ignore[no-untyped-def]
    """Motion where speed² may be ``rising`` from behind and must be ``falling`` to what comes."""
    here = min(cap, min(rising, falling))
    pull = 0.0
    if here < cap * (1.0 - 1e-9):
        pull = at if rising < falling else -at
    v = sqrt(max(here, 0.0))
    for axis in range(3):
        velocity[made, axis] = v * unit[i, axis]
        acceleration[made, axis] = pull * unit[i, axis]


@kernel(**NUMPY)
def make_steps(  # type: ignore[no-untyped-def]
    segment,
    follows_first,
    wanted,
    step_mm,
    group_mm,
    clear,
    point_mm,
    unit,
    length_mm,
    blend_mm,
    node,
    speed2,
    node_s,
    cap2,
    limit,
    kind,
    rapid,
    steps,
    segment_of,
    follows,
    time_s,
    velocity,
    acceleration,
    group_first,
):
    """Fill one window with the steps of whole groups.

    Parameters
    ----------
    segment : first segment of the window. follows_first : whether the same cutter came from there.
    wanted : steps to make at least, if the path has them; a window ends where a group does.
    step_mm, group_mm : longest step in the wood, about the length of a group.
    clear : (n,) where there is no wood along the whole segment: one step.
    point_mm (n + 1, 3), unit, length_mm, blend_mm, node, speed2, node_s : of the plan.
    cap2 : (n,) speed² that segment i may not pass. limit : (3,) acceleration of each axis.
    kind : (n,) a number for each segment; where it changes the window ends. rapid : (n,) where it
    changes a group ends.
    steps (w, 6), segment_of, follows, time_s (w, 2), velocity (w, 3), acceleration (w, 3),
    group_first (g + 1,) : written; room for ``wanted`` + MOST_IN_GROUP + the steps of one segment.
    Without any room for velocities neither they nor accelerations are told.

    A segment of a group's length or more is divided into groups of its own, and a shorter one is
    never divided: so a group always ends within MOST_IN_GROUP steps where a segment does.

    Returns
    -------
    (segment to go on with, steps made, groups made)
    """
    segments = length_mm.shape[0]
    made, groups = 0, 0
    in_group, group_length = 0, 0.0
    ux = uy = uz = 0.0
    first_kind = kind[segment]
    air_before = True
    i = segment
    while i < segments and kind[i] == first_kind:
        air = clear[i]
        count = 1
        if not air:
            count = min(max(1, ceil(length_mm[i] / step_mm - 1e-9)), MOST_IN_SEGMENT)
        turned = unit[i, 0] * ux + unit[i, 1] * uy + unit[i, 2] * uz < _ALIKE
        parts = 0  # groups of its own
        if length_mm[i] >= group_mm or count > MOST_IN_GROUP:
            parts = max(1, int(length_mm[i] / group_mm + 0.5), count // MOST_IN_GROUP + 1)
        full = in_group + count > MOST_IN_GROUP or group_length >= group_mm
        begins = (
            turned or full or parts > 0 or air or air_before or (i > 0 and rapid[i] != rapid[i - 1])
        )
        if made >= wanted and begins:
            break
        at = _tangent(i, unit, limit)
        d0, d1 = blend_mm[i], blend_mm[i + 1]
        straight = length_mm[i] - d0 - d1
        x, y = speed2[node[i + 1] - 1], speed2[node[i + 1]]
        for j in range(count):
            s0 = length_mm[i] * j / count
            s1 = length_mm[i] * (j + 1) / count
            if (
                made == 0
                or (j == 0 and begins)
                or (j * parts) // count > ((j - 1) * parts) // count
            ):
                group_first[groups] = made
                groups += 1
                in_group, group_length = 0, 0.0
                ux, uy, uz = unit[i, 0], unit[i, 1], unit[i, 2]
            air_before = air
            in_group += 1
            group_length += s1 - s0
            for axis in range(3):
                steps[made, axis] = point_mm[i, axis] + s0 * unit[i, axis]
                steps[made, 3 + axis] = point_mm[i, axis] + s1 * unit[i, axis]
            if j == count - 1:
                for axis in range(3):
                    steps[made, 3 + axis] = point_mm[i + 1, axis]
            segment_of[made] = i
            follows[made] = made > 0 or follows_first
            if j > 0:  # it begins where the one before ended
                time_s[made, 0] = time_s[made - 1, 1]
            for side in range(1 if j > 0 else 0, 2):
                time_s[made, side] = _time_at(
                    i, s1 if side else s0, at, cap2[i], length_mm, blend_mm, node, speed2, node_s
                )
            s = 0.5 * (s0 + s1)
            if velocity.shape[0] == 0:
                pass
            elif count == 1 and straight > 0.5 * length_mm[i]:
                _pulling(i, made, at, cap2[i], straight, x, y, unit, velocity, acceleration)
            elif s < d0:
                _turning(i, made, d0 + s, unit, blend_mm, node, speed2, velocity, acceleration)
            elif s > length_mm[i] - d1:
                way = s - length_mm[i] + d1
                _turning(i + 1, made, way, unit, blend_mm, node, speed2, velocity, acceleration)
            else:
                rising = x + 2.0 * at * (s - d0)
                falling = y + 2.0 * at * (length_mm[i] - d1 - s)
                _going_straight(i, made, at, cap2[i], rising, falling, unit, velocity, acceleration)
            made += 1
        i += 1
    group_first[groups] = made
    return i, made, groups

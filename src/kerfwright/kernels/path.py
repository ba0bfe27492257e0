"""Moves to vertices: lines as they are, arcs as chords, places that repeat left out."""

from math import atan2, cos, hypot, sin, sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, kernel

FloatArray = NDArray[np.float64]

_SAME2_MM2 = 1e-18  #: nearer than 1e-9 mm a vertex is the one before


@kernel(**NUMPY)
def lay_vertices(  # type: ignore[no-untyped-def]
    first, end, arc, place, end_mm, feed, mode, arc_move, arc_start_mm, arc_centre_mm, arc_normal,
    arc_sweep_rad, arc_chords, point_mm, move, segment_feed, segment_mode, inside,
):  # fmt: skip
    """Lay the moves ``first`` to ``end`` (excluded) behind the vertices that are there.

    Parameters
    ----------
    arc, place : arcs laid and vertices laid so far, the start not counted.
    end_mm, feed, mode : (m, 3), (m,), (m,) of the moves.
    arc_move, arc_start_mm, arc_centre_mm, arc_normal, arc_sweep_rad, arc_chords : (k, ...) of the
        arcs, in order; an arc is laid in so many chords.
    point_mm : (n + 1, 3), the start in row 0; written behind row ``place``.
    move, segment_feed, segment_mode : (n,) written: of the move that each segment belongs to.
    inside : (n + 1,) written: whether a vertex lies inside an arc.

    Returns
    -------
    (arcs, vertices) laid so far
    """
    px, py, pz = point_mm[place, 0], point_mm[place, 1], point_mm[place, 2]
    for i in range(first, end):
        chords = 1
        if arc < arc_move.shape[0] and arc_move[arc] == i:
            chords = arc_chords[arc]
            normal = arc_normal[arc]
            a, b = (normal + 1) % 3, (normal + 2) % 3
            ca, cb = arc_centre_mm[arc, a], arc_centre_mm[arc, b]
            da, db = arc_start_mm[arc, a] - ca, arc_start_mm[arc, b] - cb
            from_angle, from_radius = atan2(db, da), hypot(da, db)
            # The language lets the radius at the end differ a little from that at the start.
            more = hypot(end_mm[i, a] - ca, end_mm[i, b] - cb) - from_radius
            rise = end_mm[i, normal] - arc_start_mm[arc, normal]
            for k in range(1, chords):
                share = k / chords
                angle = from_angle + share * arc_sweep_rad[arc]
                radius = from_radius + share * more
                place += 1
                point_mm[place, a] = ca + radius * cos(angle)
                point_mm[place, b] = cb + radius * sin(angle)
                point_mm[place, normal] = arc_start_mm[arc, normal] + share * rise
                dx, dy, dz = (
                    point_mm[place, 0] - px,
                    point_mm[place, 1] - py,
                    point_mm[place, 2] - pz,
                )
                if dx * dx + dy * dy + dz * dz <= _SAME2_MM2:
                    place -= 1
                    continue
                px, py, pz = point_mm[place, 0], point_mm[place, 1], point_mm[place, 2]
                move[place - 1], segment_feed[place - 1], segment_mode[place - 1] = (
                    i,
                    feed[i],
                    mode[i],
                )
                inside[place] = True
            arc += 1
        x, y, z = end_mm[i, 0], end_mm[i, 1], end_mm[i, 2]
        dx, dy, dz = x - px, y - py, z - pz
        if dx * dx + dy * dy + dz * dz > _SAME2_MM2:
            move[place], segment_feed[place], segment_mode[place] = i, feed[i], mode[i]
            place += 1
            point_mm[place, 0], point_mm[place, 1], point_mm[place, 2] = x, y, z
            inside[place] = False
            px, py, pz = x, y, z
    return arc, place


def lay_vertices_reference(
    start_mm: FloatArray,
    end_mm: FloatArray,
    arcs: dict[int, tuple[FloatArray, FloatArray, int, float, int]],
) -> tuple[list[FloatArray], list[int], list[bool]]:
    """Vertices, the move of each segment, whether each vertex is inside an arc: the definition.

    ``arcs``: by move: start, centre, axis of its normal, sweep [rad], chords.
    """
    points, moves, inside = [np.asarray(start_mm, np.float64)], [], [False]

    def go(to: FloatArray, move: int, within: bool) -> None:
        if sqrt(float(((to - points[-1]) ** 2).sum())) > 1e-9:
            points.append(to)
            moves.append(move)
            inside.append(within)

    for move, end in enumerate(end_mm):
        if move in arcs:
            start, centre, normal, sweep, chords = arcs[move]
            a, b = (normal + 1) % 3, (normal + 2) % 3
            (r0, t0), r1 = _polar(start - centre, a, b), _polar(end - centre, a, b)[0]
            for share in np.arange(1, chords) / chords:
                to = start + share * (end - start)
                radius, angle = r0 + share * (r1 - r0), t0 + share * sweep
                to[a], to[b] = centre[a] + radius * cos(angle), centre[b] + radius * sin(angle)
                go(to, move, True)
        go(np.asarray(end, np.float64), move, False)
    return points, moves, inside


def _polar(out: FloatArray, a: int, b: int) -> tuple[float, float]:
    return hypot(out[a], out[b]), atan2(out[b], out[a])

"""Sums and extents of a whole program, arcs and helices by their true length and reach."""

from dataclasses import dataclass
from math import fsum, pi

import numpy as np

from kerfwright.program.program import FloatArray, MoveKind, Program

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class PathTotals:
    """Path lengths, and the box that holds every point of the path with its start. [mm]"""

    rapid_mm: float
    cut_mm: float
    lowest_mm: Vector
    highest_mm: Vector


def move_lengths(program: Program) -> FloatArray:
    """Length of each move, (n,): helices along the helix. [mm]

    An arc whose radius changes between start and end, as the rules of reading allow, counts with
    its radius at the start.
    """
    start = program.from_mm
    step = program.end_mm - start
    lengths: FloatArray = np.sqrt(np.einsum("ij,ij->i", step, step))
    arcs = program.arcs
    if len(arcs.move):
        radius = _radius(program, start)
        along = step[arcs.move, arcs.normal]
        lengths[arcs.move] = np.hypot(radius * arcs.sweep_rad, along)
    return lengths


def totals(program: Program) -> PathTotals:
    """Path at rapid, path at feed, and the extents.

    The sums are correctly rounded (``math.fsum``), so they do not depend on the order.
    """
    lengths = move_lengths(program)
    rapid = program.kind == MoveKind.RAPID
    # Starts too: where a length offset changes, a move begins where none ended.
    start = program.start_mm[None, :]
    parts = [
        part for part in (start, program.end_mm, program.from_mm, _arc_reach(program)) if len(part)
    ]
    low = np.min([part.min(axis=0) for part in parts], axis=0).tolist()
    high = np.max([part.max(axis=0) for part in parts], axis=0).tolist()
    return PathTotals(
        rapid_mm=fsum(lengths[rapid].tolist()),
        cut_mm=fsum(lengths[~rapid].tolist()),
        lowest_mm=(low[0], low[1], low[2]),
        highest_mm=(high[0], high[1], high[2]),
    )


def size_mm(program: Program) -> Vector:
    """Size of the box around the cuts and the ends of all moves. [mm]

    The way at rapid from where the program is taken to start does not count.
    """
    cuts_from = program.from_mm[program.kind != MoveKind.RAPID]
    parts = [part for part in (program.end_mm, cuts_from, _arc_reach(program)) if len(part)]
    if not parts:
        return 0.0, 0.0, 0.0
    low = np.min([part.min(axis=0) for part in parts], axis=0)
    high = np.max([part.max(axis=0) for part in parts], axis=0)
    x, y, z = (high - low).tolist()
    return x, y, z


def _radius(program: Program, start: FloatArray) -> FloatArray:
    """Radius of each arc at its start, (k,). [mm]"""
    arcs = program.arcs
    rows = np.arange(len(arcs.move))
    a, b = (arcs.normal + 1) % 3, (arcs.normal + 2) % 3
    out = start[arcs.move] - arcs.centre_mm
    radius: FloatArray = np.hypot(out[rows, a], out[rows, b])
    return radius


def _arc_reach(program: Program) -> FloatArray:
    """The points of the arcs that lie farthest along each axis, (m, 3): the quarter points that
    an arc passes. Along the normal the ends are the farthest; there the start is given.
    """
    arcs = program.arcs
    if not len(arcs.move):
        return np.zeros((0, 3))
    start = program.from_mm
    rows = np.arange(len(arcs.move))
    a, b = (arcs.normal + 1) % 3, (arcs.normal + 2) % 3
    out = start[arcs.move] - arcs.centre_mm
    first = np.arctan2(out[rows, b], out[rows, a])
    radius = _radius(program, start)
    reach = []
    for quarter, (cos, sin) in enumerate(((1, 0), (0, 1), (-1, 0), (0, -1))):
        # How far the arc has to turn, in its own sense, until it points that way.
        sense = np.sign(arcs.sweep_rad)
        turn = np.mod(sense * (0.5 * pi * quarter - first), 2.0 * pi)
        passed = turn <= np.abs(arcs.sweep_rad)
        point = start[arcs.move].copy()
        point[rows, a] = arcs.centre_mm[rows, a] + radius * cos
        point[rows, b] = arcs.centre_mm[rows, b] + radius * sin
        reach.append(point[passed])
    return np.concatenate(reach)

"""Sums and extents of a whole program, arcs and helices by their true length and reach."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import fsum, pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.program.program import FloatArray, MoveKind, Program

_AT_ONCE = 65_536  #: moves: what comes in between stays in the processor's cache

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
    lengths = np.empty(program.moves)
    for begin in range(0, program.moves, _AT_ONCE):
        step = np.diff(program.point_mm[begin : begin + _AT_ONCE + 1], axis=0)
        np.sqrt(np.einsum("ij,ij->i", step, step), out=lengths[begin : begin + _AT_ONCE])
    jumps = program.jumps.move[program.jumps.move < program.moves]
    lengths[jumps] = np.linalg.norm(program.end_mm[jumps] - program.starts_mm(jumps), axis=1)
    arcs = program.arcs
    if len(arcs.move):
        rows = np.arange(len(arcs.move))
        along = (program.end_mm[arcs.move] - program.starts_mm(arcs.move))[rows, arcs.normal]
        lengths[arcs.move] = np.hypot(_radius(program) * arcs.sweep_rad, along)
    return lengths


def totals(program: Program) -> PathTotals:
    """Path at rapid, path at feed, and the extents.

    The sums are correctly rounded (``math.fsum``), so they do not depend on the order.
    """
    lengths = move_lengths(program)
    rapid = program.kind == MoveKind.RAPID
    start = program.start_mm[None, :]
    _, begun = _own_starts(program)
    low, high = _box([start, program.end_mm, begun, _arc_reach(program)])
    return PathTotals(
        rapid_mm=fsum(_each(lengths[rapid])),
        cut_mm=fsum(_each(lengths[~rapid])),
        lowest_mm=low,
        highest_mm=high,
    )


def _each(lengths: FloatArray) -> Iterator[float]:
    """They one by one, without a list of all."""
    for begin in range(0, len(lengths), _AT_ONCE):
        yield from lengths[begin : begin + _AT_ONCE].tolist()


def size_mm(program: Program) -> Vector:
    """Size of the box around the cuts and the ends of all moves. [mm]

    The way at rapid from where the program is taken to start does not count.
    """
    if not program.moves:
        return 0.0, 0.0, 0.0
    move, begun = _own_starts(program)
    cuts_from = begun[program.kind[move] != MoveKind.RAPID]
    low, high = _box([program.end_mm, cuts_from, _arc_reach(program)])
    return high[0] - low[0], high[1] - low[1], high[2] - low[2]


def _own_starts(program: Program) -> tuple[NDArray[np.int64], FloatArray]:
    """Moves that begin where none ended, and where: the first, and those at which a length offset
    changes. (k,), (k, 3)
    """
    move = np.unique([0, *program.jumps.move.tolist()])
    move = move[move < program.moves]
    return move, program.starts_mm(move)


def _box(parts: Sequence[FloatArray]) -> tuple[Vector, Vector]:
    """The lowest and the highest corner of the box around points, (n, 3) each, some at least."""
    some = [part for part in parts if len(part)]
    # Column by column: along the rows of three numbers it takes twenty times as long.
    low = [min(float(part[:, axis].min()) for part in some) for axis in range(3)]
    high = [max(float(part[:, axis].max()) for part in some) for axis in range(3)]
    return (low[0], low[1], low[2]), (high[0], high[1], high[2])


def _radius(program: Program) -> FloatArray:
    """Radius of each arc at its start, (k,). [mm]"""
    arcs = program.arcs
    rows = np.arange(len(arcs.move))
    a, b = (arcs.normal + 1) % 3, (arcs.normal + 2) % 3
    out = program.starts_mm(arcs.move) - arcs.centre_mm
    radius: FloatArray = np.hypot(out[rows, a], out[rows, b])
    return radius


def _arc_reach(program: Program) -> FloatArray:
    """The points of the arcs that lie farthest along each axis, (m, 3): the quarter points that
    an arc passes. Along the normal the ends are the farthest; there the start is given.
    """
    arcs = program.arcs
    if not len(arcs.move):
        return np.zeros((0, 3))
    start = program.starts_mm(arcs.move)
    rows = np.arange(len(arcs.move))
    a, b = (arcs.normal + 1) % 3, (arcs.normal + 2) % 3
    out = start - arcs.centre_mm
    first = np.arctan2(out[rows, b], out[rows, a])
    radius = _radius(program)
    reach = []
    for quarter, (cos, sin) in enumerate(((1, 0), (0, 1), (-1, 0), (0, -1))):
        # How far the arc has to turn, in its own sense, until it points that way.
        sense = np.sign(arcs.sweep_rad)
        turn = np.mod(sense * (0.5 * pi * quarter - first), 2.0 * pi)
        passed = turn <= np.abs(arcs.sweep_rad)
        point = start.copy()
        point[rows, a] = arcs.centre_mm[rows, a] + radius * cos
        point[rows, b] = arcs.centre_mm[rows, b] + radius * sin
        reach.append(point[passed])
    return np.concatenate(reach)

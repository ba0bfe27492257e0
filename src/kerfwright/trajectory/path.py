"""The path of a program as vertices: lines as they are, arcs as chords."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import KerfwrightError
from kerfwright.program import Program

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CHORD_MM = 0.002  #: how far the chords of an arc stay inside it
MOST_PIECES = 30_000_000
_SAME_MM = 1e-9


class TooManyPieces(KerfwrightError):
    """More pieces than memory can hold."""


def vertices(program: Program) -> tuple[FloatArray, NDArray[np.int32], NDArray[np.bool_]]:
    """Vertices, the move of each segment, and whether a vertex lies inside an arc."""
    arcs = program.arcs
    start = program.from_mm
    chords = np.ones(program.moves, np.int64)
    radius = np.zeros(len(arcs.move))
    if len(arcs.move):
        out = start[arcs.move] - arcs.centre_mm
        out[np.arange(len(out)), arcs.normal] = 0.0
        radius = np.linalg.norm(out, axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            turn = 2.0 * np.arccos(np.clip(1.0 - CHORD_MM / radius, 0.0, 1.0))
        turn = np.clip(np.nan_to_num(turn, nan=1.0), 1e-4, 0.5)
        chords[arcs.move] = np.maximum(1, np.ceil(np.abs(arcs.sweep_rad) / turn))
    if chords.sum() > MOST_PIECES:
        raise TooManyPieces(
            f"{program.file}: its arcs and lines make {chords.sum() / 1e6:.0f} million straight"
            f" pieces, and at most {MOST_PIECES / 1e6:.0f} million are proved at once\n"
            "  remedy: look for a slip in an arc, or prove the program in parts"
        )
    first = np.concatenate([[0], np.cumsum(chords)])
    move = np.repeat(np.arange(program.moves), chords)
    vertex = program.end_mm[move].copy()
    inside = np.zeros(len(move), np.bool_)
    if len(arcs.move):
        _lay_chords(program, start, chords, first, vertex, inside)
    return _without_doubles(np.vstack([program.start_mm[None], vertex]), move, inside)


def _without_doubles(
    point_mm: FloatArray, move: IntArray, inside: NDArray[np.bool_]
) -> tuple[FloatArray, NDArray[np.int32], NDArray[np.bool_]]:
    """The vertices without those that lie on the one before."""
    while True:
        keep = np.linalg.norm(np.diff(point_mm, axis=0), axis=1) > _SAME_MM
        if keep.all():
            break
        # Leaving some out may bring two together that both stood off one between them.
        point_mm = point_mm[np.concatenate([[True], keep])]
        move, inside = move[keep], inside[keep]
    return (
        np.ascontiguousarray(point_mm),
        move.astype(np.int32),
        np.concatenate([[False], inside]),
    )


def _lay_chords(
    program: Program,
    start: FloatArray,
    chords: IntArray,
    first: IntArray,
    vertex: FloatArray,
    inside: NDArray[np.bool_],
) -> None:
    arcs = program.arcs
    many = chords[arcs.move]
    arc = np.repeat(np.arange(len(arcs.move)), many)
    nth = np.arange(len(arc)) - np.repeat(np.cumsum(many) - many, many) + 1
    share = nth / many[arc]
    where = first[arcs.move][arc] + nth - 1
    normal = arcs.normal[arc]
    a, b = (normal + 1) % 3, (normal + 2) % 3
    row = np.arange(len(arc))
    begin, end, centre = start[arcs.move][arc], program.end_mm[arcs.move][arc], arcs.centre_mm[arc]
    da, db = begin[row, a] - centre[row, a], begin[row, b] - centre[row, b]
    angle = np.arctan2(db, da) + share * arcs.sweep_rad[arc]
    # The language lets the radius at the end differ a little from that at the start.
    end_radius = np.hypot(end[row, a] - centre[row, a], end[row, b] - centre[row, b])
    radius = (1.0 - share) * np.hypot(da, db) + share * end_radius
    laid = np.empty((len(arc), 3))
    laid[row, a] = centre[row, a] + radius * np.cos(angle)
    laid[row, b] = centre[row, b] + radius * np.sin(angle)
    laid[row, normal] = begin[row, normal] + share * (end[row, normal] - begin[row, normal])
    inner = nth < many[arc]
    vertex[where[inner]] = laid[inner]
    inside[where[inner]] = True

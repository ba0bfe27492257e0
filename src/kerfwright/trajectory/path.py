"""The path of a program as vertices: lines as they are, arcs as chords."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import KerfwrightError
from kerfwright.basics.progress import Progress, silent
from kerfwright.kernels.path import lay_vertices
from kerfwright.program import Program

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CHORD_MM = 0.002  #: how far the chords of an arc stay inside it
MOST_PIECES = 30_000_000
_RANGE = 200_000  #: moves in one kernel call


class TooManyPieces(KerfwrightError):
    """More pieces than memory can hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Path:
    """Vertices with no two neighbours alike, and the segments between them."""

    point_mm: FloatArray  #: (n + 1, 3)
    move: NDArray[np.int32]  #: (n,) the program's move
    feed_mm_per_s: FloatArray  #: (n,) as programmed
    mode: NDArray[np.uint8]  #: (n,) PathMode
    inside_arc: NDArray[np.bool_]  #: (n + 1,)


def path_of(program: Program, progress: Progress = silent) -> Path:
    """Lay a program's moves."""
    arcs = program.arcs
    start = program.starts_mm(arcs.move)
    chords = _chords(program, start)
    most = program.moves - len(chords) + int(chords.sum())
    if most > MOST_PIECES:
        raise TooManyPieces(
            f"{program.file}: its arcs and lines make {most / 1e6:.0f} million straight"
            f" pieces, and at most {MOST_PIECES / 1e6:.0f} million are proved at once\n"
            "  remedy: look for a slip in an arc, or prove the program in parts"
        )
    point, inside = np.empty((most + 1, 3)), np.zeros(most + 1, np.bool_)
    point[0] = program.start_mm
    move, feed = np.empty(most, np.int32), np.empty(most)
    mode = np.empty(most, np.uint8)
    arc = place = 0
    for a in range(0, program.moves, _RANGE):
        progress("planning the motion", 0.1 * a / program.moves)
        arc, place = lay_vertices(
            a, min(program.moves, a + _RANGE), arc, place, program.end_mm, program.feed_mm_per_s,
            program.path_mode, arcs.move, start, arcs.centre_mm, arcs.normal, arcs.sweep_rad,
            chords, point, move, feed, mode, inside,
        )  # fmt: skip
    as_read = not len(arcs.move) and place == program.moves  # then both are the same points
    return Path(
        point_mm=program.point_mm if as_read else point[: place + 1],
        move=move[:place],
        feed_mm_per_s=feed[:place],
        mode=mode[:place],
        inside_arc=inside[: place + 1],
    )


def _chords(program: Program, start_mm: FloatArray) -> IntArray:
    """Chords that each arc is laid in. (k,)"""
    arcs = program.arcs
    out = start_mm - arcs.centre_mm
    out[np.arange(len(out)), arcs.normal] = 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = 2.0 * np.arccos(np.clip(1.0 - CHORD_MM / np.linalg.norm(out, axis=1), 0.0, 1.0))
    turn = np.clip(np.nan_to_num(turn, nan=1.0), 1e-4, 0.5)
    return np.asarray(np.maximum(1, np.ceil(np.abs(arcs.sweep_rad) / turn)), np.int64)

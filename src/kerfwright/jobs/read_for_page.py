"""What the page shows of a program before any proof, and the job file of a new job."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from kerfwright.basics.progress import Progress, silent
from kerfwright.basics.units import INCH_MM
from kerfwright.jobs.belongings import read
from kerfwright.machine import load_machine
from kerfwright.program import MoveKind, Program, totals
from kerfwright.program.totals import PathTotals
from kerfwright.setup.units import size_words

#: A zero this near to the middle of the path was meant to be there, as a share of the path.
_MIDDLE = 0.05
_THINNEST_MM = 3.0
_MOST_HULL_POINTS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadErrand:
    """A program and the machine that reads it."""

    program: Path
    machine: Path


def read_for_page(errand: ReadErrand, *, progress: Progress = silent) -> dict[str, Any]:
    """Facts of a program as plain values, with the text of a job file to begin with.

    Raises ``KerfwrightError`` for what cannot be read, ``Stopped`` when asked to stop.
    """
    progress("reading", 0.0)
    program = read(errand.program, load_machine(errand.machine), None, progress)
    sums = totals(program)
    slots = sorted({int(slot) for slot in np.unique(program.slot)} - {0})
    return {
        "lines": program.lines,
        "moves": program.moves,
        "size_words": _size(sums),
        "extents_mm": {
            axis: [low, high]
            for axis, low, high in zip("xyz", sums.lowest_mm, sums.highest_mm, strict=True)
        },
        "slots": slots,
        "outline_mm": _outline(program),
        "job_text": job_text(errand.program.name, _feed_reach(program, sums)),
    }


def _size(sums: PathTotals) -> str:
    """How far the path goes: ``305 x 203 x 6 mm (12.01 x 7.99 x 0.24 in)``."""
    x, y, z = (h - low for h, low in zip(sums.highest_mm, sums.lowest_mm, strict=True))
    inches = " x ".join(f"{mm / INCH_MM:.2f}" for mm in (x, y, z))
    return f"{size_words((x, y, z))} ({inches} in)"


def _feed_reach(program: Program, sums: PathTotals) -> tuple[list[float], list[float]]:
    """Lowest and highest of what is done at feed, or of everything. [mm]"""
    feed = program.kind != MoveKind.RAPID
    if not feed.any():
        return list(sums.lowest_mm), list(sums.highest_mm)
    ends = np.concatenate([program.end_mm[feed], program.from_mm[feed]])
    return ends.min(axis=0).tolist(), ends.max(axis=0).tolist()


def _outline(program: Program) -> list[list[float]]:
    """Hull of all that is done at feed, in the program's frame. [mm]"""
    feed = program.kind != MoveKind.RAPID
    ends = np.concatenate([program.end_mm[feed, :2], program.from_mm[feed, :2]])
    if not len(ends):
        return []
    hull = shapely.MultiPoint(np.unique(ends, axis=0)).convex_hull
    points = shapely.get_coordinates(hull)
    step = -(-len(points) // _MOST_HULL_POINTS)
    return [[float(x), float(y)] for x, y in points[::step].tolist()]


def job_text(name: str, reach: tuple[list[float], list[float]]) -> str:
    """A job file in which all that is not known is said to be so."""
    low, high = reach
    zero, size = [], []
    for axis, names in ((0, ("left", "middle")), (1, ("front", "middle"))):
        span = max(high[axis] - low[axis], 1.0)
        if abs(low[axis] + high[axis]) <= _MIDDLE * span:
            zero.append(names[1])
            size.append(span)
        elif low[axis] >= -0.5 * span:
            before = max(-low[axis], 0.0)
            zero.append(names[0] if before < 1.0 else f"{before:.1f} mm")
            size.append(max(high[axis], 1.0) + (before if before >= 1.0 else 0.0))
        else:
            zero.append(f"{-low[axis]:.1f} mm")
            size.append(max(high[axis], 0.0) - low[axis])
    on_table = low[2] >= -0.01
    size.append(max(high[2] if on_table else -low[2], _THINNEST_MM))
    length, width, thick = (f"{mm:.1f}" for mm in size)
    lines = [
        'kerfwright = "job 1"',
        f"note = {json.dumps('Begun from ' + name[:100])}",
        "",
        "[board]",
        f'size = {{ is = "{length} x {width} x {thick} mm", from = "estimated",'
        ' ref = "as far as the program reaches: measure the board" }',
        'wood = "don\'t know"',
        'moisture = "don\'t know"',
        'at = "don\'t know"',
        "",
        "[zero]",
        f'x = "{zero[0]}"',
        f'y = "{zero[1]}"',
        f'z = "{"table" if on_table else "top"}"',
        "",
        "[slots]",
        "",
        "[limits]",
        "",
    ]
    return "\n".join(lines)

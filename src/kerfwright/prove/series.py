"""Loads along the way of a program, as pictures and files show them."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels import cutting
from kerfwright.program import Program
from kerfwright.prove.facts import Facts
from kerfwright.prove.proof import Groups, Series
from kerfwright.prove.sweep import Swept, Tooling

FloatArray = NDArray[np.float64]

SERIES_BINS = 1200


def groups_of(facts: Facts, program: Program) -> Groups:
    """Every stretch of path, with where it stands in the program."""
    swept, tools = facts.swept, facts.tools
    move = facts.trajectory.move[swept.segment]
    return Groups(
        column=swept.column,
        motion_mm=swept.motion_mm,
        give_mm=swept.give_mm,
        line=facts.line[swept.segment],
        byte=program.byte[move],
        slot=tools.slot[swept.segment].astype(np.int16),
        rapid=tools.rapid[swept.segment],
    )


def series_of(swept: Swept, tools: Tooling, time_s: float) -> Series:
    """The worst within each of equal bins of time."""
    column = swept.column
    bins = max(1, min(SERIES_BINS, len(column)))
    at = np.clip((column[:, cutting.TIME] / max(time_s, 1e-9) * bins).astype(np.int64), 0, bins - 1)

    def worst(values: NDArray[np.float32], least: bool, idle: float) -> FloatArray:
        out = np.full(bins, idle)
        (np.minimum if least else np.maximum).at(out, at, values.astype(np.float64))
        return out

    slot = np.zeros(bins, np.int16)
    np.maximum.at(slot, at, tools.slot[swept.segment].astype(np.int16))
    # Through a pause the cutter stays in the spindle.
    seen = np.maximum.accumulate(np.where(slot > 0, np.arange(bins), 0))
    slot = slot[seen]
    return Series(
        time_s=(np.arange(bins) + 1.0) * time_s / bins,
        pull_left_x=worst(column[:, cutting.PULL_X], True, 1.0),
        pull_left_y=worst(column[:, cutting.PULL_Y], True, 1.0),
        pull_left_z=worst(column[:, cutting.PULL_Z], True, 1.0),
        power_w=worst(column[:, cutting.POWER], False, 0.0),
        deflection_mm=worst(np.linalg.norm(swept.give_mm, axis=1), False, 0.0),
        chip_mm=worst(column[:, cutting.FEED_PER_TOOTH], False, 0.0),
        slot=slot,
    )

"""Steps that lie one behind another in a straight line seen from above, to be taken together.

A step is about two cells long and the cutter many, so the blocks of one step are nearly those of
the next. Steps of a group in one line are a run: a block meets all of it at once, with one record
of its walls and one of its lanes. Steps of a run that have the same slope too are one part.
"""

from math import hypot

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import kernel

#: Steps shorter in plan are straight down or up. [mm]
STAMP_MM = 1e-6
#: Where two steps that are one part meet, at most so far above or below it. [mm]
LEVEL_MM = 1e-5
#: The same for a path that is known no better: half of the last digit of a program in mm. [mm]
ROUGH_LEVEL_MM = 5e-4


@kernel(**BORROWING)
def make_runs(  # type: ignore[no-untyped-def]
    steps, follows, group_first, beside_mm, level_mm, part, part_follows, part_number, run_first,
    box, along, group_run,
):  # fmt: skip
    """Put the steps of groups together into runs, and those of a run into parts.

    Parameters
    ----------
    steps : (w, 6) x y z at begin and end. [mm] follows : (w,) as ``removal.cut_tiles`` has it.
    group_first : (g + 1,) first step of each group; a run never goes from one into another.
    beside_mm, level_mm : how far the steps of a run may lie beside its line, and where those of a
        part meet, above or below it.
    part (w, 6), part_follows (w,), part_number (w,) : written: parts, and the first step of each.
    run_first (w + 1,), box (w, 6), along (w,) : written: first part of each run, the lowest and
        the highest x y z of it, and whether it goes anywhere in plan.
    group_run : (g + 1,) written: first run of each group.

    Returns
    -------
    how many runs
    """
    parts = runs = 0
    x0 = y0 = ux = uy = reached = 0.0
    least = most = 0.0  # slope that a part may have, for all the places where its steps meet
    for g in range(group_first.shape[0] - 1):
        group_run[g] = runs
        for i in range(group_first[g], group_first[g + 1]):
            dx, dy = steps[i, 3] - steps[i, 0], steps[i, 4] - steps[i, 1]
            flat = hypot(dx, dy)
            goes_on = i > group_first[g] and follows[i] and flat > STAMP_MM and along[runs - 1]
            if goes_on:
                x, y = steps[i, 3] - x0, steps[i, 4] - y0
                end = x * ux + y * uy
                goes_on = abs(y * ux - x * uy) <= beside_mm and end > reached
            if not goes_on:
                run_first[runs] = parts
                along[runs] = flat > STAMP_MM
                for axis in range(3):
                    box[runs, axis] = min(steps[i, axis], steps[i, 3 + axis])
                    box[runs, 3 + axis] = max(steps[i, axis], steps[i, 3 + axis])
                runs += 1
                x0, y0, end = steps[i, 0], steps[i, 1], flat
                if flat > STAMP_MM:
                    ux, uy = dx / flat, dy / flat
            alike = False
            if goes_on:
                last = part[parts - 1]
                before = hypot(last[3] - last[0], last[4] - last[1])
                least = max(least, (last[5] - level_mm - last[2]) / before)
                most = min(most, (last[5] + level_mm - last[2]) / before)
                slope = (steps[i, 5] - last[2]) / (before + flat)
                alike = least <= slope <= most
                for axis in range(3):
                    box[runs - 1, axis] = min(box[runs - 1, axis], steps[i, 3 + axis])
                    box[runs - 1, 3 + axis] = max(box[runs - 1, 3 + axis], steps[i, 3 + axis])
            if alike:
                for axis in range(3, 6):
                    part[parts - 1, axis] = steps[i, axis]
            else:
                for axis in range(6):
                    part[parts, axis] = steps[i, axis]
                part_follows[parts] = follows[i]
                part_number[parts] = i
                least, most = -np.inf, np.inf
                parts += 1
            reached = end
    run_first[runs] = parts
    group_run[group_first.shape[0] - 1] = runs
    return runs


def runs_reference(
    steps: NDArray[np.float64],
    follows: NDArray[np.bool_],
    group_first: NDArray[np.int64],
    beside_mm: float,
    level_mm: float,
) -> list[list[list[int]]]:
    """Steps of each part of each run: the definition. ``make_runs`` tells the same by numbers."""
    runs: list[list[list[int]]] = []
    new_group = set(group_first.tolist())
    for i, step in enumerate(steps):
        flat = np.linalg.norm(step[3:5] - step[:2])
        joins: bool = i not in new_group and bool(follows[i]) and bool(flat > STAMP_MM)
        if joins:
            first = steps[runs[-1][0][0]]
            line = first[3:5] - first[:2]
            joins = bool(np.linalg.norm(line) > STAMP_MM)
        if joins:
            line = line / np.linalg.norm(line)
            ends = [(end - first[:2]) @ line for end in (step[:2], step[3:5])]
            off = step[3:5] - first[:2] - ends[1] * line
            joins = bool(np.linalg.norm(off) <= beside_mm) and ends[1] > ends[0]
        if not joins:
            runs.append([[i]])
            continue
        begin = steps[runs[-1][-1][0]]
        met = steps[runs[-1][-1], 3:]
        until = np.linalg.norm(met[:, :2] - begin[:2], axis=1)
        level = begin[2] + (step[5] - begin[2]) * until / (until[-1] + flat)
        if (np.abs(level - met[:, 2]) <= level_mm).all():
            runs[-1][-1].append(i)
        else:
            runs[-1].append([i])
    return runs

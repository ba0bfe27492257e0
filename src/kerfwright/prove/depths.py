"""How deep pockets and grooves come out, where the job asks for a depth."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Spot
from kerfwright.prove.as_cut import Ends
from kerfwright.prove.off_size import beyond_mm
from kerfwright.prove.verdict import Dimension, Share, Shares
from kerfwright.setup import Setup
from kerfwright.setup.wanted import DEPTH
from kerfwright.stock.field import NEVER, Field, Span

FloatArray = NDArray[np.float32]

#: How far round the place its floor is looked at, and how flat it has to be there. [mm]
_ROUND_MM, _FLAT_MM = 2.0, 0.02
#: How far away the top is looked for that a depth gauge rests on. [mm]
_RESTS_MM = 40.0
_LEAST_CELLS = 4


def depths(programmed: Field, as_run: Field, ends: Ends, setup: Setup) -> Mapping[str, Dimension]:
    """The depth at each place that the job names; by the wanted size's key.

    From the top that a depth gauge rests on, the nearest that was not cut, to the floor at the
    place. Places where nothing was cut, or where it goes right through, are left out.
    """
    out = {}
    for wanted in setup.wanted:
        if wanted.measure != DEPTH or wanted.near_mm is None:
            continue
        found = _depth(programmed, as_run, wanted.near_mm)
        if found is None:
            continue
        meant, real = found
        x, y = wanted.near_mm
        spot = Spot(x_mm=x, y_mm=y, z_mm=-meant)
        off = ends.of(meant - real, spot)  # above 0 proud: less deep
        size = Estimate(
            value=meant - off.value, low=meant - off.high, high=meant - off.low,
            mostly_from=off.mostly_from,
        )  # fmt: skip
        out[wanted.key] = Dimension(
            name=DEPTH,
            programmed_mm=meant,
            size=size,
            likelihood=beyond_mm(size, meant, setup.tolerance_mm),
            shares=_deeper(ends.shares(spot)),
            spot=spot,
        )
    return out


def _deeper(up: Shares) -> Shares:
    """Shares of a height as those of a depth."""
    one, two, three = (
        Share(mm=-part.mm, unsure_mm=part.unsure_mm) for part in (up.set_up, up.machine, up.cut)
    )
    return Shares(set_up=one, machine=two, cut=three)


def _depth(
    programmed: Field, as_run: Field, at_mm: tuple[float, float]
) -> tuple[float, float] | None:
    """Depth as programmed and as run. [mm]"""
    span, inside = _around(programmed, at_mm, _ROUND_MM)
    height, run = programmed.heights(*span), as_run.heights(*span)
    cut = inside & (programmed.makers(*span) != NEVER) & (height > programmed.floor_mm)
    if int(cut.sum()) < _LEAST_CELLS:
        return None
    # The floor at the place itself: cells of a wall or of another step are left out.
    floor = float(np.median(height[cut]))
    flat = cut & (np.abs(height - floor) <= _FLAT_MM)
    if int(flat.sum()) < _LEAST_CELLS:
        return None
    span, ring = _around(programmed, at_mm, _RESTS_MM)
    rests = ring & (programmed.makers(*span) == NEVER)
    top = float(np.median(programmed.heights(*span)[rests])) if rests.any() else 0.0
    return top - float(np.mean(height[flat])), top - float(np.mean(run[flat]))


def _around(
    field: Field, at_mm: tuple[float, float], round_mm: float
) -> tuple[Span, NDArray[np.bool_]]:
    """The rows and columns about a place, and which of their cells lie in the circle."""
    cell = field.cell_mm
    first, left = (max(int((c - round_mm) / cell), 0) for c in (at_mm[1], at_mm[0]))
    end = min(int((at_mm[1] + round_mm) / cell) + 1, field.rows)
    right = min(int((at_mm[0] + round_mm) / cell) + 1, field.columns)
    span = first, end, left, right
    y = (np.arange(first, end) + 0.5) * cell - at_mm[1]
    x = (np.arange(left, right) + 0.5) * cell - at_mm[0]
    return span, np.hypot(x[None, :], y[:, None]) <= round_mm

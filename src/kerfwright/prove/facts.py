"""What the checks look at, and findings made at a segment or at a group of steps."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Finding, Remedy, Severity, Spot
from kerfwright.kernels import cutting
from kerfwright.machine import MachineModel
from kerfwright.program import Program
from kerfwright.prove.margins import exact, spot_of
from kerfwright.prove.sweep import Swept, Tooling
from kerfwright.setup import Setup
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)  # without slots: some of it is asked for many times
class Facts:
    """A program as it runs and cuts."""

    trajectory: Trajectory
    tools: Tooling
    setup: Setup
    machine: MachineModel
    swept: Swept
    line: NDArray[np.int32]  #: (segments,) program line
    program: Program | None = None  #: for trying changes of it; None: none is tried

    @cached_property
    def cuts(self) -> NDArray[np.bool_]:
        """Which groups take wood at feed. (groups,)"""
        taken = self.swept.column[:, cutting.TAKEN] > LEAST_MM3
        return np.asarray(taken & ~self.tools.rapid[self.swept.segment])

    @cached_property
    def lowest_mm(self) -> float:
        """How low the path comes, on the board."""
        return float(self.trajectory.point_mm[:, 2].min()) + self.setup.zero_on_board_mm[2]

    def on_board(self, point_mm: FloatArray) -> FloatArray:
        """From the program's frame to the board's."""
        return np.asarray(point_mm + np.array(self.setup.zero_on_board_mm))

    def start_s(self, segment: int) -> float:
        """When a segment begins, or where it is one past the last, when all ends."""
        if segment == len(self.trajectory.move):
            return self.trajectory.time_s
        return float(self.trajectory.starts_s(slice(segment, segment + 1))[0])

    def group_line(self, group: int) -> int:
        """Program line of a group."""
        return int(self.line[self.swept.segment[group]])

    def groups_of(self, slot: int) -> NDArray[np.int64]:
        """Groups in which this cutter takes wood at feed."""
        return np.flatnonzero(self.cuts & (self.tools.slot[self.swept.segment] == slot))

    def solid(self, groups: NDArray[np.int64]) -> NDArray[np.int64]:
        """Those of some groups that take more than stray cells at a rim.

        A cell that the chords of an earlier pass missed by a hair counts at its full height; such
        cells come singly. Real wood is thick, or goes on for some groups.
        """
        depth, way, taken = (
            self.swept.column[groups, name].astype(np.float64)
            for name in (cutting.DEPTH, cutting.WAY, cutting.TAKEN)
        )
        high = np.maximum(depth * way, 1e-9)
        cell = self.swept.field.cell_mm
        thick = taken / high >= max(_THICK_MM, 1.5 * cell * cell)
        follows = np.diff(groups) == 1
        before = np.concatenate([[False], follows])
        after = np.concatenate([follows, [False]])
        amid = before & after
        run = amid.copy()
        run[:-1] |= amid[1:]
        run[1:] |= amid[:-1]
        return np.asarray(groups[thick | run])


_THICK_MM = 0.3

#: Less than this is the rounding of a height field, not a cut.
LEAST_MM3 = 1e-3


def at_segment(
    facts: Facts,
    segment: int,
    code: str,
    severity: Severity,
    words: str,
    measure: tuple[float, float, str],
    remedies: tuple[Remedy, ...],
    suffix: str = "",
    likelihood: float | None = None,
) -> Finding:
    """A finding at the end of a segment; ``measure``: value, limit, unit."""
    x, y, z = facts.on_board(facts.trajectory.point_mm[segment + 1]).tolist()
    line = int(facts.line[segment])
    value, limit, unit = measure
    return Finding(
        id=f"{code.replace(' ', '-')}-{line}{suffix}",
        code=code,
        severity=severity,
        likelihood=likelihood,
        words=words,
        value=exact(value),
        limit=limit,
        unit=unit,
        line=line,
        time_s=facts.start_s(segment),
        spot=Spot(x_mm=x, y_mm=y, z_mm=z),
        remedies=remedies,
    )


def at_group(
    facts: Facts,
    group: int,
    code: str,
    severity: Severity,
    words: str,
    measure: tuple[float, float, str],
    remedies: tuple[Remedy, ...],
    likelihood: float | None = None,
) -> Finding:
    """A finding at a group of steps; ``measure``: value, limit, unit."""
    column = facts.swept.column[group].astype(np.float64)
    line = facts.group_line(group)
    value, limit, unit = measure
    return Finding(
        id=f"{code.replace(' ', '-')}-{line}",
        code=code,
        severity=severity,
        likelihood=likelihood,
        words=words,
        value=exact(value),
        limit=limit,
        unit=unit,
        line=line,
        step=int(facts.swept.first_step[group]),
        time_s=float(column[cutting.TIME]),
        spot=spot_of(column),
        remedies=remedies,
    )

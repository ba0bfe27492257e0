"""The tightest moment for each limit, with the spread of machine and wood behind it.

The sweep keeps the whole engagement of the worst group for each limit. Here it is computed again
for machines drawn from what is known of this one, and for a force law off by what it has been off.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Spot
from kerfwright.basics.progress import Progress, silent
from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.edge_force import ARC_COLUMNS
from kerfwright.kernels.engagement import BINS
from kerfwright.kernels.turn import ROOM, TOLD
from kerfwright.loads import EdgeLaw, Turning, axis_numbers, edge_law_for, give_mm, works_of
from kerfwright.machine import MachineModel, Rulers, Spindle, crowd_from
from kerfwright.prove.removal import form_of
from kerfwright.prove.sweep import Tooling, Worst
from kerfwright.prove.verdict import Margin
from kerfwright.setup import Setup

FloatArray = NDArray[np.float64]

DRAWS = 120
SEED = 20_261
COVERAGE = 0.95

LAW = "how hard this wood pushes back, which no test on this machine has narrowed yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Machines:
    """Machines that this one might be, ready for the kernels, each with a factor on every force."""

    model: tuple[MachineModel, ...]
    axes: FloatArray  #: (draws, 3, AXIS_NUMBERS)
    curves: FloatArray  #: (draws, 3, k)
    normal: FloatArray  #: (draws,) standard normal, for the force law
    rulers: Rulers

    @classmethod
    def drawn(
        cls, machine: MachineModel, draws: int = DRAWS, progress: Progress = silent
    ) -> "Machines":
        """The same draws every time."""
        rng = np.random.default_rng(SEED)
        model = crowd_from(machine, rng, draws, lambda done: progress("drawing machines", done))
        numbers = [axis_numbers(one) for one in model]
        return cls(
            model=model,
            axes=np.array([axes for axes, _ in numbers]),
            curves=np.array([curves for _, curves in numbers]),
            normal=rng.normal(size=draws),
            rulers=Rulers(machine, model),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """A margin and the probability that its limit is passed."""

    margin: Margin
    likelihood: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """One kept group with its cutter: loads can be asked for at other feeds."""

    worst: Worst
    setup: Setup
    slot: int
    spindle_rev_per_s: float  #: without a load
    spindle: Spindle
    feed_share: float = 1.0  #: of the feed that it was swept at
    depth_share: float = 1.0  #: of the depth
    swept_with: Cutter | None = None  #: where another is tried in its place

    def at_feed(self, share: float) -> "Moment":
        """The same cut, moving at another share of the speed."""
        worst = replace(self.worst, velocity=self.worst.velocity * share)
        return replace(self, worst=worst, feed_share=self.feed_share * share)

    def with_cutter(self, cutter: Cutter) -> "Moment":
        """The same cut by another cutter of the same shape and width."""
        slots = {**self.setup.slots, self.slot: cutter}
        return replace(
            self, setup=replace(self.setup, slots=slots), swept_with=self.setup.slots[self.slot]
        )

    def at_acceleration(self, share: float) -> "Moment":
        """The same cut where the controller allows another share of the acceleration."""
        worst = replace(self.worst, acceleration=self.worst.acceleration * share)
        return replace(self, worst=worst)

    def at_depth(self, share: float) -> "Moment":
        """The same cut with less depth: mean force and power go with it."""
        return replace(self, depth_share=self.depth_share * share)

    def force(self, law: EdgeLaw) -> tuple[FloatArray, float]:
        """Mean force (3,) [N] and power [W] by the law."""
        side, watts = self._at_whole_depth(law)
        return side * self.depth_share, watts * self.depth_share

    def _at_whole_depth(self, law: EdgeLaw) -> tuple[FloatArray, float]:
        """The same at the depth of the sweep.

        At the feed that it was swept at this is what the sweep found. At others it changes as the
        whole engagement says, which is kept as programmed: a soft cut keeps its give's share.
        """
        column = self.worst.column
        swept = column[cutting.FORCE_X : cutting.FORCE_Z + 1].copy()
        power = float(column[cutting.POWER])
        old, new = self.swept_with, self.setup.slots[self.slot]
        same = self.feed_share == 1.0 and old is None
        if same or not column[cutting.TAKEN] > 0.0:
            return swept, power
        law_before = law if old is None else edge_law_for(self.setup.board, old)
        before = self._whole(law_before, 1.0, old or new)
        after = self._whole(law, self.feed_share, new)
        plane = complex(before[0], before[1])
        turned = complex(swept[0], swept[1]) / plane if plane else 0.0
        now = turned * complex(after[0], after[1])
        up = swept[2] * after[2] / before[2] if before[2] else 0.0
        watts = power * after[cutting.F_POWER] / max(before[cutting.F_POWER], 1e-12)
        return np.array([now.real, now.imag, up]), float(watts)

    def _whole(self, law: EdgeLaw, share: float, cutter: Cutter) -> FloatArray:
        """The kept engagement by the law at a share of the feed: ``cutting.turning_force``."""
        if self.swept_with is not None:
            share = share * self.swept_with.flutes / cutter.flutes
        turning = Turning.of(cutter, self.spindle, self.spindle_rev_per_s)
        column, (flat, down, way) = self.worst.column, self.worst.way_mm
        slowed = column[cutting.SPEED] / turning.rev_per_s
        out = np.empty(cutting.FORCE_NUMBERS)
        cutting.turning_force(
            self.worst.engagement, flat, down, way, self.worst.heading_rad,
            column[cutting.FEED_PER_TOOTH] * slowed * share, form_of(cutter), cutter.flutes,
            law.chip_n_per_mm2, law.edge_n_per_mm, law.shares.normal_chip, law.shares.normal_edge,
            law.shares.axial, turning.runout_mm, turning.lag_rad_per_mm, turning.rev_per_s,
            turning.spindle_w, turning.droop, np.empty((BINS, ARC_COLUMNS)),
            np.empty(ROOM), np.empty(BINS), np.empty((2, 4)), np.empty(TOLD), out,
        )  # fmt: skip
        return out

    def pull_left(
        self, axis: int, axes: FloatArray, curves: FloatArray, force_n: FloatArray
    ) -> FloatArray:
        """Least share of the motor's pull not used, over the steps of the group. (draws,)

        Parameters
        ----------
        axes, curves : array (draws, 3, AXIS_NUMBERS), (draws, 3, k)
            Of machines drawn, or one for all, as ``axis_numbers``.
        force_n : array (draws,)
            Of the wood on the cutter along the axis. [N]
        """
        numbers, curve = axes[:, axis], curves[:, axis]
        velocity, acceleration = (
            np.ascontiguousarray(one[:, axis])
            for one in (self.worst.velocity, self.worst.acceleration)
        )
        can = np.array(
            [
                np.interp(
                    np.abs(velocity) / one[cutting.A_LEAD],
                    np.linspace(0.0, one[cutting.A_TOP], len(torque)),
                    torque,
                )
                for one, torque in zip(numbers, curve, strict=True)
            ]
        )
        asked = cutting.demand_torques(numbers, velocity, acceleration, force_n)
        left = 1.0 - asked / np.maximum(can, cutting.LEAST_PULL_NMM)
        return np.asarray(np.maximum(left.min(axis=1), -1.0))


def moments(
    worst: dict[str, Worst], setup: Setup, tools: Tooling, segment: NDArray[np.int32]
) -> dict[str, Moment]:
    """The kept groups with their cutters."""
    out = {}
    for name, kept in worst.items():
        at = int(segment[kept.group])
        out[name] = Moment(
            worst=kept,
            setup=setup,
            slot=int(tools.slot[at]),
            spindle_rev_per_s=float(tools.spindle_rev_per_s[at]),
            spindle=tools.spindle,
        )
    return out


def pull_estimate(
    moment: Moment, axis: int, machine: MachineModel, machines: Machines
) -> tuple[Estimate, float]:
    """Pull left on an axis at a kept moment, and the probability that the motor loses step."""
    law = edge_law_for(moment.setup.board, moment.setup.slots[moment.slot])
    force = float(moment.force(law)[0][axis])
    factor = np.exp(law.log_spread * machines.normal)
    axes, curves = axis_numbers(machine)
    alone = axes[None], curves[None]
    value = float(moment.pull_left(axis, *alone, np.array([force]))[0])
    both = moment.pull_left(axis, machines.axes, machines.curves, force * factor)
    by_law = moment.pull_left(axis, *alone, force * factor)
    return estimate(value, both, machines.rulers, float(by_law.std())), float((both < 0.0).mean())


def power_estimate(
    moment: Moment, available_w: float, machines: Machines
) -> tuple[Estimate, float]:
    """Power at the cutter at a kept moment, and the probability that the spindle falls short."""
    law = edge_law_for(moment.setup.board, moment.setup.slots[moment.slot])
    value = moment.force(law)[1]
    many = value * np.exp(law.log_spread * machines.normal)
    return estimate(value, many, machines.rulers, float(many.std())), float(
        (many > available_w).mean()
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Give:
    """How far the steady force moves the tip at a kept moment, on this machine and those drawn."""

    value_mm: float
    drawn_mm: FloatArray  #: (draws,) by the law as it stands
    law_log_spread: float

    @classmethod
    def at(cls, moment: Moment, machine: MachineModel, machines: Machines) -> "Give":
        """The give at a moment."""
        setup = moment.setup
        cutter = setup.slots[moment.slot]
        law = edge_law_for(setup.board, cutter)
        force = moment.force(law)[0][None]
        where = moment.worst.column[cutting.X : cutting.Z + 1] + np.array(setup.board_at_mm)
        value, *many = (
            float(np.linalg.norm(give_mm(model, cutter, where[None], force, work)))
            for model, work in zip(
                (machine, *machines.model), works_of(setup, len(machines.model)), strict=True
            )
        )
        return cls(value_mm=value, drawn_mm=np.array(many), law_log_spread=law.log_spread)

    def estimate(self, machines: Machines, limit_mm: float) -> tuple[Estimate, float]:
        """The give with its ends [mm], and the probability that it passes a limit."""
        factor = np.exp(self.law_log_spread * machines.normal)
        many = self.drawn_mm * factor
        by_law = float((self.value_mm * factor).std())
        told = estimate(self.value_mm, many, machines.rulers, by_law)
        return told, float((many > limit_mm).mean())

    @property
    def log_spread(self) -> float:
        """Standard deviation of ln(true / computed), by the law and by the machine."""
        if min(self.value_mm, self.drawn_mm.min()) <= 0.0:
            return self.law_log_spread
        return float(np.hypot(self.law_log_spread, np.log(self.drawn_mm).std()))


def margin(
    name: str, words: str, estimate: Estimate, limit: float, unit: str, moment: Moment, line: int
) -> Margin:
    """A margin at a kept moment."""
    column = moment.worst.column
    return Margin(
        name=name,
        words=words,
        value=estimate,
        limit=limit,
        unit=unit,
        line=line,
        time_s=float(column[cutting.TIME]),
        spot=spot_of(column),
    )


def spot_of(column: FloatArray) -> Spot:
    """Where a group is on the board."""
    return Spot(
        x_mm=float(column[cutting.X]), y_mm=float(column[cutting.Y]), z_mm=float(column[cutting.Z])
    )


def exact(value: float) -> Estimate:
    """A value without spread."""
    return Estimate(value=value, low=value, high=value, coverage=1.0)


def estimate(value: float, many: FloatArray, rulers: Rulers, by_law: float = 0.0) -> Estimate:
    """A value with its ends over the drawn machines; ``by_law``: what the force law alone does."""
    low, high = np.quantile(many, [0.5 - COVERAGE / 2, 0.5 + COVERAGE / 2])
    law_rules = by_law * by_law > 0.5 * float(many.var())
    return Estimate(
        value=value,
        low=float(min(low, value)),
        high=float(max(high, value)),
        coverage=COVERAGE,
        mostly_from=LAW if law_rules and by_law > 0.0 else rulers.of(many),
    )

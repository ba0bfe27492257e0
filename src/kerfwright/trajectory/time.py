"""The time of a program, and how far it may be off."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, Known
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.basics.progress import Progress, silent
from kerfwright.machine import CornerRule, MachineModel
from kerfwright.machine.defaults import assumed_words
from kerfwright.machine.entries import number_at
from kerfwright.program import Program
from kerfwright.trajectory.plan import plan
from kerfwright.trajectory.settings import (
    AHEAD,
    PER_SECOND,
    RULES,
    parameter_paths,
    paths_of,
    setting,
    with_settings,
)
from kerfwright.trajectory.trajectory import Trajectory
from kerfwright.trajectory.waits import BY_HAND, Waiting, waits

FloatArray = NDArray[np.float64]

ACCELERATIONS = "the accelerations"
RAPIDS = "the rapid speeds"
JERK = "the jerk"
LINES = "the lines that the controller takes and sees ahead"
_UNDER_FIRST = (RAPIDS, JERK, LINES)  #: planned for under the first belief's rule alone
RULE = "the corner rule, which is not known"
PLANNER = "how this controller plans its motion"
PARAMETER: Mapping[CornerRule, str] = {
    "path tolerance": "the tolerance at corners",
    "axis speed step": "the speed step at corners",
    "exact stop": "",
}
#: How far controllers' ways of planning lie from this one, of the time in motion, as a standard
#: uncertainty: ± 2 % nineteen times in twenty. Estimated, no source. Timed programs narrow it.
PLANNER_U = 0.02 / TWO_SIDED_95
DRAWS = 20_000
_EVEN = 0.95  #: share of a range that its ends, as they are planned for, have between them


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """One thing that moves the time: the machine with it at both ends of what is known.

    The ends, ``reach`` times as far out as the machines here, hold it nineteen times in twenty.
    ``even``: no value between is likelier than another.
    """

    name: str
    low: MachineModel
    high: MachineModel
    even: bool
    reach: float = 1.0
    low_pace: float = 1.0  #: factor on the time in motion at either end
    high_pace: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Belief:
    """The machine under one corner rule, how likely that is, and what is open about it."""

    rule: CornerRule
    weight: float  #: of all beliefs together 1
    machine: MachineModel
    sources: tuple[Source, ...]
    planner_u: float = PLANNER_U  #: standard uncertainty of the planning itself, share of motion
    pace: float = 1.0  #: factor on the time in motion that runs by the clock have shown


@dataclass(frozen=True, slots=True, kw_only=True)
class Contribution:
    """Where the time would lie, nineteen times in twenty, if nothing else were open."""

    name: str
    low_s: float
    high_s: float
    share: float  #: of the whole variance


@dataclass(frozen=True, slots=True, kw_only=True)
class ProgramTime:
    """A program's time."""

    time: Estimate  #: [s], from the first move to the end of the program, waits included
    moving_s: float  #: of it in motion
    waiting: tuple[Waiting, ...]
    contributions: tuple[
        Contribution, ...
    ]  #: the greatest first; those that change nothing left out
    rule_times_s: Mapping[
        CornerRule, float
    ]  #: middle of the time under each rule believed possible
    trajectory: Trajectory  #: under the first belief

    @property
    def assumed(self) -> tuple[str, ...]:
        """What nobody gave and is told only where it counts."""
        return tuple(
            assumed_words(one.path, one.each)
            for one in self.waiting
            if one.path and one.each.kind == "default" and number_at(one.path).quiet
        )

    @property
    def wait_s(self) -> float:
        """All waiting."""
        return sum((one.total_s for one in self.waiting), 0.0)


def beliefs_of(machine: MachineModel) -> tuple[Belief, ...]:
    """What a description leaves open: one belief for each corner rule that it may be.

    A rule that machine.toml states is taken as it is. Where none is stated all three are equally
    likely, the one that the machine has by default first.
    """
    first = machine.controller.corner_rule
    rules = [first]
    if machine.controller.corner_rule_kind == "default":
        rules += [rule for rule in RULES if rule != first]
    return tuple(
        Belief(
            rule=rule,
            weight=1.0 / len(rules),
            machine=under_rule(machine, rule),
            sources=_sources(under_rule(machine, rule), rule),
        )
        for rule in rules
    )


def under_rule(machine: MachineModel, rule: CornerRule) -> MachineModel:
    """The machine with a corner rule at the middle of what is known of its settings."""
    if rule == machine.controller.corner_rule:
        return machine
    known = ((path, setting(machine, path)) for path in parameter_paths(rule))
    return with_settings(machine, {path: one.value for path, one in known if one}, rule)


def moving_time_s(
    program: Program,
    machine: MachineModel,
    in_spindle: int | None = None,
    progress: Progress = silent,
) -> float:
    """Time in motion alone. [s] Raises ``StandsStill`` if nothing moves."""
    return _in_motion(plan(program, machine, progress=progress, in_spindle=in_spindle))


def program_time(
    program: Program,
    machine: MachineModel,
    *,
    in_spindle: int | None = None,
    beliefs: Sequence[Belief] | None = None,
    trajectory: Trajectory | None = None,
    by_hand: bool = True,
    seed: int = 1,
    progress: Progress = silent,
) -> ProgramTime:
    """How long a program takes, and between which times, nineteen times in twenty.

    Parameters
    ----------
    in_spindle : int, optional
        Slot of the cutter that is there at the start.
    beliefs : sequence of Belief, optional
        What is open about the machine; that of its description if not given.
    trajectory : Trajectory, optional
        The program as planned on the first belief's machine, if that is at hand already.
    by_hand : bool
        Whether what the person does at changes and stops counts.
    seed : int
        Of the draws.

    Raises
    ------
    StandsStill
        If nothing moves.

    Notes
    -----
    Each source is planned for at both ends of what is known of it; between and beyond, the time
    follows the two straight lines through the middle. Rapid speeds, jerk and the controller's lines
    are planned for under the first belief's rule alone. Then ``DRAWS`` machines are drawn, each
    with one rule by its weight and every source by its own spread, all independent; the ends leave
    one in forty of them on either side (the propagation of distributions of JCGM 101:2008, named
    from memory, on a linear model).
    """
    held = tuple(beliefs or beliefs_of(machine))
    waiting = waits(program, machine, in_spindle)
    if not by_hand:
        waiting = tuple(one for one in waiting if one.name not in BY_HAND)
    if trajectory is None:
        trajectory = plan(program, held[0].machine, progress=progress, in_spindle=in_spindle)
    moving = _in_motion(trajectory)
    planned = _Planned(program, in_spindle, progress, sum(2 * len(b.sources) + 1 for b in held))
    effects = [planned.effects(belief, moving if k == 0 else None) for k, belief in enumerate(held)]
    wait_s = sum(one.total_s for one in waiting)
    moving *= held[0].pace
    spread = _Spread.drawn(held, effects, waiting, np.random.default_rng(seed))
    value = moving + wait_s
    low, high = spread.ends(wait_s)
    contributions = spread.contributions(value)
    return ProgramTime(
        time=Estimate(
            value=value,
            low=min(low, value),
            high=max(high, value),
            mostly_from=contributions[0].name if contributions else "",
        ),
        moving_s=moving,
        waiting=waiting,
        contributions=contributions,
        rule_times_s={b.rule: e.moving_s + wait_s for b, e in zip(held, effects, strict=True)},
        trajectory=trajectory,
    )


def _in_motion(trajectory: Trajectory) -> float:
    return float(trajectory.node_s[-1] - trajectory.wait_s.sum())


def _sources(machine: MachineModel, rule: CornerRule) -> tuple[Source, ...]:
    """The settings that are known only within a range, those of one kind together."""
    first = rule == machine.controller.corner_rule
    groups = [(ACCELERATIONS, paths_of("acceleration")), (PARAMETER[rule], parameter_paths(rule))]
    if first:
        groups += [
            (RAPIDS, paths_of("rapid")),
            (JERK, paths_of("jerk")),
            (LINES, (AHEAD, PER_SECOND)),
        ]
    out = []
    for name, paths in groups:
        known = {path: one for path in paths if (one := setting(machine, path)) is not None}
        ends = {path: _ends(one) for path, one in known.items()}
        if all(low == high for low, high in ends.values()):
            continue
        out.append(
            Source(
                name=name,
                low=with_settings(machine, {path: low for path, (low, _) in ends.items()}, rule),
                high=with_settings(machine, {path: high for path, (_, high) in ends.items()}, rule),
                even=all(one.u is None for one in known.values()),
            )
        )
    return tuple(out)


def _ends(known: Known) -> tuple[float, float]:
    """Both ends; a value that must be above 0 keeps a twentieth of its middle."""
    low, high = known.interval()
    return max(low, 0.05 * known.value), high


@dataclass(frozen=True, slots=True, kw_only=True)
class _Effects:
    """The time in motion under one belief, and by how much each of its sources changes it."""

    moving_s: float
    by_source: Mapping[str, tuple[float, float, bool]]  #: low end, high end, even


class _Planned:
    """Plans a program again and again, and tells how far it is."""

    def __init__(
        self, program: Program, in_spindle: int | None, progress: Progress, plans: int
    ) -> None:
        self._program, self._in_spindle = program, in_spindle
        self._progress, self._plans, self._done = progress, plans, 0

    def effects(self, belief: Belief, moving_s: float | None) -> _Effects:
        base = (self._moving(belief.machine) if moving_s is None else moving_s) * belief.pace
        return _Effects(
            moving_s=base,
            by_source={
                source.name: (
                    source.reach * (self._moving(source.low) * source.low_pace - base),
                    source.reach * (self._moving(source.high) * source.high_pace - base),
                    source.even,
                )
                for source in belief.sources
            },
        )

    def _moving(self, machine: MachineModel) -> float:
        def within(stage: str, done: float) -> None:  # noqa: ARG001 - a Progress has it
            share = min((self._done + done) / self._plans, 1.0)
            self._progress("trying what is not known", share)

        seconds = moving_time_s(self._program, machine, self._in_spindle, within)
        self._done += 1
        return seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spread:
    """Machines drawn: what each source adds to the time of each. [s]"""

    moving_s: FloatArray  #: (DRAWS,) middle of the time under the rule drawn
    rule: NDArray[np.int64]  #: (DRAWS,) which, rising
    rules: int
    added_s: Mapping[str, FloatArray]  #: (DRAWS,)

    @classmethod
    def drawn(
        cls,
        held: Sequence[Belief],
        effects: Sequence[_Effects],
        waiting: Sequence[Waiting],
        rng: np.random.Generator,
    ) -> "_Spread":
        weights = np.array([belief.weight for belief in held])
        # Shares as even as they can be: chance is not needed in which rule how many get.
        upper = np.round(np.cumsum(weights) / weights.sum() * DRAWS).astype(np.int64)
        rule = np.searchsorted(upper, np.arange(DRAWS), side="right")
        moving = np.array([effect.moving_s for effect in effects])[rule]
        added: dict[str, FloatArray] = {}
        for name in dict.fromkeys(name for effect in effects for name in effect.by_source):
            # One draw of a source for all rules: an acceleration does not know the rule.
            normal, even = rng.normal(size=DRAWS), rng.uniform(-1.0, 1.0, DRAWS)
            column = np.zeros(DRAWS)
            for number, effect in enumerate(effects):
                # What is planned for under the first rule alone counts the same under the others.
                shift = effect.by_source.get(name)
                if shift is None and name in _UNDER_FIRST:
                    shift = effects[0].by_source.get(name)
                if shift is not None:
                    low, high, is_even = shift
                    at = even / _EVEN if is_even else normal / TWO_SIDED_95
                    mine = rule == number
                    column[mine] = np.where(at < 0.0, -low * at, high * at)[mine]
            added[name] = column
        planner = np.array([belief.planner_u for belief in held])[rule]
        added[PLANNER] = moving * planner * rng.normal(size=DRAWS)
        for one in waiting:
            added[one.name] = _wait_draws(one, rng)
        return cls(moving_s=moving, rule=rule, rules=len(held), added_s=added)

    def ends(self, wait_s: float) -> tuple[float, float]:
        total = self.moving_s + wait_s + sum(self.added_s.values(), np.zeros(DRAWS))
        low, high = np.quantile(total, (0.025, 0.975))
        # Nothing is quicker than the waits that are sure.
        return max(float(low), 0.0), float(high)

    def contributions(self, value_s: float) -> tuple[Contribution, ...]:
        columns = dict(self.added_s)
        if self.rules > 1:
            columns[RULE] = self.moving_s - self.moving_s[0]
        variance = {name: float(np.var(column)) for name, column in columns.items()}
        whole = sum(variance.values())
        # What a source alone does is told under the first rule, whose draws come first.
        first = int(np.searchsorted(self.rule, 0, side="right"))
        out = []
        for name in sorted(columns, key=lambda name: -variance[name]):
            if variance[name] <= 1e-12:
                continue
            alone = columns[name] if name == RULE else columns[name][:first]
            low, high = (value_s + float(end) for end in np.quantile(alone, (0.025, 0.975)))
            if low == high:
                continue  # it counts under another rule only
            share = variance[name] / whole
            out.append(Contribution(name=name, low_s=low, high_s=high, share=share))
        return tuple(out)


def _wait_draws(waiting: Waiting, rng: np.random.Generator) -> FloatArray:
    """What all waits of a sort may differ from their middle: what one takes, all of them take."""
    known = waiting.each
    if known.u is not None:
        off = rng.normal(0.0, known.u, DRAWS)
    elif known.low is not None and known.high is not None:
        off = rng.uniform(known.low, known.high, DRAWS) - known.value
    else:
        return np.zeros(DRAWS)
    return np.asarray(np.maximum(off, -known.value) * len(waiting.seconds))

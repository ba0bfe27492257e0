"""Corner rule and accelerations that explain programs timed by the clock."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Known
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.basics.progress import Progress, silent
from kerfwright.commission.parameters import Parameter, parameters_of, settled, values_at
from kerfwright.commission.timed import LEAST_PROGRAMS
from kerfwright.machine import CornerRule, MachineModel
from kerfwright.program import Program
from kerfwright.trajectory.settings import RULES, with_settings
from kerfwright.trajectory.time import PLANNER, PLANNER_U, Belief, Source, moving_time_s
from kerfwright.trajectory.waits import BY_HAND, waits

FloatArray = NDArray[np.float64]

#: How closely the planning follows one controller, once its settings are fitted: a standard
#: uncertainty as a share of the time in motion. Estimated, no source.
PLANNER_FITTED_U = 0.005 / TWO_SIDED_95
#: The same after one program or two, which may not be like the next: ± 1 %. Estimated, no source.
PLANNER_FEW_U = 0.01 / TWO_SIDED_95
PACE = "pace"  #: among the settings: the factor on the time in motion that few programs show
UNEXPLAINED = 4.0  #: standard uncertainties beyond which a program is not explained
FORGOTTEN = 0.02  #: a rule less likely than that is left out
SURE = 0.95  #: a rule more likely than that is the rule
STATED_WEIGHT = 0.6  #: of a rule that machine.toml states as estimated, before the clock speaks
WEAK = 0.7  #: share of its old spread that a value keeps where the programs say little about it
_STEP = 0.02  #: of a logarithm, for slopes
#: The next prediction is planned this many times nearer than the ends of a direction: the
#: covariance is that of slopes at the best fit, and farther out the times curve away from them.
_NEARER = 5.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Observed:
    """A program and what the clock said."""

    name: str
    program: Program
    in_spindle: int | None
    took_s: float
    u_s: float  #: standard uncertainty of the time
    by_hand: bool = True  #: whether changes and stops are in the time


@dataclass(frozen=True, slots=True, kw_only=True)
class FittedValue:
    """One setting as the fit has it."""

    path: str
    name: str  #: of the parameter that it belongs to
    known: Known
    log_u: float  #: standard uncertainty of its logarithm, which is the normal one
    weak: bool  #: whether the programs hardly say anything about it


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """Values by path: of the best fit, and of both ends of each direction, by its name."""

    best: Mapping[str, float]
    ends: Mapping[str, tuple[Mapping[str, float], Mapping[str, float]]]


def belief_from(
    machine: MachineModel, rule: CornerRule, weight: float, settings: Settings, planner_u: float
) -> Belief:
    """The belief that a fit came to, made again on the same machine."""
    return Belief(
        rule=rule,
        weight=weight,
        machine=with_settings(machine, settings.best, rule),
        sources=tuple(
            Source(
                name=name,
                low=with_settings(machine, low, rule),
                high=with_settings(machine, high, rule),
                even=False,
                reach=_NEARER,
                low_pace=low.get(PACE, 1.0),
                high_pace=high.get(PACE, 1.0),
            )
            for name, (low, high) in settings.ends.items()
        ),
        planner_u=planner_u,
        pace=settings.best.get(PACE, 1.0),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleFit:
    """The best explanation under one corner rule."""

    rule: CornerRule
    weight: float  #: how likely the rule is, of all rules tried together 1
    machine: MachineModel
    values: tuple[FittedValue, ...]
    belief: Belief  #: for the next prediction
    off: FloatArray  #: (n,) clock against explanation, in standard uncertainties of the two
    settings: Settings  #: of the belief's machines, so that they can be made again


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitted:
    """What programs timed by the clock say."""

    observed: tuple[Observed, ...]
    rules: tuple[RuleFit, ...]  #: the likeliest first; those not worth mentioning left out
    expected_s: FloatArray  #: (n,) what the likeliest explanation says each of them takes
    unexplained: tuple[int, ...]  #: which of them no rule explains; kept out of the fit if it can
    stated: CornerRule | None  #: the rule that the description has, if it says one

    @property
    def best(self) -> RuleFit:
        """The likeliest explanation."""
        return self.rules[0]

    @property
    def sure(self) -> bool:
        """Whether the others need not be thought of."""
        return self.best.weight >= SURE

    @property
    def beliefs(self) -> tuple[Belief, ...]:
        """What is open about the machine now."""
        return tuple(one.belief for one in self.rules)


def fit_times(
    observed: Sequence[Observed],
    machine: MachineModel,
    progress: Progress = silent,
    least: int = LEAST_PROGRAMS,
) -> Fitted:
    """Fit the corner rule, its setting and the accelerations to timed programs.

    Parameters
    ----------
    observed : sequence of Observed
        At least ``least``.
    machine : MachineModel
        Its description: what it knows is where the fit begins, and weighs as much as it is known.
    least : int
        Fewer than three leave the corner rule about as open as it was: good for times alone.

    Raises
    ------
    ValueError
        With fewer than ``least`` programs.
    StandsStill
        If one of them does not move.

    Notes
    -----
    For each rule the largest posterior by least squares on the logarithms of the times, with normal
    priors on the logarithms of the settings. Rules are weighed by their evidence in Laplace's
    approximation. The covariance is that of Gauss and Newton, widened where the times scatter more
    than the clock explains. A rule that the description states as measured or from a datasheet is
    the only one tried.
    """
    if len(observed) < least:
        raise ValueError(f"{len(observed)} timed programs, and at least {least} are needed")
    controller = machine.controller
    stated = None if controller.corner_rule_kind == "default" else controller.corner_rule
    prior = dict.fromkeys(RULES, 1.0 / len(RULES))
    if controller.corner_rule_kind in ("measured", "datasheet"):
        prior = {controller.corner_rule: 1.0}
    elif stated is not None:
        others = (1.0 - STATED_WEIGHT) / (len(RULES) - 1)
        prior = {rule: STATED_WEIGHT if rule == stated else others for rule in RULES}
    kept, unexplained = list(range(len(observed))), []
    while True:
        fits = [_Fit([observed[k] for k in kept], machine, rule, progress) for rule in prior]
        rules = _weighed(fits, prior)
        worst = int(np.argmax(np.abs(rules[0].off)))
        if abs(rules[0].off[worst]) <= UNEXPLAINED:
            break
        unexplained.append(kept[worst])
        if len(kept) <= least:
            break  # too few are left to fit without it: it widens the spread instead
        del kept[worst]
    best = rules[0].machine
    pace = rules[0].belief.pace
    moving = [pace * moving_time_s(one.program, best, one.in_spindle, progress) for one in observed]
    return Fitted(
        observed=tuple(observed),
        rules=rules,
        expected_s=np.array(moving) + _waits(observed, machine)[0],
        unexplained=tuple(sorted(unexplained)),
        stated=stated,
    )


def _weighed(fits: Sequence["_Fit"], prior: dict[CornerRule, float]) -> tuple[RuleFit, ...]:
    logs = np.array([fit.log_evidence + log(prior[fit.rule]) for fit in fits])
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    weights[weights < FORGOTTEN] = 0.0
    weights /= weights.sum()
    order = np.argsort(-weights, kind="stable")
    return tuple(fits[k].told(float(weights[k])) for k in order if weights[k] > 0.0)


class _Fit:
    """The fit under one rule. Parameters are counted in their standard uncertainties before."""

    def __init__(
        self,
        observed: Sequence[Observed],
        machine: MachineModel,
        rule: CornerRule,
        progress: Progress,
    ) -> None:
        self.rule = rule
        self._observed, self._machine, self._progress = observed, machine, progress
        self._parameters = parameters_of(machine, rule)
        self._wait_s, wait_u_s = _waits(observed, machine)
        took = np.array([one.took_s for one in observed])
        clock = np.array([one.u_s for one in observed])
        self._log_took = np.log(took)
        # Too few programs cannot tell settings from how this controller plans beside them.
        few = len(observed) < LEAST_PROGRAMS
        self._planner_u = PLANNER_FEW_U if few else PLANNER_FITTED_U
        if few:
            pace = Parameter(name=PLANNER, middle={PACE: 1.0}, log_u=PLANNER_U)
            self._parameters = (*self._parameters, pace)
        self._u = np.sqrt((clock**2 + wait_u_s**2) / took**2 + self._planner_u**2)
        self._planned: dict[bytes, FloatArray] = {}
        self._steps = self._best()
        self._misfit = self._residuals(self._steps)
        self._slopes = self._jacobian(self._steps)
        # Rows of the priors make the normal matrix regular.
        self._normal = np.eye(len(self._steps)) + self._slopes.T @ self._slopes

    @property
    def log_evidence(self) -> float:
        """Logarithm of how likely the times are under this rule, but for a constant."""
        squares = float(self._misfit @ self._misfit + self._steps @ self._steps)
        _, log_determinant = np.linalg.slogdet(self._normal)
        return -0.5 * squares - 0.5 * float(log_determinant)

    def told(self, weight: float) -> RuleFit:
        covariance: FloatArray = np.asarray(np.linalg.inv(self._normal), np.float64)
        # How far each program is off where the fit had not seen it: its row's leverage taken out.
        leverage = np.einsum("ij,jk,ik->i", self._slopes, covariance, self._slopes)
        off = self._misfit / np.sqrt(np.maximum(1.0 - leverage, 1e-6))
        scatter = max(1.0, float(self._misfit @ self._misfit) / len(self._misfit))
        covariance = covariance * scatter
        settings = Settings(
            best=values_at(self._parameters, self._steps), ends=self._ends(covariance)
        )
        planner_u = self._planner_u * scatter**0.5
        belief = belief_from(self._machine, self.rule, weight, settings, planner_u)
        return RuleFit(
            rule=self.rule,
            weight=weight,
            machine=belief.machine,
            values=self._values(covariance),
            belief=belief,
            off=off,
            settings=settings,
        )

    def _best(self) -> FloatArray:
        """Where the posterior is largest. Time falls with every setting, so there is one such."""
        # Takes half a second to load, and only a shop with timed jobs comes here.
        from scipy.optimize import least_squares

        many = len(self._parameters)
        if not many:
            return np.zeros(0)
        found = least_squares(
            self._with_priors,
            np.zeros(many),
            jac=self._slopes_with_priors,
            method="lm",
            xtol=1e-3,
            ftol=1e-4,
            max_nfev=25,
        )
        return np.asarray(found.x, np.float64)

    def _with_priors(self, steps: FloatArray) -> FloatArray:
        return np.concatenate([self._residuals(steps), steps])

    def _slopes_with_priors(self, steps: FloatArray) -> FloatArray:
        return np.vstack([self._jacobian(steps), np.eye(len(steps))])

    def _residuals(self, steps: FloatArray) -> FloatArray:
        return np.asarray((np.log(self._times(steps)) - self._log_took) / self._u)

    def _jacobian(self, steps: FloatArray) -> FloatArray:
        """Slopes (n, p), by differences wide enough for the planner's small kinks."""
        here = self._residuals(steps)
        columns = []
        for k, parameter in enumerate(self._parameters):
            there = steps.copy()
            there[k] += _STEP / parameter.log_u
            columns.append((self._residuals(there) - here) / (there[k] - steps[k]))
        return np.array(columns).T.reshape(len(self._observed), len(steps))

    def _times(self, steps: FloatArray) -> FloatArray:
        """What each program takes, waits included. (n,) [s]"""
        key = np.asarray(steps, np.float64).tobytes()
        if key not in self._planned:
            machine = settled(self._machine, self.rule, self._parameters, steps)
            pace = values_at(self._parameters, steps).get(PACE, 1.0)
            moving = [
                moving_time_s(one.program, machine, one.in_spindle, self._within)
                for one in self._observed
            ]
            self._planned[key] = pace * np.array(moving) + self._wait_s
        return self._planned[key]

    def _within(self, stage: str, done: float) -> None:  # noqa: ARG002 - a Progress has it
        # How many plans a fit takes is not known beforehand; most need about a hundred.
        done = len(self._planned) / (len(self._planned) + 50.0)
        self._progress(f"fitting the timed programs: {self.rule}", done)

    def _values(self, covariance: FloatArray) -> tuple[FittedValue, ...]:
        out = []
        for k, parameter in enumerate(self._parameters):
            left = float(np.sqrt(covariance[k, k]))
            for path, value in values_at([parameter], [float(self._steps[k])]).items():
                known = Known(
                    value=value,
                    kind="measured",
                    ref=f"fitted to {len(self._observed)} programs timed by the clock",
                    u=value * parameter.log_u * left,
                )
                out.append(
                    FittedValue(
                        path=path,
                        name=parameter.name,
                        known=known,
                        log_u=parameter.log_u * left,
                        weak=left > WEAK,
                    )
                )
        return tuple(out)

    def _ends(
        self, covariance: FloatArray
    ) -> dict[str, tuple[Mapping[str, float], Mapping[str, float]]]:
        """Both ends of directions that are independent of each other, each named for what it moves
        most.
        """
        from scipy.optimize import linear_sum_assignment

        if not self._parameters:
            return {}
        squares, along = np.linalg.eigh(covariance)
        direction, named = linear_sum_assignment(-(along.T**2))
        out: dict[str, tuple[Mapping[str, float], Mapping[str, float]]] = {}
        for k, name in zip(direction, named, strict=True):
            step = TWO_SIDED_95 / _NEARER * np.sqrt(max(squares[k], 0.0)) * along[:, k]
            out[self._parameters[name].name] = (
                values_at(self._parameters, self._steps - step),
                values_at(self._parameters, self._steps + step),
            )
        return out


def _waits(observed: Sequence[Observed], machine: MachineModel) -> tuple[FloatArray, FloatArray]:
    """Waiting in each program's time, and its standard uncertainty. (n,) [s]"""
    total, u = np.zeros(len(observed)), np.zeros(len(observed))
    for number, one in enumerate(observed):
        for waiting in waits(one.program, machine, one.in_spindle):
            if not one.by_hand and waiting.name in BY_HAND:
                continue
            total[number] += waiting.total_s
            u[number] = np.hypot(u[number], len(waiting.seconds) * _u_of(waiting.each))
    return total, u


def _u_of(known: Known) -> float:
    if known.u is not None:
        return known.u
    if known.low is not None and known.high is not None:
        return float((known.high - known.low) / 12.0**0.5)
    return 0.0

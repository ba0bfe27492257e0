"""The band of speeds in which a motor swings, from runs that stalled, ran rough or ran smooth.

Each run only says on which side of something the motor was: a stall, that it had less pull than was
asked; a run, that it had more; smooth or rough, that what it lost there could not, or could, be
felt. So the band is found as what is likely after all runs together (Bayes), by draws that are
brought from what was open before to what is left, step by step.

What is open: loss, middle and width of ``physics.mid_band.share``, the share of the computed pull
that the motor gives anyway (``pull_share``), how large a loss is felt, and everything else of the
axis, by machines drawn from their spread.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate, InputError, InputErrors, Known
from kerfwright.commission.stalls import StallRun
from kerfwright.machine import AxisModel, MachineModel
from kerfwright.physics import mid_band

FloatArray = NDArray[np.float64]
Shows = Literal["a band", "no band", "too little"]

#: Where the middle of a band may be. Kenjo and Sugawara, Acarnley say 5 to 15: from memory. [rev/s]
CENTRES = (4.0, 18.0)
#: From the middle to where 61 % of the loss is left: estimated, no source. [rev/s]
WIDTHS = (0.7, 4.0)
#: A loss is felt and heard from there on, somewhere between these: common practice, no source.
FELT = (0.03, 0.3)
#: Slower, roughness is the rotor's own swing on its magnetic spring, step by step. [rev/s]
SLOWEST_ROUGH = 3.0
#: Stalls of one motor at one speed scatter by so much of the pull: common practice, no source.
SCATTER = 0.05
#: A run may have been written down wrongly, or something else happened.
SLIPS = 0.01
#: Sharpness with which a loss turns from not felt to felt, in its logarithm.
_FELT_SHARP = 0.25
_DRAWS = 3000
_MOVES = 6  #: of every draw, after each step towards the runs
_STEP = 2.0  #: of a move, in standard deviations over the root of the dimensions
_KEEP = 0.5  #: share of the draws that still count after a step
_MOST_STEPS = 60
#: A run that the draws held possible less often than that is not explained by them.
_UNEXPLAINED = 0.05
#: What has to be lost for a band to be told, and how surely.
_TOLD, _SURELY = 0.1, 0.95
#: Runs bound a loss well where no more than that may be hidden between them.
_BOUNDED = 0.4
_GRID = 240
_MOST_ERRORS = 10  #: told at once
_ENDS = (2.5, 97.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingBand:
    """What the runs of one axis say. Speeds are of the motor. [rev/s]"""

    axis: str
    runs: tuple[StallRun, ...]
    turns: FloatArray  #: (k,) of the runs
    shows: Shows
    begins: Estimate  #: where half of the loss is left
    ends: Estimate
    loses: Estimate  #: share of the pull, at worst; of "no band" the most that may be hidden
    tried: tuple[float, float]  #: slowest and fastest
    pull_share: Estimate  #: of the computed pull, outside the band
    pull_share_before: tuple[float, float]
    open_at: float  #: the speed whose trial would say most
    open_loss: tuple[float, float]  #: what may be lost there
    unexplained: tuple[int, ...]  #: runs that nothing explains
    draws: FloatArray  #: (n, 3) loss, middle, width: what is left open together


@dataclass(frozen=True, slots=True, kw_only=True)
class _Asked:
    """What the runs ask of the motor, over what it computes to give: (machines, runs)."""

    steady: FloatArray  #: logarithm of demand over pull, pull_share taken out
    hurrying: FloatArray  #: the same while it speeds up
    scatter: FloatArray  #: (runs,)


def fit_band(
    axis: Literal["x", "y", "z"],
    runs: Sequence[StallRun],
    machine: MachineModel,
    crowd: Sequence[MachineModel],
    acceleration_mm_per_s2: float | None,
    seed: int,
    told: Callable[[float], None] = lambda _: None,
) -> SwingBand:
    """Find the band from all runs of one axis.

    Parameters
    ----------
    axis : str
        x, y or z.
    runs : sequence of StallRun
        Of that axis.
    machine, crowd : MachineModel, sequence of MachineModel
        The machine without a band, and draws of it.
    acceleration_mm_per_s2 : float, optional
        Set while the runs were made; None: the machine's own.
    seed : int
        For the draws.
    told : callable
        Called with the share done, 0 to 1.

    Raises
    ------
    InputErrors
        If two runs contradict each other, or one is beyond what the axis can be run at.

    Notes
    -----
    Steady at its speed a motor has had time to swing; while it speeds up towards it, it is taken
    to have none. A run must do both: carry its acceleration on the pull without a loss, and its
    load on the pull with it.
    """
    index = "xyz".index(axis)
    own = machine.axes[index]
    accelerated = acceleration_mm_per_s2 or own.acceleration_mm_per_s2
    turns = np.array([_turns(run, own) for run in runs])
    _check(runs, turns, own, accelerated)
    asked = _asked(runs, turns, [m.axes[index] for m in crowd], _shares(crowd, axis), accelerated)
    share_known = machine.known[f"axes.{axis}.motor.pull_share"]
    belief = _Belief(runs, turns, asked, share_known, len(crowd))
    drawn = _draws(belief, np.random.default_rng(seed), told)
    return _found(axis, tuple(runs), turns, belief, drawn, share_known)


def _turns(run: StallRun, axis: AxisModel) -> float:
    if run.turns_per_s is not None:
        return run.turns_per_s
    return float(run.speed_mm_per_s or 0.0) / axis.lead_mm


def _shares(crowd: Sequence[MachineModel], axis: str) -> FloatArray:
    return np.array([m.values[f"axes.{axis}.motor.pull_share"] for m in crowd])


def _check(
    runs: Sequence[StallRun], turns: FloatArray, axis: AxisModel, accelerated: float
) -> None:
    """Refuse runs that cannot have been made, and pairs that cannot both be true."""
    errors: list[InputError] = []
    fastest = float(axis.curve_rev_per_s[-1])
    for run, n in zip(runs, turns, strict=True):
        if len(errors) == _MOST_ERRORS:
            break
        way = (n * axis.lead_mm) ** 2 / (2.0 * accelerated)
        if n > fastest:
            errors.append(
                InputError(
                    run.place(),
                    f"is {n:.3g} turns of the motor a second, beyond the {fastest:g} that can be "
                    "judged",
                    "check the speed and its unit",
                )
            )
        elif 2.0 * way > axis.travel_mm:
            errors.append(
                InputError(
                    run.place(),
                    f"{axis.name.upper()} cannot have reached that: speeding up and stopping take "
                    f"{2.0 * way:.0f} mm of its {axis.travel_mm:.0f} mm at {accelerated:.0f} mm/s²",
                    "check the speed, or write the acceleration that was set for these runs, as  "
                    'acceleration = "800 mm/s2"',
                )
            )
    errors += _contradictions(runs, turns, axis)
    if errors:
        raise InputErrors(errors)


def _contradictions(
    runs: Sequence[StallRun], turns: FloatArray, axis: AxisModel
) -> list[InputError]:
    """Stalled with less pull against it than it carried at the same speed, beyond any scatter."""
    out = []
    for stalled, n in zip(runs, turns, strict=True):
        for went, m in zip(runs, turns, strict=True):
            if stalled.ran != "stalled" or went.ran == "stalled" or abs(n / m - 1.0) > 0.01:
                continue
            least, most = (_load(run, axis, n) for run in (stalled, went))
            u = np.hypot(went.u_pull_n, stalled.u_pull_n) * axis.raising_mm / axis.motors
            if most - least <= 3.0 * np.hypot(u, SCATTER * 2.0**0.5 * least):
                continue
            out.append(
                InputError(
                    stalled.place(),
                    f"stalled with {_pulled(stalled)} against it, but line {went.place().line} ran "
                    f"{went.ran} at the same speed with {_pulled(went)}: both cannot be",
                    "run both again, warm and from a standing start, and take the wrong one out",
                )
            )
            break
        if len(out) == _MOST_ERRORS:
            break
    return out


def _pulled(run: StallRun) -> str:
    return f"{run.pull_n:.3g} N" if run.pull_n else "nothing"


def _load(run: StallRun, axis: AxisModel, turns: float, acceleration: float = 0.0) -> float:
    """Torque that the run asked of one motor, upwards on Z. [N mm]"""
    speed = turns * axis.lead_mm
    return max(float(axis.demand_nmm(-run.pull_n, speed, acceleration)), 1e-3)


def _asked(
    runs: Sequence[StallRun], turns: FloatArray, axes: Sequence[AxisModel], shares: FloatArray,
    accelerated: float,
) -> _Asked:  # fmt: skip
    steady, hurrying = np.empty((len(axes), len(runs))), np.empty((len(axes), len(runs)))
    for k, (axis, share) in enumerate(zip(axes, shares, strict=True)):
        can = np.maximum(np.interp(turns, axis.curve_rev_per_s, axis.curve_torque_nmm), 1e-3)
        for i, run in enumerate(runs):
            steady[k, i] = _load(run, axis, float(turns[i]))
            hurrying[k, i] = _load(run, axis, float(turns[i]), accelerated)
        steady[k] = np.log(steady[k] * share / can)
        hurrying[k] = np.log(hurrying[k] * share / can)
    axis = axes[0]
    by_pull = [
        run.u_pull_n * axis.raising_mm / axis.motors / _load(run, axis, float(n))
        for run, n in zip(runs, turns, strict=True)
    ]
    return _Asked(steady=steady, hurrying=hurrying, scatter=np.hypot(SCATTER, np.array(by_pull)))


class _Belief:
    """How likely draws are: rows of loss, middle, log width, share, log felt, and a machine."""

    def __init__(
        self, runs: Sequence[StallRun], turns: FloatArray, asked: _Asked, share: Known,
        machines: int,
    ) -> None:  # fmt: skip
        self.turns, self.asked, self.machines = turns, asked, machines
        self.stalled = np.array([run.ran == "stalled" for run in runs])
        self.rough = np.array([run.ran == "rough" for run in runs])
        feeling = ~self.stalled & (turns >= SLOWEST_ROUGH)
        # Runs at one speed feel alike: together they say it once.
        alike = np.abs(turns[:, None] / turns[None, :] - 1.0) < 0.01
        self.feeling = feeling / np.maximum((alike & feeling).sum(axis=1), 1)
        self.share = share
        low, high = _wide(share)
        self.low = np.array([0.0, CENTRES[0], log(WIDTHS[0]), low, log(FELT[0])])
        self.high = np.array([1.0, CENTRES[1], log(WIDTHS[1]), high, log(FELT[1])])

    def before(self, rng: np.random.Generator, many: int) -> tuple[FloatArray, NDArray[np.int64]]:
        """Draws as they were before any run."""
        rows = rng.uniform(self.low, self.high, size=(many, len(self.low)))
        rows[:, 3] = [np.clip(self.share.draw(rng), self.low[3], self.high[3]) for _ in rows]
        return rows, rng.integers(0, self.machines, many)

    def prior(self, rows: FloatArray) -> FloatArray:
        """Logarithm of how likely rows were before; all machines alike."""
        within = np.all((rows >= self.low) & (rows <= self.high), axis=1)
        out = np.where(within, 0.0, -np.inf)
        if self.share.u:
            out -= 0.5 * ((rows[:, 3] - self.share.value) / self.share.u) ** 2
        return out

    def each(self, rows: FloatArray, which: NDArray[np.int64]) -> FloatArray:
        """Logarithm of how likely each run is: (rows, runs)."""
        from scipy.special import expit, log_ndtr  # large: every command would wait for it

        lost = self.lost(rows, self.turns)
        share = np.log(rows[:, 3:4])
        loaded = share + np.log1p(-np.minimum(lost, 1.0 - 1e-9)) - self.asked.steady[which]
        margin = np.minimum(loaded, share - self.asked.hurrying[which]) / self.asked.scatter
        goes = np.where(self.stalled, log_ndtr(-margin), log_ndtr(margin))
        felt = (np.log(np.maximum(lost, 1e-9)) - rows[:, 4:5]) / _FELT_SHARP
        feels = np.log(expit(np.where(self.rough, felt, -felt)) + 1e-300)
        likely = goes + self.feeling * feels
        return np.asarray(np.logaddexp(log(1.0 - SLIPS) + likely, log(SLIPS)))

    def lost(self, rows: FloatArray, turns: FloatArray) -> FloatArray:
        """Share of the pull lost at motor speeds: (rows, speeds)."""
        kept = mid_band.share(turns, rows[:, :1], rows[:, 1:2], np.exp(rows[:, 2:3]))
        return 1.0 - kept


def _wide(share: Known) -> tuple[float, float]:
    """Ends within which the share of the pull is looked for."""
    if share.low is not None and share.high is not None:
        return (share.low, share.high) if share.low < share.high else (share.low, share.low + 1e-6)
    reach = 4.0 * (share.u or 1e-6)
    return max(share.value - reach, 0.05), share.value + reach


def _draws(
    belief: _Belief, rng: np.random.Generator, told: Callable[[float], None]
) -> tuple[FloatArray, NDArray[np.int64]]:
    """Draws after all runs: brought there by raising the runs' weight step by step.

    After each step draws are kept by their weight, and moved at random with the spread that they
    have (sequential Monte Carlo with Metropolis moves).
    """
    rows, which = belief.before(rng, _DRAWS)
    weight, likely = 0.0, belief.each(rows, which).sum(axis=1)
    for _ in range(_MOST_STEPS):
        step = _next(likely, 1.0 - weight)
        chance = np.exp(step * (likely - likely.max()))
        kept = rng.choice(_DRAWS, _DRAWS, p=chance / chance.sum())
        rows, which, likely = rows[kept], which[kept], likely[kept]
        weight += step
        for _ in range(_MOVES):
            rows, which, likely = _moved(belief, rng, rows, which, likely, weight)
        told(weight)
        if weight >= 1.0 - 1e-12:
            break
    return rows, which


def _next(likely: FloatArray, most: float) -> float:
    """The largest step after which enough draws still count."""

    def counting(step: float) -> float:
        chance = np.exp(step * (likely - likely.max()))
        return float(chance.sum() ** 2 / (chance**2).sum())

    if counting(most) >= _KEEP * len(likely):
        return most
    low, high = 0.0, most
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if counting(middle) >= _KEEP * len(likely) else (low, middle)
    return max(low, 1e-6)


def _moved(
    belief: _Belief, rng: np.random.Generator, rows: FloatArray, which: NDArray[np.int64],
    likely: FloatArray, weight: float,
) -> tuple[FloatArray, NDArray[np.int64], FloatArray]:  # fmt: skip
    """Each draw tried elsewhere; half of them with another machine as well."""
    dimensions = rows.shape[1]
    spread = np.cov(rows.T) * (_STEP**2 / dimensions) + 1e-12 * np.eye(dimensions)
    scale = np.exp(rng.uniform(-2.5, 0.0, size=(len(rows), 1)))  # small moves as well as large
    new = rows + scale * rng.multivariate_normal(np.zeros(dimensions), spread, len(rows))
    other = np.where(
        rng.random(len(rows)) < 0.5, rng.integers(0, belief.machines, len(rows)), which
    )
    before, after = belief.prior(rows), belief.prior(new)
    fits = np.isfinite(after)
    then = np.full(len(rows), -np.inf)
    if fits.any():
        then[fits] = belief.each(new[fits], other[fits]).sum(axis=1)
    gain = np.where(fits, after - before + weight * (then - likely), -np.inf)
    goes = np.log(rng.random(len(rows))) < gain
    return (
        np.where(goes[:, None], new, rows),
        np.where(goes, other, which),
        np.where(goes, then, likely),
    )


def _found(
    axis: str, runs: tuple[StallRun, ...], turns: FloatArray, belief: _Belief,
    drawn: tuple[FloatArray, NDArray[np.int64]], share: Known,
) -> SwingBand:  # fmt: skip
    rows, which = drawn
    slowest, fastest = float(turns.min()), float(turns.max())
    grid = np.linspace(max(slowest, SLOWEST_ROUGH), max(fastest, SLOWEST_ROUGH + 0.1), _GRID)
    lost = belief.lost(rows, grid)
    worst = lost.max(axis=1)
    hidden = float(np.percentile(worst, _ENDS[1]))
    shows: Shows = "too little"
    if np.mean(worst > _TOLD) >= _SURELY:
        shows = "a band"
    elif hidden <= _BOUNDED:
        shows = "no band"
    begins, ends = mid_band.edges(rows[:, 1], np.exp(rows[:, 2]))
    # Where the most may still be lost, or not lost: that speed is worth a run.
    low, high = np.percentile(belief.lost(rows, grid), _ENDS, axis=0)
    at = int(np.argmax(high - low))
    possible = np.exp(belief.each(rows, which)).mean(axis=0)
    bounded = Estimate(value=0.5 * hidden, low=0.0, high=hidden)
    return SwingBand(
        axis=axis,
        runs=runs,
        turns=turns,
        shows=shows,
        begins=_estimate(begins) if shows == "a band" else _sharp(float(grid[0])),
        ends=_estimate(ends) if shows == "a band" else _sharp(float(grid[-1])),
        loses=_estimate(rows[:, 0]) if shows == "a band" else bounded,
        tried=(slowest, fastest),
        pull_share=_estimate(rows[:, 3]),
        pull_share_before=share.interval(),
        open_at=float(grid[at]),
        open_loss=(float(low[at]), float(high[at])),
        unexplained=tuple(int(i) for i in np.flatnonzero(possible < _UNEXPLAINED)),
        draws=np.column_stack((rows[:, :2], np.exp(rows[:, 2]))),
    )


def _estimate(many: FloatArray) -> Estimate:
    low, high = (float(end) for end in np.percentile(many, _ENDS))
    return Estimate(value=float(np.median(many)), low=low, high=high)


def _sharp(value: float) -> Estimate:
    return Estimate(value=value, low=value, high=value)

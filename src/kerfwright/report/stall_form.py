"""Which runs tell where a motor swings, and the sheet to write them on."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, sqrt

from kerfwright.machine import AxisModel, MachineModel, thrust_n

#: Runs begin below the speeds at which motors swing and end above them, where the axis gets there.
FIRST_REV_PER_S, LAST_REV_PER_S = 3, 18
#: Of the travel that speeding up and stopping may take.
_OF_TRAVEL = 0.6
#: Of the speed at which a screw whips.
_OF_WHIP = 0.7
#: Of the push that the motor has at the fastest run: as much is hung against it, up to 5 kg.
_OF_PUSH = 0.5
_LEAST_N, _MOST_N = 5.0, 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisPlan:
    """Runs of one axis."""

    axis: str
    turns: tuple[int, ...]  #: of the motor, in a second
    feed_mm_per_min: tuple[float, ...]
    pull_n: float  #: hung against the motion for a second row; 0: none
    ends_by: str  #: what ends the row before ``LAST_REV_PER_S``; "" if nothing does


def runs_to_make(machine: MachineModel) -> tuple[AxisPlan, ...]:
    """For each axis that can turn its motor fast enough: speeds one turn a second apart."""
    return tuple(plan for axis in machine.axes if (plan := _plan(axis)).turns)


def _plan(axis: AxisModel) -> AxisPlan:
    reach = sqrt(_OF_TRAVEL * axis.travel_mm * axis.acceleration_mm_per_s2) / axis.lead_mm
    ends = {
        "the travel: with more acceleration it gets faster": reach,
        "the screw, which would whip": _OF_WHIP * axis.whip_mm_per_s / axis.lead_mm,
        "the motor's pull": axis.motor_top_mm_per_s / axis.lead_mm,
    }
    first = min(ends, key=lambda name: ends[name])
    last = min(LAST_REV_PER_S, floor(ends[first]))
    turns = tuple(range(FIRST_REV_PER_S, last + 1))
    # Z carries its own weight up already.
    push = float(thrust_n(axis, last * axis.lead_mm)) if turns and axis.name != "z" else 0.0
    pull = min(5.0 * floor(_OF_PUSH * push / 5.0), _MOST_N)
    return AxisPlan(
        axis=axis.name,
        turns=turns,
        feed_mm_per_min=tuple(float(f"{60.0 * n * axis.lead_mm:.4g}") for n in turns),
        pull_n=pull if pull >= _LEAST_N else 0.0,
        ends_by=first if last < LAST_REV_PER_S else "",
    )


def form_text(plans: Sequence[AxisPlan]) -> str:
    """A stalls.toml to fill in: ``ran`` is empty everywhere."""
    lines = [
        'kerfwright = "stalls 1"',
        "",
        "# Write after ran how each run went: smooth, rough or stalled. Rough is what you hear and",
        "# feel. Leave it empty where you did not try. Add runs as you like; pull is what was hung",
        '# against the motion, as "40 N" or "9 lbf". If these runs were made with another',
        '# acceleration than machine.toml says, write it above:  acceleration = "200 mm/s2"',
        "",
        "run = [",
    ]
    for plan in plans:
        for pull in dict.fromkeys(("none", f"{plan.pull_n:g} N" if plan.pull_n else "none")):
            for turns, feed in zip(plan.turns, plan.feed_mm_per_min, strict=True):
                lines.append(
                    f'  {{ axis = "{plan.axis}", speed = "{feed:g} mm/min", pull = "{pull}", '
                    f'ran = "" }},  # {turns} turns a second'
                )
    return "\n".join([*lines, "]"]) + "\n"

"""What the fit may move: groups of settings, and how far each was open before."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import exp, log

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Known
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.machine import CornerRule, MachineModel
from kerfwright.trajectory.settings import (
    AHEAD,
    PER_SECOND,
    parameter_paths,
    paths_of,
    setting,
    with_settings,
)
from kerfwright.trajectory.time import JERK, LINES, PARAMETER

FloatArray = NDArray[np.float64]

#: A value that was merely written down, without a spread, may be off by a fifth.
WRITTEN_U = 0.2 / TWO_SIDED_95
#: A range "as commonly met" holds most machines, not all: it is taken half as wide again.
DEFAULT_WIDER = 1.5
XY, Z = "the acceleration of X and Y", "the acceleration of Z"
RAPID_XY, RAPID_Z = "the rapid speed of X and Y", "the rapid speed of Z"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameter:
    """Settings that the fit moves together, by one factor; its logarithm is open by ``log_u``."""

    name: str  #: in shop words
    middle: Mapping[str, float]  #: by path
    log_u: float  #: standard uncertainty of the factor's logarithm, before


def parameters_of(machine: MachineModel, rule: CornerRule) -> tuple[Parameter, ...]:
    """What is open about a machine under a corner rule.

    Settings measured or from a datasheet without a spread are held. Rapid speeds and jerk are
    moved only within a spread that the description gives.
    """
    groups = (
        (XY, paths_of("acceleration", "xy"), True),
        (Z, paths_of("acceleration", "z"), True),
        (PARAMETER[rule], parameter_paths(rule), True),
        (RAPID_XY, paths_of("rapid", "xy"), False),
        (RAPID_Z, paths_of("rapid", "z"), False),
        (JERK, paths_of("jerk"), False),
        (LINES, (AHEAD, PER_SECOND), False),
    )
    found = (_parameter(machine, name, paths, exact) for name, paths, exact in groups)
    return tuple(one for one in found if one is not None)


def _parameter(
    machine: MachineModel, name: str, paths: Sequence[str], even_exact: bool
) -> Parameter | None:
    known = {path: one for path in paths if (one := setting(machine, path)) is not None}
    spreads = {p: _logarithmic(one, even_exact) for p, one in known.items() if one.value > 0.0}
    loose = {path: spread for path, spread in spreads.items() if spread[1] > 0.0}
    if not loose:
        return None
    return Parameter(
        name=name,
        middle={path: exp(middle) for path, (middle, _) in loose.items()},
        log_u=max(u for _, u in loose.values()),
    )


def _logarithmic(known: Known, even_exact: bool) -> tuple[float, float]:
    """Middle and standard uncertainty of a value's logarithm."""
    low, high = known.interval()
    if low == high:
        loose = even_exact and known.kind in ("estimated", "default")
        return log(known.value), WRITTEN_U if loose else 0.0
    low = max(low, 0.05 * known.value)
    wider = DEFAULT_WIDER if known.kind == "default" else 1.0
    return 0.5 * (log(low) + log(high)), wider * (log(high) - log(low)) / (2.0 * TWO_SIDED_95)


def settled(
    machine: MachineModel,
    rule: CornerRule,
    parameters: Sequence[Parameter],
    steps: Sequence[float] | FloatArray,
) -> MachineModel:
    """The machine with each parameter so many of its standard uncertainties from its middle."""
    return with_settings(machine, values_at(parameters, steps), rule)


def values_at(
    parameters: Sequence[Parameter], steps: Sequence[float] | FloatArray
) -> dict[str, float]:
    """Each setting, by path."""
    return {
        path: value * exp(one.log_u * float(step))
        for one, step in zip(parameters, steps, strict=True)
        for path, value in one.middle.items()
    }

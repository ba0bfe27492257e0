"""An error of the part with its ends: force by its law, everything else as it may be."""

from collections.abc import Mapping
from math import exp, hypot

from kerfwright.basics import Estimate
from kerfwright.basics.known import TWO_SIDED_95

FORCE = "the force of the cut"


def around(
    value_mm: float, by_force_mm: float, log_spread: float, others_mm: Mapping[str, float]
) -> Estimate:
    """Ends that hold the error nineteen times in twenty.

    Parameters
    ----------
    value_mm : the error; above 0 proud.
    by_force_mm : how much of it the give under force makes; off by a factor whose logarithm has
        the standard deviation ``log_spread``, so farther out than in.
    others_mm : half widths of 95 % intervals of what else moves it, by name in shop words.
    """
    out = abs(by_force_mm) * (exp(TWO_SIDED_95 * log_spread) - 1.0)
    back = abs(by_force_mm) * (1.0 - exp(-TWO_SIDED_95 * log_spread))
    beside = hypot(*others_mm.values())
    up, down = (out, back) if by_force_mm >= 0.0 else (back, out)
    parts = {FORCE: out, **others_mm}
    ruler = max(parts, key=lambda name: parts[name])
    return Estimate(
        value=value_mm,
        low=value_mm - hypot(down, beside),
        high=value_mm + hypot(up, beside),
        mostly_from=ruler if parts[ruler] > 0.0 else "",
    )

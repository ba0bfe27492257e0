"""A value of machine.toml in metric and inch, with its spread and where it is from."""

from kerfwright.basics import Estimate, Known
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.basics.units import INCH_MM, LBF_N, POUND_KG, UNITS
from kerfwright.machine import PUSH_N, amount_words, dimension_at
from kerfwright.report.figures import amount, clean, estimate_words

#: dimension -> the other unit, and what one of it is in the inside unit.
_OTHER = {
    "length": ("in", INCH_MM),
    "speed": ("in/min", UNITS["in/min"][1]),
    "acceleration": ("in/s²", INCH_MM),
    "force": ("lbf", LBF_N),
    "torque": ("ozf in", UNITS["ozf in"][1]),
    "mass": ("lb", POUND_KG),
    "stiffness": ("lbf/in", LBF_N / INCH_MM),
}
_FROM = {
    "measured": "measured",
    "datasheet": "from a label or data sheet",
    "estimated": "estimated",
    "default": "not known: the usual range",
}


def known_words(path: str, known: Known) -> str:
    """``619.1 mm (24.38 in)``, ``24 to 48 V``: the value with its spread, in both units."""
    if path.startswith("frame.pushed_"):
        return f"{_give(known)}: {amount_words(path, known)}"
    words = amount_words(path, known)
    dimension = dimension_at(path)
    if dimension not in _OTHER:
        return words
    unit, size = _OTHER[dimension]
    if known.low is not None and known.high is not None:
        other = f"{_three(known.low / size)} to {_three(known.high / size)}"
    elif known.u is not None:
        other = f"{_three(known.value / size)} ± {_three(TWO_SIDED_95 * known.u / size)}"
    else:
        exact = f"{known.value / size:.3f}".rstrip("0").rstrip(".")
        other = exact if dimension == "length" else _three(known.value / size)
    return f"{words} ({other} {unit})"


def _three(value: float) -> str:
    """Three figures, without an exponent."""
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


def _give(known: Known) -> str:
    """A push that was tried, as it was read."""
    low, high = known.interval()
    ends = sorted(PUSH_N / end for end in (max(low, 1e-9), high))
    give = Estimate(value=PUSH_N / known.value, low=ends[0], high=ends[1])
    return f"{estimate_words(give, 'mm')} at {amount(PUSH_N, 'N')}"


def source_words(known: Known) -> str:
    """``measured: steel rule, March``; ``not known: the usual range (...)``."""
    origin = _FROM[known.kind]
    ref = "" if known.ref == "as written in machine.toml" else clean(known.ref)
    if not ref:
        return origin
    return f"{origin} ({ref})" if known.kind == "default" else f"{origin}: {ref}"

"""What a fit found, as lines that can be put into machine.toml."""

from math import exp, floor, log10

from kerfwright.basics import Known
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.basics.units import INSIDE
from kerfwright.commission import Fitted, FittedValue
from kerfwright.machine.entries import number_at

_WIDE = 1.5  #: from this factor either way a spread is told by its ends


def fitted_lines(fitted: Fitted) -> tuple[str, ...]:
    """Lines of machine.toml; a rule that is not sure and what hardly shows are left out."""
    best = fitted.best
    ref = f"{len(fitted.observed)} programs by the clock"
    if not fitted.sure:
        return ("# not yet: more than one corner rule fits; time another program",)
    sections: dict[str, list[str]] = {
        "controller": [f'corners = {{ is = "{best.rule}", from = "measured", ref = "{ref}" }}']
    }
    for value in best.values:
        if value.weak:
            continue
        section, _, key = value.path.rpartition(".")
        amount = _amount(value.path, value.known)
        line = f'{key} = {{ is = "{amount}", from = "measured", ref = "{ref}" }}'
        sections.setdefault(section, []).append(line)
    out = []
    for section, lines in sections.items():
        out += [f"[{section}]", *lines]
    return tuple(out)


def amount_words(value: FittedValue) -> str:
    """``420 ± 12 mm/s²``, or ``0.02 to 0.08 mm`` where the spread is a large part of the value."""
    reach = exp(TWO_SIDED_95 * value.log_u)
    if reach < _WIDE:
        return _amount(value.path, value.known)
    low, high = value.known.value / reach, value.known.value * reach
    ends = " to ".join(f"{float(f'{end:.2g}'):g}" for end in (low, high))
    return f"{ends} {INSIDE[number_at(value.path).dimension]}"


def _amount(path: str, known: Known) -> str:
    """Value and spread, both with the digits to which the spread leaves a meaning."""
    half = TWO_SIDED_95 * (known.u or 0.0)
    decimals = max(1 - floor(log10(half)), 0) if half > 0.0 else 6
    unit = INSIDE[number_at(path).dimension]
    return f"{known.value:.{decimals}f} ± {half:.{decimals}f} {unit}"

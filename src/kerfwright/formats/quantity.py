"""Quantities as people write them: ``24 in``, ``610 ± 0.5 mm``, ``2 to 3 kg``, ``don't know``.

A time may be a sum, ``1 h 12 min``, with a spread behind it in a unit of its own: ``± 30 s``.

A slope may be a rise over a length: ``0.3 mm over 400 mm``; a stiffness a push as it is tried:
``0.2 ± 0.02 mm at 45 N``.

``±`` is read as nineteen times in twenty; ``to`` as a range with no value likelier than another.
A current may say ``peak`` or ``RMS``; it is kept as peak (RMS times the square root of two).
"""

import re
from dataclasses import dataclass
from math import isfinite, sqrt

from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.basics.units import INSIDE, UNITS

#: A number as people write it.
# 1 1/2, 3/4, 18 000, 0.25, 1e3: a mixed fraction is tried first, or 1 1/2 would read as 11/2.
NUMBER = (
    r"[-+]?(?:\d+[ -]\d+/\d+|\d+/\d+"
    r"|(?:\d{1,3}(?:[ \u00a0\u202f]\d{3})+|\d+)(?:\.\d*)?(?:[eE][-+]?\d+)?|\.\d+)"
)
_FORM = re.compile(
    rf"^\s*(?P<value>{NUMBER})"
    rf"(?:\s*(?:±|\+/-|\+-)\s*(?P<pm>{NUMBER})|\s*(?:to|\.\.|–|—)\s*(?P<high>{NUMBER}))?"
    r"\s*(?P<unit>[^\d\s].*?)?\s*$"
)
_PART = r"\d+(?:\.\d*)?"
_TIME_SUM = re.compile(
    rf"^\s*(?:(?P<h>{_PART})\s*h)?\s*(?:(?P<min>{_PART})\s*min)?\s*(?:(?P<s>{_PART})\s*s)?"
    rf"\s*(?:(?:±|\+/-|\+-)\s*(?P<pm>{NUMBER})\s*(?P<unit>h|min|s))?\s*$"
)
_UNKNOWN = {"don't know", "dont know", "don’t know", "unknown", "?"}


class QuantityError(ValueError):
    """Text that is no quantity of the wanted dimension. ``remedy`` says what to write."""

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem, self.remedy = problem, remedy
        super().__init__(problem, remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A number in inside units, with the spread that was written beside it."""

    value: float
    u: float | None = None
    low: float | None = None
    high: float | None = None
    qualifier: str = ""  #: "peak" or "rms" if a current said so


def read_quantity(text: str, dimension: str) -> Quantity | None:
    """Read one quantity.

    Parameters
    ----------
    text : str
        What stands in the file or on the command line.
    dimension : str
        A key of ``INSIDE``, or ``"number"`` for a pure number.

    Returns
    -------
    Quantity or None
        In inside units; None when the text says that it is not known.

    Raises
    ------
    QuantityError
        If the text is no such quantity.
    """
    if text.strip().lower() in _UNKNOWN:
        return None
    wanted = f'write it like "{_example(dimension)}", or "don\'t know"'
    if dimension == "time" and len(text) <= 200:
        summed = _time_sum(text)
        if summed is not None:
            return summed
    if dimension == "slope" and " over " in text and len(text) <= 200:
        return _over(text)
    if dimension == "stiffness" and " at " in text and len(text) <= 200:
        return _pushed(text)
    match = _FORM.match(text) if len(text) <= 200 else None
    if match is None:
        raise QuantityError(f'"{text[:60]}" is not a number with a unit', wanted)
    factor, qualifier = _factor(text, match["unit"] or "", dimension, wanted)
    value = number_of(match["value"]) * factor
    u = low = high = None
    if match["pm"] is not None:
        u = abs(number_of(match["pm"]) * factor) / TWO_SIDED_95
    elif match["high"] is not None:
        low, high = value, number_of(match["high"]) * factor
        if low > high:
            raise QuantityError(f'the range "{text}" runs backwards', "put the smaller end first")
        value = 0.5 * (low + high)
    if not all(isfinite(x) for x in (value, u or 0.0, high or 0.0)):
        raise QuantityError(f'"{text[:60]}" is too large a number', wanted)
    return Quantity(value=value, u=u, low=low, high=high, qualifier=qualifier)


def _time_sum(text: str) -> Quantity | None:
    """``1 h 12 min 5 s ± 10 s``; None where it is a single number with its unit, or none."""
    match = _TIME_SUM.match(text)
    if match is None:
        return None
    parts = {unit: match[unit] for unit in ("h", "min", "s") if match[unit] is not None}
    if not parts or (len(parts) == 1 and match["pm"] is None):
        return None
    value = sum(float(number) * UNITS[unit][1] for unit, number in parts.items())
    u = None
    if match["pm"] is not None:
        u = abs(number_of(match["pm"]) * UNITS[match["unit"]][1]) / TWO_SIDED_95
    return Quantity(value=value, u=u) if isfinite(value) and isfinite(u or 0.0) else None


def _over(text: str) -> Quantity:
    """A slope as it is measured: so much over such a length, ``0.3 ± 0.1 mm over 400 mm``."""
    wanted = 'write it like "0.3 mm over 400 mm"'
    head, _, tail = text.partition(" over ")
    rise, run = read_quantity(head, "length"), read_quantity(tail, "length")
    if (
        rise is None
        or run is None
        or not run.value > 0.0
        or run.u is not None
        or run.low != run.high
    ):
        raise QuantityError(f'"{text[:60]}" is no rise over a length', wanted)

    def over(rise_mm: float | None) -> float | None:
        return None if rise_mm is None else rise_mm / run.value

    return Quantity(
        value=rise.value / run.value, u=over(rise.u), low=over(rise.low), high=over(rise.high)
    )


def _pushed(text: str) -> Quantity:
    """A stiffness as it is tried: it gave so much at such a push, ``0.2 ± 0.02 mm at 45 N``."""
    wanted = 'write it like "0.2 ± 0.02 mm at 45 N"'
    head, _, tail = text.partition(" at ")
    gave, push = read_quantity(head, "length"), read_quantity(tail, "force")
    if gave is None or push is None or push.u is not None or push.low != push.high:
        raise QuantityError(f'"{text[:60]}" does not say how far it gave at which push', wanted)
    least = gave.value if gave.low is None else gave.low
    if not (least > 0.0 and push.value > 0.0):
        raise QuantityError(
            "it gave nothing that the dial could show",
            'push harder, or write the least that the dial would have shown: "0.01 mm at 45 N"',
        )
    stiffness = push.value / gave.value
    if gave.low is not None and gave.high is not None:
        low, high = push.value / gave.high, push.value / gave.low
        return Quantity(value=0.5 * (low + high), low=low, high=high)
    u = None if gave.u is None else stiffness * gave.u / gave.value
    return Quantity(value=stiffness, u=u)


def read_size(text: str) -> tuple[tuple[float, ...], str]:
    """Lengths joined by ``x`` and the words behind them: ``310 x 310 x 30 mm hard maple``.

    Returns the lengths [mm] and the rest of the text.
    """
    number = rf"({NUMBER})\s*(mm|cm|m|in|inch|\")?"
    match = re.match(
        rf"^\s*{number}\s*[x×]\s*{number}(?:\s*[x×]\s*{number})?(?=\s|,|$)\s*,?\s*(.*)$", text, re.I
    )
    if match is None or len(text) > 200:
        raise QuantityError(
            f'"{text[:60]}" is not a size', 'write it like "310 x 310 x 30 mm hard maple"'
        )
    parts = [(match[1], match[2]), (match[3], match[4])]
    if match[5] is not None:
        parts.append((match[5], match[6]))
    last_unit = parts[-1][1]
    if last_unit is None:
        raise QuantityError(f'the size "{text[:60]}" has no unit', "say mm or in after the size")
    sizes = tuple(
        number_of(number) * UNITS[(unit or last_unit).lower()][1] for number, unit in parts
    )
    return sizes, match[7].strip()


def _factor(text: str, unit: str, dimension: str, wanted: str) -> tuple[float, str]:
    words = unit.lower().replace("·", " ").split()
    qualifier = ""
    if dimension == "current" and words and words[-1] in {"peak", "rms"}:
        qualifier = words.pop()
    name = " ".join(words)
    if dimension == "number":
        if name:
            raise QuantityError(f'"{text[:60]}" has a unit, but this is a pure number', wanted)
        return 1.0, ""
    if not name:
        raise QuantityError(f'"{text[:60]}" has no unit', _with_a_unit(text, dimension) or wanted)
    if name not in UNITS or UNITS[name][0] != dimension:
        raise QuantityError(f'"{unit}" is no unit of {dimension}', wanted)
    factor = UNITS[name][1]
    return (factor * sqrt(2.0) if qualifier == "rms" else factor), qualifier


def number_of(text: str) -> float:
    """The value of a text that matches ``NUMBER``; ``QuantityError`` where it has none (3/0)."""
    sign = -1.0 if text.startswith("-") else 1.0
    whole, top, bottom = re.fullmatch(
        r"(?:(\d+)[ -])?(?:(\d+)/(\d+))?.*", text.lstrip("+-"), re.S
    ).groups()  # type: ignore[union-attr]  # matches any text
    try:
        if top is not None:
            return sign * (float(whole or 0) + float(top) / float(bottom))
        return sign * float(re.sub(r"[ \u00a0\u202f]", "", text.lstrip("+-")))
    except (ValueError, ZeroDivisionError) as error:
        raise QuantityError(f'"{text[:60]}" is not a number', "write digits and a point") from error


#: What a number without a unit is most likely meant in, of what is measured either way.
_EITHER = {
    "length": ("mm", "in"),
    "speed": ("mm/min", "in/min"),
    "force": ("N", "lbf"),
    "mass": ("kg", "lb"),
}


def _with_a_unit(text: str, dimension: str) -> str:
    """The same text with each unit that may be meant; empty where there is no such choice."""
    if dimension not in _EITHER or len(text) > 30:
        return ""
    one, other = (f'"{text.strip()} {unit}"' for unit in _EITHER[dimension])
    return f"write its unit behind it: {one} or {other}"


def _example(dimension: str) -> str:
    if dimension == "number":
        return "0.15"
    if dimension == "angle":
        return "30 deg"
    if dimension == "turning":
        return "18000 rev/min"
    if dimension == "slope":
        return "0.3 mm over 400 mm"
    if dimension == "current":
        return "2.8 A peak"
    return f"25 {INSIDE[dimension]}".strip() if dimension != "share" else "8 %"

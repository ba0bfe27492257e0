"""Numbers, lengths of time, chances and places in the words of the shop, in mm and inches."""

import re
from collections.abc import Callable, Sequence
from math import floor, inf, log10

from kerfwright.basics import Estimate, Spot
from kerfwright.basics.shares import share_words
from kerfwright.basics.units import HOUR_S, INCH_MM, LBF_N, MINUTE_S

#: unit -> (the other unit, factor into it): the metric value is always printed first.
_OTHER = {
    "mm": ("in", 1.0 / INCH_MM),
    "mm/s": ("in/s", 1.0 / INCH_MM),
    "mm/min": ("in/min", 1.0 / INCH_MM),
    "N": ("lbf", 1.0 / LBF_N),
    "m": ("ft", 1000.0 / INCH_MM / 12.0),
    "mm²": ("sq in", 1.0 / INCH_MM**2),
}
_MINUS = "−"


def shop_unit(name: str, unit: str) -> str:
    """Unit of a margin's or finding's numbers: the pull left in a motor is a share of the whole."""
    return "share" if name.startswith("pull left") and not unit else unit


def amount(value: float, unit: str) -> str:
    """One value with its unit, and in the other unit behind it: ``3.20 mm (0.126 in)``.

    A ``unit`` of ``share`` is printed in per cent, or as a multiple where it is twice or more.
    """
    if unit == "share":
        return share_words(value)[0]
    return _in_both(lambda factor, name: _row((value,), factor, name), unit)


def estimate_words(estimate: Estimate, unit: str) -> str:
    """A computed value and its spread: ``0.52 mm, 0.40 to 0.64 (0.020 in, 0.016 to 0.025)``.

    The coverage is said only where it is not nineteen times in twenty, which the text around
    this must say once.
    """
    ends = (estimate.value, estimate.low, estimate.high)
    if unit == "share":
        first, low, high = share_words(*ends)
        words = f"{first}, {low} to {high}" if estimate.low < estimate.high else first
    else:
        words = _in_both(lambda factor, name: _row(ends, factor, name), unit)
    if abs(estimate.coverage - 0.95) > 5e-4 and estimate.low < estimate.high:
        words += f", {100.0 * estimate.coverage:.3g} times in 100"
    if estimate.mostly_from:
        words += f", mostly from {estimate.mostly_from}"
    return words


def leaning(error_mm: float) -> str:
    """One error of the part: ``0.12 mm (0.005 in) proud``."""
    return f"{amount(abs(error_mm), 'mm')} {_side(error_mm)}".strip()


def leaning_estimate(error: Estimate) -> str:
    """An error of the part with its spread: ``0.06 mm shy, 0.04 to 0.08 (0.002 in, ...)``."""
    ends = (abs(error.low), abs(error.high))
    one_sided = error.low * error.high >= 0.0

    def row(factor: float, unit: str) -> str:
        values = (abs(error.value), *(sorted(ends) if one_sided else ends))
        value, low, high = _digits([value * factor for value in values], unit)
        words = f"{value} {unit} {_side(error.value)}".strip()
        if error.low == error.high:
            return words
        return f"{words}, {low} to {high}" if one_sided else f"{words}, {low} shy to {high} proud"

    words = _in_both(row, "mm")
    return f"{words}, mostly from {error.mostly_from}" if error.mostly_from else words


def chance_words(likelihood: float) -> str:
    """A likelihood as a count: ``about 20 times in 100``."""
    if likelihood < 0.005:
        return "less than once in 200 times"
    if likelihood > 0.995:
        return "nearly every time"
    count = round(100.0 * likelihood)
    return "about once in 100 times" if count == 1 else f"about {count} times in 100"


def duration(time_s: float) -> str:
    """A length of time: ``1 h 52 min``, ``52 min``, ``3 min 20 s``, ``45 s``."""
    minutes = round(time_s / MINUTE_S)
    if minutes >= 60:
        return f"{minutes // 60} h {minutes % 60:02d} min"
    if time_s >= 10 * MINUTE_S:
        return f"{minutes} min"
    return moment(time_s)


def time_span(low_s: float, high_s: float) -> str:
    """Two lengths of time: ``1 h 35 to 2 h 05``, ``48 to 57 min``, ``3 min 05 s to 3 min 40 s``."""
    if high_s >= HOUR_S:
        ends = (divmod(round(end / MINUTE_S), 60) for end in (low_s, high_s))
        return " to ".join(f"{hours} h {minutes:02d}" for hours, minutes in ends)
    if high_s >= 10 * MINUTE_S:
        return f"{round(low_s / MINUTE_S)} to {round(high_s / MINUTE_S)} min"
    return f"{moment(low_s)} to {moment(high_s)}"


def moment(time_s: float) -> str:
    """A moment of the job to the second: ``1 h 02 min 07 s``."""
    minutes, seconds = divmod(round(time_s), 60)
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes:02d} min {seconds:02d} s"
    return f"{minutes} min {seconds:02d} s" if minutes else f"{seconds} s"


def distance(mm: float) -> str:
    """A distance on the board, as a rule shows it: ``105.1 mm (4.14 in)``."""
    return f"{_signed(mm)} mm ({_signed(mm / INCH_MM, 2)} in)"


def spot_words(spot: Spot) -> str:
    """Where it is on the board, seen by someone who stands in front of it."""
    inches = ", ".join(
        _signed(value / INCH_MM, 2) for value in (spot.x_mm, spot.y_mm, abs(spot.z_mm))
    )
    level = "below the top" if spot.z_mm <= 0.0 else "above the top"
    words = (
        f"{_signed(spot.x_mm)} mm from the left, {_signed(spot.y_mm)} from the front, "
        f"{abs(spot.z_mm):.1f} {level} ({inches} in)"
    )
    return f"{words}, {clean(spot.part)}" if spot.part else words


#: One or several numbers with a unit that the other half of the trade writes otherwise.
_MEASURE = re.compile(
    r"(?<![\w.])(?P<many>(?:[−-]?\d+(?:\.\d+)?(?:, | x | × | to ))*[−-]?\d+(?:\.\d+)?)"
    r" (?P<unit>mm/min|mm/s|mm|N)(?![\w²³/])(?!,? \(?[−\d., tox×]+ (?:in|lbf)\b)"
)
_NUMBER = re.compile(r"[−-]?\d+(?:\.\d+)?")
_NAMES = ("flat", "ball", "bull", "taper", "drill", "dovetail", "t-slot", "round-over", "V")


def both_ways(text: str) -> str:
    """A sentence with inches behind its millimetres: ``Let it stick out 14 mm (0.551 in) only``.

    What is named by a size, like the cutter ``flat 6 mm``, keeps its name.
    """

    def told(found: re.Match[str]) -> str:
        before = text[: found.start()].rstrip().rpartition(" ")[2].lstrip('("')
        if before in _NAMES:
            return found[0]
        other, factor = _OTHER[found["unit"]]
        numbers = [float(one.replace("−", "-")) for one in _NUMBER.findall(found["many"])]
        digits = iter(_digits([one * factor for one in numbers], other))
        words = f"{_NUMBER.sub(lambda _: next(digits), found['many'])} {other}"
        inside = text.count("(", 0, found.start()) > text.count(")", 0, found.start())
        return f"{found[0]}, {words}" if inside else f"{found[0]} ({words})"

    return _MEASURE.sub(told, text)


def clean(text: str) -> str:
    """Text from a file with everything that could drive a terminal taken out."""
    return "".join(c if c.isprintable() else " " for c in text)


def _signed(value: float, decimals: int = 1) -> str:
    return _no_minus_nought(f"{value:.{decimals}f}").replace("-", _MINUS)


def _side(error_mm: float) -> str:
    return "proud" if error_mm > 0.0 else "shy" if error_mm < 0.0 else ""


def _in_both(row: Callable[[float, str], str], unit: str) -> str:
    words = row(1.0, unit)
    if unit in _OTHER:
        other, factor = _OTHER[unit]
        words += f" ({row(factor, other)})"
    return words


def _row(values: Sequence[float], factor: float, unit: str) -> str:
    """The first value with the unit, then the others as a spread around it, if they are one."""
    first, *ends = _digits([value * factor for value in values], unit)
    words = f"{first} {unit}".strip()
    if ends and not values[1] == values[0] == values[2]:
        words += f", {ends[0]} to {ends[1]}"
    return words


def _digits(values: Sequence[float], unit: str) -> list[str]:
    """Values with as many decimals as the shop can use of the largest."""
    largest = max(abs(value) for value in values)
    if largest == 0.0:
        decimals = 0
    elif unit == "mm":
        decimals = 1 if largest >= 999.5 else 2 if largest >= 0.0495 else 3
    elif unit == "in":
        decimals = 2 if largest >= 39.35 else 3 if largest >= 0.00195 else 4
    elif unit == "%":
        decimals = 0
    else:
        decimals = min(max(2 - floor(log10(largest)), 0), 3) if largest < inf else 0
    return [_no_minus_nought(f"{value:.{decimals}f}").replace("-", _MINUS) for value in values]


def _no_minus_nought(digits: str) -> str:
    return digits.lstrip("-") if float(digits) == 0.0 else digits

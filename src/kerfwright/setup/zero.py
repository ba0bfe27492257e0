"""Where the program's zero stands on the board, and how far off it may be."""

from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from math import hypot

from kerfwright.basics import Known
from kerfwright.formats import QuantityError, read_quantity
from kerfwright.stock import Board
from kerfwright.tables import read_table

AXES = ("x", "y", "z")
UNSAID = "unsaid"
_WORDS = {
    "x": {"left": 0.0, "middle": 0.5, "right": 1.0},
    "y": {"front": 0.0, "middle": 0.5, "back": 1.0},
    "z": {"top": 0.0, "table": -1.0},
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ZeroMethod:
    """A way of setting zero. Spread judged, common practice, no source."""

    name: str
    axes: str  #: some of "xyz"
    u_mm: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class AxisZero:
    """Zero along one axis, in the board's frame, and what was assumed about it."""

    known: Known
    assumed: str = ""


def methods(axis: str) -> dict[str, ZeroMethod]:
    """Ways of setting zero along an axis, by name."""
    return {method.name: method for method in _methods() if axis in method.axes}


def read_axis_zero(axis: str, place: str, by: str, board: Board) -> AxisZero:
    """Read zero along one axis.

    Parameters
    ----------
    axis : str
        ``x``, ``y`` or ``z``.
    place : str
        ``left``, ``middle``, ``right``; ``front``, ``middle``, ``back``; ``top``, ``table``; or
        a length from the left front top corner, such as ``12 mm``.
    by : str
        Name of a method, ``unsaid``, or a spread of one's own: ``± 0.05 mm``.
    board : Board
        What zero stands on.

    Raises
    ------
    QuantityError
        If place or method cannot be read.
    """
    value, spread_mm = _place(axis, place.strip().lower(), board)
    u_mm, words = _spread(axis, by.strip().lower())
    known = Known(
        value=value,
        kind="measured" if by.strip().startswith(("±", "+")) else "default",
        ref=words,
        u=hypot(spread_mm, u_mm),
    )
    if known.kind == "measured":
        return AxisZero(known=known)
    return AxisZero(
        known=known,
        assumed=f"zero in {axis.upper()} within {1.96 * (known.u or 0.0):.2g} mm nineteen times in "
        f"twenty ({words}; common practice, no source)",
    )


def _place(axis: str, place: str, board: Board) -> tuple[float, float]:
    """Position in the board's frame, and the spread that the place itself has. [mm]"""
    size = {"x": board.length_mm, "y": board.width_mm, "z": board.thickness_mm}[axis]
    words = _WORDS[axis]
    if place in words:
        spread = 0.0
        if place == "table":  # how deep a cut is then depends on how thick the board is
            thickness = board.known.get("thickness_mm")
            spread = standard_uncertainty(thickness) if thickness is not None else 0.0
        return words[place] * size, spread
    try:
        quantity = read_quantity(place, "length")
    except QuantityError as error:
        raise QuantityError(
            error.problem, f'write one of {", ".join(words)}, or a length such as "12 mm"'
        ) from error
    if quantity is None:
        raise QuantityError("zero must be somewhere", f"write one of {', '.join(words)}")
    if abs(quantity.value) > 10_000.0:
        raise QuantityError("zero is more than 10 m away", "measure from the left front top corner")
    return quantity.value, quantity.u or 0.0


def _spread(axis: str, by: str) -> tuple[float, str]:
    """Standard uncertainty of a method, and the method in words. [mm]"""
    if by.startswith(("±", "+")):
        quantity = read_quantity(f"0 {by}", "length")
        if quantity is None or quantity.u is None:
            raise QuantityError(f'"{by[:60]}" is no spread', 'write it like "± 0.05 mm"')
        return quantity.u, "spread as stated in the job file"
    known = methods(axis)
    if by not in known:
        near = get_close_matches(by[:60], known, n=1, cutoff=0.6)
        names = ", ".join(name for name in known if name != UNSAID)
        raise QuantityError(
            f'zero in {axis.upper()} is not set by "{by[:60]}"',
            f'did you mean "{near[0]}"?' if near else f'write one of {names}, or "± 0.05 mm"',
        )
    return known[by].u_mm, known[by].words


@cache
def _methods() -> tuple[ZeroMethod, ...]:
    return tuple(
        ZeroMethod(
            name=row["method"], axes=row["axes"], u_mm=float(row["u_mm"]), words=row["words"]
        )
        for row in read_table("zero_methods")
    )


def standard_uncertainty(known: Known) -> float:
    """Standard uncertainty of a value, whichever way its spread was given."""
    if known.u is not None:
        return known.u
    if known.low is not None and known.high is not None:
        return float((known.high - known.low) / 12.0**0.5)
    return 0.0

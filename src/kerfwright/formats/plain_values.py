"""Plain values on a command line: ``6.4 kN``, ``1, 2, 5 mm``, ``[0, 0, -150] mm``. No spread.

Any unit of the wanted dimension will do; the values come back in the wanted one.
"""

import json
import re
from cmath import isfinite

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.unit_expressions import Unit, unit_of
from kerfwright.formats.quantity import NUMBER, QuantityError, number_of

_ITEM = re.compile(rf"^\s*(?P<value>{NUMBER})\s*(?P<unit>.*?)\s*$", re.S)
_BETWEEN = re.compile(r"[^\[\],]+")
_COMPLEX = re.compile(r"[-+\d.eEi]+")
#: Longest text and most values in it.
LONGEST, MOST = 100_000, 10_000


def read_values(text: str, unit: str, example: str) -> float | NDArray[np.float64]:
    """Read one value, a list of values, or a table in square brackets.

    Parameters
    ----------
    text : str
        As written. In a list a unit holds for the values before it that have none.
    unit : str
        The wanted unit, ``N mm``; empty for pure numbers, which may also be written in %.
    example : str
        How to write it, for the remedy.

    Returns
    -------
    float or array
        In the wanted unit: a float, an array (n,) of a list, or the shape of the brackets.

    Raises
    ------
    QuantityError
        If the text is no such value.
    """
    wanted = f"write it like {example}"
    if len(text) > LONGEST:
        raise QuantityError(f"{len(text)} characters are too many", "give fewer values")
    if text.lstrip().startswith("["):
        return _table(text.strip(), unit, wanted)
    items = re.split(r"[,;]", text)
    if len(items) > MOST:
        raise QuantityError(f"{len(items)} values are too many", f"give {MOST} at most")
    values: list[float] = []
    written = ""
    for item in reversed(items):  # a unit holds for the values before it
        match = _ITEM.match(item)
        if match is None:
            raise QuantityError(f'"{_short(item)}" is not a number', wanted)
        written = match["unit"] or written
        values.append(_in(number_of(match["value"]), written, unit, wanted))
    if not np.isfinite(values).all():
        raise QuantityError(f'"{_short(text)}" is too large a number', wanted)
    return values[0] if len(values) == 1 else np.array(values[::-1])


def read_complex(text: str, unit: str, example: str) -> NDArray[np.complex128]:
    """Read numbers with an imaginary part, in square brackets: ``[-12.9+43i, 2i] N``.

    Otherwise as ``read_values``.
    """
    wanted = f"write it like {example}"
    if len(text) > LONGEST:
        raise QuantityError(f"{len(text)} characters are too many", "give fewer values")
    end = text.rfind("]") + 1
    if end == 0:
        raise QuantityError(f'"{_short(text)}" stands without brackets', wanted)
    pairs = _BETWEEN.sub(lambda part: _as_pair(part[0], wanted), text[:end].strip())
    try:
        parts = _table(pairs, "", wanted) * _in(1.0, text[end:].strip(), unit, wanted)
    except QuantityError as error:
        if error.problem.startswith('"['):  # its pairs are not what was written
            raise QuantityError(f'"{_short(text)}" is no such table', wanted) from error
        raise
    if parts.shape[-1] != 2 or parts.ndim < 2:
        raise QuantityError(f'"{_short(text)}" is no such table', wanted)
    return np.asarray(parts[..., 0] + 1j * parts[..., 1])


def _as_pair(part: str, wanted: str) -> str:
    """``-12.9+43i`` as ``[-12.9, 43.0]``, for what reads tables."""
    plain = "".join(part.split())
    if not plain:
        return part
    try:
        number = complex(plain.replace("i", "j")) if _COMPLEX.fullmatch(plain) else None
    except ValueError:
        number = None
    if number is None or not isfinite(number):
        raise QuantityError(f'"{_short(part)}" is not a number', wanted)
    return f"[{number.real!r}, {number.imag!r}]"


def _table(text: str, unit: str, wanted: str) -> NDArray[np.float64]:
    end = text.rfind("]") + 1
    try:
        plain = json.loads(text[:end])
        values = np.array(plain, dtype=np.float64)
    except (ValueError, TypeError, RecursionError) as error:
        problem = f'"{_short(text)}" is no table of numbers'
        raise QuantityError(problem, 'write it like "[0, 0, -150] mm"') from error
    if values.size > MOST or values.size == 0 or not np.isfinite(values).all():
        raise QuantityError(f"a table holds 1 to {MOST} plain numbers", "give fewer values")
    return np.asarray(values * _in(1.0, text[end:].strip(), unit, wanted))


def _in(value: float, written: str, unit: str, wanted: str) -> float:
    """A value from the unit that was written into the wanted one."""
    if unit == "%":
        if written != "%":
            raise QuantityError(_has_no(value, written), wanted)
        return value
    want = unit_of(unit) or Unit(1.0, (0, 0, 0, 0, 0, 0))
    if not written:
        if unit:
            raise QuantityError(f"{value:g} has no unit", wanted)
        return value
    have = unit_of(written)
    if have is None:
        raise QuantityError(f'"{_short(written)}" is no unit that is known here', wanted)
    if have.powers != want.powers:
        raise QuantityError(_has_no(value, written, unit or "a pure number"), wanted)
    return value * have.per(want)


def _has_no(value: float, written: str, wanted: str = "%") -> str:
    if not written:
        return f"{value:g} has no unit"
    if wanted == "a pure number":
        return f'"{_short(written)}" is a unit, but this is a pure number'
    return f'"{_short(written)}" cannot be turned into {wanted}'


def _short(text: str) -> str:
    return " ".join("".join(c if c.isprintable() else " " for c in text[:60]).split())

"""Places on a drawing, written in one text: ``"70,45 -70,45 0,-45 mm"``."""

import re
from collections.abc import Sequence

import numpy as np

from kerfwright.basics.units import UNITS
from kerfwright.formats import QuantityError
from kerfwright.machine.model import FloatArray

_FORM = 'write it like "0,0 40,0 40,80 0,80 mm"'
_PAIR = re.compile(r"([-+]?\d{1,6}(?:\.\d{1,6})?|[-+]?\.\d{1,6})")
#: No place of a router is farther from another. [mm]
_FARTHEST_MM = 5000.0


def read_points(text: str, what: str, least: int, most: int) -> FloatArray:
    """Places in one unit, which stands behind the last.

    Parameters
    ----------
    text : str
        Pairs joined by a comma, parted by blanks.
    what : str
        What the places are, for what is told.
    least, most : int
        How many there may be.

    Returns
    -------
    array (n, 2)
        [mm]

    Raises
    ------
    QuantityError
        If it does not read so.
    """
    *pairs, unit = text.split() or [""]
    dimension, scale = UNITS.get(unit.lower(), ("", 0.0))
    if dimension != "length":
        raise QuantityError(f"the {what} do not end in a unit of length", _FORM)
    if not least <= len(pairs) <= most:
        count = f"{len(pairs)} {'place' if len(pairs) == 1 else 'places'}"
        raise QuantityError(f"the {what} are {count}, not {least} to {most}", _FORM)
    places = []
    for number, pair in enumerate(pairs, 1):
        found = [_PAIR.fullmatch(one) for one in pair.split(",")]
        if len(found) != 2 or None in found:
            raise QuantityError(f"place {number} of the {what}, {pair[:30]!r}, is no pair", _FORM)
        places.append([float(one) * scale for one in pair.split(",")])
    out = np.array(places)
    if np.abs(out).max() > _FARTHEST_MM:
        raise QuantityError(f"the {what} reach beyond {_FARTHEST_MM:g} mm", "check the unit")
    return out


def as_word(places: FloatArray) -> str:
    """Places as a word among the choices; ``from_word`` reads it."""
    return " ".join(f"{value:.9g}" for value in places.ravel())


def from_word(word: str) -> FloatArray:
    """The places of ``as_word``. (n, 2) [mm]"""
    numbers: Sequence[str] = word.split()
    return np.array(numbers, dtype=np.float64).reshape(-1, 2)

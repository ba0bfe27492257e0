"""Units put together from those of ``UNITS``: ``N mm/rad``, ``lbf in/rad``, ``kg m²``, ``in4``.

A unit is a factor and powers of base units, so any two units of one dimension convert, and units of
different dimensions do not. Turning keeps a dimension of its own: ``N mm`` is no ``N mm/rad``.
"""

import re
from dataclasses import dataclass
from functools import cache
from math import pi
from typing import Final

from kerfwright.basics.units import UNITS

#: Powers of millimetre, kilogram, second, ampere, radian, kelvin.
Powers = tuple[int, int, int, int, int, int]

#: dimension of ``UNITS`` -> the inside unit's size in base units, and its powers.
_DIMENSIONS: Final[dict[str, tuple[float, Powers]]] = {
    "length": (1.0, (1, 0, 0, 0, 0, 0)),
    "speed": (1.0, (1, 0, -1, 0, 0, 0)),
    "acceleration": (1.0, (1, 0, -2, 0, 0, 0)),
    "jerk": (1.0, (1, 0, -3, 0, 0, 0)),
    "time": (1.0, (0, 0, 1, 0, 0, 0)),
    "angle": (1.0, (0, 0, 0, 0, 1, 0)),
    "turning": (2.0 * pi, (0, 0, -1, 0, 1, 0)),
    "force": (1e3, (1, 1, -2, 0, 0, 0)),
    "torque": (1e3, (2, 1, -2, 0, 0, 0)),
    "stiffness": (1e3, (0, 1, -2, 0, 0, 0)),
    "stress": (1e3, (-1, 1, -2, 0, 0, 0)),
    "mass": (1.0, (0, 1, 0, 0, 0, 0)),
    "inertia": (1.0, (2, 1, 0, 0, 0, 0)),
    "density": (1e-9, (-3, 1, 0, 0, 0, 0)),
    "area": (1.0, (2, 0, 0, 0, 0, 0)),
    "second moment": (1.0, (4, 0, 0, 0, 0, 0)),
    "power": (1e6, (2, 1, -3, 0, 0, 0)),
    "voltage": (1e6, (2, 1, -3, -1, 0, 0)),
    "current": (1.0, (0, 0, 0, 1, 0, 0)),
    "resistance": (1e6, (2, 1, -3, -2, 0, 0)),
    "inductance": (1e6, (2, 1, -2, -2, 0, 0)),
    "temperature": (1.0, (0, 0, 0, 0, 0, 1)),
    "share": (1.0, (0, 0, 0, 0, 0, 0)),
}

#: Names that stand only inside other units, or that small letters would confuse. Exact case.
_MORE: Final[dict[str, tuple[float, Powers]]] = {
    "1": (1.0, (0, 0, 0, 0, 0, 0)),
    "H": (1e6, _DIMENSIONS["inductance"][1]),
    "Hz": (1.0, (0, 0, -1, 0, 0, 0)),
    "hz": (1.0, (0, 0, -1, 0, 0, 0)),
    "kHz": (1000.0, (0, 0, -1, 0, 0, 0)),
    "rev": (2.0 * pi, (0, 0, 0, 0, 1, 0)),
    "arcmin": (pi / 10_800.0, (0, 0, 0, 0, 1, 0)),
    "urad": (1e-6, (0, 0, 0, 0, 1, 0)),
    "mrad": (1e-3, (0, 0, 0, 0, 1, 0)),
    "mohm": (1e3, _DIMENSIONS["resistance"][1]),
    "K": (1.0, (0, 0, 0, 0, 0, 1)),
    "k": (1.0, (0, 0, 0, 0, 0, 1)),
    "°C": (1.0, (0, 0, 0, 0, 0, 1)),
    "mV": (1e3, _DIMENSIONS["voltage"][1]),
    "l": (1e6, (3, 0, 0, 0, 0, 0)),
}

#: How names of numbers end in this project, and the unit as it is printed.
SUFFIX_UNITS: Final[dict[str, str]] = {
    "mm": "mm", "um": "µm", "mm2": "mm²", "mm3": "mm³", "mm4": "mm⁴",
    "mm_per_s": "mm/s", "mm_per_s2": "mm/s²", "mm_per_s3": "mm/s³",
    "s": "s", "rad": "rad", "rad_per_s": "rad/s", "rad_per_s2": "rad/s²", "rad_per_mm": "rad/mm",
    "rad_per_n": "rad/N", "rev_per_s": "rev/s", "hz": "Hz", "hertz": "Hz",
    "n": "N", "n2": "N²", "nmm": "N mm", "nmm2": "N mm²", "nmm3": "N mm³",
    "nmm_per_rad": "N mm/rad", "nmm_per_a": "N mm/A", "nmm_s_per_rad": "N mm s/rad",
    "n_per_mm": "N/mm", "n_per_mm2": "N/mm²", "n_per_mm3": "N/mm³", "n_s_per_mm": "N s/mm",
    "mm_per_n": "mm/N", "mpa": "MPa", "mm3_per_s": "mm³/s", "per_mm": "1/mm", "per_mm2": "1/mm²",
    "kg": "kg", "kg_mm2": "kg mm²", "kg_per_m3": "kg/m³", "kg_per_mm": "kg/mm",
    "w": "W", "v": "V", "a": "A", "ohm": "ohm", "ohm_mm2_per_m": "ohm mm²/m", "h": "H",
    "degc": "°C", "per_k": "1/K", "w_per_m2_k": "W/m²/K", "m2": "m²", "m3_per_h": "m³/h",
    "percent": "%",
}  # fmt: skip

#: Names that are nothing but their unit.
_ALONE: Final = {"hertz": ("hertz", "Hz"), "rev_per_s": ("speed", "rev/s")}

_RAISED = str.maketrans("²³⁴", "234")
_TERM = re.compile(r"([^\d\s/^]+|1(?!\d))\^?(\d?)")


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit as people write it."""

    factor: float  #: its size in millimetre, kilogram, second, ampere, radian, kelvin
    powers: Powers

    def per(self, other: "Unit") -> float:
        """How many of ``other`` are in one of this. Only for units of one dimension."""
        return self.factor / other.factor


@cache
def unit_of(text: str) -> Unit | None:
    """The unit that a text names; None if it names none.

    Parameters
    ----------
    text : str
        A blank or ``·`` between factors, ``/`` before each divisor, powers as ``²`` or ``2``. Not
        more than 60 characters.
    """
    plain = " ".join(text.replace("·", " ").replace("*", " ").translate(_RAISED).split())
    if len(plain) > 60:
        return None
    whole = _plain(plain)
    if whole is not None or not plain:
        return whole
    factor, powers = 1.0, [0] * 6
    for place, part in enumerate(plain.split("/")):
        one = _product(part.strip())
        if one is None:
            return None
        factor *= one.factor if place == 0 else 1.0 / one.factor
        sign = 1 if place == 0 else -1
        powers = [a + sign * b for a, b in zip(powers, one.powers, strict=True)]
    return Unit(factor, (powers[0], powers[1], powers[2], powers[3], powers[4], powers[5]))


def _product(text: str) -> Unit | None:
    """Factors one after the other: ``kg m2``."""
    whole = _plain(text)
    if whole is not None:
        return whole
    factor, powers = 1.0, [0] * 6
    words = text.split()
    if not words:
        return None
    for word in words:
        match = _TERM.fullmatch(word)
        one = _plain(word) or (_plain(match[1]) if match else None)
        if one is None or match is None:
            return None
        power = int(match[2] or 1) if _plain(word) is None else 1
        factor *= one.factor**power
        powers = [a + power * b for a, b in zip(powers, one.powers, strict=True)]
    return Unit(factor, (powers[0], powers[1], powers[2], powers[3], powers[4], powers[5]))


def _plain(name: str) -> Unit | None:
    """A unit that stands as it is in one of the lists."""
    if name in _MORE:
        return Unit(*_MORE[name])
    found = UNITS.get(name.lower())
    if found is None:
        return None
    size, powers = _DIMENSIONS[found[0]]
    return Unit(found[1] * size, powers)


def split_suffix(name: str) -> tuple[str, str]:
    """A name of the code without its unit, and that unit as printed (empty for a pure number).

    ``raising_torque_nmm`` is ``raising_torque`` in ``N mm``.
    """
    if name in _ALONE:
        return _ALONE[name]
    words = name.split("_")
    for first in range(1, len(words)):
        unit = SUFFIX_UNITS.get("_".join(words[first:]))
        if unit is not None:
            return "_".join(words[:first]), unit
    return name, ""

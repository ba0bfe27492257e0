"""Outlines of the shapes that are told by corners, from the sizes by which the trade names them."""

import re
from math import cos, pi, sin, tan

from kerfwright.basics.units import UNITS
from kerfwright.cutter.cutter import MOST_CORNERS, CutterError
from kerfwright.formats import QuantityError
from kerfwright.formats.quantity import NUMBER, read_quantity

Corners = tuple[tuple[float, float], ...]

#: Chords in the quarter circle of a round-over: off it by up to 0.0005 of its radius.
_CHORDS = 24
_POINT = re.compile(rf"\s*({NUMBER})\s*(?:x|×|by)\s*({NUMBER})\s*([^\d\s].{{0,12}}?)?\s*", re.I)
_EXAMPLE = 'write each corner like "3 x 1.5 mm": how far from the axis, how high above the tip'


def dovetail(name: str, diameter_mm: float, lean_rad: float, height_mm: float) -> Corners:
    """Widest at the end, its flanks leaning inwards.

    Raises
    ------
    CutterError
        If its flanks meet below its top.
    """
    radius = diameter_mm / 2.0
    neck = radius - height_mm * tan(lean_rad)
    if neck < 0.05 * radius:
        raise CutterError(f"cutter {name}: its flanks meet {radius / tan(lean_rad):.1f} mm up")
    return (0.0, 0.0), (radius, 0.0), (neck, height_mm)


def t_slot(name: str, diameter_mm: float, thickness_mm: float, neck_mm: float) -> Corners:
    """A disc on a thinner neck.

    Raises
    ------
    CutterError
        If the neck is no thinner than the disc.
    """
    if not neck_mm < diameter_mm:
        raise CutterError(f"cutter {name}: its neck is no thinner than its disc")
    disc, neck = diameter_mm / 2.0, neck_mm / 2.0
    return (0.0, 0.0), (disc, 0.0), (disc, thickness_mm), (neck, thickness_mm)


def round_over(corner_mm: float, guide_mm: float, guide_length_mm: float) -> Corners:
    """A guide at the end, and above it a hollow quarter circle that rounds an edge over."""
    guide = guide_mm / 2.0
    turn = [0.5 * pi * k / _CHORDS for k in range(_CHORDS + 1)]
    arc = [(guide + corner_mm * (1.0 - cos(t)), guide_length_mm + corner_mm * sin(t)) for t in turn]
    foot = [(0.0, 0.0), (guide, 0.0)] if guide_length_mm > 0.0 else [(0.0, 0.0)]
    return (*foot, *arc)


def read_corner(text: object) -> tuple[float, float]:
    """Radius and height of one corner: ``3 x 1.5 mm``. [mm]

    Raises
    ------
    QuantityError
        If it is no such text.
    """
    found = _POINT.fullmatch(text) if isinstance(text, str) and len(text) <= 80 else None
    if found is None:
        raise QuantityError("is no corner of an outline", _EXAMPLE)
    unit = (found[3] or "").strip()
    if not unit:
        raise QuantityError("the corner has no unit", _EXAMPLE)
    radius, height = (read_quantity(f"{part} {unit}", "length") for part in found.groups()[:2])
    if radius is None or height is None or not 0.0 <= min(radius.value, height.value) <= 300.0:
        raise QuantityError("no cutter has such a corner", _EXAMPLE)
    return radius.value, height.value


def read_corners(text: str) -> Corners:
    """Corners in one text: ``0 x 0; 3 x 1.5; 3 x 8 mm``; a unit at its end holds for all.

    Raises
    ------
    QuantityError
        If one of them cannot be read, or there are too many.
    """
    parts = text.split(";")
    if len(parts) > MOST_CORNERS:
        raise QuantityError(f"the outline has more than {MOST_CORNERS} corners", _EXAMPLE)
    last = re.search(r"[^\d\s].{0,3}$", parts[-1].strip())
    unit = last[0] if last and last[0] in UNITS else ""
    return from_axis(
        [
            read_corner(part if re.search(r"[a-z\"]\s*$", part) else f"{part} {unit}")
            for part in parts
        ]
    )


def from_axis(corners: list[tuple[float, float]]) -> Corners:
    """The same, begun at the axis where only the rim of the flat end was told."""
    if corners and corners[0][0] > 0.0 and corners[0][1] == 0.0:
        return (0.0, 0.0), *corners
    return tuple(corners)

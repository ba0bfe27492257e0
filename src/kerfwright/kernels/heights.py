"""How high the wood of a bin stands where a sloping edge meets a part of it only.

Where wood ends beside the axis at the distance b, a sloping edge meets it from the radius
b / sin(psi) on: at another height at every angle. A bin tells its lowest place and its highest
alone. Both lie at its edges, where it meets its neighbours; from them follow the heights between
which the edge is engaged in the mean over the bin, and towards which side there is more of it.

Derived here. tests/kernels/test_parts_and_ramps.py holds it against integrals over the surface.
"""

from math import cos, pi, sqrt

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel
from kerfwright.kernels.engagement import BIN_RAD, BINS, HIGHEST, LOWEST, VOLUME
from kerfwright.kernels.profile import (
    ARC,
    ARC_END,
    ARC_TOP,
    DISC,
    FLANK,
    FORM_NUMBERS,
    RADIUS,
    RIM,
    rise,
)

_D = BIN_RAD
_QUARTER = 0.5 * pi
_COS_HALF = cos(0.5 * _D)
_SLIVER = 0.03  #: of a bin's wood: less beside it does not tell how high that ends
_SLIGHT = 0.1  #: of a bin's height: less is much the same all through
_FAR_SHORTER = 0.2  #: of a bin's height
#: Slope of a way on which the wood's height changes along it more than from angle to angle.
STEEP = 0.1
_EDGE_ON = 1e-6  #: rounding of angles [rad]


@inner_kernel(**BORROWING)
def mean_heights(wood, b, low, high, begin, sp, sq, form):  # type: ignore[no-untyped-def]
    """Between which heights the wood of a bin lies in the mean over its angle.

    Parameters
    ----------
    wood : (ROWS, BINS) as in ``engagement``; b : the bin.
    low, high : lowest and highest place of its wood. [mm]
    begin, sp, sq : where the bin begins from the heading [rad], sines of both its edges.
    form : of the cutter, see ``profile``.

    Returns
    -------
    low : in the mean. [mm]
    short, high : in the mean, both alike. Where one end of the bin is far shorter, the highest
        place there and at the other: in which part it is tall the bin's volume tells. [mm]
    taller : by which part of the mean the wood is taller at the bin's end than where it begins.
    shorter : a twelfth of what the cosine loses over the wood times its angle: times ``taller``
        that is what chip and length of the edge have to do with each other.
    """
    if begin + _D < _EDGE_ON - _QUARTER or begin > _QUARTER - _EDGE_ON:
        return low, high, high, 0.0, 0.0  # behind its widest place
    s0, s1 = abs(sp), abs(sq)
    before, after = b - 1 if b > 0 else BINS - 1, b + 1 if b < BINS - 1 else 0
    taken = wood[VOLUME, b]
    # How high the wood of the outermost bins is the grid cannot tell: as high as their neighbours'.
    if begin < _EDGE_ON - _QUARTER:
        high = max(high, wood[HIGHEST, after])
        s0, low0, high0 = 1.0, low, high
    else:
        low0, high0 = _beside(wood, before, taken, low, high, form[RIM])
    if begin + _D > _QUARTER - _EDGE_ON:
        high = max(high, wood[HIGHEST, before])
        s1, low1, high1 = 1.0, low, high
    else:
        low1, high1 = _beside(wood, after, taken, low, high, form[RIM])
    if begin - _D < _EDGE_ON - _QUARTER:
        high0 = high
    if begin + 2.0 * _D > _QUARTER - _EDGE_ON:
        high1 = high
    if low0 < 0.0:
        s0, low0 = _end_of_wood(low, high, low1, s0, s1, form)
    if low1 < 0.0:
        s1, low1 = _end_of_wood(low, high, low0, s1, s0, form)
    if low0 == low1 == low and high0 == high1 == high:
        return low, high, high, 0.0, 0.0
    middle = 0.5 * (s0 + s1) / _COS_HALF if sp * sq > 0.0 else 0.0
    if abs(low1 - low0) > _SLIGHT * (high - low):
        low = _mean_of(low, low0, low1, s0, s1, middle, form)
    else:
        low = 0.5 * (low0 + low1)
    high = 0.5 * (high0 + high1)
    taller = min(max((high1 - low1 - high0 + low0) / max(high - low, 1e-9), -2.0), 2.0)
    c0, c1 = sqrt(max(1.0 - s0 * s0, 0.0)), sqrt(max(1.0 - s1 * s1, 0.0))
    wide = min(abs(s1 - s0) / max(0.5 * (c0 + c1), 1e-9), _D)
    short = high
    if abs(high1 - high0) > _FAR_SHORTER * (max(high0, high1) - low):
        short, high = max(min(high0, high1), low + 1e-6), max(high0, high1)
    return low, short, high, taller, wide * (c1 - c0) / 12.0


@inner_kernel(**BORROWING)
def _mean_of(most, z0, z1, s0, s1, middle, form):  # type: ignore[no-untyped-def]
    """Mean of a height that is ``most`` at one edge of a bin at least, or else in its middle.

    ``z0``, ``z1``, ``s0``, ``s1``: heights and sines of the angle at both edges; ``middle``: sine
    half way, 0 if the bin lies on both sides of the heading.
    """
    if z0 != most and z1 != most:
        return 0.25 * (z0 + z1) + 0.5 * most
    if not middle > max(min(s0, s1), 1e-3) or middle >= max(s0, s1):
        return 0.5 * (z0 + z1)
    beside = 0.5 * (_radius_at(z0, form) * s0 + _radius_at(z1, form) * s1)
    z = rise(min(beside / middle, form[RADIUS]), form)
    return (z0 + z1 + 4.0 * min(max(z, min(z0, z1)), max(z0, z1))) / 6.0


@inner_kernel(inline="always", **BORROWING)
def _beside(wood, beside, volume, low, high, rim):  # type: ignore[no-untyped-def]
    """Heights between which a bin's wood meets its neighbour's; below 0 if that has none. [mm]"""
    if not wood[VOLUME, beside] > 0.0:
        return -1.0, high
    highest = wood[HIGHEST, beside]
    if highest <= rim + 1e-6 < high or wood[VOLUME, beside] < _SLIVER * volume:
        highest = high  # a wall ends upright
    return min(max(low, wood[LOWEST, beside]), high), max(min(high, highest), low)


@inner_kernel(**BORROWING)
def _end_of_wood(low, high, other, s_here, s_other, form):  # type: ignore[no-untyped-def]
    """Sine of where a bin's wood ends, and from which height on there."""
    if low < 1e-6 or other != low:
        return s_here, low
    ends = s_other * _radius_at(low, form) / _radius_at(high, form)
    if ends <= s_here:
        return s_here, low
    return ends, max(low, min(high, form[RIM]))


@inner_kernel(**BORROWING)
def _radius_at(z, form):  # type: ignore[no-untyped-def]
    """How wide a cutter is at a height above its tip. [mm]"""
    if z >= form[RIM]:
        return form[RADIUS]
    if form.shape[0] == FORM_NUMBERS:
        if z < form[ARC_TOP]:
            upright = form[ARC] - z
            return form[DISC] + sqrt(form[ARC] * form[ARC] - upright * upright)
        return form[ARC_END] + (z - form[ARC_TOP]) / form[FLANK]
    low, high = 0.0, form[RADIUS]
    for _ in range(12):
        r = 0.5 * (low + high)
        if rise(r, form) < z:
            low = r
        else:
            high = r
    return 0.5 * (low + high)

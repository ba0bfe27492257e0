"""The outline of a cutter as a body of revolution, and integrals along its cutting edge.

From the axis outwards most shapes are made of at most four pieces: a flat disc, an arc that starts
level where the disc ends, a straight flank that goes on from the arc, and an upright wall at the
full radius. Its numbers stand in one array, the ``form``; heights are above the tip.

Any other shape is a polyline. Its corners stand behind those numbers: first those of its
underside, that is what is seen from below, then those of the whole outline from the axis up. Above
its last corner a cutter goes straight up.
"""

from itertools import pairwise
from math import acos, sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.borrowing import BORROWING
from kerfwright.kernels.compiling import inner_kernel

#: Which kernel cuts it. ROUND: any disc, arc and flank; OUTLINE: a polyline that hides nothing
#: from below; UNDERCUT: one that does.
FLAT, BALL, VEE, ROUND, OUTLINE, UNDERCUT = range(6)

# Places in a form. [mm; the flank's slope is a pure number]
DISC, ARC, ARC_END, ARC_TOP, FLANK, RIM, RADIUS = range(7)
FORM_NUMBERS = 7
# Only in the form of a polyline: how many corners its underside and its whole outline have, and
# where they begin: radius and height of each.
UNDERSIDE, WHOLE, CORNERS = 7, 8, 9
MOST_CORNERS = 64
_NEAR = 1e-3  #: heights that differ by rounding [mm]

# Integrals along the edge between two heights; out and up are the parts of its outward normal.
DZ, DR, EDGE, R_DZ, R_DEDGE, R_DR, OUT_OUT, OUT_UP, UP_UP = range(9)
INTEGRALS = 9


def form_of(shape: int, radius_mm: float, flank: float, tip_mm: float) -> NDArray[np.float64]:
    """The form of a shape. (FORM_NUMBERS,)

    Parameters
    ----------
    shape : FLAT, BALL or VEE.
    radius_mm : of the cutter. [mm]
    flank : rise of a V for each mm outwards.
    tip_mm : radius of the flat at the point of a V. [mm]
    """
    form = np.zeros(FORM_NUMBERS)
    form[RADIUS] = radius_mm
    if shape == BALL:
        form[ARC] = form[ARC_TOP] = form[ARC_END] = form[RIM] = radius_mm
    elif shape == VEE:
        form[DISC] = form[ARC_END] = tip_mm
        form[FLANK] = flank
        form[RIM] = flank * (radius_mm - tip_mm)
    else:
        form[DISC] = form[ARC_END] = radius_mm
    return form


def round_form(
    radius_mm: float, disc_mm: float, arc_mm: float, half_angle_rad: float
) -> NDArray[np.float64]:
    """The form of a disc, an arc and a flank that goes on from it. (FORM_NUMBERS,)

    Parameters
    ----------
    radius_mm, disc_mm, arc_mm : of the cutter, of the disc and of the arc. [mm]
    half_angle_rad : of the flank from upright; 0 where the arc ends upright, at the full radius.
    """
    form = np.zeros(FORM_NUMBERS)
    form[DISC], form[ARC], form[RADIUS] = disc_mm, arc_mm, radius_mm
    form[ARC_END] = min(disc_mm + arc_mm * np.cos(half_angle_rad), radius_mm)
    form[ARC_TOP] = arc_mm * (1.0 - np.sin(half_angle_rad))
    form[FLANK] = 1.0 / np.tan(half_angle_rad) if half_angle_rad > 0.0 else 0.0
    form[RIM] = form[ARC_TOP] + form[FLANK] * (radius_mm - form[ARC_END])
    return form


def outline_form(corners_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """The form of a polyline. (CORNERS + 2 (UNDERSIDE + WHOLE),)

    ``corners_mm`` (k, 2): radius and height above the tip, from the axis upwards, the first at
    (0, 0); heights never fall.
    """
    under = [corners_mm[0]]
    for begin, end in pairwise(corners_mm):
        widest = under[-1][0]
        if end[0] <= widest:
            continue
        if begin[0] < widest or begin[1] > under[-1][1]:
            # Comes out from behind what is wider: from there on it is seen from below.
            part = (widest - begin[0]) / (end[0] - begin[0])
            under.append(np.array([widest, begin[1] + part * (end[1] - begin[1])]))
        under.append(end)
    form = np.zeros(CORNERS)
    level = [corner[0] for corner in under if corner[1] <= 0.0]
    form[DISC] = form[ARC_END] = level[-1]
    form[RADIUS], form[RIM] = under[-1]
    form[UNDERSIDE], form[WHOLE] = len(under), len(corners_mm)
    return np.concatenate([form, np.concatenate(under), corners_mm.ravel()])


def undercuts(corners_mm: NDArray[np.float64]) -> bool:
    """Whether an outline hides some of itself from below."""
    return bool((np.diff(corners_mm[:, 0]) < 0.0).any())


@inner_kernel(**BORROWING)
def _rise_of_polyline(r, form):  # type: ignore[no-untyped-def]
    """Height and slope of the underside of a polyline beyond its disc."""
    corners = form[CORNERS:]
    for i in range(1, int(form[UNDERSIDE])):
        r0, r1 = corners[2 * i - 2], corners[2 * i]
        if r <= r1 and r1 > r0:
            z0 = corners[2 * i - 1]
            slope = (corners[2 * i + 1] - z0) / (r1 - r0)
            return z0 + slope * (r - r0), slope
    return form[RIM], 1e12


@inner_kernel(inline="always", **BORROWING)
def plain_rise(r, disc, arc, arc_end, arc_top, flank):  # type: ignore[no-untyped-def]
    """``rise`` of what is no polyline, by the numbers of its form: for inner loops. [mm]"""
    if r <= disc:
        return 0.0
    if r < arc_end:
        return arc - sqrt(max(arc * arc - (r - disc) * (r - disc), 0.0))
    return arc_top + flank * (r - arc_end)


@inner_kernel(**BORROWING)
def rise_and_slope(r, form):  # type: ignore[no-untyped-def]
    """Height of the underside at a distance from the axis, up to the radius, and its slope. [mm]"""
    disc = form[DISC]
    if r <= disc:
        return 0.0, 0.0
    if form.shape[0] > FORM_NUMBERS:
        return _rise_of_polyline(r, form)
    if r < form[ARC_END]:
        out, arc = r - disc, form[ARC]
        upright = sqrt(max(arc * arc - out * out, 0.0))
        return arc - upright, out / max(upright, 1e-6)
    up = form[ARC_TOP] + form[FLANK] * (r - form[ARC_END])
    return up, form[FLANK] if r < form[RADIUS] else 1e12


@inner_kernel(**BORROWING)
def rise(r, form):  # type: ignore[no-untyped-def]
    """Height of the underside at a distance from the axis, up to the radius. [mm]"""
    return rise_and_slope(r, form)[0]


@inner_kernel(**BORROWING)
def steepness(r, form):  # type: ignore[no-untyped-def]
    """Slope of the underside at a distance from the axis. [-]"""
    return rise_and_slope(r, form)[1]


@inner_kernel(inline="always", **BORROWING)
def _add_straight(r, dz, dr, out):  # type: ignore[no-untyped-def]
    """Add a straight piece of edge whose middle is at r to the integrals."""
    edge = sqrt(dz * dz + dr * dr)
    out[DZ] += dz
    out[DR] += dr
    out[EDGE] += edge
    out[R_DZ] += r * dz
    out[R_DEDGE] += r * edge
    out[R_DR] += r * dr
    out[OUT_OUT] += dz * dz / edge
    out[OUT_UP] += dz * dr / edge
    out[UP_UP] += dr * dr / edge


@inner_kernel(**BORROWING)
def _along_polyline(low, high, form, out):  # type: ignore[no-untyped-def]
    """``along_edge`` of a polyline.

    A level piece above the tip counts by what it takes on the way down; that it rubs is left out,
    as it is of a disc.
    """
    corners = form[CORNERS + 2 * int(form[UNDERSIDE]) :]
    last = int(form[WHOLE]) - 1
    for i in range(last):
        r0, z0 = corners[2 * i], corners[2 * i + 1]
        dr, dz = corners[2 * i + 2] - r0, corners[2 * i + 3] - z0
        if dz > 0.0:
            a, b = max(low, z0), min(high, z0 + dz)
            if b > a:
                share = (b - a) / dz
                middle = r0 + dr * (0.5 * (a + b) - z0) / dz
                _add_straight(middle, b - a, dr * share, out)
        elif dr > 0.0 and z0 > 0.0 and low <= z0 <= high:
            out[DR] += dr
            out[R_DR] += (r0 + 0.5 * dr) * dr
            out[UP_UP] += dr
    a = max(low, corners[2 * last + 1])
    if high > a:
        _add_straight(corners[2 * last], high - a, 0.0, out)


@inner_kernel(**BORROWING)
def along_upper_edge(low, high, sides, form, out):  # type: ignore[no-untyped-def]
    """``along_edge`` of a polyline on the way up: where it comes in again further up.

    A level face there counts by what it takes, and it rubs. ``sides``: the rest of its sides too,
    on a way that is not straight up.
    """
    for i in range(INTEGRALS):
        out[i] = 0.0
    corners = form[CORNERS + 2 * int(form[UNDERSIDE]) :]
    for i in range(int(form[WHOLE]) - 1):
        r0, z0 = corners[2 * i], corners[2 * i + 1]
        dr, dz = corners[2 * i + 2] - r0, corners[2 * i + 3] - z0
        if dz > 0.0 and (dr < 0.0 or sides):
            a, b = max(low, z0), min(high, z0 + dz)
            if b > a:
                _add_straight(r0 + dr * (0.5 * (a + b) - z0) / dz, b - a, dr * (b - a) / dz, out)
        elif dr < 0.0 and low - _NEAR <= z0 <= high + _NEAR:
            _add_straight(r0 + 0.5 * dr, 0.0, dr, out)


@inner_kernel(**BORROWING)
def along_edge(low, high, form, out):  # type: ignore[no-untyped-def]
    """Integrals along the edge between two heights above the tip; a disc is left out.

    ``out`` (INTEGRALS,) is written: dz, dr, dl, r dz, r dl, r dr, and products of the parts of the
    normal times dl. [mm, mm²]
    """
    for i in range(INTEGRALS):
        out[i] = 0.0
    if form.shape[0] > FORM_NUMBERS:
        _along_polyline(low, high, form, out)
        return
    radius, rim = form[RADIUS], form[RIM]
    arc, arc_top, disc = form[ARC], form[ARC_TOP], form[DISC]
    a, b = min(low, arc_top), min(high, arc_top)
    if b > a:
        c0, c1 = 1.0, 1.0 - b / arc
        k0, k1 = 0.0, acos(c1)
        s0, s1 = 0.0, sqrt(1.0 - c1 * c1)
        if a > 0.0:
            c0 = 1.0 - a / arc
            k0, s0 = acos(c0), sqrt(1.0 - c0 * c0)
        edge = arc * (k1 - k0)
        dz, dr = arc * (c0 - c1), arc * (s1 - s0)
        sine2 = 0.5 * (k1 - k0) - 0.5 * (s1 * c1 - s0 * c0)
        mixed = 0.5 * (s1 * s1 - s0 * s0)
        out[DZ] += dz
        out[DR] += dr
        out[EDGE] += edge
        out[R_DZ] += disc * dz + arc * arc * sine2
        out[R_DEDGE] += disc * edge + arc * dz
        out[R_DR] += disc * dr + arc * arc * mixed
        out[OUT_OUT] += arc * sine2
        out[OUT_UP] += arc * mixed
        out[UP_UP] += edge - arc * sine2
    a, b = min(max(low, arc_top), rim), min(max(high, arc_top), rim)
    if b > a:
        dr = (b - a) / form[FLANK]
        r = form[ARC_END] + (0.5 * (a + b) - arc_top) / form[FLANK]
        _add_straight(r, b - a, dr, out)
    a, b = max(low, rim), max(high, rim)
    if b > a:
        _add_straight(radius, b - a, 0.0, out)


def profile_mm(distance_mm: NDArray[np.float64], form: NDArray[np.float64]) -> NDArray[np.float64]:
    """``rise`` over an array, the definition; inf beyond the radius. [mm]"""
    if len(form) > FORM_NUMBERS:
        under = form[CORNERS:].reshape(-1, 2)[: int(form[UNDERSIDE])]
        # The first height, from the tip up, at which it is that wide.
        height = np.full(distance_mm.shape, np.inf)
        for (r0, z0), (r1, z1) in reversed(list(pairwise(under))):
            within = (distance_mm >= r0) & (distance_mm <= r1) & (r1 > r0)
            slope = (z1 - z0) / (r1 - r0) if r1 > r0 else 0.0
            height = np.where(within, z0 + slope * (distance_mm - r0), height)
        return height
    out = np.maximum(distance_mm - form[DISC], 0.0)
    arc = form[ARC] - np.sqrt(np.maximum(form[ARC] ** 2 - out**2, 0.0))
    flank = form[ARC_TOP] + form[FLANK] * (distance_mm - form[ARC_END])
    height = np.where(distance_mm < form[ARC_END], arc, flank)
    height = np.where(distance_mm <= form[DISC], 0.0, height)
    return np.where(distance_mm <= form[RADIUS], height, np.inf)

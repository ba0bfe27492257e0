"""The outline of a cutter as a body of revolution, and integrals along its cutting edge.

From the axis outwards every shape is made of at most four pieces: a flat disc, an arc that starts
level where the disc ends, a straight flank that goes on from the arc, and an upright wall at the
full radius. Its numbers stand in one array, the ``form``; heights are above the tip.
"""

from math import acos, sqrt

import numpy as np
from numba import njit
from numpy.typing import NDArray

FLAT, BALL, VEE = 0, 1, 2

# Places in a form. [mm; the flank's slope is a pure number]
DISC, ARC, ARC_END, ARC_TOP, FLANK, RIM, RADIUS = range(7)
FORM_NUMBERS = 7

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


@njit(cache=True, nogil=True, inline="always", error_model="numpy")
def rise(r, form):  # type: ignore[no-untyped-def]
    """Height of the outline at a distance from the axis, up to the radius. [mm]"""
    if r <= form[DISC]:
        return 0.0
    if r < form[ARC_END]:
        out = r - form[DISC]
        return form[ARC] - sqrt(max(form[ARC] * form[ARC] - out * out, 0.0))
    return form[ARC_TOP] + form[FLANK] * (r - form[ARC_END])


@njit(cache=True, nogil=True, inline="always", error_model="numpy")
def steepness(r, form):  # type: ignore[no-untyped-def]
    """Slope of the outline at a distance from the axis. [-]"""
    if r <= form[DISC]:
        return 0.0
    if r < form[ARC_END]:
        out = r - form[DISC]
        return out / sqrt(max(form[ARC] * form[ARC] - out * out, 1e-12))
    return form[FLANK] if r < form[RADIUS] else 1e12


@njit(cache=True, nogil=True, error_model="numpy")
def along_edge(low, high, form, out):  # type: ignore[no-untyped-def]
    """Integrals along the edge between two heights above the tip; a disc is left out.

    ``out`` (INTEGRALS,) is written: dz, dr, dl, r dz, r dl, r dr, and products of the parts of the
    normal times dl. [mm, mm²]
    """
    for i in range(INTEGRALS):
        out[i] = 0.0
    radius, rim = form[RADIUS], form[RIM]
    arc, arc_top, disc = form[ARC], form[ARC_TOP], form[DISC]
    a, b = min(low, arc_top), min(high, arc_top)
    if b > a:
        c0, c1 = 1.0 - a / arc, 1.0 - b / arc
        k0, k1 = acos(c0), acos(c1)
        s0, s1 = sqrt(1.0 - c0 * c0), sqrt(1.0 - c1 * c1)
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
        flank = form[FLANK]
        dz = b - a
        dr = dz / flank
        edge = sqrt(dz * dz + dr * dr)
        r = form[ARC_END] + (0.5 * (a + b) - arc_top) / flank
        out[DZ] += dz
        out[DR] += dr
        out[EDGE] += edge
        out[R_DZ] += r * dz
        out[R_DEDGE] += r * edge
        out[R_DR] += r * dr
        out[OUT_OUT] += dz * dz / edge
        out[OUT_UP] += dz * dr / edge
        out[UP_UP] += dr * dr / edge
    a, b = max(low, rim), max(high, rim)
    if b > a:
        dz = b - a
        out[DZ] += dz
        out[EDGE] += dz
        out[R_DZ] += radius * dz
        out[R_DEDGE] += radius * dz
        out[OUT_OUT] += dz


def profile_mm(distance_mm: NDArray[np.float64], form: NDArray[np.float64]) -> NDArray[np.float64]:
    """``rise`` over an array, the definition; inf beyond the radius. [mm]"""
    out = np.maximum(distance_mm - form[DISC], 0.0)
    arc = form[ARC] - np.sqrt(np.maximum(form[ARC] ** 2 - out**2, 0.0))
    flank = form[ARC_TOP] + form[FLANK] * (distance_mm - form[ARC_END])
    height = np.where(distance_mm < form[ARC_END], arc, flank)
    height = np.where(distance_mm <= form[DISC], 0.0, height)
    return np.where(distance_mm <= form[RADIUS], height, np.inf)

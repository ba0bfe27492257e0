"""What stands between neighbouring passes: scallops of round ends, ridges of a leaning cutter."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse

_HALVINGS = 60


def scallop_mm(radius_mm: Floats, spacing_mm: Floats) -> FloatArray:
    """Height of the cusp between two passes of a round end, square to the surface. [mm]

    Parameters
    ----------
    radius_mm : float or array
        Of the ball, or of the corner of a bull-nosed cutter on a slope. [mm]
    spacing_mm : float or array
        Distance of the two paths square to the travel, along the surface: on a slope of angle t
        across the passes the step-over in plan over cos t. At most twice the radius. [mm]

    Returns
    -------
    array
        r - √(r² - (s/2)²). [mm]

    Notes
    -----
    Both passes at the same depth on a surface that is flat over one spacing; a surface bent
    outwards by R makes it larger by about a share r/R (textbook geometry).

    References
    ----------
    .. [1] Textbook geometry of two circles.

    Examples
    --------
    radius="3 mm" spacing="1 mm" -> 0.041960 mm
    """
    radius, half = array(radius_mm), 0.5 * array(spacing_mm)
    above_zero(radius_mm=radius)
    not_below_zero(spacing_mm=spacing_mm)
    refuse(half > radius, "the passes do not meet: the spacing exceeds twice the radius")
    # Without the loss of digits of a small difference.
    return np.asarray(half**2 / (radius + np.sqrt(radius**2 - half**2)))


def bull_scallop_mm(
    diameter_mm: Floats, corner_mm: Floats, spacing_mm: Floats, slope_across: Floats = 0.0
) -> FloatArray:
    """The same of a bull-nosed cutter: nothing on the level while the flats overlap. [mm]

    Parameters
    ----------
    diameter_mm, corner_mm : float or array
        Of the cutter; radius of its corner. [mm]
    spacing_mm : float or array
        As for ``cusp-scallop``. [mm]
    slope_across : float or array
        Rise of the surface for each mm across the passes; 0 on the level. [-]

    Notes
    -----
    On a slope both passes touch with the same side of the corner. On the level the flat of
    ``diameter - 2 corner`` lies between the corners.

    References
    ----------
    .. [1] As ``cusp-scallop``, derived for this project.

    Examples
    --------
    diameter="6 mm" corner="1 mm" spacing="1 mm" slope_across=0.2 -> 0.13397 mm
    diameter="6 mm" corner="1 mm" spacing="1 mm" -> 0 mm
    """
    radius = array(corner_mm)
    above_zero(corner_mm=radius)
    refuse(2.0 * radius > array(diameter_mm), "the corner is wider than the cutter")
    level = array(slope_across) == 0.0
    flat = np.where(level, array(diameter_mm) - 2.0 * radius, 0.0)
    return scallop_mm(radius, np.maximum(array(spacing_mm) - flat, 0.0))


def ridge_mm(
    diameter_mm: Floats, spacing_mm: Floats, lean_across: Floats, lean_along: Floats
) -> FloatArray:
    """Height of the ridges that a flat cutter leaves which stands out of square to the travel. [mm]

    Parameters
    ----------
    diameter_mm : float or array
        Of the flat end. [mm]
    spacing_mm : float or array
        Between neighbouring passes, at most the diameter. [mm]
    lean_across, lean_along : float or array
        How far the spindle leans for each mm, across and along the travel. [-]

    Returns
    -------
    array
        Highest against lowest line of the floor. With a lean b across alone b s; with a lean a
        along alone a (R - √(R² - s²/4)).

    Notes
    -----
    The end is a disc; swept along the travel its floor is p(u) = b u - |a| √(R² - u²), which bends
    upwards, and neighbouring passes leave the lower of two such curves. Derived for this project;
    the first lean alone is the common shop rule.

    References
    ----------
    .. [1] Derived for this project.

    Examples
    --------
    diameter="25 mm" spacing="20 mm" lean_across=0.001 lean_along=0 -> 0.02 mm
    """
    above_zero(diameter_mm=diameter_mm)
    not_below_zero(spacing_mm=spacing_mm)
    radius, s, b, a = np.broadcast_arrays(
        0.5 * array(diameter_mm), array(spacing_mm), np.abs(array(lean_across)),
        np.abs(array(lean_along)),
    )  # fmt: skip
    refuse(s > 2.0 * radius, "the passes do not meet: the spacing exceeds the diameter")

    def floor(u: FloatArray) -> FloatArray:
        return np.asarray(b * u - a * np.sqrt(np.maximum(radius**2 - u**2, 0.0)))

    # Where the next pass takes over: p(u) = p(u + s), or the rim where the lean across rules.
    low, high = -radius, radius - s
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        rises = floor(middle + s) > floor(middle)
        low, high = np.where(rises, low, middle), np.where(rises, middle, high)
    whole = np.hypot(a, b)
    with np.errstate(invalid="ignore"):
        lowest = np.where(whole > 0.0, -radius * b / np.where(whole > 0.0, whole, 1.0), 0.0)
    lowest = np.clip(lowest, low, low + s)
    return np.asarray(np.maximum(floor(low), floor(low + s)) - floor(lowest))

"""A board on the table and what holds it, as springs under a stiff body."""

import numpy as np

from kerfwright.physics.domain import (
    FloatArray,
    Floats,
    above_zero,
    array,
    not_below_zero,
    refuse,
)


def slip_modulus_n_per_mm(
    one_kg_per_m3: Floats, other_kg_per_m3: Floats, diameter_mm: Floats
) -> FloatArray:
    """How stiffly a screw, bolt, dowel or nail in a drilled hole keeps two boards from sliding.

    Parameters
    ----------
    one_kg_per_m3, other_kg_per_m3 : float or array
        Mean density of the two boards. [kg/m³]
    diameter_mm : float or array
        Of the screw, over its thread. [mm]

    Returns
    -------
    array
        K = r^1.5 d / 23, r = sqrt(r1 r2); of one fastener, where two boards meet. [N/mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    For loads in use, after a first small slip of holes wider than their bolt. Steel on wood: twice.

    References
    ----------
    .. [1] EN 1995-1-1:2004, table 7.1 and 7.1(2), (3): read in transcriptions, not in the standard.

    Examples
    --------
    one="500 kg/m3" other="500 kg/m3" diameter="6.35 mm" -> 3086.75 N/mm
    """
    density = _both(one_kg_per_m3, other_kg_per_m3)
    above_zero(diameter_mm=diameter_mm)
    return np.asarray(density**1.5 * array(diameter_mm) / 23.0)


def nail_slip_modulus_n_per_mm(
    one_kg_per_m3: Floats, other_kg_per_m3: Floats, diameter_mm: Floats
) -> FloatArray:
    """How stiffly a nail driven without a hole keeps two boards from sliding.

    Parameters
    ----------
    one_kg_per_m3, other_kg_per_m3 : float or array
        Mean density of the two boards. [kg/m³]
    diameter_mm : float or array
        Of the nail. [mm]

    Returns
    -------
    array
        K = r^1.5 d^0.8 / 30, r = sqrt(r1 r2). [N/mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    .. [1] EN 1995-1-1:2004, table 7.1: from memory.

    Examples
    --------
    one="500 kg/m3" other="500 kg/m3" diameter="1.2 mm" -> 431.2 N/mm
    """
    density = _both(one_kg_per_m3, other_kg_per_m3)
    above_zero(diameter_mm=diameter_mm)
    return np.asarray(density**1.5 * array(diameter_mm) ** 0.8 / 30.0)


def pressed_stiffness_n_per_mm(press_n: Floats, length_mm: Floats) -> FloatArray:
    """How stiffly two rough faces pressed together keep from sliding, before they slip.

    Parameters
    ----------
    press_n : float or array
        What presses them. [N]
    length_mm : float or array
        About the height of their roughness. [mm]

    Returns
    -------
    array
        F / length. [N/mm]

    Raises
    ------
    ValueError
        If the press is below 0 or the length not above 0.

    Notes
    -----
    Rough faces whose heights fall off like an exponential approach so that the stiffness goes with
    the force; sliding is taken as stiff as pressing (it is a little softer).

    References
    ----------
    .. [1] Johnson, Contact Mechanics, on rough surfaces: from memory.

    Examples
    --------
    press="600 N" length="0.03 mm" -> 20000 N/mm
    """
    not_below_zero(press_n=press_n)
    above_zero(length_mm=length_mm)
    return np.asarray(array(press_n) / array(length_mm))


def board_stiffness(
    sides_mm: FloatArray,
    at_mm: FloatArray,
    sideways_n_per_mm: Floats,
    evenly_n_per_mm: float,
    bed_n_per_mm3: float,
) -> FloatArray:
    """Stiffness of a board on its bed about the middle of its underside.

    Parameters
    ----------
    sides_mm : array (2,)
        Of the board along x and y. [mm]
    at_mm : array (k, 2)
        Where it is held, from its middle. [mm]
    sideways_n_per_mm : float or array
        How stiffly at each place against sliding, any way. [N/mm]
    evenly_n_per_mm : float
        And by what is spread evenly below it. [N/mm]
    bed_n_per_mm3 : float
        What it lies on, pressed, for each area. [N/mm³]

    Returns
    -------
    array (6, 6)
        Over shifts along x, y, z and turns about them. Upright c A, tilted c A b² / 12; sideways
        the sum of all; turned flat the sum of k r², and evenly (a² + b²) / 12.

    Raises
    ------
    ValueError
        If nothing holds it sideways, or what it lies on is not above 0.

    Notes
    -----
    The board itself is stiff, and stays pressed on all over: whether it slides, lifts or rises
    between two places is asked elsewhere (``holding-...``).

    References
    ----------
    .. [1] Springs under a stiff body: statics.

    Examples
    --------
    sides="[200, 150] mm" at="[[-85, -60], [85, -60], [85, 60], [-85, 60]] mm"
    sideways="3000 N/mm" evenly="0 N/mm" bed="2 N/mm3" -> first row [12000, 0, 0, 0, 0, 0]
    """
    sides, places = array(sides_mm), array(at_mm).reshape(-1, 2)
    above_zero(sides_mm=sides, bed_n_per_mm3=bed_n_per_mm3)
    not_below_zero(sideways_n_per_mm=sideways_n_per_mm, evenly_n_per_mm=evenly_n_per_mm)
    each = np.broadcast_to(array(sideways_n_per_mm), len(places))
    square = sides**2 / 12.0
    out = np.zeros((6, 6))
    out[0, 0] = out[1, 1] = each.sum() + evenly_n_per_mm
    out[5, 5] = each @ (places**2).sum(axis=1) + evenly_n_per_mm * square.sum()
    out[0, 5] = out[5, 0] = -(each @ places[:, 1])
    out[1, 5] = out[5, 1] = each @ places[:, 0]
    upright = bed_n_per_mm3 * float(sides.prod())
    out[2, 2], out[3, 3], out[4, 4] = upright, upright * square[1], upright * square[0]
    scale = np.array([1.0, 1.0, float(sides.max())])
    flat = out[np.ix_([0, 1, 5], [0, 1, 5])] / (scale[:, None] * scale)
    refuse(
        bool(np.linalg.eigvalsh(flat)[0] <= 1e-9 * np.abs(flat).max()),
        "nothing holds it sideways, or it can turn",
    )
    return out


def _both(one_kg_per_m3: Floats, other_kg_per_m3: Floats) -> FloatArray:
    above_zero(one_kg_per_m3=one_kg_per_m3, other_kg_per_m3=other_kg_per_m3)
    return np.asarray(np.sqrt(array(one_kg_per_m3) * array(other_kg_per_m3)))

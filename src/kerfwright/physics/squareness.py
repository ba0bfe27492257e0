"""Squareness of two axes: a square turned round, diagonals, reference lines."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse


def reversal_mm(first_mm: Floats, turned_mm: Floats) -> tuple[FloatArray, FloatArray]:
    """The machine's error and the square's own, by turning the square round. [mm]

    Parameters
    ----------
    first_mm, turned_mm : float or array
        Dial over one length of the blade, both times read towards the same side; also point by
        point along a straightedge. [mm]

    Returns
    -------
    machine_mm, square_mm : array
        Half the sum; half the difference, over that length.

    References
    ----------
    .. [1] Evans, Hocken, Estler, Self-calibration: reversal, redundancy, error separation, CIRP
       Annals 45 (1996): from memory; level form read.

    Examples
    --------
    first="0.18 mm" turned="0.06 mm" -> machine 0.12 mm, square 0.06 mm
    """
    first, turned = array(first_mm), array(turned_mm)
    return (first + turned) / 2.0, (first - turned) / 2.0


def diagonals_mm(
    width_mm: Floats, depth_mm: Floats, lean_rad: Floats
) -> tuple[FloatArray, FloatArray]:
    """Diagonals of a rectangle whose sides are out of square. [mm]

    Parameters
    ----------
    width_mm, depth_mm : float or array
        Sides. [mm]
    lean_rad : float or array
        What the angle at the first diagonal's corner lacks of a right angle. [rad]

    Returns
    -------
    first_mm, second_mm : array
        sqrt(a² + b² + 2 a b sin e) and the same with minus.

    Raises
    ------
    ValueError
        If a side is not above 0, or the lean not within a right angle.

    Notes
    -----
    Both sides wrong by the same share leave the difference of the diagonals almost as it is.

    References
    ----------
    .. [1] Law of cosines; computed.

    Examples
    --------
    width="600 mm" depth="400 mm" lean="0.8 mrad" -> first 721.37646 mm, second 720.84395 mm
    """
    above_zero(width_mm=width_mm, depth_mm=depth_mm)
    lean = array(lean_rad)
    refuse(~(np.abs(lean) < np.pi / 2.0), "lean must lie within a right angle")
    a, b = array(width_mm), array(depth_mm)
    both, more = a**2 + b**2, 2.0 * a * b * np.sin(lean)
    return np.sqrt(both + more), np.sqrt(both - more)


def by_diagonals_rad(
    width_mm: Floats, depth_mm: Floats, first_mm: Floats, second_mm: Floats
) -> FloatArray:
    """How far two axes are out of square, from the diagonals of a rectangle. [rad]

    Parameters
    ----------
    width_mm, depth_mm : float or array
        Sides as programmed. [mm]
    first_mm, second_mm : float or array
        Diagonals as measured. [mm]

    Returns
    -------
    array
        asin((d1² - d2²) / 4 a b): what the angle at the first one's corner lacks of a right angle.

    Raises
    ------
    ValueError
        If a length is not above 0, or no such rectangle is possible.

    Notes
    -----
    A reading error u of each diagonal gives u sqrt(2) sqrt(a² + b²) / (2 a b).

    References
    ----------
    .. [1] Law of cosines; computed.

    Examples
    --------
    width="600 mm" depth="400 mm" first="721.37646 mm" second="720.84395 mm" -> 0.000800 rad
    """
    above_zero(width_mm=width_mm, depth_mm=depth_mm, first_mm=first_mm, second_mm=second_mm)
    sine = (array(first_mm) ** 2 - array(second_mm) ** 2) / (
        4.0 * array(width_mm) * array(depth_mm)
    )
    refuse(np.abs(sine) >= 1.0, "no rectangle has such diagonals")
    return np.arcsin(sine)


def by_lines_rad(first_rad: Floats, second_rad: Floats, square_rad: Floats = 0.0) -> FloatArray:
    """Squareness from the lines of two straightness tests on one square. [rad]

    Parameters
    ----------
    first_rad, second_rad : float or array
        Slope of the best line of each axis against its side of the square. [rad]
    square_rad : float or array
        What the square itself is off, from its certificate or by ``squareness-reversal``. [rad]

    Returns
    -------
    array
        Second less first plus the square's own. [rad]

    References
    ----------
    .. [1] Manual of a laser interferometer, p. 315: read; ISO 230-1: from memory.

    Examples
    --------
    first="0.1 mrad" second="0.35 mrad" square="-0.05 mrad" -> 0.0002 rad
    """
    return array(second_rad) - array(first_rad) + array(square_rad)

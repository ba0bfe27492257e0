"""Cross-sections of bars: area, second moments, torsion constants."""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse

#: Of an outline and its holes together at most, see ``physics.outlines``.
MOST_CORNERS = 400


def round_bar_second_moment_mm4(diameter_mm: Floats) -> FloatArray:
    """Second moment of a round bar about any diameter. [mm⁴]

    Parameters
    ----------
    diameter_mm : float or array
        Of the bar. [mm]

    Returns
    -------
    array
        pi d⁴ / 64. [mm⁴]

    Raises
    ------
    ValueError
        If a length is not above 0.

    References
    ----------
    .. [1] Textbook geometry.

    Examples
    --------
    diameter="6.35 mm" -> 79.81 mm⁴
    """
    above_zero(diameter_mm=diameter_mm)
    return pi * array(diameter_mm) ** 4 / 64.0


def round_tube_torsion_mm4(diameter_mm: Floats, wall_mm: Floats) -> FloatArray:
    """Torsion constant of a round tube, exact. [mm⁴]

    Parameters
    ----------
    diameter_mm, wall_mm : float or array
        Outside; thickness. [mm]

    Returns
    -------
    array
        pi (d⁴ - d_i⁴) / 32. [mm⁴]

    Raises
    ------
    ValueError
        If a length is not above 0, or the walls meet.

    References
    ----------
    .. [1] Textbook geometry.

    Examples
    --------
    diameter="50 mm" wall="3 mm" -> 245624 mm⁴
    """
    _check_wall(diameter_mm, diameter_mm, wall_mm)
    inner = array(diameter_mm) - 2.0 * array(wall_mm)
    return pi * (array(diameter_mm) ** 4 - inner**4) / 32.0


def bredt_torsion_mm4(enclosed_area_mm2: Floats, rim_over_wall: Floats) -> FloatArray:
    """Torsion constant of a closed thin tube of any shape. [mm⁴]

    Parameters
    ----------
    enclosed_area_mm2 : float or array
        Within the middle line of the wall. [mm²]
    rim_over_wall : float or array
        Sum of side length over wall thickness along the middle line. [-]

    Returns
    -------
    array
        4 A² / sum(s / t). [mm⁴]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    0.4 % low on a 50 x 3 mm round tube; useless for an open section.

    References
    ----------
    .. [1] TU Delft open mechanics book, section 6.3: read.

    Examples
    --------
    enclosed_area="1734.94 mm2" rim_over_wall=49.2183 -> 244626 mm⁴
    """
    above_zero(enclosed_area_mm2=enclosed_area_mm2, rim_over_wall=rim_over_wall)
    return 4.0 * array(enclosed_area_mm2) ** 2 / array(rim_over_wall)


def rectangle_tube_area_mm2(width_mm: Floats, depth_mm: Floats, wall_mm: Floats) -> FloatArray:
    """Area of a rectangular tube with sharp corners. [mm²]

    Parameters
    ----------
    width_mm, depth_mm, wall_mm : float or array
        Outside across and along the bending; thickness. [mm]

    Returns
    -------
    array
        b h - (b - 2 t) (h - 2 t). [mm²]

    Raises
    ------
    ValueError
        If a length is not above 0, or the walls meet.

    References
    ----------
    .. [1] Textbook geometry.

    Examples
    --------
    width="40 mm" depth="80 mm" wall="3 mm" -> 684 mm²
    """
    _check_wall(width_mm, depth_mm, wall_mm)
    wall2 = 2.0 * array(wall_mm)
    width, depth = array(width_mm), array(depth_mm)
    return width * depth - (width - wall2) * (depth - wall2)


def rectangle_tube_second_moment_mm4(
    width_mm: Floats, depth_mm: Floats, wall_mm: Floats
) -> FloatArray:
    """Second moment of a rectangular tube, bent so that the depth is the deep side. [mm⁴]

    Parameters
    ----------
    width_mm, depth_mm, wall_mm : float or array
        Outside across and along the bending; thickness. [mm]

    Returns
    -------
    array
        (b h³ - (b - 2 t) (h - 2 t)³) / 12. [mm⁴]

    Raises
    ------
    ValueError
        If a length is not above 0.

    Notes
    -----
    Sharp corners: rounded ones take a few per cent off. A wall of half the width or depth or more
    is a solid bar.

    References
    ----------
    .. [1] Textbook geometry.

    Examples
    --------
    width="40 mm" depth="80 mm" wall="3 mm" -> 558532 mm⁴
    """
    above_zero(width_mm=width_mm, depth_mm=depth_mm, wall_mm=wall_mm)
    wall2 = 2.0 * array(wall_mm)
    width, depth = array(width_mm), array(depth_mm)
    inner = (width - wall2).clip(0.0) * (depth - wall2).clip(0.0) ** 3
    moment: FloatArray = (width * depth**3 - inner) / 12.0
    return moment


def rectangle_tube_torsion_mm4(width_mm: Floats, depth_mm: Floats, wall_mm: Floats) -> FloatArray:
    """Torsion constant of a rectangular tube of one wall thickness. [mm⁴]

    Parameters
    ----------
    width_mm, depth_mm, wall_mm : float or array
        Outside across and along the bending; thickness. [mm]

    Returns
    -------
    array
        2 t (b - t)² (h - t)² / ((b - t) + (h - t)): Bredt. [mm⁴]

    Raises
    ------
    ValueError
        If a length is not above 0, or the walls meet.

    Notes
    -----
    Thin walls: a few per cent low where the wall is a tenth of the side.

    References
    ----------
    .. [1] TU Delft open mechanics book, section 6.3: read.

    Examples
    --------
    width="40 mm" depth="80 mm" wall="3 mm" -> 427200 mm⁴
    """
    _check_wall(width_mm, depth_mm, wall_mm)
    width, depth = array(width_mm) - array(wall_mm), array(depth_mm) - array(wall_mm)
    return bredt_torsion_mm4(width * depth, 2.0 * (width + depth) / array(wall_mm))


def rectangle_tube_shear_share(
    width_mm: Floats, depth_mm: Floats, wall_mm: Floats, poisson: Floats
) -> FloatArray:
    """Share of a rectangular tube's area that carries shear along its depth. [-]

    Parameters
    ----------
    width_mm, depth_mm, wall_mm : float or array
        Outside across and along the force; thickness. [mm]
    poisson : float or array
        Poisson's ratio of the material. [-]

    Returns
    -------
    array
        With m = n = (b - t) / (h - t): 10 (1 + v) (1 + 3 m)² over 12 + 72 m + 150 m² + 90 m³
        + v (11 + 66 m + 135 m² + 90 m³) + 10 n² ((3 + v) m + 3 m²). [-]

    Raises
    ------
    ValueError
        If a length is not above 0, or the walls meet.

    Notes
    -----
    Thin walls of one thickness. The two webs alone would say a third more where the tube is flat.

    References
    ----------
    .. [1] Cowper, The Shear Coefficient in Timoshenko's Beam Theory, 1966: from memory; checked
       against a general-purpose finite-element library of sections in the tests.

    Examples
    --------
    width="40 mm" depth="80 mm" wall="3 mm" poisson=0 -> 0.6200
    """
    _check_wall(width_mm, depth_mm, wall_mm)
    m = (array(width_mm) - array(wall_mm)) / (array(depth_mm) - array(wall_mm))
    v = array(poisson)
    below = 12.0 + 72.0 * m + 150.0 * m**2 + 90.0 * m**3
    below = below + v * (11.0 + 66.0 * m + 135.0 * m**2 + 90.0 * m**3)
    below = below + 10.0 * m**2 * ((3.0 + v) * m + 3.0 * m**2)
    return np.asarray(10.0 * (1.0 + v) * (1.0 + 3.0 * m) ** 2 / below)


def rectangle_bar_torsion_mm4(width_mm: Floats, thickness_mm: Floats) -> FloatArray:
    """Torsion constant of a solid rectangle. [mm⁴]

    Parameters
    ----------
    width_mm, thickness_mm : float or array
        Longer and shorter side. [mm]

    Returns
    -------
    array
        b t³ (1/3 - 0.21 t/b (1 - t⁴ / 12 b⁴)). [mm⁴]

    Raises
    ------
    ValueError
        If a side is not above 0, or the thickness not the shorter one.

    Notes
    -----
    Within 0.5 % of the series solution for any shape.

    References
    ----------
    .. [1] Roark, Formulas for Stress and Strain, table of torsion constants: from memory; checked
       against the series in the tests.

    Examples
    --------
    width="60 mm" thickness="12 mm" -> 30206 mm⁴
    """
    above_zero(width_mm=width_mm, thickness_mm=thickness_mm)
    ratio = array(thickness_mm) / array(width_mm)
    refuse(ratio > 1.0, "the thickness must be the shorter side")
    shape = 1.0 / 3.0 - 0.21 * ratio * (1.0 - ratio**4 / 12.0)
    return array(width_mm) * array(thickness_mm) ** 3 * shape


def _check_wall(width_mm: Floats, depth_mm: Floats, wall_mm: Floats) -> None:
    above_zero(width_mm=width_mm, depth_mm=depth_mm, wall_mm=wall_mm)
    thin = (2.0 * array(wall_mm) < array(width_mm)) & (2.0 * array(wall_mm) < array(depth_mm))
    refuse(~thin, "the walls meet: this is no tube")

"""How a machine's axes miss the places they are told: rigid bodies on three slides in a row.

The chain is bed, X, Y, Z, cutter. Each slide has six errors (three along, three turning), and three
squarenesses belong to the pairs: 21 in all. Positions from the machine's corner, Z up.
"""

from dataclasses import dataclass

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse


@dataclass(frozen=True, slots=True, kw_only=True)
class RigidErrors:
    """The 21 errors where the machine stands. Arrays broadcast over places.

    Named as in ISO 230-1 (names from memory of the standard): ``along_mm[..., m, d]`` is the
    displacement along axis d while axis m moves (EXX, EYX ...), ``turn_rad[..., m, d]`` the turn
    about axis d (EAX: roll of X, ...). Squareness: Y moves along (-c0y, 1, 0), Z along
    (b0z, -a0z, 1).
    """

    along_mm: FloatArray  #: (..., 3, 3)
    turn_rad: FloatArray  #: (..., 3, 3)
    c0y_rad: float = 0.0
    b0z_rad: float = 0.0
    a0z_rad: float = 0.0


def deviation_mm(at_mm: FloatArray, cutter_mm: FloatArray, errors: RigidErrors) -> FloatArray:
    """How far the cutter stands from where it should, small angles. (..., 3) [mm]

    Parameters
    ----------
    at_mm : array (..., 3)
        Places of the three slides. [mm]
    cutter_mm : array (3,) or (..., 3)
        Of the cutter's tip from the reference point of Z. [mm]
    errors : RigidErrors
        The 21 errors there: displacements, turns, squarenesses.

    Notes
    -----
    First order of ``deviation_by_matrices_mm``; what it leaves out are products of errors (1e-5 mm
    at the sizes of the check value).

    References
    ----------
    .. [1] A. H. Slocum, Precision Machine Design (1992), ch. 2 (method, from memory); formulas
       derived for this project.

    Examples
    --------
    at="[500, 300, -80] mm" cutter="[0, 40, -60] mm"
    errors.along="[[20, -15, 10], [5, 12, -8], [4, -6, 9]] um"
    errors.turn="[[50, -80, 120], [30, 60, -40], [-20, 25, 10]] urad"
    errors.c0y="200 urad" errors.b0z="-150 urad" errors.a0z="100 urad"
    -> [-0.05730, 0.00900, 0.02840] mm
    """
    x, y, z = np.moveaxis(array(at_mm), -1, 0)
    tx, ty, tz = np.moveaxis(array(cutter_mm), -1, 0)
    del x
    along = array(errors.along_mm).sum(axis=-2)
    (ax, bx, cx), (ay, by, cy), (az, bz, cz) = (
        np.moveaxis(array(errors.turn_rad)[..., axis, :], -1, 0) for axis in range(3)
    )
    dx = (
        along[..., 0]
        + (bx + by) * (z + tz)
        - cx * (y + ty)
        - cy * ty
        + bz * tz
        - cz * ty
        - errors.c0y_rad * y
        + errors.b0z_rad * z
    )
    dy = along[..., 1] - (ax + ay) * (z + tz) + (cx + cy + cz) * tx - az * tz - errors.a0z_rad * z
    dz = along[..., 2] + ax * (y + ty) + (ay + az) * ty - (bx + by + bz) * tx
    return np.stack([dx, dy, dz], axis=-1)


def deviation_by_matrices_mm(
    at_mm: FloatArray, cutter_mm: FloatArray, errors: RigidErrors
) -> FloatArray:
    """The same for one place by the product of the full matrices: the definition. (3,) [mm]

    Parameters
    ----------
    at_mm : array (3,)
        Places of the three slides. [mm]
    cutter_mm : array (3,)
        Of the cutter's tip from the reference point of Z. [mm]
    errors : RigidErrors
        The 21 errors there: displacements, turns, squarenesses.

    References
    ----------
    .. [1] As ``geometry-error-deviation``.

    Examples
    --------
    at="[500, 300, -80] mm" cutter="[0, 40, -60] mm"
    errors.along="[[20, -15, 10], [5, 12, -8], [4, -6, 9]] um"
    errors.turn="[[50, -80, 120], [30, 60, -40], [-20, 25, 10]] urad"
    errors.c0y="200 urad" errors.b0z="-150 urad" errors.a0z="100 urad"
    -> [-0.05730, 0.00899, 0.02840] mm
    """
    x, y, z = array(at_mm)
    nominal = (
        np.array([x, 0.0, 0.0]),
        y * np.array([-errors.c0y_rad, 1.0, 0.0]),
        z * np.array([errors.b0z_rad, -errors.a0z_rad, 1.0]),
    )
    place = np.append(array(cutter_mm), 1.0)
    for axis in (2, 1, 0):
        matrix = np.eye(4)
        matrix[:3, :3] = _turned(errors.turn_rad[axis])
        matrix[:3, 3] = nominal[axis] + errors.along_mm[axis]
        place = matrix @ place
    return np.asarray(place[:3] - (array(at_mm) + array(cutter_mm)))


def _turned(angles_rad: FloatArray) -> FloatArray:
    """Rz Ry Rx."""
    (ca, cb, cc), (sa, sb, sc) = np.cos(angles_rad), np.sin(angles_rad)
    about_x = np.array([[1, 0, 0], [0, ca, -sa], [0, sa, ca]])
    about_y = np.array([[cb, 0, sb], [0, 1, 0], [-sb, 0, cb]])
    about_z = np.array([[cc, -sc, 0], [sc, cc, 0], [0, 0, 1]])
    return np.asarray(about_z @ about_y @ about_x)


def lean_by_diagonals(
    along_x_mm: Floats, along_y_mm: Floats, rising_mm: Floats, falling_mm: Floats
) -> FloatArray:
    """How far Y leans to the right for each mm that it goes back, from a rectangle's diagonals.

    Parameters
    ----------
    along_x_mm, along_y_mm : float or array
        Sides of the rectangle as programmed. [mm]
    rising_mm, falling_mm : float or array
        Diagonals as measured, from left front to right back and from left back to right front. [mm]

    Returns
    -------
    array
        (d1² - d2²) / 4 a b, the sine of the angle; below 0 to the left. [mm/mm]

    Notes
    -----
    Law of cosines on both diagonals; what both sides have in common (scale) falls out.

    References
    ----------
    .. [1] Law of cosines; derived for this project.

    Examples
    --------
    along_x="600 mm" along_y="400 mm" rising="721.37646 mm" falling="720.84395 mm" -> 0.000800
    """
    above_zero(along_x_mm=along_x_mm, along_y_mm=along_y_mm)
    above_zero(rising_mm=rising_mm, falling_mm=falling_mm)
    lean = (array(rising_mm) ** 2 - array(falling_mm) ** 2) / (
        4.0 * array(along_x_mm) * array(along_y_mm)
    )
    refuse(np.abs(lean) >= 1.0, "no parallelogram has these sides and diagonals")
    return np.asarray(lean)


def bow_mm(share: Floats, middle_mm: Floats) -> FloatArray:
    """How far a slide stands beside the straight line between its ends. [mm]

    Parameters
    ----------
    share : float or array
        Of its travel, 0 to 1; held at the ends. [-]
    middle_mm : float or array
        In the middle. [mm]

    Notes
    -----
    A parabola, the shape that a straightedge and a dial in the middle can tell: 4 s (1 - s).

    References
    ----------
    .. [1] Chosen for this project.

    Examples
    --------
    share=0.25 middle="0.08 mm" -> 0.06 mm
    """
    s = np.clip(array(share), 0.0, 1.0)
    return np.asarray(4.0 * s * (1.0 - s) * array(middle_mm))

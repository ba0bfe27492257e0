"""Compliant parts put together: carried to one point, in a row, and side by side.

Displacements and loads are six-vectors (ux, uy, uz, rx, ry, rz) and (fx, fy, fz, mx, my, mz) in one
right-handed frame. [mm, rad; N, N mm] All functions take leading axes and broadcast over them.
"""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse


def carried(arm_mm: FloatArray) -> FloatArray:
    """Rigid transport J: displacement at a point from that of a body's reference point.

    Parameters
    ----------
    arm_mm : array (..., 3)
        From the reference point to the point. [mm]

    Returns
    -------
    array (..., 6, 6)
        u_point = J u_reference; a load at the point is J^T f at the reference.

    References
    ----------
    .. [1] Rigid body, small turns: statics.

    Examples
    --------
    arm="[0, 0, -150] mm" -> first row [1, 0, 0, 0, -150, 0]
    """
    arm = array(arm_mm)
    matrix = np.zeros((*arm.shape[:-1], 6, 6))
    matrix[..., range(6), range(6)] = 1.0
    x, y, z = arm[..., 0], arm[..., 1], arm[..., 2]
    # r x arm, with r the rotation
    matrix[..., 0, 4], matrix[..., 0, 5] = z, -y
    matrix[..., 1, 3], matrix[..., 1, 5] = -z, x
    matrix[..., 2, 3], matrix[..., 2, 4] = y, -x
    return matrix


def turned(rotation: FloatArray) -> FloatArray:
    """Block matrix Q that turns six-vectors from local into common axes.

    Parameters
    ----------
    rotation : array (..., 3, 3)
        Columns are the local axes in the common frame.

    Returns
    -------
    array (..., 6, 6)
        Q, for C_common = Q C_local Q^T.

    References
    ----------
    .. [1] Change of axes: textbook.

    Examples
    --------
    rotation="[[0, -1, 0], [1, 0, 0], [0, 0, 1]]" -> first row [0, -1, 0, 0, 0, 0]
    """
    rotation = array(rotation)
    matrix = np.zeros((*rotation.shape[:-2], 6, 6))
    matrix[..., :3, :3] = rotation
    matrix[..., 3:, 3:] = rotation
    return matrix


def seen_from(compliance: FloatArray, arm_mm: FloatArray) -> FloatArray:
    """Compliance of a part at another point rigidly carried by its end.

    Parameters
    ----------
    compliance : array (..., 6, 6)
        At the part's end, in mm/N, rad/N and rad/(N mm).
    arm_mm : array (..., 3)
        From the part's end to the point. [mm]

    Returns
    -------
    array (..., 6, 6)
        J C J^T, J of ``frame-carried``.

    References
    ----------
    .. [1] Slocum, Precision Machine Design: from memory.

    Examples
    --------
    compliance="[[1e-4,0,0,0,0,0],[0,1e-4,0,0,0,0],[0,0,1e-4,0,0,0],[0,0,0,1e-9,0,0],
    [0,0,0,0,1e-9,0],[0,0,0,0,0,1e-9]]" arm="[0, 0, -150] mm"
    -> first row [0.0001225, 0, 0, 0, -1.5e-7, 0]
    """
    transport = carried(arm_mm)
    return transport @ compliance @ np.swapaxes(transport, -1, -2)


def bar_compliance(
    length_mm: Floats,
    stretch_n: Floats,
    bend_about_2_nmm2: Floats,
    bend_about_3_nmm2: Floats,
    twist_nmm2: Floats,
    shear_along_2_n: Floats = np.inf,
    shear_along_3_n: Floats = np.inf,
) -> FloatArray:
    """Compliance at the free end of a straight bar along local axis 1, its other end held.

    Parameters
    ----------
    length_mm : float or array
        Of the bar. [mm]
    stretch_n, bend_about_2_nmm2, bend_about_3_nmm2, twist_nmm2 : float or array
        E A; E I about local axes 2 and 3; G J. [N, N mm², N mm²]
    shear_along_2_n, shear_along_3_n : float or array
        k G A for shear along local axes 2 and 3; infinite leaves shear out. [N]

    Returns
    -------
    array (..., 6, 6)
        Local axes 1, 2, 3 in place of x, y, z: L / E A; L³ / 3 E I + L / k G A; L / G J; L / E I;
        and L² / 2 E I between a shift and its turn.

    Raises
    ------
    ValueError
        If a length or stiffness is not above 0.

    References
    ----------
    .. [1] Timoshenko cantilever under end force and end moment: textbook.

    Examples
    --------
    length="500 mm" stretch="5e7 N" bend_about_2="9e9 N mm2" bend_about_3="4e9 N mm2"
    twist="2e9 N mm2" -> first row [0.00001, 0, 0, 0, 0, 0]
    """
    above_zero(length_mm=length_mm, stretch_n=stretch_n, twist_nmm2=twist_nmm2)
    above_zero(bend_about_2_nmm2=bend_about_2_nmm2, bend_about_3_nmm2=bend_about_3_nmm2)
    length = array(length_mm)
    about2, about3 = array(bend_about_2_nmm2), array(bend_about_3_nmm2)
    shape = np.broadcast_shapes(
        length.shape, np.shape(stretch_n), about2.shape, about3.shape, np.shape(twist_nmm2)
    )
    matrix = np.zeros((*shape, 6, 6))
    matrix[..., 0, 0] = length / array(stretch_n)
    matrix[..., 1, 1] = length**3 / (3.0 * about3) + length / array(shear_along_2_n)
    matrix[..., 2, 2] = length**3 / (3.0 * about2) + length / array(shear_along_3_n)
    matrix[..., 3, 3] = length / array(twist_nmm2)
    matrix[..., 4, 4] = length / about2
    matrix[..., 5, 5] = length / about3
    matrix[..., 1, 5] = matrix[..., 5, 1] = length**2 / (2.0 * about3)
    matrix[..., 2, 4] = matrix[..., 4, 2] = -(length**2) / (2.0 * about2)
    return matrix


def on_two_supports(
    beyond_mm: Floats,
    between_mm: Floats,
    stretch_n: Floats,
    bend_about_2_nmm2: Floats,
    bend_about_3_nmm2: Floats,
    twist_nmm2: Floats,
    shear_along_2_n: Floats = np.inf,
    shear_along_3_n: Floats = np.inf,
) -> FloatArray:
    """Compliance of a bar on two supports, at a place beyond the second or between them.

    Parameters
    ----------
    beyond_mm : float or array
        How far the place is beyond the second support along local axis 1; below 0 between the two.
        [mm]
    between_mm : float or array
        From support to support. [mm]
    stretch_n, bend_about_2_nmm2, bend_about_3_nmm2, twist_nmm2 : float or array
        E A; E I about local axes 2 and 3; G J. [N, N mm², N mm²]
    shear_along_2_n, shear_along_3_n : float or array
        k G A for shear along local axes 2 and 3; infinite leaves shear out. [N]

    Returns
    -------
    array (..., 6, 6)
        Axes as ``frame-bar-compliance``. Beyond by c, s between: c² (s + c) / 3 E I, (s + 3 c) / 3
        E I and c (2 s + 3 c) / 6 E I between a shift and its turn; between, a from the first and b
        from the second: a² b² / 3 E I s, (a³ + b³) / 3 E I s² and -a b (a - b) / 3 E I s. With
        shear c + c² / s, 1 / s and c / s, or a b / s, 1 / s and nothing, over k G A. Stretched from
        the middle between the supports, twisted from the second.

    Raises
    ------
    ValueError
        If a stiffness or the distance of the supports is not above 0, or the place is before the
        first.

    Notes
    -----
    The supports keep it from shifting and let it turn; that they give themselves comes on top.

    References
    ----------
    .. [1] Simply supported and overhanging beams: textbook; with shear by its energy, derived here.

    Examples
    --------
    beyond="100 mm" between="0.001 mm" stretch="5e7 N" bend_about_2="9e9 N mm2"
    bend_about_3="4e9 N mm2" twist="2e9 N mm2" -> first row [2.0e-6, 0, 0, 0, 0, 0]
    """
    above_zero(between_mm=between_mm, stretch_n=stretch_n, twist_nmm2=twist_nmm2)
    above_zero(bend_about_2_nmm2=bend_about_2_nmm2, bend_about_3_nmm2=bend_about_3_nmm2)
    beyond, between = np.broadcast_arrays(array(beyond_mm), array(between_mm))
    refuse(beyond < -between, "the place is before the first support")
    shape = np.broadcast_shapes(
        beyond.shape, np.shape(stretch_n), np.shape(bend_about_2_nmm2), np.shape(bend_about_3_nmm2)
    )
    matrix = np.zeros((*shape, 6, 6))
    matrix[..., 0, 0] = np.maximum(0.5 * between + beyond, 0.0) / array(stretch_n)
    matrix[..., 3, 3] = np.maximum(beyond, 0.0) / array(twist_nmm2)
    for shift, turn, way, bending, shear in (
        (1, 5, 1.0, bend_about_3_nmm2, shear_along_2_n),
        (2, 4, -1.0, bend_about_2_nmm2, shear_along_3_n),
    ):
        own, both, turned = _bent_on_two(beyond, between, array(bending), array(shear))
        matrix[..., shift, shift], matrix[..., turn, turn] = own, turned
        matrix[..., shift, turn] = matrix[..., turn, shift] = way * both
    return matrix


def _bent_on_two(
    beyond: FloatArray, between: FloatArray, bending: FloatArray, shear: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shift for a force, turn for it, turn for a moment, at a place beyond or between supports."""
    c, s = np.maximum(beyond, 0.0), between
    b = np.maximum(-beyond, 0.0)
    a = s - b
    out = beyond >= 0.0
    shift = np.where(out, c**2 * (s + c), a**2 * b**2 / s) / (3.0 * bending)
    shift = shift + np.where(out, c + c**2 / s, a * b / s) / shear
    both = np.where(out, c * (2.0 * s + 3.0 * c) / 2.0, -a * b * (a - b) / s) / (3.0 * bending)
    both = both + np.where(out, c / s, 0.0) / shear
    turned = np.where(out, s + 3.0 * c, (a**3 + b**3) / s**2) / (3.0 * bending)
    return shift, both, turned + 1.0 / (s * shear)


def held_between(compliance: FloatArray, arm_mm: FloatArray) -> FloatArray:
    """Stiffness of a part between two free bodies, for assembly.

    Parameters
    ----------
    compliance : array (..., 6, 6)
        At the far body's reference point with the near body held.
    arm_mm : array (..., 3)
        From the near body's reference point to the far body's. [mm]

    Returns
    -------
    array (..., 12, 12)
        Rows and columns: near body, then far body; J^T K J, -J^T K, -K J and K.

    References
    ----------
    .. [1] Direct stiffness method: textbook.

    Examples
    --------
    compliance="[[1,0,0,0,0,0],[0,1,0,0,0,0],[0,0,1,0,0,0],[0,0,0,1,0,0],[0,0,0,0,1,0],[0,0,0,0,0,1]]"
    arm="[0, 0, 2] mm" -> first row [1, 0, 0, 0, 2, 0, -1, 0, 0, 0, 0, 0]
    """
    stiffness = np.linalg.inv(compliance)
    transport = carried(arm_mm)
    across = stiffness @ transport
    near = np.swapaxes(transport, -1, -2) @ across
    shape = np.broadcast_shapes(stiffness.shape[:-2], transport.shape[:-2])
    matrix = np.empty((*shape, 12, 12))
    matrix[..., :6, :6] = near
    matrix[..., :6, 6:] = -np.swapaxes(across, -1, -2)
    matrix[..., 6:, :6] = -across
    matrix[..., 6:, 6:] = stiffness
    return matrix


def spring_stiffness(
    at_mm: FloatArray, along: FloatArray, stiffness_n_per_mm: Floats
) -> FloatArray:
    """Stiffness on a body of one spring to the ground.

    Parameters
    ----------
    at_mm : array (..., 3)
        Where it is fixed, from the body's reference point. [mm]
    along : array (..., 3)
        Unit vector of the spring. [-]
    stiffness_n_per_mm : float or array
        Of the spring. [N/mm]

    Returns
    -------
    array (..., 6, 6)
        k g g^T, g = (direction, arm x direction).

    References
    ----------
    .. [1] Direct stiffness method: textbook.

    Examples
    --------
    at="[0, 100, 0] mm" along="[1, 0, 0]" stiffness="10 N/um" ->
    first row [10000, 0, 0, 0, 0, -1000000]
    """
    direction = array(along)
    arm = np.cross(array(at_mm), direction)
    lever = np.concatenate(np.broadcast_arrays(direction, arm), axis=-1)
    matrix: FloatArray = (
        array(stiffness_n_per_mm)[..., None, None] * lever[..., :, None] * lever[..., None, :]
    )
    return matrix

"""A circle as it was run: its deviation, and what single errors of a machine do to it."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse


def deviation_mm(x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Circular deviation of a measured path about its least-squares centre. [mm]

    Parameters
    ----------
    x_mm, y_mm : array (k,)
        Points of the path, in one direction or in both together; at least four. [mm]

    Returns
    -------
    array
        Greatest less least radius. [mm]

    Raises
    ------
    ValueError
        If there are fewer than four points, or they lie on a line.

    Notes
    -----
    Two concentric circles with the least gap may be a little closer.

    References
    ----------
    .. [1] ISO 230-4, circular deviation: title and terms read, definition from memory. Centre by
       linear least squares of x² + y² (Kasa): from memory.

    Examples
    --------
    x="[100.05, 0, -100.05, 0] mm" y="[0, 100, 0, -100] mm" -> 0.05 mm
    """
    x, y = array(x_mm), array(y_mm)
    refuse(x.shape != y.shape or x.ndim != 1 or x.size < 4, "at least four points are needed")
    x, y = x - x.mean(), y - y.mean()
    sides = np.column_stack((x, y, np.ones_like(x)))
    (a, b, _), _, rank, _ = np.linalg.lstsq(sides, x**2 + y**2, rcond=None)
    refuse(int(rank) < 3, "the points lie on a line")
    radius = np.hypot(x - a / 2.0, y - b / 2.0)
    return np.asarray(np.ptp(radius))


def by_squareness_mm(radius_mm: Floats, lean_rad: Floats) -> FloatArray:
    """Circular deviation from axes out of square: an ellipse along the 45 degree lines. [mm]

    Parameters
    ----------
    radius_mm : float or array
        Of the circle. [mm]
    lean_rad : float or array
        Out of square. [rad]

    Returns
    -------
    array
        R e. [mm]

    Raises
    ------
    ValueError
        If the radius is not above 0.

    References
    ----------
    .. [1] Computed.

    Examples
    --------
    radius="100 mm" lean="0.5 mrad" -> 0.05 mm
    """
    above_zero(radius_mm=radius_mm)
    return array(radius_mm) * np.abs(array(lean_rad))


def by_scales_mm(radius_mm: Floats, scale_x: Floats, scale_y: Floats) -> FloatArray:
    """Circular deviation from axes of unlike length: an ellipse along the axes. [mm]

    Parameters
    ----------
    radius_mm : float or array
        Of the circle. [mm]
    scale_x, scale_y : float or array
        By what share each axis goes too far; 400e-6 is 400 parts in a million. [-]

    Returns
    -------
    array
        R abs(e_x - e_y). [mm]

    Raises
    ------
    ValueError
        If the radius is not above 0.

    References
    ----------
    .. [1] Computed.

    Examples
    --------
    radius="100 mm" scale_x=400e-6 scale_y=0 -> 0.04 mm
    """
    above_zero(radius_mm=radius_mm)
    return array(radius_mm) * np.abs(array(scale_x) - array(scale_y))


def by_play_mm(play_mm: Floats) -> FloatArray:
    """Circular deviation from lost motion in one axis: steps where that axis turns round. [mm]

    Parameters
    ----------
    play_mm : float or array
        Lost at reversal. [mm]

    Returns
    -------
    array
        b, whatever the radius. [mm]

    Raises
    ------
    ValueError
        If the play is below 0.

    Notes
    -----
    About the true centre of one direction; the whole figure leans by half the play.

    References
    ----------
    .. [1] Computed.

    Examples
    --------
    play="0.12 mm" -> 0.12 mm
    """
    not_below_zero(play_mm=play_mm)
    return array(play_mm)


def lag_loss_mm(radius_mm: Floats, speed_mm_per_s: Floats, lag_s: Floats) -> FloatArray:
    """How much smaller a circle gets when both axes lag behind. [mm]

    Parameters
    ----------
    radius_mm : float or array
        Of the circle. [mm]
    speed_mm_per_s : float or array
        Along it. [mm/s]
    lag_s : float or array
        Time constant of a first-order lag, the same in both axes. [s]

    Returns
    -------
    array
        R (w t)² / 2, w = v / R. [mm]

    Raises
    ------
    ValueError
        If the radius is not above 0, or speed or lag below 0.

    Notes
    -----
    For w t well below 1. Unlike lags make an ellipse along the 45 degree lines.

    References
    ----------
    .. [1] Amplitude of a first-order lag, 1 / sqrt(1 + (w t)²): textbook.

    Examples
    --------
    radius="50 mm" speed="50 mm/s" lag="20 ms" -> 0.01 mm
    """
    above_zero(radius_mm=radius_mm)
    not_below_zero(speed_mm_per_s=speed_mm_per_s, lag_s=lag_s)
    turn = array(speed_mm_per_s) / array(radius_mm) * array(lag_s)
    return array(radius_mm) * turn**2 / 2.0

"""What holds a board against the cutter: friction, fixings, and how a sheet bends between them."""

from math import cos, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

#: Sides of the polygon that stands around the circle of friction: 2 % outside it at most.
_SIDES = 16


def rise_between_mm(
    lift_n: ArrayLike,
    span_mm: ArrayLike,
    strip_mm: ArrayLike,
    thickness_mm: float,
    modulus_mpa: float,
) -> FloatArray:
    """How far a sheet rises in the middle between two places that hold it.

    Parameters
    ----------
    lift_n : float or array
        Upward force in the middle. [N]
    span_mm, strip_mm : float or array
        From one place to the other; width of the sheet that bends. [mm]
    thickness_mm, modulus_mpa : float
        Of the sheet. [mm, MPa]

    Returns
    -------
    array
        F L³ / (192 E I): both ends held level. [mm]

    Notes
    -----
    Ends that may turn give up to four times as much; shear is left out.

    References
    ----------
    .. [1] Roark's Formulas for Stress and Strain, table 8.1, both ends fixed (from memory).

    Examples
    --------
    lift="30 N" span="600 mm" strip="200 mm" thickness="6 mm" modulus="8 GPa" -> 1.17 mm
    lift="30 N" span="300 mm" strip="200 mm" thickness="6 mm" modulus="8 GPa" -> 0.15 mm
    """
    inertia = np.asarray(strip_mm, dtype=np.float64) * thickness_mm**3 / 12.0
    span = np.asarray(span_mm, dtype=np.float64)
    return np.asarray(np.asarray(lift_n) * span**3 / (192.0 * modulus_mpa * inertia))


def rise_beyond_mm(
    lift_n: ArrayLike,
    reach_mm: ArrayLike,
    strip_mm: ArrayLike,
    thickness_mm: float,
    modulus_mpa: float,
) -> FloatArray:
    """How far a sheet rises beyond the last place that holds it. [mm]

    Parameters
    ----------
    lift_n : float or array
        Upward force at that reach. [N]
    reach_mm, strip_mm : float or array
        Beyond the last place; width of the sheet that bends. [mm]
    thickness_mm, modulus_mpa : float
        Of the sheet. [mm, MPa]

    Returns
    -------
    array
        F a³ / (3 E I): held level at that place. [mm]

    References
    ----------
    .. [1] Roark's Formulas for Stress and Strain, table 8.1, cantilever (from memory).

    Examples
    --------
    lift="30 N" reach="150 mm" strip="200 mm" thickness="6 mm" modulus="8 GPa" -> 1.172 mm
    """
    inertia = np.asarray(strip_mm, dtype=np.float64) * thickness_mm**3 / 12.0
    reach = np.asarray(reach_mm, dtype=np.float64)
    return np.asarray(np.asarray(lift_n) * reach**3 / (3.0 * modulus_mpa * inertia))


def disc_turning_nmm(friction_n: ArrayLike, radius_mm: ArrayLike) -> FloatArray:
    """Torque that turns a disc pressed down evenly. [N mm]

    Parameters
    ----------
    friction_n : float or array
        Coefficient of friction times the whole press. [N]
    radius_mm : float or array
        Of the disc. [mm]

    Returns
    -------
    array
        2/3 of friction force times radius. [N mm]

    References
    ----------
    .. [1] The integral of pressure times radius over a disc; the same form is used for disc
       clutches at even pressure in machine design textbooks (from memory).

    Examples
    --------
    friction="100 N" radius="90 mm" -> 6000 N mm
    """
    return np.asarray(2.0 / 3.0 * np.asarray(friction_n) * np.asarray(radius_mm))


def even_share(
    force_n: ArrayLike,
    turning_nmm: ArrayLike,
    friction_n: ArrayLike,
    radius_mm: float,
    pins_n: float = 0.0,
    pins_turning_nmm: float = 0.0,
) -> FloatArray:
    """Share of what a board pressed down evenly, and pinned, can take sideways; 1: it slides.

    Parameters
    ----------
    force_n, turning_nmm : float or array
        Sideways force, and its torque about the middle of the board. [N, N mm]
    friction_n : float or array
        Coefficient of friction times the whole press. [N]
    radius_mm : float
        Of a disc as large as the board. [mm]
    pins_n, pins_turning_nmm : float
        What screws and the like add against force and torque. [N, N mm]

    Returns
    -------
    array
        Force over what holds against it, plus torque over what holds against that. [-]

    Notes
    -----
    Force and torque that a board can take together are a convex figure, so the straight line
    between force alone and torque alone is on the near side of it.

    References
    ----------
    .. [1] Derived for this project.

    Examples
    --------
    force="50 N" turning="3 N m" friction="100 N" radius="90 mm" -> 1.0
    """
    force_limit = np.asarray(friction_n, dtype=np.float64) + pins_n
    turning_limit = disc_turning_nmm(friction_n, radius_mm) + pins_turning_nmm
    share = np.abs(force_n) / np.maximum(force_limit, 1e-9)
    return np.asarray(share + np.abs(turning_nmm) / np.maximum(turning_limit, 1e-9))


def sliding_share(
    at_mm: FloatArray, holds_n: FloatArray, force_n: FloatArray, point_mm: FloatArray
) -> float:
    """Share of the sideways hold at single places that a force needs; above 1 it must slide.

    Parameters
    ----------
    at_mm : array (k, 2)
        Where it is held. [mm]
    holds_n : array (k,)
        With how much at most in any direction there. [N]
    force_n : array (2,)
        The force. [N]
    point_mm : array (2,)
        Where it works. [mm]

    Returns
    -------
    float
        1 over the largest multiple of the force for which places exist that balance force and
        torque: 1 is the limit; infinite if nothing holds. What is below 1 can be held, not that it
        will be: how the places share the force is not known.

    References
    ----------
    .. [1] Plastic limit by linear programming, after the static theorem: from memory; a polygon of
       16 sides around each circle of friction.

    Examples
    --------
    at="[[0, 0], [200, 0]] mm" holds="[100, 100] N" force="[0, 100] N" point="[100, 0] mm" -> 0.490
    """
    from scipy.optimize import linprog

    size = float(np.hypot(*force_n))
    if size == 0.0:
        return 0.0
    if not len(at_mm) or not holds_n.max() > 0.0:
        return float("inf")
    angle = 2.0 * pi / _SIDES * np.arange(_SIDES)
    way = np.stack([np.cos(angle), np.sin(angle)])  # (2, sides)
    arm = at_mm - point_mm
    scale = max(float(np.abs(arm).max()), 1.0)
    turning = (arm[:, :1] * way[1] - arm[:, 1:] * way[0]).ravel() / scale
    many = len(at_mm)
    balance = np.vstack(
        [
            np.append(np.tile(way[0], many), force_n[0] / size),
            np.append(np.tile(way[1], many), force_n[1] / size),
            np.append(turning, 0.0),
        ]
    )
    each = np.hstack([np.kron(np.eye(many), np.ones(_SIDES)), np.zeros((many, 1))])
    cost = np.zeros(many * _SIDES + 1)
    cost[-1] = -1.0
    found = linprog(
        cost, A_ub=each, b_ub=holds_n / cos(pi / _SIDES), A_eq=balance, b_eq=np.zeros(3),
        method="highs",
    )  # fmt: skip
    most = float(found.x[-1]) if found.x is not None else 0.0
    return size / most if most > 0.0 else float("inf")


def lifting_share(
    at_mm: FloatArray,
    lets_go_n: FloatArray,
    corners_mm: FloatArray,
    weight_n: float,
    lift_n: float,
    point_mm: FloatArray,
) -> float:
    """Share of what holds a stiff board down that an upward force needs; above 1 it must lift.

    Parameters
    ----------
    at_mm : array (k, 2)
        Where it is held. [mm]
    lets_go_n : array (k,)
        Force at which each place lets go. [N]
    corners_mm : array (m, 2)
        Corners of what lies on the table; the board tips over its edge. The weight is taken in
        their middle. [mm]
    weight_n, lift_n : float
        Weight of the board; the upward force. [N]
    point_mm : array (2,)
        Where it lifts. [mm]

    Returns
    -------
    float
        1 over the largest multiple of the lift for which places and table balance it; infinite if
        nothing holds.

    References
    ----------
    .. [1] Plastic limit by linear programming, after the static theorem: from memory.

    Examples
    --------
    at="[[0, 0], [200, 0]] mm" lets_go="[100, 100] N"
    corners="[[0, -50], [200, -50], [200, 50], [0, 50]] mm" weight="0 N" lift="50 N"
    point="[100, 0] mm" -> 0.25
    """
    from scipy.optimize import linprog

    if lift_n <= 0.0:
        return 0.0
    scale = max(float(np.ptp(corners_mm, axis=0).max()), 1.0)
    held, stands = (at_mm - point_mm) / scale, (corners_mm - point_mm) / scale
    middle = stands.mean(axis=0)
    # Unknown: what each place gives, what the table gives at each corner, and the multiple.
    balance = np.zeros((3, len(held) + len(stands) + 1))
    balance[0, : len(held)] = -1.0
    balance[0, len(held) : -1] = 1.0
    balance[0, -1] = 1.0
    balance[1:, : len(held)] = -held.T
    balance[1:, len(held) : -1] = stands.T
    known = np.array([weight_n, *(weight_n * middle)])
    cost = np.zeros(balance.shape[1])
    cost[-1] = -1.0
    ends = [(0.0, float(most)) for most in lets_go_n] + [(0.0, None)] * (len(stands) + 1)
    found = linprog(cost, A_eq=balance, b_eq=known, bounds=ends, method="highs")
    most = float(found.x[-1]) if found.x is not None else 0.0
    return lift_n / most if most > 0.0 else float("inf")

"""Sliding and ball screws: torque, efficiency and self-locking. Strength is in ``screw_limits``."""

from math import pi

import numpy as np
from numpy.typing import NDArray

from kerfwright.physics.domain import (
    FloatArray,
    Floats,
    above_zero,
    array,
    not_below_zero,
    refuse,
)


def lead_angle_rad(mean_diameter_mm: Floats, lead_mm: Floats) -> FloatArray:
    """Slope of the thread at its mean diameter. [rad]

    Parameters
    ----------
    mean_diameter_mm, lead_mm : float or array
        Thread mean (pitch) diameter; travel in one turn, pitch times starts. [mm]

    Returns
    -------
    array
        atan(l / pi d). [rad]

    References
    ----------
    .. [1] R. L. Mott, Machine Elements in Mechanical Design, 4th ed., section 17-2: read.
    """
    above_zero(mean_diameter_mm=mean_diameter_mm, lead_mm=lead_mm)
    return np.arctan(array(lead_mm) / (pi * array(mean_diameter_mm)))


def raising_torque_nmm(
    thrust_n: Floats,
    mean_diameter_mm: Floats,
    lead_mm: Floats,
    friction: Floats,
    flank_half_angle_rad: Floats = 0.0,
    collar_friction: Floats = 0.0,
    collar_mean_diameter_mm: Floats = 0.0,
) -> FloatArray:
    """Torque that turns a sliding screw against an axial thrust. [N mm]

    Parameters
    ----------
    thrust_n : float or array
        Axial force on the nut, opposing the motion. [N]
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    friction : float or array
        Sliding coefficient, nut on screw. [-]
    flank_half_angle_rad : float or array
        Half the included thread angle: 0 square, 14.5 degrees Acme, 15 degrees trapezoidal. [rad]
    collar_friction, collar_mean_diameter_mm : float or array
        Sliding coefficient and mean diameter of a thrust collar; 0 for a rolling bearing. [-, mm]

    Returns
    -------
    array
        Torque at the screw. [N mm]

    Raises
    ------
    ValueError
        If no torque can turn the screw, or a length is not above 0.

    Notes
    -----
    The flank angle is taken in the axial plane, not normal to the thread: under 0.1 % for a lead
    below half the diameter and a 15 degree flank.

    References
    ----------
    .. [1] R. L. Mott, Machine Elements in Mechanical Design, 4th ed., section 17-2, eq. 17-10:
       read. Collar term: Shigley, Mechanical Engineering Design, section 8-2: from memory.
    """
    slope, wedge = _slope_and_wedge(mean_diameter_mm, lead_mm, friction, flank_half_angle_rad)
    grip = 1.0 - wedge * slope
    refuse(grip <= 0.0, "the screw locks: no torque turns it at this lead and friction")
    thread = array(thrust_n) * array(mean_diameter_mm) / 2.0 * (slope + wedge) / grip
    return thread + _collar_nmm(thrust_n, collar_friction, collar_mean_diameter_mm)


def lowering_torque_nmm(
    thrust_n: Floats,
    mean_diameter_mm: Floats,
    lead_mm: Floats,
    friction: Floats,
    flank_half_angle_rad: Floats = 0.0,
    collar_friction: Floats = 0.0,
    collar_mean_diameter_mm: Floats = 0.0,
) -> FloatArray:
    """Torque that turns a sliding screw when the axial thrust helps the motion. [N mm]

    Parameters
    ----------
    thrust_n : float or array
        Axial force on the nut, along the motion. [N]
    mean_diameter_mm, lead_mm, friction, flank_half_angle_rad : float or array
        As in ``raising_torque_nmm``.
    collar_friction, collar_mean_diameter_mm : float or array
        As in ``raising_torque_nmm``.

    Returns
    -------
    array
        Torque at the screw: above 0 the motor still has to push (the screw locks itself), below 0
        the thrust turns the screw and the motor has to hold it back. [N mm]

    References
    ----------
    .. [1] Shigley, Mechanical Engineering Design, section 8-2; Mott, eq. 17-11: read in part.
    """
    slope, wedge = _slope_and_wedge(mean_diameter_mm, lead_mm, friction, flank_half_angle_rad)
    thread = (
        array(thrust_n) * array(mean_diameter_mm) / 2.0 * (wedge - slope) / (1.0 + wedge * slope)
    )
    return thread + _collar_nmm(thrust_n, collar_friction, collar_mean_diameter_mm)


def locking_friction(
    mean_diameter_mm: Floats, lead_mm: Floats, flank_half_angle_rad: Floats = 0.0
) -> FloatArray:
    """Friction above which a thrust alone cannot turn the screw. [-]

    Parameters
    ----------
    mean_diameter_mm, lead_mm, flank_half_angle_rad : float or array
        As in ``raising_torque_nmm``.

    Returns
    -------
    array
        tan(lead angle) cos(flank half angle). [-]

    Notes
    -----
    Collar and bearing friction, which help, are left out. Vibration can defeat self-locking.

    References
    ----------
    .. [1] Statics textbooks on power screws: read.
    """
    slope = np.tan(lead_angle_rad(mean_diameter_mm, lead_mm))
    return slope * np.cos(array(flank_half_angle_rad))


def locks_itself(
    mean_diameter_mm: Floats, lead_mm: Floats, friction: Floats, flank_half_angle_rad: Floats = 0.0
) -> NDArray[np.bool_]:
    """Whether the friction is above ``locking_friction``."""
    limit = locking_friction(mean_diameter_mm, lead_mm, flank_half_angle_rad)
    return np.asarray(array(friction) > limit)


def efficiency(thrust_n: Floats, lead_mm: Floats, torque_nmm: Floats) -> FloatArray:
    """Share of the turning work that becomes work against the thrust. [-]

    Parameters
    ----------
    thrust_n, lead_mm, torque_nmm : float or array
        Axial thrust, travel in one turn, torque that it takes. [N, mm, N mm]

    Returns
    -------
    array
        F l / (2 pi T). [-]

    References
    ----------
    .. [1] Mott, eq. 17-7: read.
    """
    above_zero(torque_nmm=torque_nmm)
    return array(thrust_n) * array(lead_mm) / (2.0 * pi * array(torque_nmm))


def preload_drag_torque_nmm(
    preload_n: Floats,
    mean_diameter_mm: Floats,
    lead_mm: Floats,
    friction: Floats,
    flank_half_angle_rad: Floats = 0.0,
) -> FloatArray:
    """Torque that an anti-backlash nut takes whatever the load. [N mm]

    Two nut halves are pushed apart: one is always raised against the preload, the other lowered.

    Parameters
    ----------
    preload_n : float or array
        Force between the halves. [N]
    mean_diameter_mm, lead_mm, friction, flank_half_angle_rad : float or array
        As in ``raising_torque_nmm``.

    Returns
    -------
    array
        Raising plus lowering torque of the preload. [N mm]

    Notes
    -----
    Holds while both halves touch: up to the preload on a spring-loaded nut's spring side.

    References
    ----------
    .. [1] Derived here from the two torques above.
    """
    thread = (mean_diameter_mm, lead_mm, friction, flank_half_angle_rad)
    return raising_torque_nmm(preload_n, *thread) + lowering_torque_nmm(preload_n, *thread)


def ball_screw_torques_nmm(
    thrust_n: Floats, lead_mm: Floats, efficiency_raising: Floats
) -> tuple[FloatArray, FloatArray]:
    """Torque of a ball screw against and with an axial thrust. [N mm]

    Parameters
    ----------
    thrust_n, lead_mm : float or array
        Axial thrust; travel in one turn. [N, mm]
    efficiency_raising : float or array
        Between 0.5 and 1. [-]

    Returns
    -------
    tuple of array
        Against the thrust, F l / (2 pi e); with it (below 0: it drives the screw), with the
        back-driving efficiency 2 - 1 / e. [N mm]

    References
    ----------
    .. [1] JIS B 1192 and ball-screw guides for the two forms: from memory. The back-driving
       efficiency is the wedge with a small friction angle: derived here.
    """
    share = array(efficiency_raising)
    refuse(~((share > 0.0) & (share <= 1.0)), "efficiency must lie between 0 and 1")
    ideal = array(thrust_n) * array(lead_mm) / (2.0 * pi)
    return ideal / share, -ideal * (2.0 - 1.0 / share)


def _slope_and_wedge(
    mean_diameter_mm: Floats, lead_mm: Floats, friction: Floats, flank_half_angle_rad: Floats
) -> tuple[FloatArray, FloatArray]:
    above_zero(mean_diameter_mm=mean_diameter_mm, lead_mm=lead_mm)
    not_below_zero(friction=friction)
    slope = array(lead_mm) / (pi * array(mean_diameter_mm))
    return slope, array(friction) / np.cos(array(flank_half_angle_rad))


def _collar_nmm(thrust_n: Floats, friction: Floats, mean_diameter_mm: Floats) -> FloatArray:
    return array(thrust_n) * array(friction) * array(mean_diameter_mm) / 2.0

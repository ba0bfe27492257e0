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

    Examples
    --------
    mean_diameter="0.45 in" lead="0.5 in" -> 0.33995 rad
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
        F d / 2 (f' + tan L) / (1 - f' tan L) + F f_c d_c / 2, with f' = f / cos(half angle) and
        tan L = l / (pi d). At the screw. [N mm]

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

    Examples
    --------
    thrust="6.4 kN" mean_diameter="30 mm" lead="8 mm" friction=0.08 -> 15937 N mm
    thrust="6.4 kN" mean_diameter="30 mm" lead="8 mm" friction=0.08 collar_friction=0.08
    collar_mean_diameter="40 mm" -> 26177 N mm
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
        F d / 2 (f' - tan L) / (1 + f' tan L) + F f_c d_c / 2, with f' = f / cos(half angle) and
        tan L = l / (pi d). Above 0 the motor still has to push (the screw locks itself), below 0
        the thrust turns the screw and the motor has to hold it back. [N mm]

    References
    ----------
    .. [1] Shigley, Mechanical Engineering Design, section 8-2; Mott, eq. 17-11: read in part.

    Examples
    --------
    thrust="6.4 kN" mean_diameter="30 mm" lead="8 mm" friction=0.08 -> -466 N mm
    thrust="500 N" mean_diameter="0.45 in" lead="0.1 in" friction=0.15 flank_half_angle="14.5 deg"
    -> 238.0 N mm
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
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    flank_half_angle_rad : float or array
        Half the included thread angle: 0 square, 14.5 degrees Acme, 15 degrees trapezoidal. [rad]

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

    Examples
    --------
    mean_diameter="0.45 in" lead="0.5 in" flank_half_angle="14.5 deg" -> 0.3424
    """
    slope = np.tan(lead_angle_rad(mean_diameter_mm, lead_mm))
    return slope * np.cos(array(flank_half_angle_rad))


def locks_itself(
    mean_diameter_mm: Floats, lead_mm: Floats, friction: Floats, flank_half_angle_rad: Floats = 0.0
) -> NDArray[np.bool_]:
    """Whether a thrust alone cannot turn the screw.

    Parameters
    ----------
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    friction : float or array
        Sliding coefficient, nut on screw. [-]
    flank_half_angle_rad : float or array
        Half the included thread angle: 0 square, 14.5 degrees Acme, 15 degrees trapezoidal. [rad]

    Returns
    -------
    array of bool
        Friction above ``screw-locking-friction``.

    Notes
    -----
    Vibration can defeat self-locking: it is no brake.

    References
    ----------
    .. [1] Statics textbooks on power screws: read.

    Examples
    --------
    mean_diameter="0.45 in" lead="0.1 in" friction=0.15 flank_half_angle="14.5 deg" -> yes
    mean_diameter="0.45 in" lead="0.5 in" friction=0.15 flank_half_angle="14.5 deg" -> no
    """
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

    Examples
    --------
    thrust="6.4 kN" lead="8 mm" torque="26.177 N m" -> 0.3113
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
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    friction : float or array
        Sliding coefficient, nut on screw. [-]
    flank_half_angle_rad : float or array
        Half the included thread angle: 0 square, 14.5 degrees Acme, 15 degrees trapezoidal. [rad]

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

    Examples
    --------
    preload="50 N" mean_diameter="0.45 in" lead="0.5 in" friction=0.15
    flank_half_angle="14.5 deg" -> 99.9 N mm
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
        Against the thrust: 0.85 to 0.95 (from memory). [-]

    Returns
    -------
    against_nmm, along_nmm : array
        F l / (2 pi e); and with the thrust, below 0 because it drives the screw, F l / 2 pi times
        the back-driving efficiency 2 - 1 / e.

    Raises
    ------
    ValueError
        If the efficiency is not between 0 and 1.

    References
    ----------
    .. [1] JIS B 1192 and ball-screw guides for the two forms: from memory. The back-driving
       efficiency is the wedge with a small friction angle: derived here.

    Examples
    --------
    thrust="20 kN" lead="10 mm" efficiency_raising=0.7 -> against 45473 N mm, along -18189 N mm
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

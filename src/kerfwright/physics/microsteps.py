"""Small steps: what moves a resting shaft, and what the magnetic spring means at the carriage."""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero
from kerfwright.physics.steppers import standing_error_rad


def incremental_torque_nmm(peak_torque_nmm: Floats, microsteps: Floats) -> FloatArray:
    """Torque that one microstep adds on a shaft at rest. [N mm]

    Parameters
    ----------
    peak_torque_nmm : float or array
        Greatest torque as driven, standing. [N mm]
    microsteps : float or array
        In one full step. [-]

    Returns
    -------
    array
        T sin(90° / M). [N mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    .. [1] Faulhaber / Micromo note "Microstepping: Myths and Realities", eq. 1 and table 1: read.

    Examples
    --------
    peak_torque="1000 N mm" microsteps=8 -> 195.1 N mm
    """
    above_zero(peak_torque_nmm=peak_torque_nmm, microsteps=microsteps)
    return array(peak_torque_nmm) * np.sin(pi / 2.0 / array(microsteps))


def microsteps_to_move(
    friction_torque_nmm: Floats, peak_torque_nmm: Floats, microsteps: Floats
) -> FloatArray:
    """Microsteps commanded before a resting shaft surely turns. [-]

    Parameters
    ----------
    friction_torque_nmm, peak_torque_nmm : float or array
        Friction and load at the shaft; torque as driven. [N mm]
    microsteps : float or array
        Microsteps in a full step. [-]

    Returns
    -------
    array
        ceil((M / 90°) asin(T_f / T)), at least 1; infinite where the friction exceeds the torque.
        [-]

    References
    ----------
    .. [1] Faulhaber / Micromo note "Microstepping: Myths and Realities", eq. 2: from memory.

    Examples
    --------
    friction_torque="200 N mm" peak_torque="1000 N mm" microsteps=8 -> 2
    friction_torque="1100 N mm" peak_torque="1000 N mm" microsteps=8 -> infinite
    """
    above_zero(peak_torque_nmm=peak_torque_nmm, microsteps=microsteps)
    not_below_zero(friction_torque_nmm=friction_torque_nmm)
    share = array(friction_torque_nmm) / array(peak_torque_nmm)
    count = np.ceil(array(microsteps) / (pi / 2.0) * np.arcsin(np.minimum(share, 1.0)) - 1e-9)
    return np.where(share >= 1.0, np.inf, np.maximum(count, 1.0))


def standing_error_mm(
    torque_nmm: Floats, peak_torque_nmm: Floats, lead_mm: Floats, teeth: Floats = 50.0
) -> FloatArray:
    """How far a torque moves the carriage away from where the current holds it. [mm]

    Parameters
    ----------
    torque_nmm, peak_torque_nmm : float or array
        That the screw asks of the motor; greatest as driven. [N mm]
    lead_mm : float or array
        Travel in one turn of the motor. [mm]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        l / (2 pi N) asin(T / T_m). [mm]

    Raises
    ------
    ValueError
        If the torque exceeds what the motor holds.

    Notes
    -----
    The torque is the screw's raising torque against the motion, its lowering torque along it, and
    nothing at rest if the screw locks itself.

    References
    ----------
    .. [1] D. W. Jones, Stepping Motor Physics: read in part; through the screw: derived here.

    Examples
    --------
    torque="0.5 N m" peak_torque="1 N m" lead="12.7 mm" -> 0.0212 mm
    """
    above_zero(lead_mm=lead_mm)
    turned = standing_error_rad(torque_nmm, peak_torque_nmm, teeth)
    return turned * array(lead_mm) / (2.0 * pi)


def reversal_mm(
    friction_torque_nmm: Floats, peak_torque_nmm: Floats, lead_mm: Floats, teeth: Floats = 50.0
) -> FloatArray:
    """Lost motion at reversal that friction makes of the magnetic spring. [mm]

    Parameters
    ----------
    friction_torque_nmm, peak_torque_nmm : float or array
        Friction at the shaft; greatest torque as driven. [N mm]
    lead_mm : float or array
        Travel in one turn of the motor. [mm]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        l / (pi N) asin(T_f / T_m): the rotor lags one way, then the other. [mm]

    Raises
    ------
    ValueError
        If the friction exceeds what the motor holds, or is below 0.

    Notes
    -----
    A dial at the carriage shows it beside the play of nut and bearings.

    References
    ----------
    .. [1] Twice ``microstep-standing-error``: derived here.

    Examples
    --------
    friction_torque="150 N mm" peak_torque="1343.5 N mm" lead="12.7 mm" -> 0.00905 mm
    """
    not_below_zero(friction_torque_nmm=friction_torque_nmm)
    return 2.0 * standing_error_mm(friction_torque_nmm, peak_torque_nmm, lead_mm, teeth)


def slip_mm(lead_mm: Floats, teeth: Floats = 50.0) -> FloatArray:
    """What one slip of the motor loses: one tooth, four full steps. [mm]

    Parameters
    ----------
    lead_mm : float or array
        Travel in one turn of the motor. [mm]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        l / N. [mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    A stall loses many; nothing finds them but the next zero.

    References
    ----------
    .. [1] Period of the torque over the angle, D. W. Jones, Stepping Motor Physics: read in part.

    Examples
    --------
    lead="12.7 mm" -> 0.254 mm
    """
    above_zero(lead_mm=lead_mm, teeth=teeth)
    return array(lead_mm) / array(teeth)


def surely_moved_mm(
    commanded_mm: Floats,
    friction_torque_nmm: Floats,
    peak_torque_nmm: Floats,
    lead_mm: Floats,
    teeth: Floats = 50.0,
) -> FloatArray:
    """Travel of a resting carriage after a small commanded move. [mm]

    Parameters
    ----------
    commanded_mm : float or array
        From rest, with no torque stored; its size counts. [mm]
    friction_torque_nmm, peak_torque_nmm : float or array
        Friction at the shaft; greatest torque as driven. [N mm]
    lead_mm : float or array
        Travel in one turn of the motor. [mm]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        What is commanded less the standing error of the friction, not below 0. [mm]

    Raises
    ------
    ValueError
        If the friction exceeds what the motor holds, or is below 0.

    Notes
    -----
    After a move the other way the spring is wound up against it: take off twice that, the
    ``microstep-reversal``.

    References
    ----------
    .. [1] Rotor on the magnetic spring with dry friction: derived here.

    Examples
    --------
    commanded="0.01 mm" friction_torque="150 N mm" peak_torque="1343.5 N mm" lead="12.7 mm"
    -> 0.005477 mm
    """
    not_below_zero(friction_torque_nmm=friction_torque_nmm)
    lost = standing_error_mm(friction_torque_nmm, peak_torque_nmm, lead_mm, teeth)
    return np.maximum(np.abs(array(commanded_mm)) - lost, 0.0)

"""What is set at a motor's driver, as plain quantities: positions, pulses, current, heat."""

from math import pi, sqrt

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse


def full_step_angle_rad(teeth: Floats = 50.0) -> FloatArray:
    """Turn of the shaft in one full step of a two-phase hybrid motor. [rad]

    Parameters
    ----------
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        A quarter tooth: 90 degrees / N. [rad]

    Notes
    -----
    A step is off by about 5 % of itself, which does not add up (one data sheet: 1.8 ± 0.09
    degrees, read).

    References
    ----------
    .. [1] Kosow, Electric Machinery and Transformers, 2nd ed., example 11-3: read.

    Examples
    --------
    teeth=50 -> 0.0314159 rad
    """
    above_zero(teeth=teeth)
    return pi / (2.0 * array(teeth))


def position_mm(
    lead_mm: Floats, full_steps_per_rev: Floats, microsteps: Floats, ratio: Floats = 1.0
) -> FloatArray:
    """Travel from one commanded position to the next. [mm]

    Parameters
    ----------
    lead_mm : float or array
        Travel in one turn of screw, pulley or pinion: pitch times starts for a screw. [mm]
    full_steps_per_rev, microsteps : float or array
        Of the motor; in one full step. [-]
    ratio : float or array
        Motor turns for one turn of the screw. [-]

    Returns
    -------
    array
        l / (S M i). [mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    Resolution, not accuracy: what friction swallows is in ``stepper-microsteps-to-move``.

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    lead="0.5 in" full_steps_per_rev=200 microsteps=10 -> 0.00635 mm
    lead="8 mm" full_steps_per_rev=200 microsteps=16 -> 0.0025 mm
    """
    above_zero(
        lead_mm=lead_mm, full_steps_per_rev=full_steps_per_rev, microsteps=microsteps, ratio=ratio
    )
    positions = array(full_steps_per_rev) * array(microsteps) * array(ratio)
    return array(lead_mm) / positions


def positions_per_mm(
    lead_mm: Floats, full_steps_per_rev: Floats, microsteps: Floats, ratio: Floats = 1.0
) -> FloatArray:
    """Positions in one mm of travel, as a controller asks for. [1/mm]

    Parameters
    ----------
    lead_mm : float or array
        Travel in one turn of screw, pulley or pinion. [mm]
    full_steps_per_rev, microsteps : float or array
        Of the motor; in one full step. [-]
    ratio : float or array
        Motor turns for one turn of the screw. [-]

    Returns
    -------
    array
        S M i / l. [1/mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    lead="40 mm" full_steps_per_rev=200 microsteps=8 -> 40 1/mm
    """
    return 1.0 / position_mm(lead_mm, full_steps_per_rev, microsteps, ratio)


def pulse_rate_hz(speed_mm_per_s: Floats, positions_per_mm: Floats) -> FloatArray:
    """Pulses a second that a speed asks of controller and driver. [Hz]

    Parameters
    ----------
    speed_mm_per_s : float or array
        Of the carriage. [mm/s]
    positions_per_mm : float or array
        As from ``driver-positions``. [1/mm]

    Returns
    -------
    array
        v times positions. [Hz]

    Raises
    ------
    ValueError
        If there is no position in a mm.

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    speed="4000 mm/min" positions="400 1/mm" -> 26667 Hz
    """
    above_zero(positions_per_mm=positions_per_mm)
    return np.abs(array(speed_mm_per_s)) * array(positions_per_mm)


def peak_current_a(rms_current_a: Floats) -> FloatArray:
    """Peak of a sine current whose RMS is set or printed. [A]

    Parameters
    ----------
    rms_current_a : float or array
        As printed beside the switch or in the table of the driver. [A]

    Returns
    -------
    array
        sqrt(2) times it. [A]

    Raises
    ------
    ValueError
        If the current is below 0.

    Notes
    -----
    A motor's label gives the standing current of each phase: compare the peak with that. Taking one
    for the other is an error of 41 %.

    References
    ----------
    .. [1] Sine wave: textbook.

    Examples
    --------
    rms_current="2 A" -> 2.8284 A
    """
    not_below_zero(rms_current_a=rms_current_a)
    return sqrt(2.0) * array(rms_current_a)


def driven_torque_nmm(
    holding_torque_nmm: Floats, rated_current_a: Floats, peak_current_a: Floats
) -> FloatArray:
    """Greatest torque with sine microstepping at the current that is set. [N mm]

    Parameters
    ----------
    holding_torque_nmm : float or array
        Of the data sheet, with both phases on. [N mm]
    rated_current_a, peak_current_a : float or array
        Of the data sheet, in each phase; peak that the driver is set to. [A]

    Returns
    -------
    array
        T_h I / (sqrt(2) I_rated): Kt I. [N mm]

    Raises
    ------
    ValueError
        If the peak is above sqrt(2) times the rated current, the most that holds the data sheet's
        heat, or a value not above 0.

    Notes
    -----
    71 % of the printed holding torque at the rated current as peak. The same holds for a motor that
    idles, with its idle current.

    References
    ----------
    .. [1] Acarnley, Stepping Motors: from memory.

    Examples
    --------
    holding_torque="1.9 N m" rated_current="2.8 A" peak_current="2.8 A" -> 1343.5 N mm
    """
    above_zero(holding_torque_nmm=holding_torque_nmm, rated_current_a=rated_current_a)
    not_below_zero(peak_current_a=peak_current_a)
    share = array(peak_current_a) / array(rated_current_a)
    refuse(share > sqrt(2.0) * (1.0 + 1e-9), "the current overheats the motor")
    return array(holding_torque_nmm) * share / sqrt(2.0)


def copper_heat_w(peak_current_a: Floats, resistance_ohm: Floats) -> FloatArray:
    """Heat in both windings of a motor with sine currents, turning or standing. [W]

    Parameters
    ----------
    peak_current_a : float or array
        Peak, as driven; of the idle current for a standing motor. [A]
    resistance_ohm : float or array
        Of one phase. [ohm]

    Returns
    -------
    array
        I² R: each phase takes half of it, on the average of its sine. [W]

    Raises
    ------
    ValueError
        If a value is below 0.

    Notes
    -----
    A winding at 80 °C has a quarter more resistance than at 20 °C. Iron losses come on top.

    References
    ----------
    .. [1] Sine wave: textbook.

    Examples
    --------
    peak_current="2.8 A" resistance="1 ohm" -> 7.84 W
    """
    not_below_zero(peak_current_a=peak_current_a, resistance_ohm=resistance_ohm)
    return array(peak_current_a) ** 2 * array(resistance_ohm)

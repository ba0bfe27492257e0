"""Timing belts, racks and pinions."""

from math import pi

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse


def belt_lead_mm(pitch_mm: Floats, teeth: Floats) -> FloatArray:
    """Travel in one turn of a belt's pulley: pitch times teeth. [mm]"""
    above_zero(pitch_mm=pitch_mm, teeth=teeth)
    return array(pitch_mm) * array(teeth)


def rack_lead_mm(module_mm: Floats, teeth: Floats) -> FloatArray:
    """Travel in one turn of a pinion: pi times module times teeth. [mm]"""
    above_zero(module_mm=module_mm, teeth=teeth)
    return pi * array(module_mm) * array(teeth)


def open_belt_stiffness_n_per_mm(
    specific_stiffness_n_per_mm: Floats, width_mm: Floats, at_mm: Floats, length_mm: Floats
) -> FloatArray:
    """Carriage on a belt clamped at both ends of the travel, both spans taut. [N/mm]

    Parameters
    ----------
    specific_stiffness_n_per_mm : float or array
        Pull for each mm of width and unit strain. [N/mm]
    width_mm : float or array
        Of the belt. [mm]
    at_mm, length_mm : float or array
        Carriage from one clamp; between the clamps. [mm]

    Returns
    -------
    array
        c b (1 / L1 + 1 / L2), least in the middle. [N/mm]

    References
    ----------
    .. [1] Gates Mectrol, Timing Belt Theory: existence and scope read, formula from memory.
    """
    above_zero(specific_stiffness_n_per_mm=specific_stiffness_n_per_mm, width_mm=width_mm)
    rest = array(length_mm) - array(at_mm)
    refuse((array(at_mm) <= 0.0) | (rest <= 0.0), "the carriage must stand between the clamps")
    pull = array(specific_stiffness_n_per_mm) * array(width_mm)
    return pull * (1.0 / array(at_mm) + 1.0 / rest)


def looped_belt_stiffness_n_per_mm(
    specific_stiffness_n_per_mm: Floats, width_mm: Floats, at_mm: Floats, length_mm: Floats
) -> FloatArray:
    """Carriage on a belt loop, motor at one end and an idler at the other. [N/mm]

    Parameters
    ----------
    specific_stiffness_n_per_mm, width_mm : float or array
        As in ``open_belt_stiffness_n_per_mm``.
    at_mm, length_mm : float or array
        Carriage from the motor's pulley; between pulley and idler. [mm]

    Returns
    -------
    array
        c b (1 / x + 1 / (2 L - x)), least at the far end. [N/mm]

    References
    ----------
    .. [1] Two springs from the pulley to the carriage, one round the idler: derived here.
    """
    above_zero(specific_stiffness_n_per_mm=specific_stiffness_n_per_mm, width_mm=width_mm)
    rest = 2.0 * array(length_mm) - array(at_mm)
    refuse((array(at_mm) <= 0.0) | (rest <= 0.0), "the carriage must stand on the loop")
    pull = array(specific_stiffness_n_per_mm) * array(width_mm)
    return pull * (1.0 / array(at_mm) + 1.0 / rest)

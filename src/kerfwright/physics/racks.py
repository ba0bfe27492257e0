"""Racks and pinions: travel, thrust, inertia at the pinion."""

from math import pi

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse


def lead_mm(module_mm: Floats, teeth: Floats) -> FloatArray:
    """Travel in one turn of a pinion. [mm]

    Parameters
    ----------
    module_mm : float or array
        Of the rack. [mm]
    teeth : float or array
        Of the pinion. [-]

    Returns
    -------
    array
        pi m z. [mm]

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    module="1 mm" teeth=20 -> 62.832 mm
    """
    above_zero(module_mm=module_mm, teeth=teeth)
    return pi * array(module_mm) * array(teeth)


def thrust_n(
    torque_nmm: Floats, module_mm: Floats, teeth: Floats, efficiency: Floats = 1.0
) -> FloatArray:
    """Thrust that a torque at the pinion gives along the rack. [N]

    Parameters
    ----------
    torque_nmm : float or array
        At the pinion. [N mm]
    module_mm : float or array
        Of the rack. [mm]
    teeth : float or array
        Of the pinion. [-]
    efficiency : float or array
        Above 0, at most 1. [-]

    Returns
    -------
    array
        2 T e / (m z). [N]

    Raises
    ------
    ValueError
        If the efficiency is not between 0 and 1.

    Notes
    -----
    The force that parts the teeth, tan 20 degrees of the thrust, is left out.

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    torque="1 N m" module="1 mm" teeth=20 -> 100 N
    """
    above_zero(module_mm=module_mm, teeth=teeth)
    share = array(efficiency)
    refuse(~((share > 0.0) & (share <= 1.0)), "efficiency must lie between 0 and 1")
    return 2.0 * array(torque_nmm) * share / (array(module_mm) * array(teeth))


def reflected_inertia_kg_mm2(mass_kg: Floats, module_mm: Floats, teeth: Floats) -> FloatArray:
    """A moving mass as a moment of inertia at the pinion. [kg mm²]

    Parameters
    ----------
    mass_kg : float or array
        What moves along. [kg]
    module_mm : float or array
        Of the rack. [mm]
    teeth : float or array
        Of the pinion. [-]

    Returns
    -------
    array
        M (m z / 2)². [kg mm²]

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    mass="15 kg" module="1 mm" teeth=20 -> 1500 kg mm²
    """
    not_below_zero(mass_kg=mass_kg)
    above_zero(module_mm=module_mm, teeth=teeth)
    return array(mass_kg) * (array(module_mm) * array(teeth) / 2.0) ** 2

"""Masses and turning parts, seen at a motor. Home of the factor between kg and the N, mm, s set."""

from math import pi
from typing import Final

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero

#: One kg mm/s² in newtons. The one place where kilograms meet the mm, N, s, MPa set.
N_PER_KG_MM_PER_S2: Final = 1e-3
#: kg/m³, as tables print density, in kg/mm³.
KG_PER_MM3: Final = 1e-9


def inertia_force_n(mass_kg: Floats, acceleration_mm_per_s2: Floats) -> FloatArray:
    """Force that accelerates a mass. [N]

    Parameters
    ----------
    mass_kg : float or array
        Mass. [kg]
    acceleration_mm_per_s2 : float or array
        Acceleration. [mm/s²]

    Returns
    -------
    array
        m a. [N]

    References
    ----------
    .. [1] Newton's second law.

    Examples
    --------
    mass="15 kg" acceleration="1 m/s2" -> 15 N
    """
    return array(mass_kg) * array(acceleration_mm_per_s2) * N_PER_KG_MM_PER_S2


def box_inertia_kg_mm2(mass_kg: Floats, one_mm: Floats, other_mm: Floats) -> FloatArray:
    """Moment of inertia of a box, or a plate or a bar, about an axis through its middle. [kg mm²]

    Parameters
    ----------
    mass_kg : float or array
        Of the box, evenly filled. [kg]
    one_mm, other_mm : float or array
        Its two sides square to the axis. [mm]

    Returns
    -------
    array
        m (a² + b²) / 12. [kg mm²]

    Raises
    ------
    ValueError
        If a value is below 0.

    References
    ----------
    .. [1] Rigid bodies: textbook.

    Examples
    --------
    mass="6 kg" one="300 mm" other="0 mm" -> 45000 kg mm²
    """
    not_below_zero(mass_kg=mass_kg, one_mm=one_mm, other_mm=other_mm)
    return array(mass_kg) * (array(one_mm) ** 2 + array(other_mm) ** 2) / 12.0


def inertia_torque_nmm(inertia_kg_mm2: Floats, acceleration_rad_per_s2: Floats) -> FloatArray:
    """Torque that speeds a turning part up. [N mm]

    Parameters
    ----------
    inertia_kg_mm2 : float or array
        Moment of inertia about the axis of turning. [kg mm²]
    acceleration_rad_per_s2 : float or array
        Angular acceleration. [rad/s²]

    Returns
    -------
    array
        J a. [N mm]

    References
    ----------
    .. [1] Newton's second law.

    Examples
    --------
    inertia="125 kg mm2" acceleration="500 rad/s2" -> 62.5 N mm
    """
    return array(inertia_kg_mm2) * array(acceleration_rad_per_s2) * N_PER_KG_MM_PER_S2


def reflected_inertia_kg_mm2(mass_kg: Floats, lead_mm: Floats) -> FloatArray:
    """A moving mass as a moment of inertia at the shaft that drives it. [kg mm²]

    Parameters
    ----------
    mass_kg : float or array
        What moves along. [kg]
    lead_mm : float or array
        Travel in one turn of that shaft. [mm]

    Returns
    -------
    array
        m (l / 2 pi)². [kg mm²]

    Notes
    -----
    Energy only: a sliding screw asks for more torque than this inertia says, because the mass's
    force goes through the thread. Use the raising torque of ``mass x acceleration`` for that.

    References
    ----------
    .. [1] Lead-screw page of smallmotors.com (coefficient 0.025 = 1 / 4 pi²): read.

    Examples
    --------
    mass="15 kg" lead="12.7 mm" -> 61.28 kg mm²
    """
    not_below_zero(mass_kg=mass_kg)
    above_zero(lead_mm=lead_mm)
    return array(mass_kg) * (array(lead_mm) / (2.0 * pi)) ** 2


def rod_inertia_kg_mm2(
    diameter_mm: Floats, length_mm: Floats, density_kg_per_m3: Floats
) -> FloatArray:
    """Moment of inertia of a round rod about its own axis. [kg mm²]

    Parameters
    ----------
    diameter_mm, length_mm : float or array
        Of the rod; for a screw its mean diameter. [mm]
    density_kg_per_m3 : float or array
        Of its material. [kg/m³]

    Returns
    -------
    array
        pi rho d⁴ L / 32. [kg mm²]

    References
    ----------
    .. [1] Lead-screw page of smallmotors.com (7.7e5 = pi 7.83e6 / 32): read.

    Examples
    --------
    diameter="11.43 mm" length="1.2 m" density="7850 kg/m3" -> 15.78 kg mm²
    """
    above_zero(diameter_mm=diameter_mm, length_mm=length_mm, density_kg_per_m3=density_kg_per_m3)
    density = array(density_kg_per_m3) * KG_PER_MM3
    return pi * density * array(diameter_mm) ** 4 * array(length_mm) / 32.0


def swing_mm(
    acceleration_mm_per_s2: Floats, frequency_hz: Floats, rise_s: Floats = 0.0
) -> FloatArray:
    """How far a carriage on a springy drive swings out when its acceleration changes. [mm]

    Parameters
    ----------
    acceleration_mm_per_s2 : float or array
        By how much the acceleration changes. [mm/s²]
    frequency_hz : float or array
        Natural frequency. [Hz]
    rise_s : float or array
        Time over which it changes evenly; 0 at once. [s]

    Returns
    -------
    array
        First peak: the standing deflection a / ω² times 1 + |sin(ω t/2) / (ω t/2)|, twice a / ω²
        for a change at once. [mm]

    Notes
    -----
    No damping is counted.

    References
    ----------
    .. [1] Undamped oscillator under a ramp of force: derived here.

    Examples
    --------
    acceleration="1 m/s2" frequency="25 Hz" -> 0.0811 mm
    """
    above_zero(frequency_hz=frequency_hz)
    not_below_zero(rise_s=rise_s)
    omega = 2.0 * pi * array(frequency_hz)
    bend = np.abs(np.sinc(0.5 * omega * array(rise_s) / pi))
    return np.abs(array(acceleration_mm_per_s2)) / omega**2 * (1.0 + bend)

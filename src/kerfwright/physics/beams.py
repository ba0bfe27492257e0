"""Straight beams under one force or an even load; their shear, twist and first frequency."""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse
from kerfwright.physics.inertia import KG_PER_MM3, N_PER_KG_MM_PER_S2


def supported_mid_mm(
    force_n: Floats, length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats
) -> FloatArray:
    """Sag under a force in the middle of a simply supported beam: F L³ / 48 E I. [mm]

    References
    ----------
    .. [1] Roark, table 8.1; Machinery's Handbook: mid-span forms read, others from memory.
    """
    return supported_at_mm(
        force_n, array(length_mm) / 2.0, length_mm, modulus_mpa, second_moment_mm4
    )


def supported_at_mm(
    force_n: Floats,
    at_mm: Floats,
    length_mm: Floats,
    modulus_mpa: Floats,
    second_moment_mm4: Floats,
) -> FloatArray:
    """Sag under a force anywhere on a simply supported beam: F a² b² / 3 E I L. [mm]

    Parameters
    ----------
    force_n, at_mm, length_mm : float or array
        Force, its distance from one support, span. [N, mm, mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus, second moment of area. [MPa, mm⁴]

    Returns
    -------
    array
        Where the force acts. Shear left out: add ``shear_mid_mm``. [mm]
    """
    _check(length_mm, modulus_mpa, second_moment_mm4)
    at, rest = array(at_mm), array(length_mm) - array(at_mm)
    refuse((at < 0.0) | (rest < 0.0), "the force must act on the beam")
    bend = array(modulus_mpa) * array(second_moment_mm4)
    return array(force_n) * at**2 * rest**2 / (3.0 * bend * array(length_mm))


def clamped_mid_mm(
    force_n: Floats, length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats
) -> FloatArray:
    """Sag under a force in the middle of a beam clamped at both ends: F L³ / 192 E I. [mm]"""
    _check(length_mm, modulus_mpa, second_moment_mm4)
    return (
        array(force_n)
        * array(length_mm) ** 3
        / (192.0 * array(modulus_mpa) * array(second_moment_mm4))
    )


def cantilever_end_mm(
    force_n: Floats, length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats
) -> FloatArray:
    """Sag at the end of a cantilever under a force there: F L³ / 3 E I. [mm]"""
    _check(length_mm, modulus_mpa, second_moment_mm4)
    bend = array(modulus_mpa) * array(second_moment_mm4)
    return array(force_n) * array(length_mm) ** 3 / (3.0 * bend)


def even_load_mm(
    load_n_per_mm: Floats,
    length_mm: Floats,
    modulus_mpa: Floats,
    second_moment_mm4: Floats,
    ends: str = "supported",
) -> FloatArray:
    """Greatest sag under an even load: 5 w L⁴ / 384, w L⁴ / 384 or w L⁴ / 8 over E I. [mm]

    ``ends`` is ``"supported"``, ``"clamped"`` or ``"cantilever"``.
    """
    _check(length_mm, modulus_mpa, second_moment_mm4)
    factors = {"supported": 5.0 / 384.0, "clamped": 1.0 / 384.0, "cantilever": 1.0 / 8.0}
    if ends not in factors:
        raise ValueError(f"ends must be one of {', '.join(factors)}")
    bend = array(modulus_mpa) * array(second_moment_mm4)
    return factors[ends] * array(load_n_per_mm) * array(length_mm) ** 4 / bend


def shear_mid_mm(
    force_n: Floats,
    length_mm: Floats,
    shear_modulus_mpa: Floats,
    area_mm2: Floats,
    shear_share: Floats,
) -> FloatArray:
    """Sag by shear under a force in the middle: F L / 4 k G A. [mm]

    Parameters
    ----------
    force_n, length_mm, shear_modulus_mpa, area_mm2 : float or array
        [N, mm, MPa, mm²]
    shear_share : float or array
        k: ``rectangle_shear_share``, about 0.5 for a thin box. [-]

    Notes
    -----
    Needed below ten depths of span, and for sandwiches.

    References
    ----------
    .. [1] Timoshenko beam; notes of an open beam code: read.
    """
    above_zero(length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa, area_mm2=area_mm2)
    stiff = array(shear_share) * array(shear_modulus_mpa) * array(area_mm2)
    return array(force_n) * array(length_mm) / (4.0 * stiff)


def rectangle_shear_share(poisson: Floats) -> FloatArray:
    """Share of a solid rectangle's area that carries shear: 10 (1 + v) / (12 + 11 v). [-]"""
    return 10.0 * (1.0 + array(poisson)) / (12.0 + 11.0 * array(poisson))


def twist_rad(
    torque_nmm: Floats,
    at_mm: Floats,
    length_mm: Floats,
    shear_modulus_mpa: Floats,
    torsion_mm4: Floats,
) -> FloatArray:
    """Twist where a torque acts on a bar held at both ends: T a b / (G J L). [rad]

    In the middle T L / (4 G J).

    References
    ----------
    .. [1] Two shafts in parallel: statics.
    """
    above_zero(length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa, torsion_mm4=torsion_mm4)
    at, rest = array(at_mm), array(length_mm) - array(at_mm)
    refuse((at < 0.0) | (rest < 0.0), "the torque must act on the bar")
    stiff = array(shear_modulus_mpa) * array(torsion_mm4)
    return array(torque_nmm) * at * rest / (stiff * array(length_mm))


def supported_frequency_hz(
    length_mm: Floats,
    modulus_mpa: Floats,
    second_moment_mm4: Floats,
    area_mm2: Floats,
    density_kg_per_m3: Floats,
) -> FloatArray:
    """First bending frequency of a simply supported beam, pi / (2 L²) sqrt(E I / rho A). [Hz]

    References
    ----------
    .. [1] Blevins; Machinery's Handbook: from memory.
    """
    _check(length_mm, modulus_mpa, second_moment_mm4)
    per_length = array(density_kg_per_m3) * KG_PER_MM3 * array(area_mm2) * N_PER_KG_MM_PER_S2
    bend = array(modulus_mpa) * array(second_moment_mm4)
    return pi / (2.0 * array(length_mm) ** 2) * np.sqrt(bend / per_length)


def spring_frequency_hz(stiffness_n_per_mm: Floats, mass_kg: Floats) -> FloatArray:
    """Frequency of a mass on a spring, sqrt(k / m) / 2 pi. [Hz]"""
    above_zero(stiffness_n_per_mm=stiffness_n_per_mm, mass_kg=mass_kg)
    return np.sqrt(array(stiffness_n_per_mm) / (array(mass_kg) * N_PER_KG_MM_PER_S2)) / (2.0 * pi)


def step_sag_mm(acceleration_mm_per_s2: Floats, frequency_hz: Floats) -> FloatArray:
    """Standing sag of a swinging part under a steady acceleration, a / w². [mm]

    A sudden start of the acceleration swings to twice this.

    References
    ----------
    .. [1] Single degree of freedom: textbook.
    """
    above_zero(frequency_hz=frequency_hz)
    return array(acceleration_mm_per_s2) / (2.0 * pi * array(frequency_hz)) ** 2


def _check(length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats) -> None:
    above_zero(length_mm=length_mm, modulus_mpa=modulus_mpa, second_moment_mm4=second_moment_mm4)

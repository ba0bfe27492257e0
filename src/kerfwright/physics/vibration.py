"""How fast parts swing, and how far they hang back while they are accelerated."""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse
from kerfwright.physics.inertia import KG_PER_MM3, N_PER_KG_MM_PER_S2


def supported_frequency_hz(
    length_mm: Floats,
    modulus_mpa: Floats,
    second_moment_mm4: Floats,
    area_mm2: Floats,
    density_kg_per_m3: Floats,
) -> FloatArray:
    """First bending frequency of a simply supported beam. [Hz]

    Parameters
    ----------
    length_mm : float or array
        Of the beam. [mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus; second moment of area. [MPa, mm⁴]
    area_mm2, density_kg_per_m3 : float or array
        Of the section; of the material. [mm², kg/m³]

    Returns
    -------
    array
        pi / (2 L²) sqrt(E I / rho A). [Hz]

    Raises
    ------
    ValueError
        If a length, modulus or second moment is not above 0.

    Notes
    -----
    The beam's own mass alone. Shear and turning of the sections, left out, lower it.

    References
    ----------
    .. [1] Blevins; Machinery's Handbook: from memory.

    Examples
    --------
    length="900 mm" modulus="69 GPa" second_moment="558530 mm4" area="684 mm2"
    density="2700 kg/m3" -> 280.1 Hz
    """
    above_zero(length_mm=length_mm, modulus_mpa=modulus_mpa, second_moment_mm4=second_moment_mm4)
    per_length = array(density_kg_per_m3) * KG_PER_MM3 * array(area_mm2) * N_PER_KG_MM_PER_S2
    bend = array(modulus_mpa) * array(second_moment_mm4)
    return pi / (2.0 * array(length_mm) ** 2) * np.sqrt(bend / per_length)


def spring_frequency_hz(stiffness_n_per_mm: Floats, mass_kg: Floats) -> FloatArray:
    """Frequency of a mass on a spring. [Hz]

    Parameters
    ----------
    stiffness_n_per_mm, mass_kg : float or array
        Of the spring; that moves. Of a beam's own mass 0.236 counts at a cantilever's end, 0.486 in
        the middle of a supported one. [N/mm, kg]

    Returns
    -------
    array
        sqrt(k / m) / 2 pi; 15.76 / sqrt(sag under its own weight in mm). [Hz]

    Raises
    ------
    ValueError
        If a value is not above 0.

    References
    ----------
    .. [1] Blevins; Machinery's Handbook: from memory.

    Examples
    --------
    stiffness="5 N/um" mass="12 kg" -> 102.7 Hz
    """
    above_zero(stiffness_n_per_mm=stiffness_n_per_mm, mass_kg=mass_kg)
    return np.sqrt(array(stiffness_n_per_mm) / (array(mass_kg) * N_PER_KG_MM_PER_S2)) / (2.0 * pi)


def step_sag_mm(acceleration_mm_per_s2: Floats, frequency_hz: Floats) -> FloatArray:
    """Standing sag of a swinging part under a steady acceleration. [mm]

    Parameters
    ----------
    acceleration_mm_per_s2, frequency_hz : float or array
        Steady; natural frequency. [mm/s², Hz]

    Returns
    -------
    array
        a / w². [mm]

    Raises
    ------
    ValueError
        If the frequency is not above 0.

    Notes
    -----
    A sudden start of the acceleration swings to twice this: ``inertia-swing``.

    References
    ----------
    .. [1] Single degree of freedom: textbook.

    Examples
    --------
    acceleration="1 m/s2" frequency="25 Hz" -> 0.0405 mm
    """
    above_zero(frequency_hz=frequency_hz)
    return array(acceleration_mm_per_s2) / (2.0 * pi * array(frequency_hz)) ** 2


def swept_compliance(
    give_mm_per_n: FloatArray, mass_kg: FloatArray, frequency_hz: FloatArray, damping: float
) -> tuple[FloatArray, FloatArray]:
    """Give of a frame under forces that swing, from its give under forces that stand.

    Parameters
    ----------
    give_mm_per_n : array (n, n)
        Movement at each place for a force at each, standing. [mm/N]
    mass_kg : array (n,)
        At each place; 0 where none is. [kg]
    frequency_hz : array (k,)
        Of the force. [Hz]
    damping : float
        Of every mode, as a share of critical. [-]

    Returns
    -------
    in_step_mm_per_n, late_mm_per_n : array (k, n, n)
        Movement in step with the force, and a quarter turn behind it: the standing give, each
        mode's part of it times 1 / (1 - r² + 2 i z r), r the force's frequency over the mode's.

    Raises
    ------
    ValueError
        If a mass is below 0 or nothing has any.

    Notes
    -----
    Nothing of the give is lost: what no mode holds stays as it stands. A continuous beam must be
    cut into masses, ten for each half wave or more.

    References
    ----------
    .. [1] Modal superposition with the static remainder: textbook.

    Examples
    --------
    give="[[0.001]] mm/N" mass="[2] kg" frequency="[50] Hz" damping=0.02
    -> in_step [[[0.001245]]] mm/N, late [[[0.0000276]]] mm/N
    """
    give, masses = array(give_mm_per_n), array(mass_kg)
    not_below_zero(mass_kg=masses, damping=damping)
    refuse(not np.any(masses > 0.0), "nothing has any mass")
    root = np.sqrt(masses * N_PER_KG_MM_PER_S2)
    values, shapes = np.linalg.eigh(root[:, None] * give * root)
    inside = values > 1e-12 * values.max()
    turns2, parts = 1.0 / values[inside], give @ (root[:, None] * shapes[:, inside])
    ratio = 2.0 * pi * array(frequency_hz)[:, None] / np.sqrt(turns2)
    answers = 1.0 / (1.0 - ratio**2 + 2j * damping * ratio) - 1.0  # (k, modes)
    whole = give + np.einsum("km,m,im,jm->kij", answers, turns2, parts, parts)
    return np.asarray(whole.real), np.asarray(-whole.imag)

"""Wheels, rollers and balls pressed on rails."""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse

#: Palmgren's constant for steel on steel, N and mm.
_PALMGREN = 3.84e-5


def contact_modulus_mpa(
    modulus_first_mpa: Floats,
    poisson_first: Floats,
    modulus_second_mpa: Floats,
    poisson_second: Floats,
) -> FloatArray:
    """E* of two bodies that touch. [MPa]

    Parameters
    ----------
    modulus_first_mpa, modulus_second_mpa : float or array
        Young's moduli. [MPa]
    poisson_first, poisson_second : float or array
        Poisson's ratios. [-]

    Returns
    -------
    array
        1 / E* = (1 - v1²) / E1 + (1 - v2²) / E2. [MPa]

    Raises
    ------
    ValueError
        If a modulus is not above 0.

    References
    ----------
    .. [1] K. L. Johnson, Contact Mechanics: from memory; line form read.

    Examples
    --------
    modulus_first="207 GPa" poisson_first=0.292 modulus_second="207 GPa" poisson_second=0.292
    -> 113147 MPa
    """
    above_zero(modulus_first_mpa=modulus_first_mpa, modulus_second_mpa=modulus_second_mpa)
    return 1.0 / (
        (1.0 - array(poisson_first) ** 2) / array(modulus_first_mpa)
        + (1.0 - array(poisson_second) ** 2) / array(modulus_second_mpa)
    )


def line_contact(
    load_n_per_mm: Floats, radius_mm: Floats, modulus_mpa: Floats
) -> tuple[FloatArray, FloatArray]:
    """Half width and greatest pressure of a line contact. [mm, MPa]

    Parameters
    ----------
    load_n_per_mm : float or array
        Load for each mm of length. [N/mm]
    radius_mm, modulus_mpa : float or array
        1 / R = 1 / R1 + 1 / R2; E*. [mm, MPa]

    Returns
    -------
    half_width_mm, greatest_pressure_mpa : array
        sqrt(4 P R / pi E*) and sqrt(P E* / pi R).

    References
    ----------
    .. [1] Hertz: read.

    Examples
    --------
    load="100 N/mm" radius="10 mm" modulus="113147 MPa" -> half_width 0.10608 mm,
    greatest_pressure 600.1 MPa
    """
    not_below_zero(load_n_per_mm=load_n_per_mm)
    above_zero(radius_mm=radius_mm, modulus_mpa=modulus_mpa)
    load, radius, modulus = array(load_n_per_mm), array(radius_mm), array(modulus_mpa)
    return np.sqrt(4.0 * load * radius / (pi * modulus)), np.sqrt(load * modulus / (pi * radius))


def ball_contact(
    load_n: Floats, radius_mm: Floats, modulus_mpa: Floats
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """A ball or crowned wheel on a flat.

    Parameters
    ----------
    load_n, radius_mm, modulus_mpa : float or array
        Load; effective radius; E*. [N, mm, MPa]

    Returns
    -------
    contact_radius_mm, approach_mm, greatest_pressure_mpa, stiffness_n_per_mm : array
        a = (3 F R / 4 E*)^(1/3); a² / R; 3 F / 2 pi a²; tangent dF / dx = 2 E* a, half as much
        again as F / x.

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    Circular contact, elastic, no friction.

    References
    ----------
    .. [1] Johnson, Contact Mechanics: from memory.

    Examples
    --------
    load="100 N" radius="5 mm" modulus="113147 MPa" -> contact_radius 0.14909 mm,
    approach 0.004446 mm, greatest_pressure 2148 MPa, stiffness 33739 N/mm
    """
    above_zero(load_n=load_n, radius_mm=radius_mm, modulus_mpa=modulus_mpa)
    load, radius, modulus = array(load_n), array(radius_mm), array(modulus_mpa)
    touch = (3.0 * load * radius / (4.0 * modulus)) ** (1.0 / 3.0)
    return touch, touch**2 / radius, 3.0 * load / (2.0 * pi * touch**2), 2.0 * modulus * touch


def roller_approach_mm(load_n: Floats, length_mm: Floats) -> FloatArray:
    """Approach of a steel roller and its race. [mm]

    Parameters
    ----------
    load_n, length_mm : float or array
        On the contact; its length. [N, mm]

    Returns
    -------
    array
        3.84e-5 Q^0.9 / l^0.8. [mm]

    Raises
    ------
    ValueError
        If the load is below 0 or the length not above 0.

    Notes
    -----
    Steel on steel only; fitted to tests.

    References
    ----------
    .. [1] Palmgren; Harris, Rolling Bearing Analysis: from memory.

    Examples
    --------
    load="500 N" length="3 mm" -> 0.004283 mm
    """
    not_below_zero(load_n=load_n)
    above_zero(length_mm=length_mm)
    return _PALMGREN * array(load_n) ** 0.9 / array(length_mm) ** 0.8


def roller_stiffness_n_per_mm(load_n: Floats, length_mm: Floats) -> FloatArray:
    """Stiffness of a steel roller on its race at a load. [N/mm]

    Parameters
    ----------
    load_n, length_mm : float or array
        On the contact; its length. [N, mm]

    Returns
    -------
    array
        Slope dQ / dx of ``contact-roller-approach``: Q^0.1 l^0.8 / (0.9 times 3.84e-5). [N/mm]

    Raises
    ------
    ValueError
        If the load or the length is not above 0.

    References
    ----------
    .. [1] Palmgren; Harris, Rolling Bearing Analysis: from memory.

    Examples
    --------
    load="500 N" length="3 mm" -> 129724 N/mm
    """
    above_zero(load_n=load_n, length_mm=length_mm)
    return array(load_n) ** 0.1 * array(length_mm) ** 0.8 / (0.9 * _PALMGREN)


def flank_force_n(radial_n: Floats, half_angle_rad: Floats = pi / 4.0) -> FloatArray:
    """Force on each flank of a V-wheel under a radial load. [N]

    Parameters
    ----------
    radial_n : float or array
        On the wheel. [N]
    half_angle_rad : float or array
        Between flank and wheel plane, 45 degrees for the usual 90 degree V. [rad]

    Returns
    -------
    array
        F / (2 sin a). [N]

    References
    ----------
    .. [1] Statics.

    Examples
    --------
    radial="200 N" -> 141.4 N
    """
    return array(radial_n) / (2.0 * np.sin(array(half_angle_rad)))


def v_wheel_stiffness_n_per_mm(
    flank_n_per_mm: Floats, stud_n_per_mm: Floats = np.inf, half_angle_rad: Floats = pi / 4.0
) -> tuple[FloatArray, FloatArray]:
    """Radial and axial stiffness of one V-wheel with both flanks loaded. [N/mm]

    Parameters
    ----------
    flank_n_per_mm : float or array
        Contact stiffness of one flank, along its normal. [N/mm]
    stud_n_per_mm : float or array
        Bearing and stud in series, taken the same along and across; infinite: none. [N/mm]
    half_angle_rad : float or array
        Between flank and wheel plane. [rad]

    Returns
    -------
    radial_n_per_mm, axial_n_per_mm : array
        2 sin²(a) k and 2 cos²(a) k, each with the stud in series.

    References
    ----------
    .. [1] Statics, computed.

    Examples
    --------
    flank="10 N/um" stud="10 N/um" -> radial 5000 N/mm, axial 5000 N/mm
    """
    above_zero(flank_n_per_mm=flank_n_per_mm, stud_n_per_mm=stud_n_per_mm)
    flank, give = array(flank_n_per_mm), 1.0 / array(stud_n_per_mm)
    sine2 = np.sin(array(half_angle_rad)) ** 2
    return 1.0 / (1.0 / (2.0 * sine2 * flank) + give), 1.0 / (
        1.0 / (2.0 * (1.0 - sine2) * flank) + give
    )


def unloading_force_n(preload_n: Floats, exponent: Floats) -> FloatArray:
    """Force that takes all load off the far one of two wheels pressed at each other. [N]

    Parameters
    ----------
    preload_n : float or array
        Force in each wheel without outer load. [N]
    exponent : float or array
        n in Q ~ approach^n: 1 linear, 10/9 line contact, 3/2 ball. [-]

    Returns
    -------
    array
        2^n P: the near wheel's approach doubles when the far one's falls to nothing. From there
        on only one wheel springs. [N]

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    preload="100 N" exponent=1.11111 -> 216.0 N
    preload="100 N" exponent=1.5 -> 282.8 N
    """
    not_below_zero(preload_n=preload_n)
    refuse(array(exponent) < 1.0, "the exponent of a contact is not below 1")
    force: FloatArray = array(preload_n) * 2.0 ** array(exponent)
    return force


def preload_travel_mm(preload_n: Floats, wheel_n_per_mm: Floats) -> FloatArray:
    """How far two rails may move apart before wheels pressed between them run free. [mm]

    Parameters
    ----------
    preload_n : float or array
        Force in each wheel without outer load. [N]
    wheel_n_per_mm : float or array
        Stiffness of one wheel on its stud and rail. [N/mm]

    Returns
    -------
    array
        2 P / k: both wheels spring back. [mm]

    Raises
    ------
    ValueError
        If the preload is below 0 or the stiffness not above 0.

    Notes
    -----
    Stiffness taken as even down to nothing; contacts get softer on the way, so it is a little more.
    Compare with ``wood-panel-growth`` of what the rails are fixed to.

    References
    ----------
    .. [1] Two springs in a row: statics.

    Examples
    --------
    preload="60 N" wheel="3 N/um" -> 0.04 mm
    """
    not_below_zero(preload_n=preload_n)
    above_zero(wheel_n_per_mm=wheel_n_per_mm)
    return 2.0 * array(preload_n) / array(wheel_n_per_mm)

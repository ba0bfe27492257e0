"""What a long thin screw can bear: stretch, whip, buckling, stress."""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse
from kerfwright.physics.inertia import KG_PER_MM3, N_PER_KG_MM_PER_S2
from kerfwright.tables import read_table


def axial_stiffness_n_per_mm(
    root_diameter_mm: Floats,
    modulus_mpa: Floats,
    at_mm: Floats,
    length_mm: Floats,
    both_ends_held: bool,
) -> FloatArray:
    """How stiffly a screw holds its nut along the axis. [N/mm]

    Parameters
    ----------
    root_diameter_mm, modulus_mpa : float or array
        Core of the screw; Young's modulus. [mm, MPa]
    at_mm, length_mm : float or array
        Nut from the thrust bearing; between the bearings. 0 < at < length if both are held. [mm]
    both_ends_held : bool
        Whether both ends carry thrust.

    Returns
    -------
    array
        A E / x, or A E L / (a b) with both ends held. [N/mm]

    Notes
    -----
    Thrust bearings, nut and mounts come in series and are left out.

    References
    ----------
    .. [1] University of Utah, ME EN 7960 Precision Machine Design, slide 4-26: read.

    Examples
    --------
    root_diameter="10.16 mm" modulus="207 GPa" at="600 mm" length="914.4 mm" both_ends_held=no
    -> 27970 N/mm
    root_diameter="10.16 mm" modulus="207 GPa" at="457.2 mm" length="914.4 mm" both_ends_held=yes
    -> 73413 N/mm
    """
    above_zero(root_diameter_mm=root_diameter_mm, modulus_mpa=modulus_mpa, at_mm=at_mm)
    pull = pi * array(root_diameter_mm) ** 2 / 4.0 * array(modulus_mpa)
    if not both_ends_held:
        return pull / array(at_mm)
    rest = array(length_mm) - array(at_mm)
    refuse(rest <= 0.0, "the nut must stand between the bearings")
    return pull * array(length_mm) / (array(at_mm) * rest)


def torsional_stiffness_nmm_per_rad(
    root_diameter_mm: Floats, shear_modulus_mpa: Floats, at_mm: Floats
) -> FloatArray:
    """How stiffly a round shaft resists being wound up over a length. [N mm/rad]

    Parameters
    ----------
    root_diameter_mm, shear_modulus_mpa, at_mm : float or array
        Core, shear modulus, length between motor and nut. [mm, MPa, mm]

    Returns
    -------
    array
        G pi d⁴ / (32 x). [N mm/rad]

    Raises
    ------
    ValueError
        If a length is not above 0.

    References
    ----------
    .. [1] Textbook mechanics.

    Examples
    --------
    root_diameter="10.16 mm" shear_modulus="80 GPa" at="600 mm" -> 139480 N mm/rad
    """
    above_zero(root_diameter_mm=root_diameter_mm, at_mm=at_mm)
    return array(shear_modulus_mpa) * pi * array(root_diameter_mm) ** 4 / (32.0 * array(at_mm))


def whip_speed_rev_per_s(
    root_diameter_mm: Floats,
    free_length_mm: Floats,
    first_root: Floats,
    modulus_mpa: Floats,
    density_kg_per_m3: Floats,
) -> FloatArray:
    """Turning speed at which a screw starts to whip. [rev/s]

    Parameters
    ----------
    root_diameter_mm, free_length_mm : float or array
        Core; longest length without support. [mm]
    first_root : float or array
        First root of the beam frequency equation for the end fixity: ``screw-limit-first-root``, pi
        for two simple supports. [-]
    modulus_mpa, density_kg_per_m3 : float or array
        Young's modulus and density. [MPa, kg/m³]

    Returns
    -------
    array
        First bending frequency of the core, b² / (2 pi L²) d / 4 sqrt(E / rho). [rev/s]

    Notes
    -----
    The nut's support is left out (it raises the speed), so is a bent screw (it lowers the useful
    speed). Practice stays below 0.8 of it. One catalogue uses 1.47 for fixed-supported where
    theory gives 1.562; theory is taken here.

    References
    ----------
    .. [1] Euler-Bernoulli beam: f = beta1² / (2 pi L²) sqrt(E I / rho A), I / A = d² / 16.
       Two ball-screw catalogues' factors agree within 6 %: read.

    Examples
    --------
    root_diameter="0.4 in" free_length="36 in" first_root=3.14159 modulus="207 GPa"
    density="7850 kg/m3" -> 24.50 rev/s
    """
    above_zero(
        root_diameter_mm=root_diameter_mm, free_length_mm=free_length_mm, modulus_mpa=modulus_mpa
    )
    density = array(density_kg_per_m3) * KG_PER_MM3
    # MPa = N/mm² = 1000 kg/(mm s²): the wave speed comes out in mm/s.
    wave_mm_per_s = np.sqrt(array(modulus_mpa) / N_PER_KG_MM_PER_S2 / density)
    rate = array(first_root) ** 2 / array(free_length_mm) ** 2
    speed: FloatArray = rate * array(root_diameter_mm) / 4.0 * wave_mm_per_s / (2.0 * pi)
    return speed


def buckling_force_n(
    root_diameter_mm: Floats,
    length_mm: Floats,
    end_constant: Floats,
    modulus_mpa: Floats,
    yield_mpa: Floats = np.inf,
) -> FloatArray:
    """Axial thrust at which a round screw buckles: Euler when slender, Johnson when stout. [N]

    Parameters
    ----------
    root_diameter_mm, length_mm : float or array
        Core; longest length under thrust. [mm]
    end_constant : float or array
        C: 1/4 fixed-free, 1 supported, 2 fixed-supported, 4 fixed. [-]
    modulus_mpa, yield_mpa : float or array
        Young's modulus; yield strength, infinite for Euler alone. [MPa]

    Returns
    -------
    array
        C pi² E I / L² above the slenderness sqrt(2 pi² C E / S_y), else
        A (S_y - (S_y L / 2 pi k)² / (C E)), k = d / 4. [N]

    References
    ----------
    .. [1] Euler form: read. Johnson parabola: Shigley, section 4-13: from memory; form read on a
       column-design page.

    Examples
    --------
    root_diameter="0.4 in" length="36 in" end_constant=1 modulus="207 GPa" -> 1278 N
    root_diameter="0.4 in" length="150 mm" end_constant=1 modulus="207 GPa" yield="400 MPa"
    -> 26893 N
    """
    above_zero(root_diameter_mm=root_diameter_mm, length_mm=length_mm, modulus_mpa=modulus_mpa)
    diameter, length, ends, modulus, strength = np.broadcast_arrays(
        *(array(v) for v in (root_diameter_mm, length_mm, end_constant, modulus_mpa, yield_mpa))
    )
    area = pi * diameter**2 / 4.0
    slenderness = length / (diameter / 4.0)
    euler = ends * pi**2 * modulus * area / slenderness**2
    limited = np.where(np.isfinite(strength), strength, 0.0)
    johnson = area * (limited - (limited * slenderness / (2.0 * pi)) ** 2 / (ends * modulus))
    with np.errstate(divide="ignore"):
        changes_at = np.sqrt(2.0 * pi**2 * ends * modulus / limited)
    slender = (slenderness > changes_at) | (limited == 0.0)
    force: FloatArray = np.where(slender, euler, johnson)
    return force


def screw_stress_mpa(thrust_n: Floats, torque_nmm: Floats, root_diameter_mm: Floats) -> FloatArray:
    """Equivalent (von Mises) stress in a screw's core under thrust and torque. [MPa]

    Parameters
    ----------
    thrust_n, torque_nmm, root_diameter_mm : float or array
        Axial thrust, torque in the same section, core. [N, N mm, mm]

    Returns
    -------
    array
        sqrt(sigma² + 3 tau²). [MPa]

    Notes
    -----
    Notch effect of the thread left out.

    References
    ----------
    .. [1] University of Utah, ME EN 7960, slide 4-6: read.

    Examples
    --------
    thrust="2344 N" torque="414.5 N mm" root_diameter="4.6 mm" -> 146.0 MPa
    """
    above_zero(root_diameter_mm=root_diameter_mm)
    sigma = 4.0 * array(thrust_n) / (pi * array(root_diameter_mm) ** 2)
    tau = 16.0 * array(torque_nmm) / (pi * array(root_diameter_mm) ** 3)
    stress: FloatArray = np.sqrt(sigma**2 + 3.0 * tau**2)
    return stress


def changes_at_slenderness(
    end_constant: Floats, modulus_mpa: Floats, yield_mpa: Floats
) -> FloatArray:
    """Slenderness above which a rod buckles by Euler, below which by Johnson. [-]

    Parameters
    ----------
    end_constant : float or array
        C: 1/4 fixed-free, 1 supported, 2 fixed-supported, 4 fixed. [-]
    modulus_mpa, yield_mpa : float or array
        Young's modulus; yield strength. [MPa]

    Returns
    -------
    array
        L / k = sqrt(2 pi² C E / S_y), k = d / 4 of a round rod. [-]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    There both give half the yield load.

    References
    ----------
    .. [1] Shigley, section 4-13: from memory.

    Examples
    --------
    end_constant=1 modulus="207 GPa" yield="400 MPa" -> 101.07
    """
    above_zero(end_constant=end_constant, modulus_mpa=modulus_mpa, yield_mpa=yield_mpa)
    return np.sqrt(2.0 * pi**2 * array(end_constant) * array(modulus_mpa) / array(yield_mpa))


def first_root(ends: str) -> FloatArray:
    """First root of the beam frequency equation for the way a screw's ends are held. [-]

    Parameters
    ----------
    ends : {"fixed-free", "supported-supported", "fixed-supported", "fixed-fixed"}
        A plain bush or one ball bearing supports; two bearings apart, preloaded, fix.

    Returns
    -------
    array
        ``beta1`` of the table ``end_fixity``, for ``screw-limit-whip-speed``. [-]

    Raises
    ------
    ValueError
        If the ends are held in another way.

    Notes
    -----
    One catalogue takes 6 % less speed for fixed-supported than theory does.

    References
    ----------
    .. [1] Euler-Bernoulli beam: computed.

    Examples
    --------
    ends=fixed-supported -> 3.9266
    """
    return _of_ends(ends, "beta1")


def end_constant(ends: str) -> FloatArray:
    """Buckling constant for the way a screw's ends are held. [-]

    Parameters
    ----------
    ends : {"fixed-free", "supported-supported", "fixed-supported", "fixed-fixed"}
        A plain bush or one ball bearing supports; two bearings apart, preloaded, fix.

    Returns
    -------
    array
        ``euler_C`` of the table ``end_fixity``, for ``screw-limit-buckling-force``. [-]

    Raises
    ------
    ValueError
        If the ends are held in another way.

    Notes
    -----
    Handbooks take 2 for fixed-supported where theory has 2.046. One supplier prints 0.025 for
    fixed-free where 0.25 is meant.

    References
    ----------
    .. [1] Euler; handbooks' values: from memory.

    Examples
    --------
    ends=fixed-free -> 0.25
    """
    return _of_ends(ends, "euler_C")


def _of_ends(ends: str, column: str) -> FloatArray:
    for row in read_table("end_fixity"):
        if row["condition"] == ends:
            return array(float(row[column]))
    raise ValueError("no such way of holding the ends is in the table")

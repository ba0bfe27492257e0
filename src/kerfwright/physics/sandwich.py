"""Torsion boxes as sandwiches: two skins held apart by ribs."""

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array


def bending_stiffness_nmm2(
    width_mm: Floats, skin_mm: Floats, core_mm: Floats, skin_modulus_mpa: Floats
) -> FloatArray:
    """Bending stiffness D of two equal skins on a core that carries no bending. [N mm²]

    Parameters
    ----------
    width_mm, skin_mm, core_mm : float or array
        Width; thickness of one skin; height between the skins. [mm]
    skin_modulus_mpa : float or array
        Young's modulus of the skins; for a wide plate divide by 1 - v² first. [MPa]

    Returns
    -------
    array
        E b t d² / 2 + E b t³ / 6, d = core + skin. [N mm²]

    References
    ----------
    .. [1] Zenkert, sandwich handbook, and sandwich pages: read.

    Examples
    --------
    width="600 mm" skin="6 mm" core="88 mm" skin_modulus="8 GPa" -> 127411200000 N mm²
    """
    above_zero(width_mm=width_mm, skin_mm=skin_mm, core_mm=core_mm)
    skin, apart = array(skin_mm), array(core_mm) + array(skin_mm)
    per_width = skin * apart**2 / 2.0 + skin**3 / 6.0
    return array(skin_modulus_mpa) * array(width_mm) * per_width


def shear_stiffness_n(
    width_mm: Floats, skin_mm: Floats, core_mm: Floats, core_shear_modulus_mpa: Floats
) -> FloatArray:
    """Shear stiffness U of the core. [N]

    Parameters
    ----------
    width_mm, skin_mm, core_mm : float or array
        Width; thickness of one skin; height between the skins. [mm]
    core_shear_modulus_mpa : float or array
        Of the core: ``sandwich-ribbed-core-shear``. [MPa]

    Returns
    -------
    array
        G b d² / c, d = core + skin. [N]

    Raises
    ------
    ValueError
        If a length is not above 0.

    References
    ----------
    .. [1] Zenkert, sandwich handbook, and sandwich pages: read.

    Examples
    --------
    width="600 mm" skin="6 mm" core="88 mm" core_shear_modulus="60 MPa" -> 3614727 N
    """
    above_zero(width_mm=width_mm, skin_mm=skin_mm, core_mm=core_mm)
    apart = array(core_mm) + array(skin_mm)
    return array(core_shear_modulus_mpa) * array(width_mm) * apart**2 / array(core_mm)


def ribbed_core_shear_mpa(
    rib_shear_modulus_mpa: Floats, rib_mm: Floats, spacing_mm: Floats
) -> FloatArray:
    """Shear modulus of a ribbed core along one set of ribs, glued to both skins. [MPa]

    Parameters
    ----------
    rib_shear_modulus_mpa : float or array
        Of the ribs' material. [MPa]
    rib_mm, spacing_mm : float or array
        Thickness of a rib; from rib to rib. [mm]

    Returns
    -------
    array
        G t / s. [MPa]

    Raises
    ------
    ValueError
        If a length is not above 0.

    Notes
    -----
    Ribs smeared over the width. Joints that slip or gape give far less.

    References
    ----------
    .. [1] Smeared ribs: from memory.

    Examples
    --------
    rib_shear_modulus="600 MPa" rib="12 mm" spacing="120 mm" -> 60 MPa
    """
    above_zero(rib_mm=rib_mm, spacing_mm=spacing_mm)
    return array(rib_shear_modulus_mpa) * array(rib_mm) / array(spacing_mm)


def mid_sag_mm(
    force_n: Floats, length_mm: Floats, bending_nmm2: Floats, shear_n: Floats
) -> FloatArray:
    """Sag of a simply supported sandwich strip under a force in the middle. [mm]

    Parameters
    ----------
    force_n, length_mm : float or array
        Force; span. [N, mm]
    bending_nmm2, shear_n : float or array
        D of ``sandwich-bending-stiffness``; U of ``sandwich-shear-stiffness``. [N mm², N]

    Returns
    -------
    array
        P L³ / 48 D + P L / 4 U. [mm]

    Raises
    ------
    ValueError
        If a length or stiffness is not above 0.

    Notes
    -----
    The skin's own dent under the force comes on top: ``sandwich-skin-dent``.

    References
    ----------
    .. [1] Zenkert, sandwich handbook, and sandwich pages: read.

    Examples
    --------
    force="500 N" length="1.2 m" bending="127411 N m2" shear="3614730 N" -> 0.1828 mm
    """
    above_zero(length_mm=length_mm, bending_nmm2=bending_nmm2, shear_n=shear_n)
    force, length = array(force_n), array(length_mm)
    return force * length**3 / (48.0 * array(bending_nmm2)) + force * length / (
        4.0 * array(shear_n)
    )


def skin_dent_mm(
    force_n: Floats,
    rib_spacing_mm: Floats,
    skin_mm: Floats,
    skin_modulus_mpa: Floats,
    poisson: Floats = 0.3,
    clamped: bool = True,
) -> FloatArray:
    """How far a force dents one skin in the middle of a square cell between ribs. [mm]

    Parameters
    ----------
    force_n, rib_spacing_mm, skin_mm, skin_modulus_mpa : float or array
        Force, clear side of the cell, thickness, Young's modulus. [N, mm, mm, MPa]
    poisson : float or array
        Poisson's ratio of the skin. [-]
    clamped : bool
        Whether the skin is held level at the ribs (0.0056) or only held down (0.0116).

    Returns
    -------
    array
        k P s² / D, D = E t³ / 12 (1 - v²). [mm]

    References
    ----------
    .. [1] Square plate with a force in the middle: Timoshenko, Theory of Plates and Shells,
       factors from memory.

    Examples
    --------
    force="200 N" rib_spacing="100 mm" skin="6 mm" skin_modulus="3590 MPa" -> 0.158 mm
    force="200 N" rib_spacing="100 mm" skin="12 mm" skin_modulus="3590 MPa" -> 0.020 mm
    """
    above_zero(rib_spacing_mm=rib_spacing_mm, skin_mm=skin_mm, skin_modulus_mpa=skin_modulus_mpa)
    plate = array(skin_modulus_mpa) * array(skin_mm) ** 3 / (12.0 * (1.0 - array(poisson) ** 2))
    return (0.0056 if clamped else 0.0116) * array(force_n) * array(rib_spacing_mm) ** 2 / plate

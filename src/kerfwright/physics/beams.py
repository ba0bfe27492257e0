"""Straight beams under one force or an even load; their shear and twist."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse


def supported_mid_mm(
    force_n: Floats, length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats
) -> FloatArray:
    """Sag under a force in the middle of a simply supported beam. [mm]

    Parameters
    ----------
    force_n : float or array
        Where it acts. [N]
    length_mm : float or array
        Of the beam. [mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus; second moment of area. [MPa, mm⁴]

    Returns
    -------
    array
        F L³ / 48 E I. [mm]

    Raises
    ------
    ValueError
        If a length, modulus or second moment is not above 0.

    Notes
    -----
    Small deflections; shear left out: add ``beam-shear-mid`` below ten depths of span.

    References
    ----------
    .. [1] Roark, table 8.1; Machinery's Handbook: mid-span forms read, others from memory.

    Examples
    --------
    force="100 N" length="900 mm" modulus="69 GPa" second_moment="558530 mm4" -> 0.03941 mm
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
    """Sag under a force anywhere on a simply supported beam, where it acts. [mm]

    Parameters
    ----------
    force_n : float or array
        Where it acts. [N]
    at_mm : float or array
        From one support to the force. [mm]
    length_mm : float or array
        Of the beam. [mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus; second moment of area. [MPa, mm⁴]

    Returns
    -------
    array
        F a² b² / 3 E I L, b = L - a. [mm]

    Raises
    ------
    ValueError
        If the force does not act on the beam, or a length, modulus or second moment is not above 0.

    Notes
    -----
    Small deflections; shear left out: add ``beam-shear-mid`` below ten depths of span.

    References
    ----------
    .. [1] Roark, table 8.1; Machinery's Handbook: mid-span forms read, others from memory.

    Examples
    --------
    force="100 N" at="300 mm" length="900 mm" modulus="69 GPa"
    second_moment="558530 mm4" -> 0.03114 mm
    """
    _check(length_mm, modulus_mpa, second_moment_mm4)
    at, rest = array(at_mm), array(length_mm) - array(at_mm)
    refuse((at < 0.0) | (rest < 0.0), "the force must act on the beam")
    bend = array(modulus_mpa) * array(second_moment_mm4)
    return array(force_n) * at**2 * rest**2 / (3.0 * bend * array(length_mm))


def supported_between_mm(
    force_n: Floats,
    at_mm: Floats,
    read_mm: Floats,
    length_mm: Floats,
    modulus_mpa: Floats,
    second_moment_mm4: Floats,
) -> FloatArray:
    """Sag of a simply supported beam at one place under a force at another. [mm]

    Parameters
    ----------
    force_n : float or array
        Across the beam. [N]
    at_mm, read_mm : float or array
        From one support to the force, and to where it is read. [mm]
    length_mm : float or array
        Of the beam. [mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus; second moment of area. [MPa, mm⁴]

    Returns
    -------
    array
        F b x (L² - b² - x²) / 6 E I L, x from the support on the side where it is read, b from the
        other to the force. [mm]

    Raises
    ------
    ValueError
        If a place is not on the beam, or a length, modulus or second moment is not above 0.

    Notes
    -----
    The same with force and reading exchanged. Small deflections; shear left out.

    References
    ----------
    .. [1] Roark, table 8.1: from memory.

    Examples
    --------
    force="100 N" at="300 mm" read="450 mm" length="900 mm" modulus="69 GPa"
    second_moment="558530 mm4" -> 0.03357 mm
    """
    _check(length_mm, modulus_mpa, second_moment_mm4)
    length, at, read = array(length_mm), array(at_mm), array(read_mm)
    refuse((at < 0.0) | (at > length) | (read < 0.0) | (read > length), "a place off the beam")
    near, far = np.minimum(at, read), length - np.maximum(at, read)
    bend = array(modulus_mpa) * array(second_moment_mm4)
    sag = array(force_n) * far * near * (length**2 - far**2 - near**2) / (6.0 * bend * length)
    return np.asarray(sag)


def clamped_mid_mm(
    force_n: Floats, length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats
) -> FloatArray:
    """Sag under a force in the middle of a beam clamped at both ends. [mm]

    Parameters
    ----------
    force_n : float or array
        Where it acts. [N]
    length_mm : float or array
        Of the beam. [mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus; second moment of area. [MPa, mm⁴]

    Returns
    -------
    array
        F L³ / 192 E I. [mm]

    Raises
    ------
    ValueError
        If a length, modulus or second moment is not above 0.

    Notes
    -----
    Small deflections; shear left out: add ``beam-shear-mid`` below ten depths of span.

    References
    ----------
    .. [1] Roark, table 8.1; Machinery's Handbook: mid-span forms read, others from memory.

    Examples
    --------
    force="100 N" length="900 mm" modulus="69 GPa" second_moment="558530 mm4" -> 0.009852 mm
    """
    _check(length_mm, modulus_mpa, second_moment_mm4)
    return (
        array(force_n)
        * array(length_mm) ** 3
        / (192.0 * array(modulus_mpa) * array(second_moment_mm4))
    )


def cantilever_end_mm(
    force_n: Floats, length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats
) -> FloatArray:
    """Sag at the end of a cantilever under a force there. [mm]

    Parameters
    ----------
    force_n : float or array
        Where it acts. [N]
    length_mm : float or array
        Of the beam. [mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus; second moment of area. [MPa, mm⁴]

    Returns
    -------
    array
        F L³ / 3 E I. [mm]

    Raises
    ------
    ValueError
        If a length, modulus or second moment is not above 0.

    Notes
    -----
    Small deflections; shear left out: add ``beam-shear-mid`` below ten depths of span.

    References
    ----------
    .. [1] Roark, table 8.1; Machinery's Handbook: mid-span forms read, others from memory.

    Examples
    --------
    force="50 N" length="40 mm" modulus="600 GPa" second_moment="79.81 mm4" -> 0.02228 mm
    """
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
    """Greatest sag under an even load. [mm]

    Parameters
    ----------
    load_n_per_mm : float or array
        For each mm of length. [N/mm]
    length_mm : float or array
        Of the beam. [mm]
    modulus_mpa, second_moment_mm4 : float or array
        Young's modulus; second moment of area. [MPa, mm⁴]
    ends : {"supported", "clamped", "cantilever"}
        How the beam is held.

    Returns
    -------
    array
        5 w L⁴ / 384 E I, w L⁴ / 384 E I or w L⁴ / 8 E I. [mm]

    Raises
    ------
    ValueError
        If a length, modulus or second moment is not above 0, or the ends are others.

    Notes
    -----
    Small deflections; shear left out: add ``beam-shear-mid`` below ten depths of span.

    References
    ----------
    .. [1] Roark, table 8.1; Machinery's Handbook: mid-span forms read, others from memory.

    Examples
    --------
    load="0.1 N/mm" length="900 mm" modulus="69 GPa" second_moment="558530 mm4" -> 0.02217 mm
    load="0.1 N/mm" length="900 mm" modulus="69 GPa" second_moment="558530 mm4" ends=clamped
    -> 0.004433 mm
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
    """Sag by shear under a force in the middle. [mm]

    Parameters
    ----------
    force_n, length_mm : float or array
        Force; span. [N, mm]
    shear_modulus_mpa, area_mm2 : float or array
        Of the material; of the section. [MPa, mm²]
    shear_share : float or array
        k: ``beam-rectangle-shear-share``, about 0.5 for a thin box. [-]

    Returns
    -------
    array
        F L / 4 k G A. [mm]

    Raises
    ------
    ValueError
        If a length, modulus, area or share is not above 0.

    Notes
    -----
    Needed below ten depths of span, and for sandwiches.

    References
    ----------
    .. [1] Timoshenko beam; notes of an open beam code: read.

    Examples
    --------
    force="125 kN" length="7 m" shear_modulus="76.923 GPa" area="72000 mm2" shear_share=0.85034
    -> 0.0464 mm
    """
    above_zero(length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa, area_mm2=area_mm2)
    stiff = array(shear_share) * array(shear_modulus_mpa) * array(area_mm2)
    return array(force_n) * array(length_mm) / (4.0 * stiff)


def rectangle_shear_share(poisson: Floats) -> FloatArray:
    """Share of a solid rectangle's area that carries shear. [-]

    Parameters
    ----------
    poisson : float or array
        Poisson's ratio of the material. [-]

    Returns
    -------
    array
        10 (1 + v) / (12 + 11 v). [-]

    References
    ----------
    .. [1] Cowper; notes of an open beam code: read.

    Examples
    --------
    poisson=0.3 -> 0.8497
    """
    return 10.0 * (1.0 + array(poisson)) / (12.0 + 11.0 * array(poisson))


def twist_rad(
    torque_nmm: Floats,
    at_mm: Floats,
    length_mm: Floats,
    shear_modulus_mpa: Floats,
    torsion_mm4: Floats,
) -> FloatArray:
    """Twist where a torque acts on a bar held at both ends. [rad]

    Parameters
    ----------
    torque_nmm : float or array
        Where it acts. [N mm]
    at_mm, length_mm : float or array
        From one end to the torque; of the bar. [mm]
    shear_modulus_mpa, torsion_mm4 : float or array
        Of the material; torsion constant of the section. [MPa, mm⁴]

    Returns
    -------
    array
        T a b / (G J L), b = L - a: in the middle T L / 4 G J. [rad]

    Raises
    ------
    ValueError
        If the torque does not act on the bar, or a value is not above 0.

    Notes
    -----
    Ends may warp: right for closed sections, too soft for thick bars built in.

    References
    ----------
    .. [1] Two shafts in parallel: statics.

    Examples
    --------
    torque="10 N m" at="450 mm" length="900 mm" shear_modulus="26 GPa" torsion="427200 mm4"
    -> 0.00020257 rad
    """
    above_zero(length_mm=length_mm, shear_modulus_mpa=shear_modulus_mpa, torsion_mm4=torsion_mm4)
    at, rest = array(at_mm), array(length_mm) - array(at_mm)
    refuse((at < 0.0) | (rest < 0.0), "the torque must act on the bar")
    stiff = array(shear_modulus_mpa) * array(torsion_mm4)
    return array(torque_nmm) * at * rest / (stiff * array(length_mm))


def _check(length_mm: Floats, modulus_mpa: Floats, second_moment_mm4: Floats) -> None:
    above_zero(length_mm=length_mm, modulus_mpa=modulus_mpa, second_moment_mm4=second_moment_mm4)

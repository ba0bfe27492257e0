"""Timing belts: travel, stiffness of a carriage, the pull at which a span goes slack."""

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse


def lead_mm(pitch_mm: Floats, teeth: Floats) -> FloatArray:
    """Travel in one turn of a belt's pulley. [mm]

    Parameters
    ----------
    pitch_mm : float or array
        From tooth to tooth of the belt. [mm]
    teeth : float or array
        Of the pulley. [-]

    Returns
    -------
    array
        p z. [mm]

    References
    ----------
    .. [1] Arithmetic.

    Examples
    --------
    pitch="2 mm" teeth=20 -> 40 mm
    """
    above_zero(pitch_mm=pitch_mm, teeth=teeth)
    return array(pitch_mm) * array(teeth)


def span_stiffness_n_per_mm(
    specific_stiffness_n_per_mm: Floats, width_mm: Floats, length_mm: Floats
) -> FloatArray:
    """One taut span of belt, pulled along. [N/mm]

    Parameters
    ----------
    specific_stiffness_n_per_mm : float or array
        Pull for each mm of width and unit strain. [N/mm]
    width_mm, length_mm : float or array
        Of the belt; of the span. [mm]

    Returns
    -------
    array
        c b / L. [N/mm]

    Notes
    -----
    Teeth in mesh and the pulley's shaft give as well and are left out.

    References
    ----------
    .. [1] Gates Mectrol, Timing Belt Theory: existence and scope read, formula from memory.

    Examples
    --------
    specific_stiffness="6000 N/mm" width="10 mm" length="1 m" -> 60 N/mm
    """
    above_zero(
        specific_stiffness_n_per_mm=specific_stiffness_n_per_mm,
        width_mm=width_mm,
        length_mm=length_mm,
    )
    return array(specific_stiffness_n_per_mm) * array(width_mm) / array(length_mm)


def open_stiffness_n_per_mm(
    specific_stiffness_n_per_mm: Floats, width_mm: Floats, at_mm: Floats, length_mm: Floats
) -> FloatArray:
    """Carriage that carries its motor along a belt clamped at both ends. [N/mm]

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

    Raises
    ------
    ValueError
        If the carriage does not stand between the clamps.

    Notes
    -----
    Both spans taut: below ``belt-slack-force``.

    References
    ----------
    .. [1] Gates Mectrol, Timing Belt Theory: existence and scope read, formula from memory.

    Examples
    --------
    specific_stiffness="6000 N/mm" width="10 mm" at="0.5 m" length="1 m" -> 240 N/mm
    """
    above_zero(specific_stiffness_n_per_mm=specific_stiffness_n_per_mm, width_mm=width_mm)
    rest = array(length_mm) - array(at_mm)
    refuse((array(at_mm) <= 0.0) | (rest <= 0.0), "the carriage must stand between the clamps")
    pull = array(specific_stiffness_n_per_mm) * array(width_mm)
    return pull * (1.0 / array(at_mm) + 1.0 / rest)


def looped_stiffness_n_per_mm(
    specific_stiffness_n_per_mm: Floats, width_mm: Floats, at_mm: Floats, length_mm: Floats
) -> FloatArray:
    """Carriage on a belt loop, its motor fixed at one end and an idler at the other. [N/mm]

    Parameters
    ----------
    specific_stiffness_n_per_mm, width_mm : float or array
        Pull for each mm of width and unit strain; width of the belt. [N/mm, mm]
    at_mm, length_mm : float or array
        Carriage from the motor's pulley; between pulley and idler. [mm]

    Returns
    -------
    array
        c b (1 / x + 1 / (2 L - x)), least at the far end. [N/mm]

    Raises
    ------
    ValueError
        If the carriage does not stand on the loop.

    Notes
    -----
    Both spans taut: below ``belt-slack-force`` with the loop's length 2 L.

    References
    ----------
    .. [1] Two springs from the pulley to the carriage, one round the idler: derived here.

    Examples
    --------
    specific_stiffness="6000 N/mm" width="10 mm" at="1 m" length="1 m" -> 120 N/mm
    specific_stiffness="6000 N/mm" width="10 mm" at="0.5 m" length="1 m" -> 160 N/mm
    """
    above_zero(specific_stiffness_n_per_mm=specific_stiffness_n_per_mm, width_mm=width_mm)
    rest = 2.0 * array(length_mm) - array(at_mm)
    refuse((array(at_mm) <= 0.0) | (rest <= 0.0), "the carriage must stand on the loop")
    pull = array(specific_stiffness_n_per_mm) * array(width_mm)
    return pull * (1.0 / array(at_mm) + 1.0 / rest)


def slack_force_n(preload_n: Floats, pulling_mm: Floats, slackening_mm: Floats) -> FloatArray:
    """Pull on the carriage at which the slackening span has no tension left. [N]

    Parameters
    ----------
    preload_n : float or array
        Tension of the belt without load. [N]
    pulling_mm, slackening_mm : float or array
        Length of the span that takes the load up; of the one that loses it. [mm]

    Returns
    -------
    array
        T (k1 + k2) / k2 = T (L1 + L2) / L1. [N]

    Notes
    -----
    Beyond it one span alone holds the carriage, and teeth may climb.

    References
    ----------
    .. [1] Two preloaded springs side by side: derived here.

    Examples
    --------
    preload="60 N" pulling="500 mm" slackening="1500 mm" -> 240 N
    """
    not_below_zero(preload_n=preload_n)
    above_zero(pulling_mm=pulling_mm, slackening_mm=slackening_mm)
    whole = array(pulling_mm) + array(slackening_mm)
    return array(preload_n) * whole / array(pulling_mm)

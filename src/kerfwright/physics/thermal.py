"""How warmth changes lengths."""

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array


def growth_mm(length_mm: Floats, rise_degc: Floats, expansion_per_k: Floats) -> FloatArray:
    """How much longer a part gets when it warms up. [mm]

    Parameters
    ----------
    length_mm : float or array
        Of the part. [mm]
    rise_degc : float or array
        In temperature; below 0 when it cools. [°C]
    expansion_per_k : float or array
        11.7e-6 for steel, 23.6e-6 for aluminium. [1/K]

    Returns
    -------
    array
        a L dT. [mm]

    Raises
    ------
    ValueError
        If the length is not above 0.

    References
    ----------
    .. [1] Physics; coefficients of the table ``materials``: from memory.

    Examples
    --------
    length="1 m" rise="10 degC" expansion="11.7e-6 1/K" -> 0.117 mm
    length="1 m" rise="10 degC" expansion="23.6e-6 1/K" -> 0.236 mm
    """
    above_zero(length_mm=length_mm)
    return array(expansion_per_k) * array(length_mm) * array(rise_degc)


def scales_apart_mm(
    length_mm: Floats, rise_degc: Floats, expansion_per_k: Floats, other_per_k: Floats
) -> FloatArray:
    """By how much two parts of one length grow apart. [mm]

    Parameters
    ----------
    length_mm : float or array
        Of both. [mm]
    rise_degc : float or array
        In temperature, of both. [°C]
    expansion_per_k, other_per_k : float or array
        Of the one and of the other: screw and beam, or scale and part. [1/K]

    Returns
    -------
    array
        (a1 - a2) L dT. [mm]

    Raises
    ------
    ValueError
        If the length is not above 0.

    References
    ----------
    .. [1] Physics.

    Examples
    --------
    length="1 m" rise="10 degC" expansion="23.6e-6 1/K" other="11.7e-6 1/K" -> 0.119 mm
    """
    return growth_mm(length_mm, rise_degc, array(expansion_per_k) - array(other_per_k))

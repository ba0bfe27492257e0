"""What hangs freely between two places: a hose or a cable as a chain without stiffness."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse

_ROUNDS = 60
_LEAST = 1e-9


def lowest_mm(
    length_mm: Floats, apart_mm: Floats, rise_mm: Floats
) -> tuple[FloatArray, FloatArray]:
    """Lowest place of a chain that hangs between two ends. [mm]

    Parameters
    ----------
    length_mm : float or array
        Of the chain, longer than the straight line between its ends. [mm]
    apart_mm : float or array
        Of the ends, along the floor. [mm]
    rise_mm : float or array
        Of the second end above the first; below 0 where it lies lower. [mm]

    Returns
    -------
    depth_mm, along_mm : array
        How far the lowest place lies below the first end, and how far from it along the floor. With
        L the length, h and v the ends apart and v the rise: sinh(u) / u = sqrt(L^2 - v^2) / h,
        a = h / (2 u), lowest at x = h / 2 - a asinh(v / (2 a sinh(u))), a (cosh(x / a) - 1) below;
        where x lies beyond an end, that end is lowest.

    Raises
    ------
    ValueError
        If the chain does not reach.

    Notes
    -----
    A hose with ribs or wire is stiff, and stands out higher than a chain.

    References
    ----------
    .. [1] The catenary: textbook, from memory; derived here for ends at two heights.

    Examples
    --------
    length="2.3504 m" apart="2 m" rise="0 mm" -> depth 543.1 mm, along 1000 mm
    """
    above_zero(length_mm=length_mm)
    length, rise = array(length_mm), array(rise_mm)
    apart = np.maximum(array(apart_mm), _LEAST * length)
    refuse(length <= np.hypot(apart, rise), "the chain must be longer than its ends lie apart")
    ratio = np.sqrt(length**2 - rise**2) / apart
    # sinh(u) / u = ratio, by Newton in the logarithm: ln sinh(u) - ln u rises steadily.
    u = np.where(ratio < 3.0, np.sqrt(6.0 * (ratio - 1.0)), np.log(2.0 * ratio * np.log(ratio + 2)))
    u = np.maximum(u, 1e-6)
    for _ in range(_ROUNDS):
        log_sinh = u + np.log(-np.expm1(-2.0 * u)) - np.log(2.0)
        step = (log_sinh - np.log(u) - np.log(ratio)) / (1.0 / np.tanh(u) - 1.0 / u)
        u = np.maximum(u - step, 0.2 * u)
    a = apart / (2.0 * u)
    x = 0.5 * apart - a * np.arcsinh(rise / np.sqrt(length**2 - rise**2))
    inside = np.clip(x, 0.0, apart)
    # a (cosh(x/a) - 1) as a product of sines, which neither cancels nor overflows for a long slack.
    depth = np.where(x <= 0.0, 0.0, 2.0 * a * np.sinh(np.minimum(x / (2.0 * a), 300.0)) ** 2)
    return np.where(x >= apart, -rise, depth), inside

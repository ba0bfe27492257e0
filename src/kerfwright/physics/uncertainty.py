"""Uncertainty of a measurement, by the GUM (JCGM 100:2008)."""

from math import sqrt

import numpy as np
from numpy.typing import NDArray

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse

#: Half width of a spread over its standard uncertainty.
_DIVISORS = {"rectangular": sqrt(3.0), "triangular": sqrt(6.0), "arcsine": sqrt(2.0)}


def of_readings_mm(readings_mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mean of repeated readings, their scatter, and the standard uncertainty of the mean. [mm]

    Parameters
    ----------
    readings_mm : array (..., n)
        At least two. [mm]

    Returns
    -------
    mean_mm, scatter_mm, standard_mm : array
        Mean; standard deviation s with n - 1; s / sqrt(n) with n - 1 degrees of freedom.

    Raises
    ------
    ValueError
        If there are fewer than two readings.

    Notes
    -----
    With five readings twice the uncertainty covers 88 %, not 95: take
    ``uncertainty-coverage-factor``.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2: from memory.

    Examples
    --------
    readings="[100.02, 100.05, 99.98, 100.01, 100.03] mm" -> mean 100.018 mm, scatter 0.02588 mm,
    standard 0.01158 mm
    """
    readings = array(readings_mm)
    refuse(readings.ndim == 0 or readings.shape[-1] < 2, "at least two readings are needed")
    scatter = np.asarray(readings.std(axis=-1, ddof=1))
    return np.asarray(readings.mean(axis=-1)), scatter, scatter / sqrt(readings.shape[-1])


def of_spread_mm(half_width_mm: Floats, form: str = "rectangular") -> FloatArray:
    """Standard uncertainty of a value known only between two limits. [mm]

    Parameters
    ----------
    half_width_mm : float or array
        From the middle to either limit. [mm]
    form : {"rectangular", "triangular", "arcsine"}
        No value likelier; the middle likeliest; the ends likeliest.

    Returns
    -------
    array
        a / sqrt(3), a / sqrt(6) or a / sqrt(2). [mm]

    Raises
    ------
    ValueError
        If the half width is below 0, or the form another.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3: from memory.

    Examples
    --------
    half_width="0.03 mm" -> 0.01732 mm
    half_width="0.03 mm" form=triangular -> 0.01225 mm
    """
    not_below_zero(half_width_mm=half_width_mm)
    if form not in _DIVISORS:
        raise ValueError(f"form must be one of {', '.join(_DIVISORS)}")
    return array(half_width_mm) / _DIVISORS[form]


def of_resolution_mm(step_mm: Floats) -> FloatArray:
    """Standard uncertainty of reading a scale to its step. [mm]

    Parameters
    ----------
    step_mm : float or array
        Of the scale or the last digit. [mm]

    Returns
    -------
    array
        d / (2 sqrt(3)). [mm]

    Raises
    ------
    ValueError
        If the step is below 0.

    References
    ----------
    .. [1] JCGM 100:2008, F.2.2.1: from memory.

    Examples
    --------
    step="0.01 mm" -> 0.00289 mm
    """
    not_below_zero(step_mm=step_mm)
    return array(step_mm) / (2.0 * sqrt(3.0))


def combined_mm(standard_mm: FloatArray, sensitivity: Floats = 1.0) -> FloatArray:
    """Standard uncertainty of a result from those of what goes into it. [mm]

    Parameters
    ----------
    standard_mm : array (..., k)
        Of each input. [mm]
    sensitivity : float or array (..., k)
        Change of the result for each unit of the input; 1 for a sum. [-]

    Returns
    -------
    array
        Root of the sum of (c u)². [mm]

    Raises
    ------
    ValueError
        If an uncertainty is below 0.

    Notes
    -----
    Inputs without a common cause. Those with one add with their signs: ``error-budget-mixed``.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1: from memory.

    Examples
    --------
    standard="[0.0029, 0.0100, 0.0069] mm" -> 0.01249 mm
    """
    not_below_zero(standard_mm=standard_mm)
    parts = array(standard_mm) * array(sensitivity)
    return np.asarray(np.sqrt((parts**2).sum(axis=-1)))


def effective_freedom(standard_mm: FloatArray, freedom: FloatArray) -> FloatArray:
    """Degrees of freedom of a combined uncertainty. [-]

    Parameters
    ----------
    standard_mm : array (..., k)
        Of each input, its sensitivity counted. [mm]
    freedom : array (..., k)
        Of each: readings less one; very large where it is well known. [-]

    Returns
    -------
    array
        u_c⁴ / sum(u⁴ / v). [-]

    Raises
    ------
    ValueError
        If an uncertainty is below 0 or a freedom not above 0, or all uncertainties are 0.

    Notes
    -----
    Cut down to a whole number before the coverage factor is looked up.

    References
    ----------
    .. [1] Welch-Satterthwaite, JCGM 100:2008, G.4: from memory.

    Examples
    --------
    standard="[0.25, 0.57, 0.82] mm" freedom="[9, 4, 14]" -> 19.0
    """
    not_below_zero(standard_mm=standard_mm)
    above_zero(freedom=freedom)
    standard = array(standard_mm)
    whole = (standard**2).sum(axis=-1)
    refuse(whole == 0.0, "all uncertainties are 0")
    return np.asarray(whole**2 / (standard**4 / array(freedom)).sum(axis=-1))


def coverage_factor(freedom: Floats, coverage: Floats = 0.95) -> FloatArray:
    """By how much to multiply a standard uncertainty so that it covers a share. [-]

    Parameters
    ----------
    freedom : float or array
        Degrees of freedom. [-]
    coverage : float or array
        Nineteen times in twenty: 0.95. [-]

    Returns
    -------
    array
        Student's t. [-]

    Raises
    ------
    ValueError
        If the freedom is not above 0, or the coverage not between 0 and 1.

    References
    ----------
    .. [1] JCGM 100:2008, G.3 and table G.2: from memory.

    Examples
    --------
    freedom=4 -> 2.776
    freedom=50 -> 2.01
    """
    from scipy.special import stdtrit

    above_zero(freedom=freedom)
    wanted = array(coverage)
    refuse(~((wanted > 0.0) & (wanted < 1.0)), "coverage must lie between 0 and 1")
    return np.asarray(stdtrit(array(freedom), 0.5 + 0.5 * wanted))


def accepts(error_mm: Floats, expanded_mm: Floats, tolerance_mm: Floats) -> NDArray[np.bool_]:
    """Whether a measured error is surely within its tolerance.

    Parameters
    ----------
    error_mm : float or array
        Measured. [mm]
    expanded_mm : float or array
        Expanded uncertainty of the measurement. [mm]
    tolerance_mm : float or array
        Allowed either way. [mm]

    Returns
    -------
    array of bool
        abs(error) + U <= tolerance.

    Raises
    ------
    ValueError
        If the uncertainty or the tolerance is below 0.

    References
    ----------
    .. [1] ISO 14253-1: from memory.

    Examples
    --------
    error="0.07 mm" expanded="0.02 mm" tolerance="0.1 mm" -> yes
    error="0.09 mm" expanded="0.02 mm" tolerance="0.1 mm" -> no
    """
    not_below_zero(expanded_mm=expanded_mm, tolerance_mm=tolerance_mm)
    return np.asarray(np.abs(array(error_mm)) + array(expanded_mm) <= array(tolerance_mm))

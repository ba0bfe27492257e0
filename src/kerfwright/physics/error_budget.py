"""Errors of many parts taken together, and a total shared out among parts."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero


def worst_mm(errors_mm: FloatArray) -> FloatArray:
    """All errors at their worst, in one direction. [mm]

    Parameters
    ----------
    errors_mm : array (..., k)
        Of the parts. [mm]

    Returns
    -------
    array
        Sum of the sizes. [mm]

    References
    ----------
    .. [1] A. H. Slocum, Precision Machine Design (1992), ch. 2: from memory; a teaching page: read.

    Examples
    --------
    errors="[12, 5, 8, 20, 3] um" -> 0.048 mm
    """
    return np.asarray(np.abs(array(errors_mm)).sum(axis=-1))


def root_sum_mm(errors_mm: FloatArray) -> FloatArray:
    """Errors that have nothing to do with one another. [mm]

    Parameters
    ----------
    errors_mm : array (..., k)
        Of the parts, each with the same confidence. [mm]

    Returns
    -------
    array
        Square root of the sum of squares. [mm]

    Notes
    -----
    Too small where parts share a cause: one temperature, one square, one pair of hands.

    References
    ----------
    .. [1] As ``error-budget-worst``.

    Examples
    --------
    errors="[12, 5, 8, 20, 3] um" -> 0.02534 mm
    """
    return np.asarray(np.sqrt((array(errors_mm) ** 2).sum(axis=-1)))


def between_mm(errors_mm: FloatArray) -> FloatArray:
    """A usual estimate for a machine: half way between the worst and the root sum. [mm]

    Parameters
    ----------
    errors_mm : array (..., k)
        Of the parts. [mm]

    Returns
    -------
    array
        (sum + root of the sum of squares) / 2. [mm]

    References
    ----------
    .. [1] As ``error-budget-worst``.

    Examples
    --------
    errors="[12, 5, 8, 20, 3] um" -> 0.03667 mm
    """
    return 0.5 * (worst_mm(errors_mm) + root_sum_mm(errors_mm))


def mixed_mm(systematic_mm: FloatArray, random_mm: FloatArray) -> FloatArray:
    """Systematic errors with their signs, and random ones on top. [mm]

    Parameters
    ----------
    systematic_mm : array (..., k)
        Each with its sign: they may cancel. [mm]
    random_mm : array (..., n)
        Half widths of one confidence. [mm]

    Returns
    -------
    array
        Size of the sum, and the root sum of the random ones. [mm]

    References
    ----------
    .. [1] ISO/TR 230-9: from memory.

    Examples
    --------
    systematic="[20, -12, 5] um" random="[3, 4] um" -> 0.018 mm
    """
    return np.asarray(np.abs(array(systematic_mm).sum(axis=-1)) + root_sum_mm(random_mm))


def shared_out_mm(total_mm: Floats, parts: Floats) -> tuple[FloatArray, FloatArray, FloatArray]:
    """What each of equal, independent parts may err for a total. [mm]

    Parameters
    ----------
    total_mm : float or array
        Allowed for the whole. [mm]
    parts : float or array
        How many. [-]

    Returns
    -------
    worst_mm, root_sum_mm, between_mm : array
        T / N, T / sqrt(N), and half way between.

    Raises
    ------
    ValueError
        If the total is below 0, or there are no parts.

    References
    ----------
    .. [1] A teaching page on error budgets: read.

    Examples
    --------
    total="100 um" parts=4 -> worst 0.025 mm, root_sum 0.05 mm, between 0.0375 mm
    """
    not_below_zero(total_mm=total_mm)
    above_zero(parts=parts)
    worst = array(total_mm) / array(parts)
    root = array(total_mm) / np.sqrt(array(parts))
    return worst, root, 0.5 * (worst + root)

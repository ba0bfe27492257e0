"""Positioning of one axis by ISO 230-2:2014: targets approached several times from both sides."""

import numpy as np

from kerfwright.physics.domain import FloatArray, array, refuse


def at_targets_mm(
    up_mm: FloatArray, down_mm: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """What each target shows: means, scatter, reversal, repeatability. [mm]

    Parameters
    ----------
    up_mm, down_mm : array (..., m, n)
        Actual less target, of m targets approached n times upwards and downwards. [mm]

    Returns
    -------
    mean_up_mm, mean_down_mm, scatter_up_mm, scatter_down_mm, reversal_mm, repeatability_mm : array
        (..., m). Scatter with n - 1; reversal B_i = mean up less mean down; repeatability R_i =
        max(2 s up + 2 s down + abs(B_i); 4 s up; 4 s down).

    Raises
    ------
    ValueError
        If the tables differ in shape, or a target was approached once only.

    References
    ----------
    .. [1] ISO 230-2:2014: from memory; agrees with an open test report (Paul Scherrer Institute,
       2023, read) to the digits printed.

    Examples
    --------
    up="[[0.010, 0.012], [0.020, 0.020]] mm" down="[[0.000, 0.002], [0.012, 0.014]] mm" ->
    mean_up [0.011, 0.020] mm, mean_down [0.001, 0.013] mm, scatter_up [0.001414, 0] mm,
    scatter_down [0.001414, 0.001414] mm, reversal [0.01, 0.007] mm,
    repeatability [0.01566, 0.009828] mm
    """
    up, down = array(up_mm), array(down_mm)
    refuse(up.shape != down.shape or up.ndim < 2, "both ways need the same targets and approaches")
    refuse(up.shape[-1] < 2, "each target must be approached at least twice from each side")
    mean_up, mean_down = up.mean(axis=-1), down.mean(axis=-1)
    s_up, s_down = up.std(axis=-1, ddof=1), down.std(axis=-1, ddof=1)
    reversal = mean_up - mean_down
    both = 2.0 * s_up + 2.0 * s_down + np.abs(reversal)
    repeat = np.maximum(both, 4.0 * np.maximum(s_up, s_down))
    return mean_up, mean_down, s_up, s_down, reversal, repeat


def axis_mm(
    up_mm: FloatArray, down_mm: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Reversal, repeatability, systematic deviation and accuracy of an axis, both ways. [mm]

    Parameters
    ----------
    up_mm, down_mm : array (..., m, n)
        Actual less target, of m targets approached n times upwards and downwards. [mm]

    Returns
    -------
    reversal_mm, mean_reversal_mm, repeatability_mm : array
        B = max abs(B_i); signed mean of B_i; R = max R_i;
    systematic_mm, mean_range_mm, accuracy_mm : array
        E = greatest less least of all means of one way; M = range of the means of both ways;
        A = greatest mean + 2 s less least mean - 2 s.

    Raises
    ------
    ValueError
        If the tables differ in shape, or a target was approached once only.

    Notes
    -----
    Five approaches are the standard's cycle. Older editions and other rules use 3 s: compare only
    figures of one rule. R and E are sometimes printed as the greater or the lesser of one way's:
    that is not this standard's definition.

    References
    ----------
    .. [1] ISO 230-2:2014: from memory; checked against an open test report (read) except where that
       report departs from the definitions.

    Examples
    --------
    up="[[0.010, 0.012], [0.020, 0.020]] mm" down="[[0.000, 0.002], [0.012, 0.014]] mm" ->
    reversal 0.01 mm, mean_reversal 0.0085 mm, repeatability 0.01566 mm, systematic 0.019 mm,
    mean_range 0.0105 mm, accuracy 0.02183 mm
    """
    mean_up, mean_down, s_up, s_down, reversal, repeat = at_targets_mm(up_mm, down_mm)
    means = np.concatenate((mean_up, mean_down), axis=-1)
    twice = 2.0 * np.concatenate((s_up, s_down), axis=-1)
    middle = 0.5 * (mean_up + mean_down)
    return (
        np.abs(reversal).max(axis=-1),
        reversal.mean(axis=-1),
        repeat.max(axis=-1),
        _range(means, means),
        _range(middle, middle),
        _range(means + twice, means - twice),
    )


def one_way_mm(approaches_mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Repeatability, systematic deviation and accuracy of an axis, approached from one side. [mm]

    Parameters
    ----------
    approaches_mm : array (..., m, n)
        Actual less target, of m targets approached n times. [mm]

    Returns
    -------
    repeatability_mm, systematic_mm, accuracy_mm : array
        Greatest 4 s; range of the means; greatest mean + 2 s less least mean - 2 s.

    Raises
    ------
    ValueError
        If a target was approached once only.

    References
    ----------
    .. [1] As ``positioning-axis``.

    Examples
    --------
    approaches="[[0.010, 0.012], [0.020, 0.020]] mm" -> repeatability 0.005657 mm,
    systematic 0.009 mm, accuracy 0.01183 mm
    """
    mean, _, scatter, *_ = at_targets_mm(approaches_mm, approaches_mm)
    twice = 2.0 * scatter
    return (2.0 * twice).max(axis=-1), _range(mean, mean), _range(mean + twice, mean - twice)


def _range(high: FloatArray, low: FloatArray) -> FloatArray:
    return np.asarray(high.max(axis=-1) - low.min(axis=-1))

"""Straightness of a slide: from a level, from three feelers, and how to say it in one figure."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse

#: Most heights whose narrowest band is looked for.
_MOST = 1000


def by_level_mm(slope_rad: FloatArray, base_mm: Floats) -> FloatArray:
    """Heights of a slide from a level that is moved on by its own base. [mm]

    Parameters
    ----------
    slope_rad : array (..., k)
        Read on each stretch: 1 mm/m is 0.001. [rad]
    base_mm : float or array
        Between the feet of the level. [mm]

    Returns
    -------
    array
        (..., k): running sum of slope times base, from 0 at the start. [mm]

    Raises
    ------
    ValueError
        If the base is not above 0.

    Notes
    -----
    A line through the ends, or the best line, is taken off for the straightness.

    References
    ----------
    .. [1] Laboratory sheet of METU: read in part.

    Examples
    --------
    slope="[20, -10, 30, 0, -25] urad" base="100 mm" -> [0.002, 0.001, 0.004, 0.004, 0.0015] mm
    """
    above_zero(base_mm=base_mm)
    return np.asarray(np.cumsum(array(slope_rad) * array(base_mm)[..., None], axis=-1))


def bend_mm(height_mm: FloatArray) -> FloatArray:
    """What a gauge with three even feelers reads along a slide. [mm]

    Parameters
    ----------
    height_mm : array (..., k)
        At even places, at least three. [mm]

    Returns
    -------
    array
        (..., k - 2): y before - 2 y + y behind. [mm]

    Raises
    ------
    ValueError
        If there are fewer than three heights.

    References
    ----------
    .. [1] Three-point method: from memory, computed.

    Examples
    --------
    height="[0, 4, 7, 9, 8, 6, 3, 1, 0] um" -> [-0.001, -0.001, -0.003, -0.001, -0.001, 0.001,
    0.001] mm
    """
    height = array(height_mm)
    refuse(height.ndim == 0 or height.shape[-1] < 3, "at least three heights are needed")
    return np.asarray(np.diff(height, n=2, axis=-1))


def by_bend_mm(bend_mm: FloatArray) -> FloatArray:
    """Heights of a slide from the readings of three even feelers, both ends at 0. [mm]

    Parameters
    ----------
    bend_mm : array (..., k)
        As ``straightness-bend`` gives. [mm]

    Returns
    -------
    array
        (..., k + 2): summed twice, with the line through the ends taken off. [mm]

    Raises
    ------
    ValueError
        If there is no reading.

    Notes
    -----
    A gauge that is off by e everywhere bends the whole by a parabola, in the middle of N stretches
    by -e N² / 8: set its zero on a flat that was turned round.

    References
    ----------
    .. [1] Three-point method: from memory, computed.

    Examples
    --------
    bend="[-1, -1, -3, -1, -1, 1, 1] um" -> [0, 0.004, 0.007, 0.009, 0.008, 0.006, 0.003, 0.001, 0]
    mm
    """
    bend = array(bend_mm)
    refuse(bend.ndim == 0 or bend.shape[-1] < 1, "at least one reading is needed")
    zeros = np.zeros((*bend.shape[:-1], 1))
    slope = np.concatenate((zeros, np.cumsum(bend, axis=-1)), axis=-1)
    height = np.concatenate((zeros, np.cumsum(slope, axis=-1)), axis=-1)
    share = np.linspace(0.0, 1.0, height.shape[-1])
    return np.asarray(height - share * height[..., -1:])


def by_ends_mm(height_mm: FloatArray) -> FloatArray:
    """Straightness against the line through both ends. [mm]

    Parameters
    ----------
    height_mm : array (..., k)
        At even places, at least two. [mm]

    Returns
    -------
    array
        Greatest less least distance from that line. [mm]

    Raises
    ------
    ValueError
        If there are fewer than two heights.

    References
    ----------
    .. [1] ISO 12780: from memory.

    Examples
    --------
    height="[0, 4, 7, 9, 8, 6, 3, 1, 0] um" -> 0.009 mm
    """
    height = _heights(height_mm)
    share = np.linspace(0.0, 1.0, height.shape[-1])
    off = height - height[..., :1] - share * (height[..., -1:] - height[..., :1])
    return np.asarray(np.ptp(off, axis=-1))


def by_best_line_mm(height_mm: FloatArray) -> FloatArray:
    """Straightness against the least-squares line. [mm]

    Parameters
    ----------
    height_mm : array (..., k)
        At even places, at least two. [mm]

    Returns
    -------
    array
        Greatest less least distance from that line. [mm]

    Raises
    ------
    ValueError
        If there are fewer than two heights.

    References
    ----------
    .. [1] ISO 12780: from memory.

    Examples
    --------
    height="[0, 4, 7, 9, 8, 6, 3, 1, 0] um" -> 0.010 mm
    """
    height = _heights(height_mm)
    at = np.arange(height.shape[-1]) - 0.5 * (height.shape[-1] - 1)
    slope = (height * at).sum(axis=-1, keepdims=True) / (at**2).sum()
    return np.asarray(np.ptp(height - slope * at, axis=-1))


def narrowest_mm(height_mm: FloatArray) -> FloatArray:
    """Straightness as the narrowest band that holds all heights: the standard's own. [mm]

    Parameters
    ----------
    height_mm : array (k,)
        At even places, 2 to 1000 of them. [mm]

    Returns
    -------
    array
        Width of the band, across the slide. [mm]

    Raises
    ------
    ValueError
        If there are fewer than two or more than 1000 heights.

    Notes
    -----
    Never wider than the other two.

    References
    ----------
    .. [1] ISO 1101, minimum zone: from memory. One side of the band lies along an edge of the
       heights' hull.

    Examples
    --------
    height="[0, 4, 7, 9, 8, 6, 3, 1, 0] um" -> 0.009 mm
    """
    height = _heights(height_mm)
    refuse(height.ndim != 1 or height.size > _MOST, f"2 to {_MOST} heights are needed")
    edges = np.concatenate((_hull_slopes(height), -_hull_slopes(-height)))
    off = height - edges[:, None] * np.arange(height.size)
    return np.asarray(np.ptp(off, axis=-1).min())


def _hull_slopes(height: FloatArray) -> FloatArray:
    """Slopes of the lower hull of heights at 0, 1, 2 ..."""
    kept: list[int] = []
    for index in range(height.size):
        while len(kept) > 1:
            a, b = kept[-2], kept[-1]
            if (height[b] - height[a]) * (index - b) < (height[index] - height[b]) * (b - a):
                break
            kept.pop()
        kept.append(index)
    at = np.array(kept)
    return np.asarray(np.diff(height[at]) / np.diff(at))


def _heights(height_mm: FloatArray) -> FloatArray:
    height = array(height_mm)
    refuse(height.ndim == 0 or height.shape[-1] < 2, "at least two heights are needed")
    return height

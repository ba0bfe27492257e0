"""The band of middle speeds in which a stepper motor swings and loses pull.

There is no formula of general use: rotor and winding current exchange energy, and what it takes
depends on load, damping and driver. So the band is a dip in the pull, fitted to tests of the
machine itself.
"""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, refuse

_ROUNDS, _POINTS = 12, 25
#: From the middle of the band to where half of the loss is left, in widths.
_HALF_LOSS = float(np.sqrt(2.0 * np.log(2.0)))


def share(
    speed_rev_per_s: Floats,
    depth: Floats,
    centre_rev_per_s: Floats,
    width_rev_per_s: Floats,
) -> FloatArray:
    """Share of the pull that is left at a speed. [-]

    Parameters
    ----------
    speed_rev_per_s : float or array
        Of the shaft. [rev/s]
    depth : float or array
        Lost at the centre: 0 nothing, 1 all. [-]
    centre_rev_per_s, width_rev_per_s : float or array
        Middle of the band; from there to where 61 % of the loss is left. [rev/s]

    Returns
    -------
    array
        1 - d exp(-((n - c) / w)² / 2). [-]

    Raises
    ------
    ValueError
        If the depth is not from 0 to 1, or centre or width not above 0.

    Notes
    -----
    Typically somewhere in 5 to 15 rev/s for 200-step motors, less with a damper or a driver that
    damps. A shape for a table of tests, not a law.

    References
    ----------
    .. [1] Band and speeds: Kenjo and Sugawara; Acarnley: from memory. Shape: chosen here.

    Examples
    --------
    speed="10 rev/s" depth=0.4 centre="9 rev/s" width="2 rev/s" -> 0.647
    """
    lost = array(depth)
    refuse(~((lost >= 0.0) & (lost <= 1.0)), "depth must lie between 0 and 1")
    above_zero(centre_rev_per_s=centre_rev_per_s, width_rev_per_s=width_rev_per_s)
    away = (array(speed_rev_per_s) - array(centre_rev_per_s)) / array(width_rev_per_s)
    return 1.0 - lost * np.exp(-0.5 * away**2)


def of_edges(from_rev_per_s: Floats, to_rev_per_s: Floats) -> tuple[FloatArray, FloatArray]:
    """Middle and width of a band whose ends are known: where half of its loss is left.

    Parameters
    ----------
    from_rev_per_s, to_rev_per_s : float or array
        Shaft speeds between which the motor loses more than half of what it loses at worst. [rev/s]

    Returns
    -------
    centre_rev_per_s, width_rev_per_s : array
        (from + to) / 2 and (to - from) / (2 √(2 ln 2)), for ``share``.

    Raises
    ------
    ValueError
        If the band does not begin above 0, or ends before it begins.

    References
    ----------
    .. [1] Half width of the shape in ``share``: derived here.

    Examples
    --------
    from="7 rev/s" to="11 rev/s" -> centre 9.00 rev/s, width 1.70 rev/s
    """
    above_zero(from_rev_per_s=from_rev_per_s)
    low, high = array(from_rev_per_s), array(to_rev_per_s)
    refuse(~(high > low), "the band must end above where it begins")
    return 0.5 * (low + high), (high - low) / (2.0 * _HALF_LOSS)


def edges(centre_rev_per_s: Floats, width_rev_per_s: Floats) -> tuple[FloatArray, FloatArray]:
    """Ends of a band: where half of its loss is left.

    Parameters
    ----------
    centre_rev_per_s, width_rev_per_s : float or array
        As in ``share``. [rev/s]

    Returns
    -------
    from_rev_per_s, to_rev_per_s : array
        c - w √(2 ln 2) and c + w √(2 ln 2); the first is not below 0.

    Raises
    ------
    ValueError
        If centre or width is not above 0.

    References
    ----------
    .. [1] Half width of the shape in ``share``: derived here.

    Examples
    --------
    centre="9 rev/s" width="2 rev/s" -> from 6.65 rev/s, to 11.4 rev/s
    """
    above_zero(centre_rev_per_s=centre_rev_per_s, width_rev_per_s=width_rev_per_s)
    centre, half = array(centre_rev_per_s), _HALF_LOSS * array(width_rev_per_s)
    return np.maximum(centre - half, 0.0), centre + half


def fitted(
    speed_rev_per_s: FloatArray, share_left: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """The band that fits tests best: depth, centre, width, and how far the tests lie from it.

    Parameters
    ----------
    speed_rev_per_s : array (k,)
        Motor speeds at which the pull was tried, at least four different ones. [rev/s]
    share_left : array (k,)
        Torque at which it stalled over the computed one, drag taken off. [-]

    Returns
    -------
    depth, centre_rev_per_s, width_rev_per_s, misfit : array
        Least squares over centre and width within the speeds tried, the depth best for each;
        the misfit is the root mean square of what is left.

    Raises
    ------
    ValueError
        If there are fewer than four different speeds, or a share is not from 0 to 2.

    Notes
    -----
    Between two tried speeds a narrow dip can hide: try speeds no further apart than half the width
    that comes out.

    References
    ----------
    .. [1] Least squares on a grid that closes in: derived here.

    Examples
    --------
    speed="[4, 6, 8, 10, 12, 14] rev/s" share_left="[0.983, 0.870, 0.647, 0.647, 0.870, 0.983]"
    -> depth 0.400, centre 9.00 rev/s, width 2.00 rev/s, misfit 0.000
    """
    speed, left = array(speed_rev_per_s), array(share_left)
    refuse(speed.shape != left.shape or speed.ndim != 1, "speeds and shares must pair up")
    refuse(np.unique(speed).size < 4, "at least four different speeds are needed")
    refuse(~((left >= 0.0) & (left <= 2.0)), "share_left must lie between 0 and 2")
    lowest, highest = float(speed.min()), float(speed.max())
    centre, width = 0.5 * (lowest + highest), 0.25 * (highest - lowest)
    reach_c, reach_w = 0.5 * (highest - lowest), 0.24 * (highest - lowest)
    depth = misfit = 0.0
    for _ in range(_ROUNDS):
        c = np.clip(centre + np.linspace(-reach_c, reach_c, _POINTS), lowest, highest)
        w = np.maximum(width + np.linspace(-reach_w, reach_w, _POINTS), 0.01 * width)
        bell = np.exp(-0.5 * ((speed - c[:, None, None]) / w[:, None]) ** 2)  # (c, w, k)
        size = np.maximum((bell**2).sum(axis=-1), 1e-12)
        deep = np.clip(((1.0 - left) * bell).sum(axis=-1) / size, 0.0, 1.0)
        off = ((1.0 - deep[..., None] * bell - left) ** 2).mean(axis=-1)
        best = np.unravel_index(int(np.argmin(off)), off.shape)
        centre, width = float(c[best[0]]), float(w[best[1]])
        depth, misfit = float(deep[best]), float(np.sqrt(off[best]))
        reach_c, reach_w = 0.3 * reach_c, 0.3 * reach_w
    return array(depth), array(centre), array(width), array(misfit)

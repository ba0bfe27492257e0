"""Wood and its water: specific gravity and density at a moisture content."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

#: Moisture at which the cell walls are full and shrinkage begins. [%]
FIBRE_SATURATION_PERCENT = 30.0


def basic_gravity(
    gravity_12: ArrayLike, volume_shrinkage_percent: ArrayLike = float("nan")
) -> FloatArray:
    """Specific gravity on green volume, from that at 12 % moisture.

    Parameters
    ----------
    gravity_12 : float or array
        Oven-dry mass over the mass of water that fills the volume at 12 % moisture. [-]
    volume_shrinkage_percent : float or array, optional
        Green to oven-dry; where it is NaN, 26.5 times the basic gravity is taken. [%]

    Returns
    -------
    array
        Basic specific gravity. [-]

    Raises
    ------
    ValueError
        If a gravity is not above 0 or a shrinkage is not from 0 to below 100.

    Notes
    -----
    Shrinkage is taken as linear below fibre saturation. The general shrinkage rule is a mean
    over many species; a species may differ by a fifth.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), equations 4-9, 4-11 and 4-12, read in a public
       transcription.

    Examples
    --------
    gravity_12=0.63 -> 0.5726
    """
    gravity, shrinkage = np.broadcast_arrays(
        np.asarray(gravity_12, dtype=np.float64),
        np.asarray(volume_shrinkage_percent, dtype=np.float64),
    )
    _refuse(~(gravity > 0.0), gravity, "a specific gravity is {:g}, not above 0")
    bad = ~np.isnan(shrinkage) & ~((shrinkage >= 0.0) & (shrinkage < 100.0))
    _refuse(bad, shrinkage, "a volume shrinkage is {:g} %, not from 0 to 100")
    shrunk = (1.0 - 12.0 / FIBRE_SATURATION_PERCENT) / 100.0  # of S, at 12 %, as a fraction
    # G_12 = G_b / (1 - shrunk S) solved for G_b; with S = 26.5 G_b it is G_b (1 + ...) = G_12
    general = gravity / (1.0 + 26.5 * shrunk * gravity)
    return np.where(np.isnan(shrinkage), general, gravity * (1.0 - shrunk * shrinkage))


def wood_density_kg_per_m3(
    gravity_12: ArrayLike,
    moisture_percent: ArrayLike,
    volume_shrinkage_percent: ArrayLike = float("nan"),
) -> FloatArray:
    """Density of solid wood with the water in it.

    Parameters
    ----------
    gravity_12 : float or array
        Specific gravity at 12 % moisture (``basic_gravity``). [-]
    moisture_percent : float or array
        Water over oven-dry mass, 0 to 200. [%]
    volume_shrinkage_percent : float or array, optional
        As for ``basic_gravity``. [%]

    Returns
    -------
    array
        Density. [kg/m3]

    Raises
    ------
    ValueError
        As ``basic_gravity``, or if a moisture is out of its range.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), equations 4-9, 4-11, 4-12 and 4-14, read in a
       public transcription.

    Examples
    --------
    gravity_12=0.63 moisture="12 %" -> 705.6 kg/m³
    """
    moisture = np.asarray(moisture_percent, dtype=np.float64)
    bad = ~((moisture >= 0.0) & (moisture <= 200.0))
    _refuse(bad, moisture, "a moisture is {:g} %, not from 0 to 200")
    basic = basic_gravity(gravity_12, volume_shrinkage_percent)
    stated = np.asarray(volume_shrinkage_percent, dtype=np.float64)
    whole = np.where(np.isnan(stated), 26.5 * basic, stated)
    lost = whole * np.maximum(0.0, 1.0 - moisture / FIBRE_SATURATION_PERCENT) / 100.0
    return np.asarray(1000.0 * basic / (1.0 - lost) * (1.0 + moisture / 100.0))


def panel_growth_mm(
    length_mm: ArrayLike,
    moisture_change_percent: ArrayLike,
    growth_each: ArrayLike = 1.8e-4,
) -> FloatArray:
    """How much a panel grows in its plane when its moisture rises. [mm]

    Parameters
    ----------
    length_mm : float or array
        Of the panel, or between two rails on it. [mm]
    moisture_change_percent : float or array
        Water over oven-dry mass, after less before. [%]
    growth_each : float or array
        Share of the length for each per cent of moisture: 1.8e-4 for plywood (from memory). [-]

    Returns
    -------
    array
        g L dM. [mm]

    Raises
    ------
    ValueError
        If a length is not above 0.

    Notes
    -----
    MDF and particleboard move more, solid wood across the grain ten times as much.

    References
    ----------
    .. [1] Coefficient of plywood: from memory; definition.

    Examples
    --------
    length="150 mm" moisture_change="3 %" -> 0.081 mm
    """
    length = np.asarray(length_mm, dtype=np.float64)
    _refuse(~(length > 0.0), length, "a length is {:g}, not above 0")
    return np.asarray(
        length
        * np.asarray(moisture_change_percent, dtype=np.float64)
        * np.asarray(growth_each, dtype=np.float64)
    )


def _refuse(bad: NDArray[np.bool_], values: FloatArray, words: str) -> None:
    if bad.any():
        index = tuple(int(i[0]) for i in np.nonzero(np.atleast_1d(bad)))
        raise ValueError(words.format(np.atleast_1d(values)[index]) + f" (index {index})")

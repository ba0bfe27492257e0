"""Wood and its water: specific gravity, density, moisture in air, and how sizes follow it."""

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


def equilibrium_moisture_percent(
    relative_humidity: ArrayLike, temperature_degc: ArrayLike = 20.0
) -> FloatArray:
    """Moisture that wood comes to when it lies long enough in air.

    Parameters
    ----------
    relative_humidity : float or array
        Of the air, 0 to below 1. [-]
    temperature_degc : float or array
        Of the air, -5 to 60. [°C]

    Returns
    -------
    array
        Water over oven-dry mass. [%]

    Raises
    ------
    ValueError
        If a humidity or a temperature is out of its range.

    Notes
    -----
    A mean over many woods on the way to dryness: wood that takes water up stays about 1 % drier,
    and panels stay drier still.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), equation 4-5, read in a public transcription.

    Examples
    --------
    relative_humidity=0.5 temperature="21.1 degC" -> 9.2 %
    """
    humidity = np.asarray(relative_humidity, dtype=np.float64)
    t = np.asarray(temperature_degc, dtype=np.float64)
    _refuse(~((humidity >= 0.0) & (humidity < 1.0)), humidity, "a humidity is {:g}, not 0 to 1")
    _refuse(~((t >= -5.0) & (t <= 60.0)), t, "a temperature is {:g} degC, not from -5 to 60")
    w = 349.0 + 1.29 * t + 0.0135 * t**2
    kh = (0.805 + 0.000736 * t - 0.00000273 * t**2) * humidity
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    top = k1 * kh + 2.0 * k1 * k2 * kh**2
    return np.asarray(1800.0 / w * (kh / (1.0 - kh) + top / (1.0 + k1 * kh + k1 * k2 * kh**2)))


def moisture_movement(shrinkage_percent: ArrayLike) -> FloatArray:
    """Change of a size for each per cent of moisture, from the whole shrinkage in its direction.

    Parameters
    ----------
    shrinkage_percent : float or array
        Green to oven-dry, across the grain: radial or tangential. [%]

    Returns
    -------
    array
        Share of the size at 10 % moisture for each per cent. [-]

    Raises
    ------
    ValueError
        If a shrinkage is not from 0 to below 100.

    Notes
    -----
    C = S / (30 (100 - 20 S / 30)), fibre saturation at 30 %. It gives 158 of the 182 comparable
    cells of Table 13-5 to 1e-5; the others are grouped species or other shrinkages.

    References
    ----------
    .. [1] Wood Handbook, FPL-GTR-190 (2010), chapter 13, the relation behind Table 13-5, from
       memory; checked against the table.

    Examples
    --------
    shrinkage="9.9 %" -> 0.00353
    """
    shrinkage = np.asarray(shrinkage_percent, dtype=np.float64)
    bad = ~((shrinkage >= 0.0) & (shrinkage < 100.0))
    _refuse(bad, shrinkage, "a shrinkage is {:g} %, not from 0 to 100")
    full = FIBRE_SATURATION_PERCENT
    return np.asarray(shrinkage / (full * (100.0 - shrinkage * (full - 10.0) / full)))


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

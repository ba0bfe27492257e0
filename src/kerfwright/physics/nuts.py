"""Preloaded nuts: how a thrust divides between the halves, when a nut opens, what it takes to turn.

Two ways to preload a nut. Rigid: two halves are drawn or pushed against each other and fastened;
both spring a little, and a thrust loads one and unloads the other. Spring: one half is fast, the
other pushed away by a spring; a thrust against the fast half changes nothing at the other, a thrust
towards the spring opens the nut once it exceeds the preload.
"""

from math import pi

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse
from kerfwright.physics.screws import lead_angle_rad, lowering_torque_nmm, raising_torque_nmm


def rigid_loads_n(
    thrust_n: Floats, preload_n: Floats, loaded_share: Floats = 0.5
) -> tuple[FloatArray, FloatArray]:
    """Force on the loaded and on the other half of a rigidly preloaded nut. [N]

    Parameters
    ----------
    thrust_n : float or array
        On the nut, either way; its size counts. [N]
    preload_n : float or array
        Between the halves. [N]
    loaded_share : float or array
        Stiffness of the loaded half over that of both: 0.5 for two alike. [-]

    Returns
    -------
    loaded_n, other_n : array
        P + F k1 / (k1 + k2) and P - F k2 / (k1 + k2) until the other is at 0; then F and 0.

    Raises
    ------
    ValueError
        If the preload is below 0 or the share not between 0 and 1.

    Notes
    -----
    Springs with one slope. Balls in grooves follow F ~ x^1.5 and open later:
    ``contact-unloading-force``.

    References
    ----------
    .. [1] Preloaded joint, two springs side by side: textbook (as for bolts, Shigley ch. 8), from
       memory.

    Examples
    --------
    thrust="50 N" preload="40 N" -> loaded 65 N, other 15 N
    thrust="100 N" preload="40 N" -> loaded 100 N, other 0 N
    """
    not_below_zero(preload_n=preload_n)
    share = array(loaded_share)
    refuse(~((share > 0.0) & (share < 1.0)), "loaded_share must lie between 0 and 1")
    thrust = np.abs(array(thrust_n))
    other = np.maximum(array(preload_n) - thrust * (1.0 - share), 0.0)
    return thrust + other, other


def rigid_opens_n(preload_n: Floats, loaded_share: Floats = 0.5) -> FloatArray:
    """Thrust at which a rigidly preloaded nut opens. [N]

    Parameters
    ----------
    preload_n : float or array
        Between the halves. [N]
    loaded_share : float or array
        Stiffness of the loaded half over that of both. [-]

    Returns
    -------
    array
        P (k1 + k2) / k2: twice the preload for two halves alike. [N]

    Raises
    ------
    ValueError
        If the preload is below 0 or the share not between 0 and 1.

    Notes
    -----
    From there on the nut is as stiff as one half; play begins only when the thrust turns round.

    References
    ----------
    .. [1] As for ``nut-rigid-loads``.

    Examples
    --------
    preload="40 N" -> 80 N
    """
    not_below_zero(preload_n=preload_n)
    share = array(loaded_share)
    refuse(~((share > 0.0) & (share < 1.0)), "loaded_share must lie between 0 and 1")
    return array(preload_n) / (1.0 - share)


def spring_loads_n(thrust_n: Floats, preload_n: Floats) -> tuple[FloatArray, FloatArray]:
    """Force on the fast half and on the sprung half of a spring-loaded nut. [N]

    Parameters
    ----------
    thrust_n : float or array
        On the nut: above 0 against the fast half, below 0 towards the spring. [N]
    preload_n : float or array
        Of the spring. [N]

    Returns
    -------
    fast_n, sprung_n : array
        P + F, not below 0; and P, or -F where that is more.

    Raises
    ------
    ValueError
        If the preload is below 0.

    Notes
    -----
    The spring's force is taken as even over the small movement. The friction of the sprung half in
    its seat, which helps a little, is left out.

    References
    ----------
    .. [1] Statics, derived here; common in the trade.

    Examples
    --------
    thrust="50 N" preload="40 N" -> fast 90 N, sprung 40 N
    thrust="-50 N" preload="40 N" -> fast 0 N, sprung 50 N
    """
    not_below_zero(preload_n=preload_n)
    thrust, preload = array(thrust_n), array(preload_n)
    return np.maximum(preload + thrust, 0.0), np.maximum(preload, -thrust)


def spring_opening_mm(thrust_n: Floats, preload_n: Floats, spring_n_per_mm: Floats) -> FloatArray:
    """How far a spring-loaded nut is pushed open. [mm]

    Parameters
    ----------
    thrust_n : float or array
        On the nut: above 0 against the fast half, below 0 towards the spring. [N]
    preload_n : float or array
        Of the spring. [N]
    spring_n_per_mm : float or array
        Rate of the spring. [N/mm]

    Returns
    -------
    array
        (-F - P) / k towards the spring; 0 up to the preload and the other way. [mm]

    Raises
    ------
    ValueError
        If the preload is below 0 or the rate not above 0.

    Notes
    -----
    A coil of a few N/mm gives whole tenths at once: the preload must exceed the cut.

    References
    ----------
    .. [1] Statics, derived here.

    Examples
    --------
    thrust="-50 N" preload="40 N" spring="20 N/mm" -> 0.5 mm
    """
    not_below_zero(preload_n=preload_n)
    above_zero(spring_n_per_mm=spring_n_per_mm)
    return np.maximum(-array(thrust_n) - array(preload_n), 0.0) / array(spring_n_per_mm)


def turning_torque_nmm(
    against_n: Floats,
    along_n: Floats,
    mean_diameter_mm: Floats,
    lead_mm: Floats,
    friction: Floats,
    flank_half_angle_rad: Floats = 0.0,
) -> FloatArray:
    """Torque that turns a screw in a nut of two halves. [N mm]

    Parameters
    ----------
    against_n, along_n : float or array
        Force on the half whose thread is raised; on the half whose thread is lowered: from
        ``nut-rigid-loads`` or ``nut-spring-loads``. [N]
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    friction : float or array
        Sliding coefficient, nut on screw. [-]
    flank_half_angle_rad : float or array
        Half the included thread angle. [rad]

    Returns
    -------
    array
        T_raise(against) + T_lower(along); with equal forces the drag of the preload. [N mm]

    Raises
    ------
    ValueError
        If a force is below 0, or no torque can turn the screw.

    References
    ----------
    .. [1] The sum of the two torques of ``screw-raising-torque`` and ``screw-lowering-torque``:
       derived here.

    Examples
    --------
    against="50 N" along="50 N" mean_diameter="0.45 in" lead="0.1 in" friction=0.15
    flank_half_angle="14.5 deg" -> 89.0 N mm
    """
    not_below_zero(against_n=against_n, along_n=along_n)
    thread = (mean_diameter_mm, lead_mm, friction, flank_half_angle_rad)
    return raising_torque_nmm(against_n, *thread) + lowering_torque_nmm(along_n, *thread)


def ball_drag_torque_nmm(
    preload_n: Floats, lead_mm: Floats, mean_diameter_mm: Floats
) -> FloatArray:
    """Torque that the preload of a ball nut takes. [N mm]

    Parameters
    ----------
    preload_n : float or array
        Between the rows of balls. [N]
    lead_mm, mean_diameter_mm : float or array
        Travel in one turn; diameter through the middles of the balls. [mm]

    Returns
    -------
    array
        K P l / 2 pi, K = 0.05 / sqrt(tan lead angle). [N mm]

    Raises
    ------
    ValueError
        If the preload is below 0 or a length not above 0.

    Notes
    -----
    Wipers add their own drag. For the balls' preload against the torque, not its spread in a turn.

    References
    ----------
    .. [1] JIS B 1192 and ball-screw guides: from memory.

    Examples
    --------
    preload="300 N" lead="5 mm" mean_diameter="16.5 mm" -> 38.434 N mm
    """
    not_below_zero(preload_n=preload_n)
    slope = np.tan(lead_angle_rad(mean_diameter_mm, lead_mm))
    return 0.05 / np.sqrt(slope) * array(preload_n) * array(lead_mm) / (2.0 * pi)

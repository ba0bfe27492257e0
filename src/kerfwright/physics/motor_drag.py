"""What a stepper motor's own magnet and iron take off its pull, and between what the pull lies."""

from math import pi
from typing import Final

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero

#: Shares of the printed holding torque, least and most. Detent: data sheets, from memory.
#: Hysteresis and eddy drag at 10 rev/s: estimated, no source.
DETENT_SHARE: Final = (0.02, 0.05)
HYSTERESIS_SHARE: Final = (0.005, 0.02)
EDDY_SHARE_AT_10: Final = (0.01, 0.04)
#: A time-domain model of the chopped voltage lies this much above the two-limit curve where the
#: voltage limits, at most (computed for this project in four cases: 7 to 16 %).
CHOPPED_MORE: Final = 1.16


def iron_torque_nmm(
    speed_rev_per_s: Floats, hysteresis_nmm: Floats, eddy_nmm_s_per_rad: Floats
) -> FloatArray:
    """Drag of the turning rotor in its own iron. [N mm]

    Parameters
    ----------
    speed_rev_per_s : float or array
        Of the shaft. [rev/s]
    hysteresis_nmm : float or array
        Even part, felt when the shaft is turned slowly by hand. [N mm]
    eddy_nmm_s_per_rad : float or array
        Part that grows with the speed. [N mm s/rad]

    Returns
    -------
    array
        T_h + c w. [N mm]

    Raises
    ------
    ValueError
        If a value is below 0.

    Notes
    -----
    With full current the iron is magnetised further and the drag is somewhat different.

    References
    ----------
    .. [1] Steinmetz's two kinds of iron loss: textbook.

    Examples
    --------
    speed="10 rev/s" hysteresis="20 N mm" eddy="0.8 N mm s/rad" -> 70.265 N mm
    """
    not_below_zero(
        speed_rev_per_s=speed_rev_per_s,
        hysteresis_nmm=hysteresis_nmm,
        eddy_nmm_s_per_rad=eddy_nmm_s_per_rad,
    )
    turning = 2.0 * pi * array(speed_rev_per_s)
    return array(hysteresis_nmm) + array(eddy_nmm_s_per_rad) * turning


def usual_drag_nmm(
    speed_rev_per_s: Floats, holding_torque_nmm: Floats
) -> tuple[FloatArray, FloatArray]:
    """Detent and iron drag of a motor of which only the holding torque is known. [N mm]

    Parameters
    ----------
    speed_rev_per_s : float or array
        Of the shaft. [rev/s]
    holding_torque_nmm : float or array
        Of the data sheet. [N mm]

    Returns
    -------
    least_nmm, most_nmm : array
        Iron alone at its least; iron and the whole detent torque at their most.

    Raises
    ------
    ValueError
        If the speed is below 0 or the torque not above 0.

    Notes
    -----
    Detent 2 to 5 % of the holding torque (from memory); it comes and goes four times a full cycle,
    so a turning rotor's inertia bridges some or all of it. Hysteresis 0.5 to 2 %, eddy currents 1
    to 4 % at 10 rev/s (estimated, no source).

    References
    ----------
    .. [1] Ranges as stated: from memory and estimated.

    Examples
    --------
    speed="10 rev/s" holding_torque="1.9 N m" -> least 28.5 N mm, most 209 N mm
    """
    not_below_zero(speed_rev_per_s=speed_rev_per_s)
    above_zero(holding_torque_nmm=holding_torque_nmm)
    share = array(speed_rev_per_s) / 10.0
    least = HYSTERESIS_SHARE[0] + EDDY_SHARE_AT_10[0] * share
    most = DETENT_SHARE[1] + HYSTERESIS_SHARE[1] + EDDY_SHARE_AT_10[1] * share
    return least * array(holding_torque_nmm), most * array(holding_torque_nmm)


def pull_range_nmm(
    pull_out_nmm: Floats,
    driven_torque_nmm: Floats,
    holding_torque_nmm: Floats,
    speed_rev_per_s: Floats,
) -> tuple[FloatArray, FloatArray]:
    """Between what the real pull lies for a computed pull-out torque. [N mm]

    Parameters
    ----------
    pull_out_nmm : float or array
        Of ``stepper-pull-out-torque`` at that speed. [N mm]
    driven_torque_nmm : float or array
        The same, standing: ``driver-driven-torque``. [N mm]
    holding_torque_nmm : float or array
        Of the data sheet. [N mm]
    speed_rev_per_s : float or array
        Of the shaft. [rev/s]

    Returns
    -------
    least_nmm, most_nmm : array
        The computed pull less the most drag; where the voltage limits up to 1.16 times it, never
        above the driven torque, less the least drag. Not below 0.

    Raises
    ------
    ValueError
        If a torque is not above 0 or the speed below 0.

    Notes
    -----
    Swinging at middle speeds comes on top: ``mid-band-share``.

    References
    ----------
    .. [1] Time-domain model of a chopped phase against the two-limit curve, computed for this
       project; drags as ``motor-drag-usual-drag``.

    Examples
    --------
    pull_out="925 N mm" driven_torque="1343.5 N mm" holding_torque="1.9 N m" speed="10 rev/s"
    -> least 716 N mm, most 1044.5 N mm
    """
    not_below_zero(pull_out_nmm=pull_out_nmm)
    least_drag, most_drag = usual_drag_nmm(speed_rev_per_s, holding_torque_nmm)
    pull = array(pull_out_nmm)
    upper = np.minimum(CHOPPED_MORE * pull, np.maximum(array(driven_torque_nmm), pull))
    return np.maximum(pull - most_drag, 0.0), np.maximum(upper - least_drag, 0.0)

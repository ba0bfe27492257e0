"""A wide gantry: two motors that disagree, one screw that pulls in the middle or at one side."""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero


def wheel_yaw_stiffness_nmm_per_rad(
    wheel_n_per_mm: Floats, wheels: Floats, spacing_mm: Floats
) -> FloatArray:
    """How stiffly wheels on rails keep a gantry from turning in its plane. [N mm/rad]

    Parameters
    ----------
    wheel_n_per_mm : float or array
        Of one wheel across its rail. [N/mm]
    wheels : float or array
        How many, half of them before and half behind. [-]
    spacing_mm : float or array
        Between them along the rail. [mm]

    Returns
    -------
    array
        n k (s / 2)². [N mm/rad]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    Cross bar and uprights come in a row with it. Both rails must hold across.

    References
    ----------
    .. [1] Springs about a pivot: statics.

    Examples
    --------
    wheel="5 N/um" wheels=4 spacing="140 mm" -> 98000000 N mm/rad
    """
    above_zero(wheel_n_per_mm=wheel_n_per_mm, wheels=wheels, spacing_mm=spacing_mm)
    return array(wheels) * array(wheel_n_per_mm) * (array(spacing_mm) / 2.0) ** 2


def two_motors_yaw_rad(
    difference_mm: Floats,
    apart_mm: Floats,
    drive_n_per_mm: Floats = 1.0,
    yaw_nmm_per_rad: Floats = 0.0,
) -> FloatArray:
    """How far a gantry turns when its two motors stand at different places. [rad]

    Parameters
    ----------
    difference_mm : float or array
        One motor's place less the other's: one slip is lead / N. [mm]
    apart_mm : float or array
        Between the two drives. [mm]
    drive_n_per_mm : float or array
        Stiffness of one drive. [N/mm]
    yaw_nmm_per_rad : float or array
        Of the guides against turning; 0: they do not hold it. [N mm/rad]

    Returns
    -------
    array
        d / b where nothing holds it; with guides that share, d / b k_d / (k_d + k_g), with k_d = k
        b² / 2 the two drives' own. [rad]

    Raises
    ------
    ValueError
        If a length or stiffness is not above 0, or the guides' below 0.

    Notes
    -----
    It stays until power is off or the gantry is squared against its stops. A part across the beam
    comes out of square by this angle.

    References
    ----------
    .. [1] Springs side by side: derived here.

    Examples
    --------
    difference="0.254 mm" apart="700 mm" -> 0.00036286 rad
    """
    above_zero(apart_mm=apart_mm, drive_n_per_mm=drive_n_per_mm)
    not_below_zero(yaw_nmm_per_rad=yaw_nmm_per_rad)
    drives = array(drive_n_per_mm) * array(apart_mm) ** 2 / 2.0
    return array(difference_mm) / array(apart_mm) * drives / (drives + array(yaw_nmm_per_rad))


def two_motors_force_n(
    difference_mm: Floats, apart_mm: Floats, drive_n_per_mm: Floats, yaw_nmm_per_rad: Floats
) -> FloatArray:
    """Force with which two motors that disagree pull against each other. [N]

    Parameters
    ----------
    difference_mm : float or array
        One motor's place less the other's. [mm]
    apart_mm : float or array
        Between the two drives. [mm]
    drive_n_per_mm : float or array
        Stiffness of one drive. [N/mm]
    yaw_nmm_per_rad : float or array
        Of the guides against turning. [N mm/rad]

    Returns
    -------
    array
        In each drive: yaw times k_g / b, one pulling, one pushing. [N]

    Raises
    ------
    ValueError
        If a length or stiffness is not above 0, or the guides' below 0.

    Notes
    -----
    It is lost for the cut and loads the guides all the time. A gantry that cannot turn at all takes
    k d / 2 in each drive.

    References
    ----------
    .. [1] Springs side by side: derived here.

    Examples
    --------
    difference="0.254 mm" apart="700 mm" drive="5 N/um" yaw="9.8e7 N mm/rad" -> 47.037 N
    """
    yaw = two_motors_yaw_rad(difference_mm, apart_mm, drive_n_per_mm, yaw_nmm_per_rad)
    return np.abs(yaw) * array(yaw_nmm_per_rad) / array(apart_mm)


def one_screw_yaw_rad(
    force_n: Floats, from_screw_mm: Floats, yaw_nmm_per_rad: Floats
) -> FloatArray:
    """How far one screw lets a gantry turn when it is pushed beside the screw. [rad]

    Parameters
    ----------
    force_n : float or array
        Along the travel: at the cutter, or mass times acceleration at the mass's middle. [N]
    from_screw_mm : float or array
        From the screw's line across to the force: up to half the width with a screw in the middle,
        the whole width with one at the side. [mm]
    yaw_nmm_per_rad : float or array
        Of the guides against turning. [N mm/rad]

    Returns
    -------
    array
        F e / k_g. [rad]

    Raises
    ------
    ValueError
        If the stiffness is not above 0.

    References
    ----------
    .. [1] Statics.

    Examples
    --------
    force="50 N" from_screw="320 mm" yaw="9.8e7 N mm/rad" -> 0.00016327 rad
    """
    above_zero(yaw_nmm_per_rad=yaw_nmm_per_rad)
    return array(force_n) * array(from_screw_mm) / array(yaw_nmm_per_rad)


def one_screw_give_mm_per_n(
    from_screw_mm: Floats, drive_n_per_mm: Floats, yaw_nmm_per_rad: Floats
) -> FloatArray:
    """How far the cutter moves along the travel for each newton, on a gantry with one screw. [mm/N]

    Parameters
    ----------
    from_screw_mm : float or array
        From the screw's line across to the cutter. [mm]
    drive_n_per_mm : float or array
        Stiffness of the drive. [N/mm]
    yaw_nmm_per_rad : float or array
        Of the guides against turning. [N mm/rad]

    Returns
    -------
    array
        1 / k + e² / k_g. [mm/N]

    Raises
    ------
    ValueError
        If a stiffness is not above 0.

    Notes
    -----
    At the side the lever is twice that in the middle, its part of the give four times.

    References
    ----------
    .. [1] Rigid gantry on a spring and a pivot spring: derived here.

    Examples
    --------
    from_screw="320 mm" drive="5 N/um" yaw="9.8e7 N mm/rad" -> 0.0012449 mm/N
    """
    above_zero(drive_n_per_mm=drive_n_per_mm, yaw_nmm_per_rad=yaw_nmm_per_rad)
    return 1.0 / array(drive_n_per_mm) + array(from_screw_mm) ** 2 / array(yaw_nmm_per_rad)


def jamming_lever_mm(guided_mm: Floats, friction: Floats) -> FloatArray:
    """Lever beyond which a pulled slide jams in its guides, however hard it is pulled. [mm]

    Parameters
    ----------
    guided_mm : float or array
        From the first to the last guide along the travel. [mm]
    friction : float or array
        Of the guides: 0.1 to 0.2 sliding; rolling ones do not jam in practice. [-]

    Returns
    -------
    array
        s / (2 f): the force acts that far beside the guide. [mm]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    Like a drawer pulled at its corner. Play lets it turn a little first, which does not help.

    References
    ----------
    .. [1] Two guide forces N = F e / s, friction 2 f N against F: statics.

    Examples
    --------
    guided="140 mm" friction=0.15 -> 466.67 mm
    """
    above_zero(guided_mm=guided_mm, friction=friction)
    return array(guided_mm) / (2.0 * array(friction))

"""A whole drive: torque that a motion asks, the run-up to a speed, stiffness, a Z that drops."""

from math import pi

import numpy as np

from kerfwright.basics.units import GRAVITY_MM_PER_S2
from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse
from kerfwright.physics.inertia import inertia_force_n, inertia_torque_nmm
from kerfwright.physics.screws import lowering_torque_nmm, raising_torque_nmm


def demand_torque_nmm(
    thrust_n: Floats,
    mass_kg: Floats,
    acceleration_mm_per_s2: Floats,
    lead_mm: Floats,
    efficiency: Floats,
    turning_kg_mm2: Floats = 0.0,
    drag_torque_nmm: Floats = 0.0,
) -> FloatArray:
    """Torque that a motor must give, from the efficiency of its screw, belt or rack. [N mm]

    Parameters
    ----------
    thrust_n : float or array
        Cut, friction and weight against the motion. [N]
    mass_kg : float or array
        What moves along. [kg]
    acceleration_mm_per_s2 : float or array
        Of the carriage. [mm/s²]
    lead_mm : float or array
        Travel in one turn of the motor. [mm]
    efficiency : float or array
        Against the thrust, above 0, at most 1. [-]
    turning_kg_mm2 : float or array
        Moment of inertia of rotor, screw and coupling at the motor. [kg mm²]
    drag_torque_nmm : float or array
        Of preload and bearings. [N mm]

    Returns
    -------
    array
        (F + m a) l / (2 pi e) + J 2 pi a / l + T_drag. [N mm]

    Raises
    ------
    ValueError
        If F + m a is below 0 (the carriage drives: use ``drive-screw-torque``), or the efficiency
        is not between 0 and 1.

    Notes
    -----
    The mass goes through the nut, with its losses; only what turns does not. Keep the sum below 0.5
    to 0.7 of the pull-out torque at that speed (common practice, no source).

    References
    ----------
    .. [1] University of Utah, ME EN 7960, Topic 4, after THK: first term read.

    Examples
    --------
    thrust="200 N" mass="0 kg" acceleration="0 mm/s2" lead="12.7 mm" efficiency=0.5 -> 808.5 N mm
    """
    above_zero(lead_mm=lead_mm)
    not_below_zero(mass_kg=mass_kg, turning_kg_mm2=turning_kg_mm2, drag_torque_nmm=drag_torque_nmm)
    share, lead = array(efficiency), array(lead_mm)
    refuse(~((share > 0.0) & (share <= 1.0)), "efficiency must lie between 0 and 1")
    force = array(thrust_n) + inertia_force_n(mass_kg, acceleration_mm_per_s2)
    refuse(force < 0.0, "thrust and inertia together drive the carriage")
    turning = inertia_torque_nmm(turning_kg_mm2, 2.0 * pi * array(acceleration_mm_per_s2) / lead)
    return force * lead / (2.0 * pi * share) + turning + array(drag_torque_nmm)


def screw_torque_nmm(
    thrust_n: Floats,
    mass_kg: Floats,
    acceleration_mm_per_s2: Floats,
    mean_diameter_mm: Floats,
    lead_mm: Floats,
    friction: Floats,
    flank_half_angle_rad: Floats = 0.0,
    turning_kg_mm2: Floats = 0.0,
    drag_torque_nmm: Floats = 0.0,
) -> FloatArray:
    """Torque that a motor must give at a sliding screw, speeding up or slowing down. [N mm]

    Parameters
    ----------
    thrust_n : float or array
        Cut, friction and weight against the motion; below 0 along it. [N]
    mass_kg : float or array
        What moves along. [kg]
    acceleration_mm_per_s2 : float or array
        Along the motion; below 0 slowing down. [mm/s²]
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    friction : float or array
        Sliding coefficient, nut on screw. [-]
    flank_half_angle_rad : float or array
        Half the included thread angle. [rad]
    turning_kg_mm2 : float or array
        Moment of inertia of rotor, screw and coupling. [kg mm²]
    drag_torque_nmm : float or array
        Of preload and bearings. [N mm]

    Returns
    -------
    array
        With F + m a above 0 its raising torque, else the lowering torque of its size; plus J 2 pi a
        / l and the drag. Below 0 the motor holds back. [N mm]

    Raises
    ------
    ValueError
        If no torque can turn the screw.

    References
    ----------
    .. [1] As ``screw-raising-torque`` and ``screw-lowering-torque``; the sum is derived here.

    Examples
    --------
    thrust="0 N" mass="15 kg" acceleration="1 m/s2" mean_diameter="11.43 mm" lead="12.7 mm"
    friction=0.15 flank_half_angle="14.5 deg" turning="63.78 kg mm2" -> 77.7 N mm
    """
    not_below_zero(mass_kg=mass_kg, turning_kg_mm2=turning_kg_mm2, drag_torque_nmm=drag_torque_nmm)
    thread = (mean_diameter_mm, lead_mm, friction, flank_half_angle_rad)
    force = array(thrust_n) + inertia_force_n(mass_kg, acceleration_mm_per_s2)
    against, along = np.maximum(force, 0.0), np.maximum(-force, 0.0)
    through = raising_torque_nmm(against, *thread) + lowering_torque_nmm(along, *thread)
    spin = 2.0 * pi * array(acceleration_mm_per_s2) / array(lead_mm)
    return through + inertia_torque_nmm(turning_kg_mm2, spin) + array(drag_torque_nmm)


def run_up(
    speed_mm_per_s: FloatArray, acceleration_mm_per_s2: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Time and way from rest to each speed, where the acceleration falls with the speed. [s, mm]

    Parameters
    ----------
    speed_mm_per_s : array (k,)
        Rising from 0. [mm/s]
    acceleration_mm_per_s2 : array (k,)
        What the motor can give there; straight lines between. [mm/s²]

    Returns
    -------
    time_s, way_mm : array (k,)
        The integrals of dv / a and of v dv / a, exact for the straight lines.

    Raises
    ------
    ValueError
        If the speeds do not rise from 0, or an acceleration is not above 0.

    Notes
    -----
    The acceleration at the top speed, held from the start, would take far longer.

    References
    ----------
    .. [1] Definition of acceleration; integrals of one straight line: derived here.

    Examples
    --------
    speed="[0, 100, 200] mm/s" acceleration="[1000, 1000, 500] mm/s2" ->
    time [0, 0.1, 0.23863] s, way [0, 5, 26.589] mm
    """
    speed, rate = array(speed_mm_per_s), array(acceleration_mm_per_s2)
    refuse(speed.shape != rate.shape or speed.ndim != 1, "speeds and accelerations must pair up")
    refuse(speed[0] != 0.0 or bool(np.any(np.diff(speed) <= 0.0)), "speeds must rise from 0")
    above_zero(acceleration_mm_per_s2=rate)
    step, mean = np.diff(speed), 0.5 * (rate[1:] + rate[:-1])
    fall = np.diff(rate)
    even = np.abs(fall) < 1e-6 * mean
    slope = np.where(even, 1.0, fall) / step
    log = np.log(rate[1:] / rate[:-1])
    time = np.where(even, step / mean, log / slope)
    # v = v0 + (a - a0) / slope
    way = np.where(
        even, 0.5 * (speed[1:] + speed[:-1]) * step / mean,
        (step - rate[:-1] * log / slope) / slope + speed[:-1] * log / slope,
    )  # fmt: skip
    zero = np.zeros(1)
    return np.concatenate((zero, np.cumsum(time))), np.concatenate((zero, np.cumsum(way)))


def train_stiffness_n_per_mm(
    screw_n_per_mm: Floats,
    nut_n_per_mm: Floats,
    bearing_n_per_mm: Floats,
    mount_n_per_mm: Floats = np.inf,
    wind_up_nmm_per_rad: Floats = np.inf,
    lead_mm: Floats = 1.0,
) -> FloatArray:
    """Stiffness of a screw drive, all its parts in a row. [N/mm]

    Parameters
    ----------
    screw_n_per_mm, nut_n_per_mm, bearing_n_per_mm, mount_n_per_mm : float or array
        Of each part along the axis; infinite where it does not give. [N/mm]
    wind_up_nmm_per_rad : float or array
        Of screw and coupling in torsion. [N mm/rad]
    lead_mm : float or array
        Travel in one turn; counts with the wind-up. [mm]

    Returns
    -------
    array
        1 / (sum of 1 / k + 1 / (k_t (2 pi / l)²)). [N/mm]

    Raises
    ------
    ValueError
        If a stiffness is not above 0.

    Notes
    -----
    Frictionless for the wind-up: with the thread's friction it gives more, by the raising torque
    over F l / 2 pi. The motor's magnetic spring comes in the row as well.

    References
    ----------
    .. [1] Springs in a row: statics.

    Examples
    --------
    screw="27.97 N/um" nut="50 N/um" bearing="30 N/um" -> 11225 N/mm
    """
    above_zero(
        screw_n_per_mm=screw_n_per_mm,
        nut_n_per_mm=nut_n_per_mm,
        bearing_n_per_mm=bearing_n_per_mm,
        mount_n_per_mm=mount_n_per_mm,
        wind_up_nmm_per_rad=wind_up_nmm_per_rad,
        lead_mm=lead_mm,
    )
    parts = (screw_n_per_mm, nut_n_per_mm, bearing_n_per_mm, mount_n_per_mm)
    give = (array(lead_mm) / (2.0 * pi)) ** 2 / array(wind_up_nmm_per_rad)
    for part in parts:
        give = give + 1.0 / array(part)
    return np.asarray(1.0 / give)


def drop_torque_nmm(
    mass_kg: Floats,
    mean_diameter_mm: Floats,
    lead_mm: Floats,
    friction: Floats,
    flank_half_angle_rad: Floats = 0.0,
    guide_friction_n: Floats = 0.0,
    drag_torque_nmm: Floats = 0.0,
) -> FloatArray:
    """Torque that a brake must hold so that Z stays up when the power is cut. [N mm]

    Parameters
    ----------
    mass_kg : float or array
        What Z carries. [kg]
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    friction : float or array
        Sliding coefficient, nut on screw; take the least, since shaking lowers it. [-]
    flank_half_angle_rad : float or array
        Half the included thread angle. [rad]
    guide_friction_n : float or array
        Of Z's guide. [N]
    drag_torque_nmm : float or array
        Of nut preload, bearings and the motor's detent. [N mm]

    Returns
    -------
    array
        What the weight less friction gives at the screw, less the drag; 0 or below: it stays by
        itself. [N mm]

    Raises
    ------
    ValueError
        If a value is below 0 or a length not above 0.

    Notes
    -----
    Vibration can defeat friction. Keep hands from below a Z that only friction holds.

    References
    ----------
    .. [1] Lowering torque of the screw, sign turned: ``screw-lowering-torque``.

    Examples
    --------
    mass="4 kg" mean_diameter="11.43 mm" lead="12.7 mm" friction=0.1 flank_half_angle="14.5 deg"
    guide_friction="5 N" drag_torque="10 N mm" -> 37.251 N mm
    mass="4 kg" mean_diameter="11.43 mm" lead="2.54 mm" friction=0.1 flank_half_angle="14.5 deg"
    -> -7.2451 N mm
    """
    not_below_zero(
        mass_kg=mass_kg, guide_friction_n=guide_friction_n, drag_torque_nmm=drag_torque_nmm
    )
    pull = np.maximum(inertia_force_n(mass_kg, GRAVITY_MM_PER_S2) - array(guide_friction_n), 0.0)
    thread = (mean_diameter_mm, lead_mm, friction, flank_half_angle_rad)
    return -lowering_torque_nmm(pull, *thread) - array(drag_torque_nmm)


def drop_acceleration_mm_per_s2(
    mass_kg: Floats,
    mean_diameter_mm: Floats,
    lead_mm: Floats,
    friction: Floats,
    flank_half_angle_rad: Floats = 0.0,
    guide_friction_n: Floats = 0.0,
    drag_torque_nmm: Floats = 0.0,
    turning_kg_mm2: Floats = 0.0,
) -> FloatArray:
    """How fast Z gathers speed downwards when nothing holds it. [mm/s²]

    Parameters
    ----------
    mass_kg : float or array
        What Z carries. [kg]
    mean_diameter_mm, lead_mm : float or array
        Thread mean diameter; travel in one turn. [mm]
    friction : float or array
        Sliding coefficient, nut on screw. [-]
    flank_half_angle_rad : float or array
        Half the included thread angle. [rad]
    guide_friction_n : float or array
        Of Z's guide. [N]
    drag_torque_nmm : float or array
        Of nut preload, bearings and the motor's detent. [N mm]
    turning_kg_mm2 : float or array
        Moment of inertia of rotor, screw and coupling. [kg mm²]

    Returns
    -------
    array
        T / (e m + J 2 pi / l), T as ``drive-drop-torque`` and e the torque of one newton; 0 where
        it stays. [mm/s²]

    Raises
    ------
    ValueError
        If a value is below 0 or a length not above 0.

    References
    ----------
    .. [1] Newton's second law at the screw: derived here.

    Examples
    --------
    mass="4 kg" mean_diameter="11.43 mm" lead="12.7 mm" friction=0.1 flank_half_angle="14.5 deg"
    guide_friction="5 N" drag_torque="10 N mm" turning="60 kg mm2" -> 1058.1 mm/s²
    """
    not_below_zero(turning_kg_mm2=turning_kg_mm2)
    thread = (mean_diameter_mm, lead_mm, friction, flank_half_angle_rad)
    torque = drop_torque_nmm(mass_kg, *thread, guide_friction_n, drag_torque_nmm)
    each = np.maximum(-lowering_torque_nmm(1.0, *thread), 0.0)
    carried = each * inertia_force_n(mass_kg, 1.0)
    slowed = carried + inertia_torque_nmm(turning_kg_mm2, 2.0 * pi / array(lead_mm))
    falls = torque > 0.0
    return np.where(falls, torque, 0.0) / np.where(falls, slowed, 1.0)

"""Two-phase stepper motors: pull-out torque at speed, small steps, the magnetic spring."""

from math import pi, sqrt

import numpy as np

from kerfwright.physics.domain import (
    FloatArray,
    Floats,
    above_zero,
    array,
    not_below_zero,
    refuse,
)
from kerfwright.physics.inertia import N_PER_KG_MM_PER_S2

#: One watt second in N mm: a torque constant in N mm/A over this is a voltage constant in V s/rad.
NMM_PER_J = 1000.0


def rotor_teeth(full_steps_per_rev: Floats) -> FloatArray:
    """Rotor teeth of a two-phase hybrid motor: four full steps pass in one tooth. [-]

    Parameters
    ----------
    full_steps_per_rev : float or array
        200 for a 1.8 degree motor. [-]

    Returns
    -------
    array
        S / 4. [-]

    Raises
    ------
    ValueError
        If there are no steps.

    References
    ----------
    .. [1] Kosow, Electric Machinery and Transformers, 2nd ed., example 11-3: read.

    Examples
    --------
    full_steps_per_rev=200 -> 50
    """
    above_zero(full_steps_per_rev=full_steps_per_rev)
    return array(full_steps_per_rev) / 4.0


def torque_constant_nmm_per_a(holding_torque_nmm: Floats, rated_current_a: Floats) -> FloatArray:
    """Torque for each ampere in one phase, from the data sheet's holding torque. [N mm/A]

    Parameters
    ----------
    holding_torque_nmm : float or array
        With both phases on, each at the rated current. [N mm]
    rated_current_a : float or array
        In each phase, standing. [A]

    Returns
    -------
    array
        T / (sqrt 2 I). [N mm/A]

    Notes
    -----
    Iron saturation is left out; detent torque is counted in the holding torque.

    References
    ----------
    .. [1] Acarnley, Stepping Motors: from memory.

    Examples
    --------
    holding_torque="1.9 N m" rated_current="2.8 A" -> 479.82 N mm/A
    """
    above_zero(holding_torque_nmm=holding_torque_nmm, rated_current_a=rated_current_a)
    return array(holding_torque_nmm) / (sqrt(2.0) * array(rated_current_a))


def pull_out_torque_nmm(
    speed_rev_per_s: Floats,
    torque_constant_nmm_per_a: Floats,
    peak_current_a: Floats,
    supply_v: Floats,
    resistance_ohm: Floats,
    inductance_h: Floats,
    teeth: Floats = 50.0,
) -> FloatArray:
    """Greatest torque a motor can give at a steady speed within current and voltage. [N mm]

    Parameters
    ----------
    speed_rev_per_s : float or array
        Shaft speed. [rev/s]
    torque_constant_nmm_per_a : float or array
        ``stepper-torque-constant``. [N mm/A]
    peak_current_a : float or array
        Peak of the sine current that the driver lets flow. [A]
    supply_v : float or array
        Supply, taken as the peak of the phase voltage's fundamental. [V]
    resistance_ohm, inductance_h : float or array
        Of one phase. [ohm, H]
    teeth : float or array
        Rotor teeth, 50 for a 1.8 degree motor. [-]

    Returns
    -------
    array
        Most K i_q within i_d² + i_q² <= I² and (R i_d - X i_q)² + (R i_q + X i_d + K w)² <= V²,
        X = N w L; 0 where the back-EMF leaves none. [N mm]

    Notes
    -----
    In rotor coordinates both limits are discs in the plane of i_d and i_q: the current's about 0
    with radius I, the voltage's about -E (X, R) / Z² with radius V / Z, because the impedance is a
    rotation times Z. The torque is proportional to i_q, so the answer is the highest point of the
    discs' common part: the top of one of them or the upper crossing of their rims. Both currents
    are free; with i_d = 0 the model would lose all torque far too early.

    Left out: detent and iron drag (``motor-drag-pull-range``), the square form of a chopped voltage
    (the curve lies 2 to 14 % below a time-domain model per phase), swinging (``mid-band-share``),
    saturation.

    References
    ----------
    .. [1] d-q model of a surface-magnet synchronous machine: textbook, from memory.

    Examples
    --------
    speed="600 rev/min" torque_constant="479.82 N mm/A" peak_current="2.8 A" supply="24 V"
    resistance="1 ohm" inductance="3 mH" -> 925 N mm
    """
    not_below_zero(speed_rev_per_s=speed_rev_per_s)
    above_zero(
        torque_constant_nmm_per_a=torque_constant_nmm_per_a,
        peak_current_a=peak_current_a,
        supply_v=supply_v,
        resistance_ohm=resistance_ohm,
    )
    turning = 2.0 * pi * array(speed_rev_per_s)
    constant, current, resistance = (
        array(torque_constant_nmm_per_a),
        array(peak_current_a),
        array(resistance_ohm),
    )
    reactance = array(teeth) * turning * array(inductance_h)
    impedance2 = resistance**2 + reactance**2
    emf = constant / NMM_PER_J * turning
    centre_d, centre_q = -emf * reactance / impedance2, -emf * resistance / impedance2
    reach = array(supply_v) / np.sqrt(impedance2)
    return constant * np.maximum(_highest_q(current, centre_d, centre_q, reach), 0.0)


def _highest_q(
    current: FloatArray, centre_d: FloatArray, centre_q: FloatArray, reach: FloatArray
) -> FloatArray:
    """Highest q of the common part of disc (0, 0, current) and (centre, reach); 0 if none."""
    apart2 = centre_d**2 + centre_q**2
    top_of_current = centre_d**2 + (current - centre_q) ** 2 <= reach**2
    top_of_voltage = centre_d**2 + (centre_q + reach) ** 2 <= current**2
    apart = np.maximum(np.sqrt(apart2), 1e-9)  # nearer than that one disc holds the other
    along = (current**2 - reach**2 + apart2) / (2.0 * apart)
    half2 = current**2 - along**2
    half = np.sqrt(np.maximum(half2, 0.0))
    # Both rims cross at  along * n +- half * (n turned a quarter); d of the centre is not above 0,
    # so of the two crossings the upper one adds half * |n_d|.
    crossing = along * centre_q / apart + half * np.abs(centre_d) / apart
    meets = (half2 >= 0.0) & (apart2 > 0.0)
    rim = np.where(meets, crossing, 0.0)
    return np.where(top_of_current, current, np.where(top_of_voltage, centre_q + reach, rim))


def corner_speed_rev_per_s(
    torque_constant_nmm_per_a: Floats,
    peak_current_a: Floats,
    supply_v: Floats,
    resistance_ohm: Floats,
    inductance_h: Floats,
    teeth: Floats = 50.0,
) -> FloatArray:
    """Last speed at which the full current still flows in step with the torque. [rev/s]

    Parameters
    ----------
    torque_constant_nmm_per_a : float or array
        ``stepper-torque-constant``. [N mm/A]
    peak_current_a : float or array
        Peak of the sine current that the driver lets flow. [A]
    supply_v : float or array
        Supply, taken as the peak of the phase voltage's fundamental. [V]
    resistance_ohm, inductance_h : float or array
        Of one phase. [ohm, H]
    teeth : float or array
        Rotor teeth, 50 for a 1.8 degree motor. [-]

    Returns
    -------
    array
        The w of (R I + K w)² + (N w L I)² = V², over 2 pi; 0 where R I alone takes the supply.
        [rev/s]

    Raises
    ------
    ValueError
        If the torque constant is not above 0.

    Notes
    -----
    Without advance of the phase: ``stepper-pull-out-torque`` begins to fall here.

    References
    ----------
    .. [1] Derived from the phasor diagram.

    Examples
    --------
    torque_constant="479.82 N mm/A" peak_current="2.8 A" supply="24 V" resistance="1 ohm"
    inductance="3 mH" -> 5.447 rev/s
    """
    emf = array(torque_constant_nmm_per_a) / NMM_PER_J
    drop = array(resistance_ohm) * array(peak_current_a)
    swing = array(teeth) * array(inductance_h) * array(peak_current_a)
    square = emf**2 + swing**2
    above_zero(torque_constant_nmm_per_a=torque_constant_nmm_per_a)
    root = np.maximum((drop * emf) ** 2 - square * (drop**2 - array(supply_v) ** 2), 0.0)
    return np.maximum((-drop * emf + np.sqrt(root)) / square, 0.0) / (2.0 * pi)


def quick_limit_rev_per_s(
    supply_v: Floats, inductance_h: Floats, current_a: Floats, full_steps_per_rev: Floats
) -> FloatArray:
    """Rule of thumb for the top speed. [rev/s]

    Parameters
    ----------
    supply_v, inductance_h, current_a : float or array
        Supply; of one phase; in one phase. [V, H, A]
    full_steps_per_rev : float or array
        200 for a 1.8 degree motor. [-]

    Returns
    -------
    array
        V / (2 L I S): the time 2 L I / V for each full step. [rev/s]

    Raises
    ------
    ValueError
        If inductance, current or steps are not above 0.

    Notes
    -----
    Ignores resistance and back-EMF; printed by distributors, higher than
    ``stepper-corner-speed``. Here to show how rough it is. The power cannot exceed V I.

    References
    ----------
    .. [1] A distributor's stepper page: read.

    Examples
    --------
    supply="48 V" inductance="3 mH" current="2.8 A" full_steps_per_rev=200 -> 14.29 rev/s
    """
    above_zero(
        inductance_h=inductance_h, current_a=current_a, full_steps_per_rev=full_steps_per_rev
    )
    return array(supply_v) / (
        2.0 * array(inductance_h) * array(current_a) * array(full_steps_per_rev)
    )


def standing_error_rad(
    torque_nmm: Floats, peak_torque_nmm: Floats, teeth: Floats = 50.0
) -> FloatArray:
    """How far a torque turns the shaft away from where the current holds it. [rad]

    Parameters
    ----------
    torque_nmm, peak_torque_nmm : float or array
        At the shaft; greatest as driven. [N mm]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        asin(T / T_m) / N: the magnetic spring. [rad]

    Raises
    ------
    ValueError
        If the torque exceeds what the motor holds: it slips.

    References
    ----------
    .. [1] D. W. Jones, Stepping Motor Physics: read in part.

    Examples
    --------
    torque="0.5 N m" peak_torque="1 N m" -> 0.010472 rad
    """
    above_zero(peak_torque_nmm=peak_torque_nmm, teeth=teeth)
    share = array(torque_nmm) / array(peak_torque_nmm)
    refuse(np.abs(share) > 1.0, "the torque exceeds what the motor holds: it slips")
    return np.arcsin(share) / array(teeth)


def electrical_stiffness_nmm_per_rad(peak_torque_nmm: Floats, teeth: Floats = 50.0) -> FloatArray:
    """Slope of the magnetic spring about its middle. [N mm/rad]

    Parameters
    ----------
    peak_torque_nmm : float or array
        Greatest torque as driven, standing. [N mm]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        N T. [N mm/rad]

    Notes
    -----
    Small angles: it is nothing at a quarter tooth, where the motor slips.

    References
    ----------
    .. [1] D. W. Jones, Stepping Motor Physics (pi h / 2 S, the same): read.

    Examples
    --------
    peak_torque="1.9 N m" -> 95000 N mm/rad
    """
    return array(teeth) * array(peak_torque_nmm)


def electrical_resonance_hz(
    peak_torque_nmm: Floats, inertia_kg_mm2: Floats, teeth: Floats = 50.0
) -> FloatArray:
    """Frequency at which rotor and load swing on the magnetic spring. [Hz]

    Parameters
    ----------
    peak_torque_nmm : float or array
        Greatest torque as driven, standing. [N mm]
    inertia_kg_mm2 : float or array
        Rotor and all that turns or moves with it, at the shaft. [kg mm²]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        sqrt(N T / J) / 2 pi. [Hz]

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    Small swings; it falls as they grow. Full steps meet it at f / S turns a second.

    References
    ----------
    .. [1] D. W. Jones, Stepping Motor Physics: read.

    Examples
    --------
    peak_torque="1.9 N m" inertia="480 g cm2" -> 223.9 Hz
    """
    above_zero(peak_torque_nmm=peak_torque_nmm, inertia_kg_mm2=inertia_kg_mm2)
    stiffness = electrical_stiffness_nmm_per_rad(peak_torque_nmm, teeth)
    return np.sqrt(stiffness / (array(inertia_kg_mm2) * N_PER_KG_MM_PER_S2)) / (2.0 * pi)


def largest_speed_jump_rad_per_s(
    load_torque_nmm: Floats, peak_torque_nmm: Floats, inertia_kg_mm2: Floats, teeth: Floats = 50.0
) -> FloatArray:
    """Greatest sudden change of speed that the rotor follows without slipping. [rad/s]

    Parameters
    ----------
    load_torque_nmm, peak_torque_nmm : float or array
        Steady load at the shaft; greatest torque at that speed. [N mm]
    inertia_kg_mm2 : float or array
        Rotor and all that turns or moves with it, at the shaft. [kg mm²]
    teeth : float or array
        Rotor teeth. [-]

    Returns
    -------
    array
        sqrt(2 dV / J), dV = 2 T / N (sqrt(1 - s²) - s acos s) the height of the magnetic hill and s
        the load over T; 0 if the load already exceeds it. [rad/s]

    Notes
    -----
    No damping is counted. A slip is four full steps.

    References
    ----------
    .. [1] Energy of the pendulum-like rotor: derived here.

    Examples
    --------
    load_torque="0 N mm" peak_torque="1343.5 N mm" inertia="125.06 kg mm2" -> 29.32 rad/s
    load_torque="671.75 N mm" peak_torque="1343.5 N mm" inertia="125.06 kg mm2" -> 17.15 rad/s
    """
    above_zero(peak_torque_nmm=peak_torque_nmm, inertia_kg_mm2=inertia_kg_mm2)
    share = np.clip(np.abs(array(load_torque_nmm)) / array(peak_torque_nmm), 0.0, 1.0)
    hill = 2.0 * array(peak_torque_nmm) / array(teeth)
    hill = hill * (np.sqrt(1.0 - share**2) - share * np.arccos(share))
    return np.sqrt(2.0 * np.maximum(hill, 0.0) / (array(inertia_kg_mm2) * N_PER_KG_MM_PER_S2))

"""The low-voltage side: what motors draw, wires that lose voltage, fuses, heat in an enclosure.

Up to 60 V of direct current only. Mains, its earth, its fuses and everything before the supply's
low-voltage terminals are a licensed electrician's work under the local code.
"""

import numpy as np

from kerfwright.physics.domain import FloatArray, Floats, above_zero, array, not_below_zero, refuse

#: Highest direct voltage that these pages help with: a usual limit of extra-low voltage in dry
#: rooms (IEC 62368-1, from memory). [V]
MOST_V = 60.0
#: Copper at 20 °C and its rise with temperature (IEC 60028, from memory). [ohm mm²/m, 1/K]
COPPER_OHM_MM2_PER_M, COPPER_PER_K = 0.017241, 0.00393
#: Share of its rating that a fuse is loaded with: common practice, no source. [-]
FUSE_SHARE = 0.75
#: Heat that a cubic metre of air takes up for each degree, at 20 °C and sea level. [J/m³ K]
_AIR_J_PER_M3_K = 1.2 * 1005.0


def motor_input_w(
    peak_current_a: Floats,
    resistance_ohm: Floats,
    torque_nmm: Floats,
    speed_rev_per_s: Floats,
    driver_efficiency: Floats = 0.9,
) -> FloatArray:
    """Power that one stepper motor and its driver take from the supply. [W]

    Parameters
    ----------
    peak_current_a : float or array
        Peak of the phase current. [A]
    resistance_ohm : float or array
        Of one phase. [ohm]
    torque_nmm, speed_rev_per_s : float or array
        At the shaft. [N mm, rev/s]
    driver_efficiency : float or array
        Share that reaches the motor; 0.85 to 0.95 (common practice, no source). [-]

    Returns
    -------
    array
        (I² R + T w) / e. [W]

    Raises
    ------
    ValueError
        If a current or resistance is below 0, or the efficiency not between 0 and 1.

    Notes
    -----
    Iron losses are left out: at ten turns a second some watts more. Standing, a chopping driver
    takes far less current from the supply than flows in the phases.

    References
    ----------
    .. [1] Balance of power: derived here.

    Examples
    --------
    peak_current="2.8 A" resistance="1 ohm" torque="0.5 N m" speed="600 rev/min" -> 43.618 W
    """
    not_below_zero(peak_current_a=peak_current_a, resistance_ohm=resistance_ohm)
    share = array(driver_efficiency)
    refuse(~((share > 0.0) & (share <= 1.0)), "driver_efficiency must lie between 0 and 1")
    heat = array(peak_current_a) ** 2 * array(resistance_ohm)
    work = array(torque_nmm) * 2.0 * np.pi * array(speed_rev_per_s) / 1000.0
    return (heat + work) / share


def load_current_a(power_w: Floats, supply_v: Floats) -> FloatArray:
    """Direct current of a load. [A]

    Parameters
    ----------
    power_w : float or array
        Of all that hangs on it. [W]
    supply_v : float or array
        Direct voltage, at most 60 V. [V]

    Returns
    -------
    array
        P / V. [A]

    Raises
    ------
    ValueError
        If the voltage is not above 0, or above 60 V.

    Notes
    -----
    A supply a third larger than the sum of the motors' takes is common practice, no source.

    References
    ----------
    .. [1] Definition of power.

    Examples
    --------
    power="130 W" supply="36 V" -> 3.6111 A
    """
    not_below_zero(power_w=power_w)
    _low_voltage(supply_v)
    return array(power_w) / array(supply_v)


def wire_area_mm2(gauge: Floats) -> FloatArray:
    """Section of a wire by its American gauge number. [mm²]

    Parameters
    ----------
    gauge : float or array
        AWG, from 0 to 40. [-]

    Returns
    -------
    array
        pi d² / 4, d = 0.127 mm 92^((36 - n) / 39). [mm²]

    Raises
    ------
    ValueError
        If the number is out of that range.

    References
    ----------
    .. [1] ASTM B258: from memory.

    Examples
    --------
    gauge=18 -> 0.82305 mm²
    """
    number = array(gauge)
    refuse(~((number >= 0.0) & (number <= 40.0)), "the gauge must lie between 0 and 40")
    return np.pi / 4.0 * (0.127 * 92.0 ** ((36.0 - number) / 39.0)) ** 2


def wire_resistance_ohm(
    length_mm: Floats, area_mm2: Floats, temperature_degc: Floats = 20.0
) -> FloatArray:
    """Resistance of a copper wire. [ohm]

    Parameters
    ----------
    length_mm : float or array
        Of the wire: there and back for a pair. [mm]
    area_mm2 : float or array
        Section of the copper. [mm²]
    temperature_degc : float or array
        Of the copper. [°C]

    Returns
    -------
    array
        0.017241 ohm mm²/m times l / A times 1 + 0.00393 (t - 20). [ohm]

    Raises
    ------
    ValueError
        If a length or section is not above 0, or the temperature below -50 or above 150 °C.

    Notes
    -----
    Terminals and connectors add milliohms each, more when loose.

    References
    ----------
    .. [1] IEC 60028 annealed copper: from memory.

    Examples
    --------
    length="10 m" area="1.5 mm2" -> 0.11494 ohm
    """
    above_zero(length_mm=length_mm, area_mm2=area_mm2)
    warm = array(temperature_degc)
    refuse(~((warm >= -50.0) & (warm <= 150.0)), "copper in a machine is at -50 to 150 °C")
    at_20 = COPPER_OHM_MM2_PER_M * array(length_mm) / 1000.0 / array(area_mm2)
    return at_20 * (1.0 + COPPER_PER_K * (warm - 20.0))


def wire_drop_v(
    current_a: Floats, one_way_mm: Floats, area_mm2: Floats, temperature_degc: Floats = 20.0
) -> FloatArray:
    """Voltage lost on a pair of wires. [V]

    Parameters
    ----------
    current_a : float or array
        Direct current. [A]
    one_way_mm : float or array
        From supply to driver; the current goes back as far. [mm]
    area_mm2 : float or array
        Section of one wire. [mm²]
    temperature_degc : float or array
        Of the copper. [°C]

    Returns
    -------
    array
        I R of twice the way. [V]

    Raises
    ------
    ValueError
        As ``supply-wire-resistance``.

    Notes
    -----
    Take it off the supply before looking at the pull-out torque; below 3 % is common practice, no
    source.

    References
    ----------
    .. [1] Ohm's law.

    Examples
    --------
    current="10 A" one_way="5 m" area="1.5 mm2" -> 1.1494 V
    """
    return array(current_a) * wire_resistance_ohm(
        2.0 * array(one_way_mm), area_mm2, temperature_degc
    )


def fuse_range_a(
    load_a: Floats, wire_carries_a: Floats, supply_v: Floats, fuse_share: Floats = 0.75
) -> tuple[FloatArray, FloatArray]:
    """Ratings between which a low-voltage fuse lets the load run and keeps the wire. [A]

    Parameters
    ----------
    load_a : float or array
        Greatest steady current. [A]
    wire_carries_a : float or array
        That the thinnest wire behind the fuse may carry, from its maker or the local code. [A]
    supply_v : float or array
        Direct voltage, at most 60 V; the fuse must be made for direct current at it. [V]
    fuse_share : float or array
        Share of its rating that a fuse is loaded with. [-]

    Returns
    -------
    least_a, most_a : array
        Load / share; what the wire carries.

    Raises
    ------
    ValueError
        If the wire is too thin for such a fuse, or the voltage above 60 V.

    Notes
    -----
    A fuse keeps the wire from burning, not the driver. At the mains it is the licensed
    electrician's choice under the local code.

    References
    ----------
    .. [1] Load of at most 75 % of the rating: common practice, no source.

    Examples
    --------
    load="3.6 A" wire_carries="10 A" supply="36 V" -> least 4.8 A, most 10 A
    """
    above_zero(load_a=load_a, wire_carries_a=wire_carries_a, fuse_share=fuse_share)
    _low_voltage(supply_v)
    least, most = np.broadcast_arrays(array(load_a) / array(fuse_share), array(wire_carries_a))
    refuse(least > most, "the wire is too thin: it would burn before such a fuse does")
    return least, most


def enclosure_rise_degc(
    heat_w: Floats, surface_m2: Floats, conductance_w_per_m2_k: Floats = 5.5
) -> FloatArray:
    """How much warmer than the room a closed enclosure gets. [°C]

    Parameters
    ----------
    heat_w : float or array
        Of supply and drivers: what goes in less what goes out to the motors. [W]
    surface_m2 : float or array
        Free outside surface; what stands on a wall does not count. [m²]
    conductance_w_per_m2_k : float or array
        5.5 for painted steel sheet in still air, 3.5 for plastic. [W/m²/K]

    Returns
    -------
    array
        P / (k A), the mean of the air inside. [°C]

    Raises
    ------
    ValueError
        If a surface or conductance is not above 0, or the heat below 0.

    Notes
    -----
    Under the lid it is warmer than the mean. Wooden enclosures burn and keep heat in: not for this.

    References
    ----------
    .. [1] Makers of enclosures, after IEC 60890: from memory.

    Examples
    --------
    heat="40 W" surface="0.5 m2" -> 14.545 °C
    """
    not_below_zero(heat_w=heat_w)
    above_zero(surface_m2=surface_m2, conductance_w_per_m2_k=conductance_w_per_m2_k)
    return array(heat_w) / (array(conductance_w_per_m2_k) * array(surface_m2))


def fan_flow_m3_per_h(heat_w: Floats, rise_degc: Floats) -> FloatArray:
    """Air that must go through an enclosure to hold a rise. [m³/h]

    Parameters
    ----------
    heat_w : float or array
        Given off inside. [W]
    rise_degc : float or array
        Allowed from the air that comes in to that which goes out. [°C]

    Returns
    -------
    array
        P / (density c_p dT), 3 P / dT in these units. [m³/h]

    Raises
    ------
    ValueError
        If the rise is not above 0, or the heat below 0.

    Notes
    -----
    A filter halves what a fan moves; wood dust clogs it.

    References
    ----------
    .. [1] Balance of heat, air of 1.2 kg/m³ and 1005 J/kg K: textbook.

    Examples
    --------
    heat="40 W" rise="10 degC" -> 11.94 m³/h
    """
    not_below_zero(heat_w=heat_w)
    above_zero(rise_degc=rise_degc)
    return 3600.0 * array(heat_w) / (_AIR_J_PER_M3_K * array(rise_degc))


def _low_voltage(supply_v: Floats) -> None:
    above_zero(supply_v=supply_v)
    refuse(
        array(supply_v) > MOST_V,
        f"above {MOST_V:g} V ask a licensed electrician; the local code holds",
    )

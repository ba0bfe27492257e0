"""The low-voltage side and the driver's settings, against laws and standards' tables."""

import numpy as np
import pytest

from kerfwright.physics import drivers, supply

PEAK = 1900.0 / 2**0.5


@pytest.mark.parametrize(
    ("gauge", "mm2"), [(10, 5.26), (12, 3.31), (14, 2.08), (16, 1.31), (18, 0.823),
        (20, 0.518), (24, 0.205)]
)  # fmt: skip
def test_wire_gauges(gauge, mm2):
    # ASTM B258's table as printed in most handbooks, from memory.
    assert supply.wire_area_mm2(gauge) == pytest.approx(mm2, rel=3e-3)


def test_six_gauges_halve_the_diameter():
    # 92^(6/39) = 2.005: the trade's rule (common practice, no source)
    ratio = supply.wire_area_mm2(np.arange(4, 30)) / supply.wire_area_mm2(np.arange(10, 36))
    assert ratio == pytest.approx(4.02, abs=0.01)


def test_copper():
    # IEC 60228 class 2, 1.5 mm² (from memory): at most 12.1 ohm/km at 20 °C; annealed copper by
    # section alone is 11.5.
    per_km = supply.wire_resistance_ohm(1e6, 1.5)
    assert 0.93 * 12.1 < per_km < 12.1
    # a quarter more at 80 °C
    warm = supply.wire_resistance_ohm(1e6, 1.5, 80.0)
    assert warm / per_km == pytest.approx(1.236, abs=1e-3)


def test_wire_drop_there_and_back():
    drop = supply.wire_drop_v(10, 5000, 1.5)
    assert drop == pytest.approx(10 * 2 * 5.0 * 0.017241 / 1.5)
    lost = 10 * drop  # W in the wire, both ways
    assert lost == pytest.approx(10**2 * supply.wire_resistance_ohm(10_000, 1.5))


def test_a_motor_takes_copper_and_work():
    standing = supply.motor_input_w(2.8, 1.0, 0.0, 0.0, 1.0)
    assert standing == pytest.approx(drivers.copper_heat_w(2.8, 1.0)) == pytest.approx(7.84)
    # I² R averaged over the two sines by numbers
    angle = np.linspace(0, 2 * np.pi, 1001)[:-1]
    phases = (2.8 * np.sin(angle)) ** 2 + (2.8 * np.cos(angle)) ** 2
    assert phases.mean() == pytest.approx(7.84)
    turning = supply.motor_input_w(2.8, 1.0, 500.0, 10.0, 1.0)
    assert turning - standing == pytest.approx(0.5 * 2 * np.pi * 10)
    assert supply.load_current_a(turning, 36.0) * 36 == pytest.approx(turning)


def test_a_fuse_has_a_window():
    least, most = supply.fuse_range_a(3.6, 10.0, 36.0)
    assert (least, most) == (pytest.approx(4.8), 10.0)
    with pytest.raises(ValueError, match="the wire is too thin"):
        supply.fuse_range_a(9.0, 10.0, 36.0)


@pytest.mark.parametrize("volts", [61.0, 110.0, 230.0])
def test_mains_is_not_for_here(volts):
    for ask in (
        lambda: supply.load_current_a(100, volts),
        lambda: supply.fuse_range_a(1, 5, volts),
    ):
        with pytest.raises(ValueError, match=r"licensed electrician.*local code"):
            ask()


def test_enclosures():
    # P / k A with the makers' 5.5 W/m² K (from memory)
    assert supply.enclosure_rise_degc(40, 0.5) == pytest.approx(40 / 2.75)
    # the makers' 3.1 P / dT m³/h (from memory) against the balance of heat
    assert supply.fan_flow_m3_per_h(40, 10) == pytest.approx(3.1 * 40 / 10, rel=0.05)


def test_peak_and_rms_are_41_percent_apart():
    assert drivers.peak_current_a(2.0) == pytest.approx(2.0 * 1.41421356)


def test_driven_torque():
    # computed: 1.9 N m at 2.8 A: Kt I = 1.3435 N m
    assert drivers.driven_torque_nmm(1900, 2.8, 2.8) == pytest.approx(1343.5, abs=0.05)
    # both phases on at the rated current is the data sheet's holding torque
    assert drivers.driven_torque_nmm(1900, 2.8, 2.8 * 2**0.5) == pytest.approx(1900)
    with pytest.raises(ValueError, match="overheats"):
        drivers.driven_torque_nmm(1900, 2.8, 4.0)


def test_pulses():
    # 66.7 mm/s at 400 positions in a mm
    assert drivers.pulse_rate_hz(4000 / 60, 400) == pytest.approx(26_667, abs=0.5)
    assert drivers.pulse_rate_hz(-1.0, 400) == 400
    # computed: 8 microsteps, belt of 2 mm and 20 teeth 40; rack of module 1 and 20 teeth 25.4648
    assert drivers.positions_per_mm(40, 200, 8) == pytest.approx(40)
    assert drivers.positions_per_mm(np.pi * 20, 200, 8) == pytest.approx(25.4648, abs=5e-5)

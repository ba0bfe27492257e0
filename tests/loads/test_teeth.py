"""The law tooth by tooth: it means what the mean law means, and walls lean as they must."""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from kerfwright.kernels import profile
from kerfwright.kernels.edge_force import ARC_COLUMNS, chip_force, covered_arcs, rubbing_force
from kerfwright.loads import edge_law_for, rod_of
from kerfwright.loads import teeth as teeth_module
from kerfwright.loads.teeth import (
    SideCuts,
    bin_arcs,
    mean_n,
    scaled,
    share_of_power,
    side_arcs,
    swing,
)
from kerfwright.machine import load_machine
from kerfwright.physics.teeth import power_w
from kerfwright.setup import setup_from_words
from kerfwright.workshop import demo_folder

FLAT = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm, runout 0 mm"


@pytest.fixture(scope="module")
def setup():
    machine = load_machine(demo_folder() / "machine.toml")
    return setup_from_words("90 x 90 x 18 mm hard maple", [FLAT], machine)


@pytest.fixture
def cutter(setup):
    return setup.slots[1]


@pytest.fixture
def law(setup, cutter):
    return edge_law_for(setup.board, cutter)


def one_grain(law):
    """The same law without a grain."""
    flat = np.full_like(law.chip_n_per_mm2, 43.0)
    shares = replace(law.shares, normal_chip=0.3, normal_edge=0.7)
    return replace(
        law, chip_n_per_mm2=flat, edge_n_per_mm=0.0 * flat + 3.7, shares=shares
    )  # fmt: skip


def cuts(side=1.0, width=6.0, heading=0.0, depth=6.0, feed=0.1, places=1):
    one = np.ones(places)
    return SideCuts(
        heading_rad=heading * one, side=side * one, width_mm=width * one, depth_mm=depth * one,
        feed_per_tooth_mm=feed * one,
    )  # fmt: skip


def test_a_slot_feels_the_mean_law(law, cutter):
    force = mean_n(side_arcs(one_grain(law), cutter, cuts()))[0]
    # Closed form, see tests/physics/test_teeth.py.
    assert force == pytest.approx(complex(-13.763, 27.033), abs=0.001)


@pytest.mark.parametrize("heading", [0.0, 0.7, 2.0, -2.5])
@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("width", [0.4, 1.2, 3.0, 6.0])
def test_mean_over_a_turn_is_the_mean_law(law, cutter, heading, side, width):
    # The law's own sum over fine angles, written out: no arcs, no helix.
    radius, depth, feed, n = 3.0, 5.0, 0.08, 20_000
    inner = np.arccos(1.0 - width / radius)
    psi = 0.5 * np.pi * side - side * (np.arange(n) + 0.5) / n * inner
    angle = psi + heading
    number = (np.mod(angle + np.pi, 2 * np.pi) / (2 * np.pi) * 24).astype(int)
    down = (psi < 0).astype(int)
    chip = law.chip_n_per_mm2[down, number] * feed * np.cos(psi)
    rub = law.edge_n_per_mm[down, number]
    tangential = chip + rub
    normal = law.shares.normal_chip * chip + law.shares.normal_edge * rub
    force = np.exp(1j * angle) * (1j * tangential - normal)
    by_law = force.mean() * depth * cutter.flutes * inner / (2 * np.pi)
    arcs = side_arcs(law, cutter, cuts(side, width, heading, depth, feed))
    # Each arc has the law of its middle; the law is stepped by bins of 15 degrees.
    assert mean_n(arcs)[0] == pytest.approx(by_law, abs=0.06 * abs(by_law))
    even = side_arcs(one_grain(law), cutter, cuts(side, width, heading, depth, feed))
    torque = (43.0 * feed * width + 3.7 * inner * radius) * depth  # over a turn, per flute
    watts = torque * 2 * 300.0 / 1000.0
    assert power_w(even, radius, 300.0)[0] == pytest.approx(watts, rel=1e-9)


def test_kept_bins_feel_what_the_kernel_feels(law, cutter):
    # A full slot, 6 mm deep, as the sweep keeps it: the volume of each bin that faces the travel.
    bins, depth, feed, way = 24, 6.0, 0.1, 1.0
    edge = -np.pi + np.arange(bins + 1) * 2 * np.pi / bins
    facing = np.clip(np.diff(np.sin(np.clip(edge, -np.pi / 2, np.pi / 2))), 0.0, None)
    volume = way * facing * 3.0 * depth
    low, high = np.where(volume > 0, 0.0, 1e30), np.where(volume > 0, depth, -1e30)
    chips, rub, swept = np.empty(4), np.empty(4), np.empty((bins, ARC_COLUMNS))
    kept = np.stack([volume, low, high, np.zeros(bins)])
    form = profile.form_of(profile.FLAT, 3.0, 0.0, 0.0)
    covered_arcs(kept, way, 0.0, 0.0, form, swept)
    chip_force(swept, way, 0.0, feed, form, 2, law.chip_n_per_mm2, law.shares.normal_chip,
               law.shares.axial, chips)  # fmt: skip
    rubbing_force(swept, 0.0, form, 2, law.edge_n_per_mm, law.shares.normal_edge,
                  law.shares.axial, rub)  # fmt: skip
    out = chips + rub
    arcs = bin_arcs(law, cutter, low, high, (volume > 0).astype(float), 0.0, feed)
    force = mean_n(arcs)[0]
    # The kernel takes each bin's direction in its middle: sin(x)/x of 7.5 degrees, 0.3 %.
    assert force == pytest.approx(complex(out[0], out[1]), rel=0.01)
    side = mean_n(side_arcs(law, cutter, cuts(depth=depth, feed=feed)))[0]
    assert force == pytest.approx(side, rel=0.02)


def test_scaled_to_a_power(law, cutter):
    one = cuts(width=2.0, places=3)
    arcs = side_arcs(law, cutter, one)
    asks = float(power_w(arcs, 3.0, 300.0)[0])
    asked = asks * np.array([0.5, 1.4, 0.0])
    share = share_of_power(arcs, cutter, one.depth_mm, 300.0 * np.ones(3), asked)
    assert power_w(scaled(arcs, share), 3.0, 300.0) == pytest.approx(asked)
    # More than that is no work of the flank.
    many = share_of_power(arcs, cutter, one.depth_mm, 300.0 * np.ones(3), 5.0 * asks * np.ones(3))
    assert many == pytest.approx(1.5)


@pytest.mark.parametrize("shape", ["ball 6 mm", "v 90 deg 10 mm"])
def test_balls_and_vs_have_forces_too(setup, shape):
    machine = load_machine(demo_folder() / "machine.toml")
    other = setup_from_words("90 x 90 x 18 mm MDF", [f"1: {shape}, 2 flutes"], machine)
    cutter = other.slots[1]
    arcs = side_arcs(edge_law_for(other.board, cutter), cutter, cuts(depth=1.0, width=0.5))
    assert abs(mean_n(arcs)[0]) > 0.1


def swung(law, cutter, side, depth=6.0, heights=(0.0, 0.5, 1.0), width=1.2, heading=0.0):
    one = cuts(side=side, width=width, depth=depth, heading=heading)
    arcs = side_arcs(law, cutter, one)
    at = depth * np.array([heights])
    return swing(
        arcs, cutter, one.wall_rad, at, one.depth_mm, np.array([300.0])
    ), mean_n(arcs)[0] * np.exp(-1j * one.wall_rad[0])  # fmt: skip


@dataclass(frozen=True)
class OneMode:
    """1500 Hz and 8 N/µm, the same all along: the mode that the figures below are for."""

    whole_mm: float = 30.0
    hertz: float = 1500.0
    stiffness_n_per_mm: float = 8000.0

    def first_mode(self):
        return self

    def share(self, height_mm):
        return np.ones_like(np.asarray(height_mm, float))

    def give_mm_per_n(self, read_mm, pushed_mm):
        shape = np.broadcast_shapes(np.shape(read_mm), np.shape(pushed_mm))
        return np.full(shape, 1.0 / self.stiffness_n_per_mm)


def test_walls_are_where_the_reference_has_them(law, cutter, monkeypatch):
    # Down the travel, 1.2 mm wide, 6 mm deep, helix 30, damping 0.03; read at 0, 3 and 6 mm:
    # proud by 4.36, 1.46 and -0.26 µm, of which the mean force makes 1.18.
    monkeypatch.setattr(teeth_module, "rod_of", lambda cutter: OneMode())
    monkeypatch.setattr(teeth_module, "DAMPING", 0.03)
    told, mean = swung(one_grain(law), cutter, -1.0, heights=(0.0, 0.5, 1.0))
    away_um = 1000.0 * (-told.out_mm[0] - mean.real / 8000.0)
    assert away_um == pytest.approx([4.36, 1.46, -0.26], abs=0.0065)
    assert away_um == pytest.approx([4.365, 1.466, -0.262], abs=0.001)
    assert -1000.0 * mean.real / 8000.0 == pytest.approx(1.18, abs=0.005)


def test_the_foot_of_a_wall_leans_most(law, cutter):
    # When the tip passes the wall the edge behind it still cuts; when the top passes, nothing does.
    told, mean = swung(one_grain(law), cutter, -1.0)
    rod = rod_of(cutter)
    assert 4000.0 < rod.first_mode().hertz < 7000.0
    away = -told.out_mm[0] - mean.real * rod.give_mm_per_n(0.0, 0.0)
    assert away[0] > away[1] > away[2]
    assert (told.unsure_mm >= 0.0).all()


def test_swings_turn_with_the_path(law, cutter):
    law = one_grain(law)
    first, _ = swung(law, cutter, 1.0)
    for heading in (0.3, 1.9, -2.4):
        turned, _ = swung(law, cutter, 1.0, heading=heading)
        assert turned.out_mm == pytest.approx(first.out_mm, abs=1e-12)


def test_a_shorter_cutter_swings_less(law, cutter):
    reach = []
    for stick_out in (40.0, 30.0, 22.0):
        held = replace(cutter, stick_out_mm=stick_out)
        told, mean = swung(one_grain(law), held, -1.0)
        tip = mean.real * rod_of(held).give_mm_per_n(0.0, 0.0)
        reach.append(np.abs(told.out_mm[0] + tip).max())
    assert reach[0] > reach[1] > reach[2]

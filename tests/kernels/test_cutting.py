"""Forces from the grid against closed forms for slot and half immersion, and the energy balance."""

from math import cos, pi, sin

import numpy as np
import pytest

from kerfwright.cutter import Cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.engagement import BINS, ROWS
from kerfwright.kernels.play import play_offsets, play_offsets_reference
from kerfwright.prove.removal import Remover, form_of
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

# The example cut of the closed forms below: 6 mm, 2 flutes, 18 000 rev/min, 6 mm deep, 0.1 mm a
# tooth, K_c 43 N/mm², K_e 3.7 N/mm, normal shares 0.3 and 0.7.
KC, KE, RC, RE = 43.0, 3.7, 0.3, 0.7
RADIUS, DEPTH, FZ, FLUTES, REV_PER_S = 3.0, 6.0, 0.1, 2, 300.0
FEED = FZ * FLUTES * REV_PER_S
CUTTER = Cutter(
    name="flat", shape="flat", diameter_mm=6.0, flutes=2, flute_length_mm=20.0,
    shank_diameter_mm=6.0, stick_out_mm=25.0,
)  # fmt: skip
WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
STILL = np.zeros((3, cutting.AXIS_NUMBERS))
STILL[:, cutting.A_LEAD] = STILL[:, cutting.A_MOTORS] = STILL[:, cutting.A_TOP] = 1.0


def loads(points, width=None, cell_mm=0.1, step_mm=0.2, cutter=CUTTER, heading=0.0):
    """Columns of 1 mm groups along a polyline, in a board cut free but for ``width`` if given."""
    board = Board(length_mm=70.0, width_mm=40.0, thickness_mm=20.0, wood=WOOD)
    remover = Remover(Field.of_board(board, cell_mm), 1)
    points = np.asarray(points, dtype=float)
    if width is not None:  # clear all beyond the strip that is to be cut, on the right of travel
        clear = [[-5.0, y, -DEPTH] for y in np.arange(20.0 - 3.0 + width + 3.0, 46.0, 4.0)]
        for row in clear:
            line = np.array([[*row, 80.0, row[1], row[2]]])
            remover.take(line, np.array([False]), 0, cutter)
    n = len(points) - 1
    steps = np.hstack([points[:-1], points[1:]])
    follows = np.arange(n) > 0
    per = round(1.0 / step_mm)
    group_first = np.arange(0, n + 1, per)
    taken = remover.take(steps, follows, 0, cutter, group_first)
    times = np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)) / FEED
    time = np.stack([np.concatenate([[0.0], times[:-1]]), times], axis=1)
    groups = len(group_first) - 1
    gathered, column = np.empty((groups, ROWS, BINS)), np.empty((groups, cutting.COLUMNS))
    cutting.group_loads(
        0, groups, group_first, steps, time, np.zeros((n, 3)), np.zeros((n, 3)), REV_PER_S,
        taken.group_run, taken.in_lanes, taken.entry, taken.volume, taken.engagement,
        cell_mm**2, taken.lanes, form_of(cutter), cutter.flutes, np.full((2, 24), KC),
        np.full((2, 24), KE), RC, RE, 0.0, STILL, np.full((3, 8), 1e9), gathered, column,
        0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip
    return column


def line(angle=0.0, length=40.0, step=0.2, start=(10.0, 20.0)):
    t = np.arange(0.0, length + 1e-9, step)
    return np.stack([start[0] + t * cos(angle), start[1] + t * sin(angle), 0 * t - DEPTH], axis=1)


def slot_mean():
    """Mean force over a turn in a full slot, along and left of the travel, by integration."""
    # Along: -(RC Kc b fz pi/2 + RE Ke b 2) z/2pi; across: (Kc b fz pi/2 + Ke b 2) z/2pi.
    chip, rub = KC * DEPTH * FZ * pi / 2, KE * DEPTH * 2
    return -(RC * chip + RE * rub) * FLUTES / (2 * pi), (chip + rub) * FLUTES / (2 * pi)


def test_slot_closed_form_is_the_one_worked_out_elsewhere():
    # Worked out numerically for this project beforehand: 13.763 and 27.033 N.
    along, across = slot_mean()
    assert along == pytest.approx(-13.763, abs=5e-4)
    assert across == pytest.approx(27.033, abs=5e-4)


@pytest.mark.parametrize(("cell_mm", "band"), [(0.25, 0.004), (0.1, 0.003)])
@pytest.mark.parametrize("angle", [0.0, 0.4])
def test_full_slot(cell_mm, band, angle):
    column = loads(line(angle), cell_mm=cell_mm, step_mm=0.2)[8:]
    along, across = slot_mean()
    fx = column[:, cutting.FORCE_X].mean()
    fy = column[:, cutting.FORCE_Y].mean()
    assert fx * cos(angle) + fy * sin(angle) == pytest.approx(along, rel=band)
    assert fy * cos(angle) - fx * sin(angle) == pytest.approx(across, rel=band)
    assert column[:, cutting.LEFT].mean() == pytest.approx(DEPTH, abs=1e-5)
    assert column[:, cutting.RIGHT].mean() == pytest.approx(DEPTH, abs=1e-5)


def test_energy_of_a_full_slot():
    # P = Kc MRR + Ke z a_p v_c psi / 2 pi, psi = pi.
    column = loads(line(), step_mm=0.2)[8:]
    chip = KC * 6.0 * DEPTH * FEED / 1000.0
    rub = KE * FLUTES * DEPTH * (2 * pi * RADIUS * REV_PER_S) * pi / (2 * pi) / 1000.0
    assert (chip, rub) == (pytest.approx(92.88, abs=0.01), pytest.approx(125.5, abs=0.1))
    assert column[:, cutting.POWER].mean() == pytest.approx(chip + rub, rel=0.003)


def test_half_immersion_down_the_travel():
    # The wood lies right of the travel, -90 to 0 degrees: the edge moves against the travel.
    column = loads(line(), width=3.0, step_mm=0.2)[8:]
    chip, rub = KC * DEPTH * FZ, KE * DEPTH
    share = FLUTES / (2 * pi)
    # Integrals over -pi/2..0 of cos, cos², sin cos, sin: 1, pi/4, -1/2, -1.
    along = share * ((0.5 - RC * pi / 4) * chip + (1.0 - RE) * rub)
    across = share * ((pi / 4 + RC * 0.5) * chip + (1.0 + RE) * rub)
    assert column[:, cutting.FORCE_X].mean() == pytest.approx(along, rel=0.004)
    assert column[:, cutting.FORCE_Y].mean() == pytest.approx(across, rel=0.004)
    assert column[:, cutting.RIGHT].mean() == pytest.approx(DEPTH, abs=1e-5)
    assert column[:, cutting.LEFT].max() == 0.0


def test_forces_turn_with_the_path():
    straight = loads(line(0.0))[8:, cutting.FORCE_X : cutting.FORCE_Z].mean(axis=0)
    back = loads(line(pi, start=(55.0, 20.0)))[8:, cutting.FORCE_X : cutting.FORCE_Z].mean(axis=0)
    assert back == pytest.approx(-straight, rel=1e-3)


def test_plunge_pushes_up():
    # Straight down by a flat cutter: the chip is f_z thick all along the edge, from axis to rim.
    z = np.arange(2.0, -4.01, -0.2)
    column = loads(np.stack([0 * z + 30, 0 * z + 20, z], axis=1))
    inside = column[column[:, cutting.TAKEN] > 0][2:]
    chip = FLUTES * KC * FZ * RADIUS
    rub = FLUTES * KE * RADIUS
    assert inside[:, cutting.FORCE_Z].mean() == pytest.approx(RC * chip + RE * rub, rel=0.002)
    assert np.abs(inside[:, cutting.FORCE_X]).max() < 0.02 * inside[:, cutting.FORCE_Z].mean()


def test_volume_is_conserved():
    column = loads(line(0.3))
    board_loss = column[:, cutting.TAKEN].sum()
    assert board_loss == pytest.approx(40 * 6 * DEPTH + pi * 9 * DEPTH, rel=1e-3)


def test_ball_takes_its_share_of_edge():
    # A ball at half depth in a full groove: each bin's edge is a quarter circle.
    ball = Cutter(
        name="ball", shape="ball", diameter_mm=6.0, flutes=2, flute_length_mm=20.0,
        shank_diameter_mm=6.0, stick_out_mm=25.0,
    )  # fmt: skip
    points = line()
    points[:, 2] = -3.0
    column = loads(points, cutter=ball)[8:]
    chip = KC * (pi * 9 / 2) * FEED / 1000.0
    # Rubbing works along the edge at the radius where it stands: R sin, of mean 2 R / pi.
    rub = KE * FLUTES * REV_PER_S * pi * (pi / 2 * 3.0) * (2 * 3.0 / pi) / 1000.0
    assert column[:, cutting.POWER].mean() == pytest.approx(chip + rub, rel=0.02)


@pytest.mark.parametrize("seed", range(5))
def test_play_kernel_equals_reference(seed):
    rng = np.random.default_rng(seed)
    force = rng.normal(0, 10, (300, 3)) * (rng.random((300, 3)) < 0.3)
    motion = rng.choice([-1.0, 0.0, 0.0, 1.0], (300, 3))
    offset = np.empty((300, 3))
    play_offsets(force, motion, np.full(3, 8.0), np.full(3, 0.1), np.zeros(3), offset)
    for axis in range(3):
        expected = play_offsets_reference(force[:, axis], motion[:, axis], 8.0, 0.1)
        assert np.array_equal(offset[:, axis], expected)


def test_demand_of_an_axis():
    # T = (F + m a) l / (2 pi eta) + J alpha: Univ. of Utah, ME EN 7960 topic 4 (after THK) for the
    # first term. 15 kg, 1 m/s², lead 12.7 mm, eta 0.657: 46.15 N mm through the nut; with a rotor
    # and a screw of 48 and 15.78 kg mm² 77.7 N mm (worked out beforehand).
    axis = np.zeros(cutting.AXIS_NUMBERS)
    axis[cutting.A_LEAD], axis[cutting.A_MOTORS], axis[cutting.A_MASS] = 12.7, 1.0, 15.0
    axis[cutting.A_RAISING] = 12.7 / (2 * pi * 0.657)
    assert cutting.demand_torque(axis, 10.0, 1000.0, 0.0) == pytest.approx(46.15, abs=0.01)
    axis[cutting.A_INERTIA] = 48.0 + 15.78
    assert cutting.demand_torque(axis, 10.0, 1000.0, 0.0) == pytest.approx(77.7, abs=0.05)
    # Slowing down, the turning parts push with the motor; wood that pulls along helps too.
    axis[cutting.A_LOWERING] = -0.5
    assert cutting.demand_torque(axis, 10.0, -1000.0, 0.0) == pytest.approx(
        abs(15.0 * -0.5 - 31.56), abs=0.05
    )
    axis[cutting.A_FRICTION] = 20.0
    assert cutting.demand_torque(axis, 10.0, 0.0, 0.0) == pytest.approx(20.0 * axis[4])
    assert cutting.demand_torque(axis, 10.0, 0.0, -30.0) == pytest.approx(50.0 * axis[4])


def test_demand_of_many_machines_is_that_of_each():
    rng = np.random.default_rng(7)
    axis = rng.uniform(0.1, 20.0, (6, cutting.AXIS_NUMBERS))
    axis[:, cutting.A_LOWERING] *= rng.choice([-1.0, 1.0], 6)
    velocity = np.concatenate([rng.normal(0.0, 50.0, 6), [0.0, 0.0]])
    acceleration, force = rng.normal(0.0, 900.0, 8), rng.normal(0.0, 80.0, 6)
    steps = list(zip(velocity, acceleration, strict=True))
    for machines in (axis, axis[:1]):
        each = np.broadcast_to(machines, axis.shape)
        expected = [
            [cutting.demand_torque(one, v, a, n) for v, a in steps]
            for one, n in zip(each, force, strict=True)
        ]
        assert np.array_equal(
            cutting.demand_torques(machines, velocity, acceleration, force), expected
        )

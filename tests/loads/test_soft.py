"""Cuts that follow their give, against plain halving and against what must hold."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.kernels import cutting
from kerfwright.kernels.soft import settle, settled_width_reference, side_force
from kerfwright.kernels.turn import stands_out
from kerfwright.loads import edge_law_for, soft_cuts
from kerfwright.loads.teeth import SideCuts, mean_n, side_arcs
from kerfwright.machine import load_machine
from kerfwright.physics.teeth import power_w
from kerfwright.setup import setup_from_words
from kerfwright.workshop import demo_folder

FLAT = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm, runout {} mm"
DEPTH, FEED = 6.0, 0.1


@pytest.fixture(scope="module")
def made():
    machine = load_machine(demo_folder() / "machine.toml")

    def run(runout=0.0, grain=0.3):
        setup = setup_from_words("90 x 90 x 18 mm hard maple", [FLAT.format(runout)], machine)
        board = replace(setup.board, grain_rad=grain)
        return edge_law_for(board, setup.slots[1]), setup.slots[1]

    return run


def cuts(side, width, heading, places=1):
    one = np.ones(places)
    return SideCuts(
        heading_rad=heading * one, side=side * one, width_mm=width * one, depth_mm=DEPTH * one,
        feed_per_tooth_mm=FEED * one,
    )  # fmt: skip


def along_wall(law, cutter, width, side, heading):
    out, stands = np.empty(3), np.empty(cutter.flutes)
    stands_out(cutter.flutes, cutter.runout_mm, stands)
    side_force(
        width, side, DEPTH, FEED, heading, 3.0, cutter.flutes, law.chip_n_per_mm2,
        law.edge_n_per_mm, law.shares.normal_chip, law.shares.normal_edge, stands, out,
    )  # fmt: skip
    return complex(out[0], out[1]), out[2]


@pytest.mark.parametrize("heading", [0.0, 0.7, -2.5])
@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("runout", [0.0, 0.05])
@pytest.mark.parametrize("width", [0.3, 1.2, 3.0, 6.0])
def test_force_along_a_wall_is_the_closed_one(made, width, runout, side, heading):
    law, cutter = made(runout)
    force, torque = along_wall(law, cutter, width, side, heading)
    arcs = side_arcs(law, cutter, cuts(side, width, heading))
    # The law is stepped by bins of 15 degrees, and each way has its own pieces of arc.
    assert abs(force - mean_n(arcs)[0]) < 0.05 * abs(force)
    watts = torque * 2 * np.pi * 300.0 / 1000.0
    assert watts == pytest.approx(power_w(arcs, 3.0, 300.0)[0], rel=0.04)


def settled(law, cutter, columns, side, heading, compliance):
    n = len(columns)
    settle(
        0, n, np.arange(n), columns, side, np.full(n, DEPTH), np.full(n, FEED), heading,
        compliance, 3.0, cutter.flutes, law.chip_n_per_mm2, law.edge_n_per_mm,
        law.shares.normal_chip, law.shares.normal_edge, cutter.runout_mm,
    )  # fmt: skip


def column_of(force, torque, width):
    column = np.zeros(cutting.COLUMNS)
    column[[cutting.FORCE_X, cutting.FORCE_Y]] = force.real, force.imag
    column[cutting.FORCE_Z], column[cutting.POWER] = -0.3 * abs(force), torque
    column[cutting.WIDTH], column[cutting.COVERED] = width, np.arccos(1 - width / 3.0)
    column[cutting.LARGEST] = 2.0 * abs(force)
    return column


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("soft", [0.0, 0.005, 0.02, 0.05])
@pytest.mark.parametrize("heading", [0.0, 1.1])
def test_settles_where_plain_halving_does(made, side, soft, heading):
    law, cutter = made(0.02)
    n, compliance = np.array([0.4, 1.0, 2.5]), np.zeros((3, 3, 3))
    compliance[:, 0, 0], compliance[:, 1, 1] = soft, 0.7 * soft
    compliance[:, 0, 1] = compliance[:, 1, 0] = 0.1 * soft
    wall = side * 1j * np.exp(1j * heading)
    columns = np.array([column_of(*along_wall(law, cutter, w, side, heading), w) for w in n])
    columns[:, cutting.FORCE_X : cutting.FORCE_Y + 1] *= 1.1  # as the grid has it
    before = columns.copy()
    settled(law, cutter, columns, np.full(3, side), np.full(3, heading), compliance)
    for k, programmed in enumerate(n):

        def give(width, at=compliance[k, :2, :2]):
            force = 1.1 * along_wall(law, cutter, width, side, heading)[0]
            return at @ [force.real, force.imag] @ [wall.real, wall.imag]

        width = settled_width_reference(programmed, 6.0, give)
        force, torque = along_wall(law, cutter, width, side, heading)
        assert columns[k, cutting.WIDTH] == pytest.approx(width, abs=2e-5)
        seen = columns[k, cutting.FORCE_X] + 1j * columns[k, cutting.FORCE_Y]
        assert abs(seen - 1.1 * force) < 1e-4 * abs(force)
        first = along_wall(law, cutter, programmed, side, heading)[1]
        share = columns[k, cutting.POWER] / before[k, cutting.POWER]
        assert share == pytest.approx(torque / first, rel=1e-4)
    if soft == 0.0:
        assert columns == pytest.approx(before, abs=1e-9)


def test_giving_way_lessens_the_force(made):
    law, cutter = made()
    one = column_of(*along_wall(law, cutter, 1.0, -1.0, 0.0), 1.0)[None]
    stiff = one.copy()
    c = np.zeros((1, 3, 3))
    c[0, 1, 1] = 0.02
    settled(law, cutter, one, np.array([-1.0]), np.zeros(1), c)
    # Cutting down the travel pushes off the wall, which is at the right: less wood is met.
    give = 0.02 * one[0, cutting.FORCE_Y]
    assert one[0, cutting.WIDTH] == pytest.approx(1.0 - give, abs=1e-4)
    assert 0.0 < give < 0.02 * stiff[0, cutting.FORCE_Y]
    assert one[0, cutting.POWER] < stiff[0, cutting.POWER]
    assert one[0, cutting.LARGEST] < stiff[0, cutting.LARGEST]


def test_never_below_nothing_nor_wider_than_the_cutter(made):
    law, cutter = made()
    for side, force in ((-1.0, 400.0), (1.0, 400.0)):
        one = column_of(complex(0.0, force), 10.0, 1.0)[None]
        c = np.zeros((1, 3, 3))
        c[0, 1, 1] = 0.5
        settled(law, cutter, one, np.array([side]), np.zeros(1), c)
        assert 0.0 < one[0, cutting.WIDTH] <= 6.0
        assert np.isfinite(one).all()


def test_slots_ramps_and_stiff_cuts_stay(made):
    law, cutter = made()
    columns = np.zeros((5, cutting.COLUMNS))
    columns[:, cutting.DEPTH] = columns[:, cutting.RIGHT] = DEPTH
    columns[:, cutting.WIDTH], columns[:, cutting.WAY] = 1.0, 1.0
    columns[1, cutting.LEFT], columns[1, cutting.WIDTH] = DEPTH, 6.0  # a slot
    motion = np.tile([1.0, 0.0, 0.0], (5, 1))
    motion[2] = 0.5, 0.0, -0.87  # steep
    compliance = np.tile(np.diag([1e-9, 0.01, 1e-9]), (5, 1, 1))
    compliance[3] *= 1e-3  # stiff
    feed = np.array([True, True, True, True, False])
    soft = soft_cuts(law, cutter, columns, motion, compliance, feed)
    assert soft.group.tolist() == [0]
    assert soft.side.tolist() == [-1.0]
    ball = replace(cutter, shape="ball")
    assert not len(soft_cuts(law, ball, columns, motion, compliance, feed).group)


@pytest.mark.parametrize(("share", "follows"), [(0.097, False), (0.103, True)])
def test_a_cut_follows_its_give_from_a_tenth_on(made, share, follows):
    # The mean chip constant of the wood, times the depth, times the give across the travel.
    law, cutter = made()
    column = np.zeros((1, cutting.COLUMNS))
    column[0, [cutting.DEPTH, cutting.RIGHT]] = DEPTH
    column[0, [cutting.WIDTH, cutting.WAY]] = 1.0
    across = share / (law.chip_n_per_mm2.mean() * DEPTH)
    compliance = np.diag([1.0, across, 1.0])[None]  # along the travel it may be as soft as it likes
    motion = np.array([[1.0, 0.0, 0.0]])
    soft = soft_cuts(law, cutter, column, motion, compliance, np.array([True]))
    assert len(soft.group) == follows

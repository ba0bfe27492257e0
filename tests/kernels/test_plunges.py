"""Wood of steps straight down and straight up: shared out between the bins, and what is felt."""

from math import cos, pi, radians, sin, tan

import numpy as np
import pytest

from kerfwright.cutter import read_cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.engagement import BINS, HIGHEST, LANE_ROWS, LOWEST, ROWS, VOLUME, nothing
from kerfwright.kernels.profile import FLANK
from kerfwright.kernels.tiles import BLOCK
from kerfwright.kernels.weighing import bins_reference, into_bins, into_bins_up
from kerfwright.prove.removal import Remover, form_of
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

# The law of the example in docs/models/cutting.md, two flutes at 300 rev/s, 0.1 mm a tooth.
KC, KE, RC, RE, FZ, FLUTES, REV_PER_S = 43.0, 3.7, 0.3, 0.7, 0.1, 2, 300.0
FEED = FZ * FLUTES * REV_PER_S
WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=40.0, width_mm=40.0, thickness_mm=20.0, wood=WOOD)
STILL = np.zeros((3, cutting.AXIS_NUMBERS))
STILL[:, cutting.A_LEAD] = STILL[:, cutting.A_MOTORS] = STILL[:, cutting.A_TOP] = 1.0

FLAT, BALL, V = (read_cutter(w) for w in ("flat 6 mm", "ball 6 mm", "v 60 deg 8 mm, tip 0 mm"))
BULL, DRILL = read_cutter("bull 6 mm, corner 1 mm"), read_cutter("drill 5 mm")
TAPER = read_cutter("tapered ball 6 mm, tip radius 0.5 mm, angle 20 deg")
T_SLOT = read_cutter("t-slot 10 mm, flute length 3 mm, neck 4 mm")
DOVETAIL = read_cutter("dovetail 14 deg 12 mm, flute length 8 mm")
DOWN, UP = np.arange(0.0, -5.01, -0.25), np.arange(-8.0, 0.01, 0.1)
# Of the axis on the grid, in cells: on a corner, in the middle of a cell, on an edge, anywhere.
PLACES = ((0.0, 0.0), (0.5, 0.5), (0.0, 0.5), (0.25, 0.12), (0.77, 0.42))


def in_bins(wood, taken, first, cell_mm, form):
    n = BLOCK * BLOCK
    x, y = (np.arange(n) % BLOCK * cell_mm, np.arange(n) // BLOCK * cell_mm)
    out = np.empty((LANE_ROWS, BINS + 1), np.float32)
    nothing(out)
    into_bins(
        n, wood, taken, x.astype(np.float32), y.astype(np.float32), *np.float32(first),
        np.float32(cell_mm), form, out,
    )  # fmt: skip
    return out, first[0] + x, first[1] + y


@pytest.mark.parametrize("seed", range(8))
def test_kernel_equals_reference(seed):
    rng = np.random.default_rng(seed)
    n, cell_mm = BLOCK * BLOCK, 0.25
    wood = (rng.uniform(0.1, 1.0, n) * (rng.random(n) < 0.6)).astype(np.float32)
    # A block beside the axis, and one over it.
    for first in (rng.uniform(0.2, 1.0, 2), rng.uniform(-1.5, -0.2, 2)):
        found, a, b = in_bins(wood, wood, first, cell_mm, form_of(V))
        expected = bins_reference(wood.astype(float), a, b, cell_mm)
        volume = found[VOLUME, :BINS]
        assert volume.sum() == pytest.approx(wood.sum(), rel=1e-6)
        across = np.roll(expected, BINS // 2)
        assert volume - np.roll(volume, BINS // 2) == pytest.approx(expected - across, abs=0.01)
        if first[0] > 0.5 * cell_mm:
            assert volume == pytest.approx(expected, abs=0.01)
            # Heights: no wood nearer or further than its cells, and none where there is none.
            away = np.hypot(a, b)[wood > 0.0]
            there = volume > 0.0
            lean = form_of(V)[FLANK]
            assert found[LOWEST, :BINS][there].min() >= lean * (away.min() - 0.71 * cell_mm)
            assert found[HIGHEST, :BINS][there].max() <= lean * (away.max() + 1.01 * cell_mm)
            assert (found[LOWEST, :BINS][~there] > 1e29).all()


def test_wood_of_a_lift_lies_in_the_bins_of_a_plunge():
    n, cell_mm, tip, up = BLOCK * BLOCK, np.float32(0.25), np.float32(-8.0), np.float32(0.5)
    x = (np.arange(n) % BLOCK * cell_mm).astype(np.float32)
    y = (np.arange(n) // BLOCK * cell_mm).astype(np.float32)
    first = np.array([-0.7, 0.3], np.float32)
    wood = np.full(n, 0.5, np.float32)
    plunge, a, _ = in_bins(wood, wood, first, cell_mm, form_of(V))
    # A flank that stood 1 mm up the cutter on one side of it, and 3 mm on the other.
    low = (tip + np.where(a > 0.0, 1.0, 3.0)).astype(np.float32)
    out = np.empty((LANE_ROWS, BINS + 1), np.float32)
    nothing(out)
    into_bins_up(n, wood, wood, low, x, y, *first, tip, up, cell_mm, out)
    assert np.array_equal(out[VOLUME], plunge[VOLUME])
    assert set(out[LOWEST, :BINS][out[VOLUME, :BINS] > 0.0]) <= {1.0, 3.0}
    # It went up by as much as it took: the flank ends where it began, seen from the tip.
    assert set(out[HIGHEST, :BINS][out[VOLUME, :BINS] > 0.0]) <= {1.0, 3.0}
    assert out[HIGHEST, BINS] == 3.0
    # Of wood that began higher only the upper end was in the way of the flank.
    nothing(out)
    into_bins_up(n, wood, wood / 5, low, x, y, *first, tip, up, cell_mm, out)
    assert out[HIGHEST, BINS] == pytest.approx(2.6)
    assert out[LOWEST, :BINS].min() == pytest.approx(0.6)


@pytest.mark.parametrize("place", PLACES)
def test_bins_across_from_one_another_have_the_same(place):
    # All cells of a block whose middles are as far as may be from the axis, and those across.
    n, cell_mm = BLOCK * BLOCK, 0.1
    first = (np.array(place) - 0.5) * cell_mm
    wood = np.full(n, 0.5, np.float32)
    one, a, b = in_bins(wood, wood, first, cell_mm, form_of(FLAT))
    other, *_ = in_bins(wood, wood, [-a.max(), -b.max()], cell_mm, form_of(FLAT))
    assert one[VOLUME, :BINS] == pytest.approx(np.roll(other[VOLUME, :BINS], BINS // 2), rel=1e-5)


def plunged(tool, cell_mm, place, cleared=(), z=DOWN, stands=False, aside=0.0):
    """Columns and engagements of each millimetre straight down in the middle of the board.

    Or up, by ``z``; ``stands``: the wood about the cutter is as if it had grown there; ``aside``:
    so far along X for each mm.
    """
    remover = Remover(Field.of_board(BOARD, cell_mm), 1)
    for move in cleared:
        remover.take(np.array([move]), np.array([False]), 0, FLAT)
    x, y = 20.0 + np.array(place) * cell_mm
    points = np.stack([x + aside * (z - z[0]), 0 * z + y, z], axis=1)
    if stands:
        remover.take(np.hstack([points[:1], points[:1]]), np.array([False]), 0, tool)
    n = len(points) - 1
    per_mm = round(1.0 / abs(z[1] - z[0]))
    steps, first = np.hstack([points[:-1], points[1:]]), np.arange(0, n + 1, per_mm)
    taken = remover.take(steps, np.arange(n) > 0, 0, tool, first)
    remover.close()
    assert remover.field.lost.sum() == 0
    times = np.append(0.0, np.cumsum(np.abs(np.diff(z))) / FEED)
    groups = len(first) - 1
    column, wood = np.empty((groups, cutting.COLUMNS)), np.empty((groups, ROWS, BINS))
    cutting.group_loads(
        0, groups, first, steps, np.stack([times[:-1], times[1:]], axis=1), np.zeros((n, 3)),
        np.zeros((n, 3)), REV_PER_S, taken.group_run, taken.in_lanes, taken.entry, taken.volume,
        taken.engagement, cell_mm**2, taken.lanes, form_of(tool), FLUTES,
        np.full((2, BINS), KC), np.full((2, BINS), KE), RC, RE, 0.0, STILL,
        np.full((3, 8), 1e9), wood, column, 0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip
    return column, wood


@pytest.mark.parametrize(
    ("tool", "coarse", "fine"),
    [
        pytest.param(FLAT, 0.1, 0.02, id="flat"),
        pytest.param(BALL, 1.4, 0.25, id="ball"),
        pytest.param(V, 1.1, 0.2, id="V"),
        pytest.param(BULL, 1.0, 0.1, id="bull"),
        pytest.param(DRILL, 0.2, 0.05, id="drill"),
        pytest.param(TAPER, 4.2, 0.6, id="taper"),  # 2 to 8 cells wide
    ],
)
@pytest.mark.parametrize("place", PLACES)
def test_opposite_flutes_feel_nothing_sideways(tool, coarse, fine, place):
    # [N] With cells in bins by their middles: flat 11, ball 18, V 27, bull 14, drill 17, taper 29.
    for cell_mm, most, uneven in ((0.25, coarse, 0.2), (0.1, fine, 0.03)):
        column, wood = plunged(tool, cell_mm, place)
        assert column[:, cutting.LARGEST].max() < most
        assert np.abs(column[:, cutting.FORCE_X : cutting.FORCE_Z]).max() < 0.2 * most
        # All bins alike: between the same heights, and as full.
        assert np.ptp(wood[:, LOWEST], axis=1).max() < 1e-6
        assert np.ptp(wood[:, HIGHEST], axis=1).max() < 1e-6
        even = wood[:, VOLUME].mean(axis=1)[:, None]
        assert np.abs(wood[:, VOLUME] / even - 1.0).max() < uneven


def test_a_flat_cutter_over_an_edge_is_pushed_as_far_as_it_cuts():
    # Half of it over a slot: the other half's end edge alone, and it is felt at right angles.
    for place in PLACES:
        y = 20.0 + place[1] * 0.1
        cleared = [[2.0, y - 3.0, -6.0, 38.0, y - 3.0, -6.0]]
        column, _ = plunged(FLAT, 0.1, place, cleared)
        edge = (KC * FZ + KE) * 3.0
        assert column[:, cutting.LARGEST] == pytest.approx(np.full(len(column), edge), rel=0.002)
        # Chips and rubbing of half a turn; to the left of the way from the axis to the wood.
        assert -column[:, cutting.FORCE_X] == pytest.approx(
            np.full(len(column), FLUTES * edge / pi), rel=0.005
        )


def test_power_straight_down():
    for cell_mm in (0.25, 0.1):
        column, _ = plunged(FLAT, cell_mm, PLACES[3])
        chip, rub = KC * pi * 9.0 * FEED, KE * FLUTES * 3.0 * 1.5 * 2.0 * pi * REV_PER_S
        power = np.full(len(column), (chip + rub) / 1000.0)
        assert column[:, cutting.POWER] == pytest.approx(power, rel=1e-3)


def lifted(tool, cell_mm, place, cleared=()):
    """The same straight up from 8 mm deep, where the cutter stands in wood that fits it."""
    return plunged(tool, cell_mm, place, cleared, UP, stands=True)


@pytest.mark.parametrize(("cell_mm", "band"), [(0.25, 0.02), (0.1, 0.01)])
def test_a_disc_on_a_neck_lifted_takes_a_ring(cell_mm, band):
    # Its upper face cuts, 3 mm wide from the neck out, all the way round; 5 mm of wood above it.
    for place in PLACES:
        column, _ = lifted(T_SLOT, cell_mm, place)
        ring = pi * (25.0 - 4.0)
        inside = column[:5]
        assert inside[:, cutting.TAKEN] == pytest.approx(np.full(5, ring), rel=band)
        assert column[5:, cutting.TAKEN].sum() == 0.0
        chip, rub = KC * ring * FEED, KE * FLUTES * 3.0 * 3.5 * 2.0 * pi * REV_PER_S
        power = np.full(5, (chip + rub) / 1000.0)
        assert inside[:, cutting.POWER] == pytest.approx(power, rel=band)
        # The wood holds it down.
        down = np.full(5, FLUTES * 3.0 * (RC * KC * FZ + RE * KE))
        assert -inside[:, cutting.FORCE_Z] == pytest.approx(down, rel=2 * band)
        assert inside[:, cutting.LARGEST_Z] == pytest.approx(down, rel=2 * band)
        assert inside[:, cutting.DEPTH] == pytest.approx(np.full(5, 3.0), abs=1e-4)
        assert inside[:, cutting.LARGEST].max() < 2.0


def test_a_disc_lifted_beside_a_cleared_place_is_pushed_as_far_as_it_cuts():
    for place in PLACES:
        y = 20.0 + place[1] * 0.1
        cleared = [[2.0, y - off, -8.0, 38.0, y - off, -8.0] for off in (3.0, 8.0)]
        column = lifted(T_SLOT, 0.1, place, cleared)[0][:5]
        edge = (KC * FZ + KE) * 3.0
        assert column[:, cutting.LARGEST] == pytest.approx(np.full(5, edge), rel=0.01)
        assert -column[:, cutting.FORCE_X] == pytest.approx(
            np.full(5, FLUTES * edge / pi), rel=0.02
        )


@pytest.mark.parametrize(("cell_mm", "band"), [(0.25, 0.02), (0.1, 0.01)])
def test_a_dovetail_lifted_cuts_with_its_flank(cell_mm, band):
    lean = tan(radians(14.0))
    column, _ = lifted(DOVETAIL, cell_mm, PLACES[3])
    for up in range(7):
        # So high the wood still stands above the tip, on average over each tenth of a mm.
        high = 8.0 - up - (np.arange(10) + 0.5) * 0.1
        taken = np.mean(pi * (36.0 - (6.0 - lean * high) ** 2))
        assert column[up, cutting.TAKEN] == pytest.approx(taken, rel=band)
        edge_and_radius = np.mean(high / cos(radians(14.0)) * (6.0 - lean * high / 2.0))
        rub = KE * FLUTES * edge_and_radius * 2.0 * pi * REV_PER_S
        power = (KC * taken * FEED + rub) / 1000.0
        assert column[up, cutting.POWER] == pytest.approx(power, rel=band)
        assert column[up, cutting.DEPTH] == pytest.approx(7.9 - up, abs=1e-4)
        down = FLUTES * high.mean() * lean * (RC * KC * FZ * sin(radians(14.0)) + RE * KE)
        assert -column[up, cutting.FORCE_Z] == pytest.approx(down, rel=2 * band)
        assert column[up, cutting.FORCE_Z] < 0.0


def test_a_plain_cutter_lifted_takes_nothing():
    for tool in (FLAT, V):
        column, _ = plunged(tool, 0.25, PLACES[3], z=np.arange(-4.0, 0.01, 0.1), stands=True)
        assert column[:, cutting.TAKEN].sum() == 0.0


def test_a_steep_way_up_is_much_like_a_straight_one():
    # The ring as before, and where the grid tells it some of the disc's side rubs: half a turn of
    # 3 mm at most.
    ring, rub = pi * (25.0 - 4.0), KE * FLUTES * 2.0 * pi * REV_PER_S
    upper, side = KC * ring * FEED + rub * 3.0 * 3.5, 0.5 * rub * 3.0 * 5.0
    down = np.full(5, FLUTES * 3.0 * (RC * KC * FZ + RE * KE))
    for place in PLACES:
        column = plunged(T_SLOT, 0.1, place, z=UP, stands=True, aside=0.002)[0][:5]
        assert column[:, cutting.TAKEN] == pytest.approx(np.full(5, ring), rel=0.02)
        assert -column[:, cutting.FORCE_Z] == pytest.approx(down, rel=0.02)
        assert (1000.0 * column[:, cutting.POWER] > 0.99 * upper).all()
        assert (1000.0 * column[:, cutting.POWER] < 1.01 * (upper + side)).all()


@pytest.mark.parametrize("tool", [T_SLOT, DOVETAIL], ids=["t-slot", "dovetail"])
def test_no_wood_is_told_above_the_board_on_a_steep_way_up(tool):
    for aside in (0.05, 0.3, 1.0, 1.7):
        column = plunged(tool, 0.1, PLACES[3], z=UP, stands=True, aside=aside)[0]
        assert column[0, cutting.POWER] > 0.0
        assert column[:, cutting.DEPTH].max() <= 8.0 + 1e-4

"""The removal kernel against dense sampling, closed volumes, and itself cut up otherwise."""

from itertools import pairwise
from math import cos, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from kerfwright.cutter import Cutter, read_cutter
from kerfwright.kernels.removal import cut_reference
from kerfwright.prove.removal import Remover, form_of
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")


def board(length=60.0, width=60.0, thickness=20.0):
    return Board(length_mm=length, width_mm=width, thickness_mm=thickness, wood=WOOD)


def cutter(shape, diameter, angle_deg=180.0, tip=0.0):
    return Cutter(
        name=shape, shape=shape, diameter_mm=diameter, flutes=2, flute_length_mm=25.0,
        shank_diameter_mm=6.0, stick_out_mm=30.0, included_angle_rad=radians(angle_deg),
        tip_diameter_mm=tip,
    )  # fmt: skip


def steps_along(points):
    points = np.asarray(points, dtype=float)
    return np.hstack([points[:-1], points[1:]])


def cut(steps, tool, cell_mm, on=None, threads=1, windows=1, connected=True):
    remover = Remover(Field.of_board(on or board(), cell_mm), threads)
    volume = 0.0
    bounds = np.linspace(0, len(steps), windows + 1).astype(int)
    for a, b in pairwise(bounds):
        follows = np.full(b - a, connected)
        if a == 0:
            follows[0] = False
        taken = remover.take(steps[a:b], follows, a, tool)
        volume += float(taken.volume.sum(dtype=float)) * cell_mm**2
    remover.close()
    return remover.field, volume


CELLS_MM = (0.25, 0.1, 0.05)
CUTTERS = [
    cutter("flat", 6.0), cutter("ball", 3.0), cutter("v", 6.0, 60.0), cutter("v", 8.0, 90.0, 0.8),
]  # fmt: skip


@pytest.mark.parametrize(
    ("tool", "above_mm", "below_mm", "worst_mm"),
    [
        (CUTTERS[0], 1e-6, 3e-3, 3e-3),
        (CUTTERS[1], 1e-5, 4e-5, 2e-4),
        (CUTTERS[2], 1e-6, 6e-4, 9e-3),
        (CUTTERS[3], 1e-6, 1.8e-3, 2.5e-3),
    ],
    ids=["flat", "ball", "V 60", "V 90 with a point"],
)
@pytest.mark.parametrize("seed", range(4))
def test_kernel_equals_reference(tool, above_mm, below_mm, worst_mm, seed):
    rng = np.random.default_rng(seed)
    walk = np.array([9.0, 7.0, -2.0]) + np.cumsum(rng.normal(0, 1, (8, 3)) * [1, 1, 0.35], 0)
    steps = steps_along(walk)
    field, _ = cut(steps, tool, 0.25, on=board(20.0, 15.0))
    expected = cut_reference(
        np.zeros((field.rows, field.columns)), 0.25, steps, form_of(tool), samples=300
    )  # fmt: skip
    off = field.maps()[0] - np.maximum(expected, -20.0)
    # The sampled reference misses the lowest place by up to the sagitta between two samples, most
    # where the cutter only grazes a cell: so it is above, and the kernel never.
    assert off.max() < above_mm
    below = np.sort(-off, axis=None)
    assert below[-5] < below_mm
    assert below[-1] < worst_mm
    assert np.median(np.abs(off[expected < 0.0])) < 3e-6


BULL = read_cutter("bull 6 mm, corner 1 mm")
#: A bull nose with a corner of 1 mm: less than the flat slot by what its corners leave.
BULL_MM2 = 12.0 - 2.0 * (1.0 - pi / 4)
BULL_MM3 = pi * (2.0**2 + pi / 2 * 2.0 + 2 / 3) + pi * 9.0


@pytest.mark.parametrize("pieces", [1, 80])
@pytest.mark.parametrize(
    ("tool", "depth", "section_mm2", "ends_mm3", "volume_bands", "height_bands"),
    [
        # Straight slot with round ends: section x length + volume of revolution of the cutter.
        # Bands at cells of 0.25, 0.1 and 0.05 mm; the heights are those at the cells' centres,
        # the volume weighs the cells at the rim.
        pytest.param(
            cutter("flat", 6.0), 2.0, 12.0, pi * 9 * 2,
            (4e-5, 3e-6, 3e-7), (9.2e-5, 1.7e-5, 5.4e-5), id="flat slot",
        ),
        pytest.param(
            cutter("ball", 3.0), 1.5, pi * 1.5**2 / 2, 2 * pi * 1.5**3 / 3,
            (5.4e-5, 1.1e-5, 6.3e-6), (5.4e-5, 1.1e-5, 6.3e-6), id="ball",
        ),
        pytest.param(
            cutter("ball", 3.0), 0.75, 1.5**2 * (pi / 3 - sqrt(3) / 4), pi * 0.75**2 * 1.25,
            (1e-4, 1.5e-5, 4e-6), (1e-4, 1.5e-5, 4e-6), id="ball, shallow",
        ),
        pytest.param(
            cutter("v", 6.0, 90.0), 2.0, 4.0, pi * 8 / 3,
            (2.6e-5, 6e-7, 5e-7), (2.6e-5, 6e-7, 5e-7), id="V 90",
        ),
        pytest.param(
            cutter("v", 6.0, 60.0), 3.0, 9 * tan(pi / 6), pi * (3 * tan(pi / 6)) ** 2,
            (5e-7, 1e-5, 2e-6), (5e-7, 1e-5, 2e-6), id="V 60",
        ),
        pytest.param(
            BULL, 2.0, BULL_MM2, BULL_MM3,
            (1e-5, 6e-6, 4e-6), (2.3e-5, 7.9e-6, 3.3e-5), id="bull",
        ),
    ],
)  # fmt: skip
def test_groove_volume(tool, depth, section_mm2, ends_mm3, volume_bands, height_bands, pieces):
    t = np.linspace(0.0, 40.0, pieces + 1)
    points = np.stack([10.03 + t * cos(0.37), 11.07 + t * sin(0.37), 0 * t - depth], axis=1)
    expected = section_mm2 * 40.0 + ends_mm3
    for cell_mm, volume_band, height_band in zip(CELLS_MM, volume_bands, height_bands, strict=True):
        field, volume = cut(steps_along(points), tool, cell_mm)
        assert volume == pytest.approx(expected, rel=volume_band)
        heights = -field.maps()[0].sum(dtype=float) * cell_mm**2
        assert heights == pytest.approx(expected, rel=height_band)


@pytest.mark.parametrize(
    ("tool", "bands"),
    [
        pytest.param(cutter("ball", 3.0), (1e-7, 1e-7, 1e-7), id="ball"),
        pytest.param(cutter("v", 6.0, 90.0), (1e-7, 1e-7, 1e-7), id="V 90"),
        pytest.param(cutter("v", 6.0, 60.0), (1e-7, 1e-7, 1e-7), id="V 60"),
        # An upright wall is one line or eighty of them.
        pytest.param(cutter("flat", 6.0), (2e-5, 2e-6, 2e-7), id="flat"),
        pytest.param(BULL, (1e-5, 1e-6, 2e-7), id="bull"),
    ],
)
def test_one_step_takes_what_eighty_do(tool, bands):
    for cell_mm, band in zip(CELLS_MM, bands, strict=True):
        found = []
        for pieces in (1, 80):
            t = np.linspace(0.0, 40.0, pieces + 1)
            points = np.stack([10.03 + t * cos(0.37), 11.07 + t * sin(0.37), 0 * t - 1.5], axis=1)
            field, volume = cut(steps_along(points), tool, cell_mm)
            found.append((field.heights(), volume))
        (one, whole), (many, sum_of_parts) = found
        assert sum_of_parts == pytest.approx(whole, rel=band)
        assert np.abs(one - many).max() < 2e-4
        assert many.sum(dtype=float) == pytest.approx(one.sum(dtype=float), rel=1e-7)


@pytest.mark.parametrize(
    ("apart_mm", "cell_mm", "worst_mm"),
    [
        # Passes three cells apart: a centre may fall on the cusp, or half a cell beside it.
        (0.3, 0.1, 0.00334),
        (0.3, 0.05, 0.00522),
        (0.3, 0.025, 0.00632),
        (0.6, 0.1, 0.02098),
        (0.6, 0.05, 0.02542),
        (0.6, 0.025, 0.02781),
    ],
)
def test_a_cusp_read_off_the_cells_is_too_low(apart_mm, cell_mm, worst_mm):
    """Two passes of a ball of radius 1.5 mm, wherever they fall on the grid."""
    formula = 1.5 - sqrt(1.5**2 - (apart_mm / 2) ** 2)
    assert formula == pytest.approx({0.3: 0.00752, 0.6: 0.03031}[apart_mm], abs=5e-6)
    found = []
    for off in np.linspace(0.0, 1.0, 7)[:-1] * cell_mm:
        rows = [[-2.0, 1.5 + off + y, -2.0, 5.0, 1.5 + off + y, -2.0] for y in (0.0, apart_mm)]
        remover = Remover(Field.of_board(board(3.0, 4.0), cell_mm), 1, weighed=False)
        remover.take(np.array(rows), np.array([False, False]), 0, cutter("ball", 3.0))
        height = remover.field.heights()
        between = slice(int(1.5 / cell_mm), int((1.5 + apart_mm + off) / cell_mm) + 1)
        found.append(height[between, height.shape[1] // 2].max() + 2.0)
    assert min(found) == pytest.approx(worst_mm, abs=1e-5)
    assert max(found) == pytest.approx(formula, abs=1e-5)


def test_round_pocket_by_plunge_then_spiral():
    # A pocket of radius 10 mm by a 6 mm cutter: its centre runs out to 7 mm.
    turn = np.linspace(0.0, 2 * pi * 9, 2000)
    out = np.minimum(7.0, turn / (2 * pi))
    points = np.stack([30 + out * np.cos(turn), 30 + out * np.sin(turn), 0 * turn - 3.0], axis=1)
    _, volume = cut(steps_along(points), cutter("flat", 6.0), 0.1)
    assert volume == pytest.approx(pi * 100 * 3.0, rel=1e-3)


@pytest.mark.parametrize("tool", CUTTERS, ids=lambda c: f"{c.shape}{c.diameter_mm:g}")
def test_same_bits_at_any_thread_count_and_window(tool):
    rng = np.random.default_rng(5)
    walk = np.array([30.0, 30.0, -2.0]) + np.cumsum(rng.normal(0, 1, (400, 3)) * [1, 1, 0.2], 0)
    steps = steps_along(walk)
    one = cut(steps, tool, 0.1)[0]
    for threads, windows in ((2, 1), (1, 7), (2, 5)):
        other = cut(steps, tool, 0.1, threads=threads, windows=windows)[0]
        for a, b in zip(one.maps(), other.maps(), strict=True):
            assert np.array_equal(a, b)


def test_leaving_out_the_disc_where_the_step_begins_loses_nothing():
    rng = np.random.default_rng(2)
    walk = np.array([30.0, 30.0, -2.0]) + np.cumsum(rng.normal(0, 1, (300, 3)) * [1, 1, 0.3], 0)
    for tool in CUTTERS:
        linked = cut(steps_along(walk), tool, 0.2)[0].maps()[0]
        loose = cut(steps_along(walk), tool, 0.2, connected=False)[0].maps()[0]
        assert np.abs(linked - loose).max() < 2e-3


def test_nothing_is_taken_below_the_board_and_through_cuts_are_dated():
    points = [[10, 10, -25.0], [40, 10, -25.0], [40, 40, -25.0]]
    field, volume = cut(steps_along(points), cutter("flat", 6.0), 0.25, on=board(50, 50, 8))
    height, made_by, through = field.maps()
    assert height.min() == -8.0
    assert volume == pytest.approx(8.0 * (60 * 6 + pi * 9), rel=2e-2)
    assert set(np.unique(through)) == {-1, 0, 1}
    assert (through[height > -8.0] == -1).all()
    assert (made_by >= through).all()


def test_wood_ends_at_the_edge_of_the_board():
    points = [[-10, 5, -2.0], [40, 5, -2.0]]
    _, volume = cut(steps_along(points), cutter("flat", 4.0), 0.1, on=board(20, 10, 8))
    assert volume == pytest.approx(20 * 4 * 2.0, rel=1e-3)


def test_every_lane_of_a_full_slot_gives_as_much():
    points = np.stack([np.linspace(10, 40, 61), np.full(61, 30.0), np.full(61, -2.0)], axis=1)
    remover = Remover(Field.of_board(board(), 0.1), 1)
    follows = np.ones(60, dtype=bool)
    follows[0] = False
    taken = remover.take(steps_along(points), follows, 0, cutter("flat", 6.0))
    # Lanes across the slot, padded at both ends: each gives as much.
    lanes = taken.engagement[taken.entry[10] :, :, 2 : 2 + taken.lanes]
    lanes = lanes[taken.volume[taken.entry[10] :] > 0.0]
    share = lanes[:, 0].sum(axis=0, dtype=float)
    assert share / share.sum() == pytest.approx(np.full(60, 1 / 60), abs=2e-5)
    assert share.sum() * 0.01 == pytest.approx(6.0 * 2.0 * 25.0, rel=1e-4)
    assert lanes[:, 2].max() == pytest.approx(2.0, abs=1e-6)


def test_a_wall_through_the_middle_of_cells_loses_no_wood():
    # 6.35 mm are 25.4 cells: counted by centres, a straight slot would be off by up to 1.6 %.
    tool = cutter("flat", 6.35)
    for y in (20.0, 20.06, 20.11, 20.19):
        remover = Remover(Field.of_board(board(), 0.25), 1)
        found = []
        for depth, beside in ((2.0, 0.0), (5.0, 0.0), (5.0, 1.3), (5.0, -0.7)):
            points = np.array([[-10, y + beside, -depth], [80, y + beside, -depth]])
            taken = remover.take(steps_along(points), np.array([False]), 0, tool)
            found.append(taken.volume.sum(dtype=float) * 0.0625 / 60)
        assert found == pytest.approx([6.35 * 2, 6.35 * 3, 1.3 * 5, 0.7 * 5], rel=1e-4)


def test_weighing_leaves_the_heights_alone():
    rng = np.random.default_rng(3)
    walk = np.array([30.0, 30.0, -2.0]) + np.cumsum(rng.normal(0, 1, (300, 3)) * [1, 1, 0.2], 0)
    steps = steps_along(walk)
    for tool in CUTTERS:
        fields = []
        for weighed in (True, False):
            remover = Remover(Field.of_board(board(), 0.2), 1, weighed=weighed)
            remover.take(steps, np.arange(len(steps)) > 0, 0, tool)
            fields.append(remover.field.maps())
        for a, b in zip(*fields, strict=True):
            assert np.array_equal(a, b)

"""Walls through cells against dense sampling; volumes of programs with walls at many depths."""

from dataclasses import replace
from math import cos, hypot, pi, radians, sin

import numpy as np
import pytest

from kerfwright.cutter import Cutter
from kerfwright.kernels.walls import (
    COUNT,
    MEAN,
    MOST_CORNERS,
    MOST_CUTS,
    RECORD,
    TOP,
    cover,
    mean_reference,
    settle,
)
from kerfwright.prove.removal import Remover
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")


def cutter(shape, diameter, angle_deg=180.0, tip=0.0):
    return Cutter(
        name=shape, shape=shape, diameter_mm=diameter, flutes=2, flute_length_mm=25.0,
        shank_diameter_mm=6.0, stick_out_mm=30.0, included_angle_rad=radians(angle_deg),
        tip_diameter_mm=tip,
    )  # fmt: skip


@pytest.mark.parametrize("seed", range(30))
def test_cuts_of_a_cell_equal_reference(seed):
    rng = np.random.default_rng(seed)
    record = np.zeros(RECORD, np.float32)
    polygons = np.empty((4, MOST_CORNERS))
    y, x = (np.mgrid[0:200, 0:200] + 0.5) / 200 - 0.5
    height = np.zeros(x.shape)
    angles = rng.uniform(-pi, pi, 2)
    for _ in range(MOST_CUTS):
        angle = rng.choice(angles) if rng.random() < 0.7 else rng.uniform(-pi, pi)
        off, floor = rng.uniform(-0.5, 0.3), -rng.uniform(0.5, 6.0)
        mean = cover(record, *np.array([cos(angle), sin(angle), off, floor], np.float32), polygons)
        record[MEAN] = mean
        near = x * cos(angle) + y * sin(angle) <= off
        height = np.where(near, np.minimum(height, floor), height)
        # The sampling itself is good to a row of places.
        assert mean == pytest.approx(height.mean(), abs=0.03)
        assert mean == pytest.approx(mean_reference(record), abs=0.03)
    # Then all of it down to some level.
    level = np.float32(-rng.uniform(0.5, 6.0))
    record[TOP] = min(record[TOP], level)
    assert settle(record, polygons) == pytest.approx(np.minimum(height, level).mean(), abs=0.03)
    assert int(record[COUNT]) <= MOST_CUTS


@pytest.mark.parametrize("seed", range(20))
def test_too_many_cuts_lose_little_and_never_give_back(seed):
    rng = np.random.default_rng(seed)
    record = np.zeros(RECORD, np.float32)
    polygons = np.empty((4, MOST_CORNERS))
    strip = np.zeros(10_000)
    for _ in range(20):
        share, floor = rng.uniform(0.02, 0.98), -rng.uniform(0.2, 6.0)
        strip[: round(share * len(strip))] = np.minimum(strip[: round(share * len(strip))], floor)
        cut = np.array([1.0, 0.0, share - 0.5, floor], np.float32)
        mean = min(cover(record, *cut, polygons), record[MEAN])
        record[MEAN] = mean
        assert mean == pytest.approx(strip.mean(), abs=0.15)


def taken(remover, steps, tool, first, follows=None):
    follows = np.zeros(len(steps), np.bool_) if follows is None else follows
    return remover.take(np.asarray(steps, float), follows, first, tool).volume.sum(dtype=float)


def mean_sum(remover):
    """Sum of the mean heights of all cells of the board."""
    return replace(remover.field, height_mm=remover.mean_mm).maps()[0].sum(dtype=float)


def section_mm2(slots, half_mm, samples=400_000):
    """Wood gone across parallel slots, each its middle, depth and radius, from -half to half."""
    t = (np.arange(samples) + 0.5) / samples * 2 * half_mm - half_mm
    depth = np.zeros(samples)
    for middle, down, radius in slots:
        inside = np.abs(t - middle) <= radius
        depth[inside] = np.maximum(depth[inside], down)
    return depth.mean() * 2 * half_mm


@pytest.mark.parametrize("cell_mm", [0.25, 0.1])
@pytest.mark.parametrize("seed", range(6))
def test_parallel_slots_at_many_depths_in_any_order(seed, cell_mm):
    # Slots that run out of the board at both ends: 24 of them, their walls often in one cell.
    rng = np.random.default_rng(seed)
    across = bool(rng.integers(2))
    remover = Remover(Field.of_board(board(40.0), cell_mm), 1)
    slots, total = [], 0.0
    for number in range(24):
        tool = cutter("flat", float(rng.choice([3.0, 6.0, 6.35])))
        middle, down = rng.uniform(8.0, 32.0), rng.uniform(0.3, 9.0)
        if slots and rng.random() < 0.6:  # beside a wall that is there, by less than a cell
            other = slots[rng.integers(len(slots))]
            side = rng.choice([-1.0, 1.0])
            middle = other[0] + side * (other[2] - tool.radius_mm) + rng.uniform(-1, 1) * cell_mm
        step = [[-9.0, middle, -down, 49.0, middle, -down]]
        if across:
            step = [[middle, -9.0, -down, middle, 49.0, -down]]
        before = mean_sum(remover)
        here = taken(remover, step, tool, number)
        assert here == pytest.approx(before - mean_sum(remover), rel=1e-6, abs=1e-4)
        slots.append((middle, down, tool.radius_mm))
        expected = section_mm2([(m - 20.0, d, r) for m, d, r in slots], 20.0) * 40.0
        total += here * cell_mm**2
        assert total == pytest.approx(expected, rel=1e-4)


def board(side):
    return Board(length_mm=side, width_mm=side, thickness_mm=20.0, wood=WOOD)


def fine_volume(moves, side, fine_mm):
    """Wood gone of flat, level moves (x0 y0 x1 y1 depth radius), by places along many lines."""
    x = (np.arange(round(side / fine_mm)) + 0.5) * fine_mm
    total = 0.0
    for y in x:
        depth = np.zeros(len(x))
        for x0, y0, x1, y1, down, radius in moves:
            dx, dy = x1 - x0, y1 - y0
            length = hypot(dx, dy)
            a = ((x - x0) * dx + (y - y0) * dy) / length
            off = a - np.clip(a, 0.0, length)
            b = ((y - y0) * dx - (x - x0) * dy) / length
            inside = off * off + b * b <= radius * radius
            depth[inside] = np.maximum(depth[inside], down)
        total += depth.sum()
    return total * fine_mm**2


@pytest.mark.parametrize("cell_mm", [0.25, 0.1])
@pytest.mark.parametrize("seed", range(4))
def test_crossing_slots_at_many_depths_in_any_order(seed, cell_mm):
    rng = np.random.default_rng(seed)
    remover = Remover(Field.of_board(board(24.0), cell_mm), 1)
    total, moves = 0.0, []
    for number in range(8):
        tool = cutter("flat", float(rng.choice([3.0, 6.0])))
        (x0, y0, x1, y1), down = rng.uniform(4.0, 20.0, 4), rng.uniform(0.3, 9.0)
        pieces = int(rng.integers(1, 40))
        t = np.linspace(0.0, 1.0, pieces + 1)[:, None]
        points = np.hstack([[x0, y0] + t * [x1 - x0, y1 - y0], 0.0 * t - down])
        total += taken(remover, np.hstack([points[:-1], points[1:]]), tool, 100 * number,
                       np.arange(pieces) > 0)  # fmt: skip
        moves.append((x0, y0, x1, y1, down, tool.radius_mm))
    gone = -mean_sum(remover)
    assert total == pytest.approx(gone, rel=1e-7)
    # The lines are fine enough for 2e-5 of it.
    assert total * cell_mm**2 == pytest.approx(fine_volume(moves, 24.0, 0.01), rel=1.2e-4)

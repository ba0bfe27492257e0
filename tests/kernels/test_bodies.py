"""Discs against boxes and standing wood: kernels, references, dense sampling, closed geometry."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.kernels.bodies import (
    CLEAR,
    HIT,
    OPEN,
    run_into_box,
    run_into_box_reference,
    stand_in_wood,
    stand_in_wood_reference,
    tops,
)

BOX = np.array([10.0, 20.0, 40.0, 50.0])
TOP = 15.0
C61, C59 = 6.1 / 2**0.5, 5.9 / 2**0.5
CHORD = (6.0**2 - 5.9**2) ** 0.5


def into_box(start, end, discs, box=BOX, top=TOP):
    start, end = np.atleast_2d(np.array(start, float)), np.atleast_2d(np.array(end, float))
    enters, sunk = np.empty(len(start)), np.empty(len(start))
    aside = np.empty((len(start), 4))
    run_into_box(start, end, np.array(discs, float), box, top, enters, sunk, aside)
    return enters, sunk, aside


@pytest.mark.parametrize(
    ("start", "end", "radius", "enters"),
    [
        # Along X towards the left side, which stands 10 mm away less the radius of 4.
        ((0, 30, 0), (20, 30, 0), 4.0, 6.0 / 20.0),
        # Past the front side in 4 mm, 0.1 mm more, 0.1 mm less.
        ((0, 16.0, 0), (50, 16.0, 0), 4.0, np.inf),
        ((0, 15.9, 0), (50, 15.9, 0), 4.0, np.inf),
        # A circle of 4 mm round the corner (10, 20), crossed 3.9 mm before it.
        ((0, 16.1, 0), (50, 16.1, 0), 4.0, (10.0 - (16.0 - 3.9**2) ** 0.5) / 50.0),
        # Straight at a corner along the diagonal: 4 mm before it.
        ((0, 10, 0), (20, 30, 0), 4.0, (200.0**0.5 - 4.0) / 800.0**0.5),
        # Past the corner along the other diagonal, 0.1 mm clear and 0.1 mm in.
        ((5, 25, 0), (15, 15, 0), 0.0, np.inf),
        ((5 - C61, 25 - C61, 0), (15 - C61, 15 - C61, 0), 6.0, np.inf),
        ((5 - C59, 25 - C59, 0), (15 - C59, 15 - C59, 0), 6.0, 0.5 - CHORD / 200**0.5),
        # Straight down into it: from 30 to 0, and its top is at 15.
        ((25, 35, 30), (25, 35, 0), 4.0, 0.5),
        # Down beside it, 0.1 mm clear.
        ((25, 15.9, 30), (25, 15.9, 0), 4.0, np.inf),
        # Over it, 0.1 mm clear, and 0.1 mm too low.
        ((0, 35, 15.1), (50, 35, 15.1), 4.0, np.inf),
        ((0, 35, 14.9), (50, 35, 14.9), 4.0, 6.0 / 50.0),
        # Sloped: over the near side still above the top, and down to it half way.
        ((0, 35, 25), (50, 35, 5), 4.0, 0.5),
        # Sloped: below the top only when it is past the far side, at x = 44.
        ((0, 35, 15 + 44.1), (60, 35, 15 + 44.1 - 60), 4.0, np.inf),
        # From the inside.
        ((25, 35, 0), (60, 35, 0), 4.0, 0.0),
        ((25, 35, 0), (25, 35, 0), 4.0, 0.0),
    ],
)  # fmt: skip
def test_a_disc_and_a_box(start, end, radius, enters):
    assert into_box(start, end, [(radius, 0.0)])[0][0] == pytest.approx(enters, abs=1e-12)


def test_the_height_of_the_disc_counts():
    enters, sunk, _ = into_box((0, 35, -10), (50, 35, -10), [(4.0, 22.0), (20.0, 40.0)])
    assert enters[0] == pytest.approx(6.0 / 50.0)
    assert sunk[0] == pytest.approx(3.0)


def test_how_far_the_box_has_to_go():
    # The path ends 5 mm inside the left side, in the middle of it along Y; the radius is 8.
    _, _, aside = into_box((-20, 35, 0), (15, 35, 0), [(8.0, 0.0)])
    assert aside[0] == pytest.approx([40 - (-20 - 8), 13.0, 50 - 27, 43 - 20])
    for side, (dx, dy) in enumerate(((-1, 0), (1, 0), (0, -1), (0, 1))):
        way = aside[0, side]
        moved = BOX + way * np.array([dx, dy, dx, dy])
        assert into_box((-20, 35, 0), (15, 35, 0), [(8.0, 0.0)], moved)[0][0] == np.inf
        near = BOX + (way - 0.01) * np.array([dx, dy, dx, dy])
        assert into_box((-20, 35, 0), (15, 35, 0), [(8.0, 0.0)], near)[0][0] < np.inf


places = st.tuples(st.floats(-10, 60), st.floats(0, 70), st.floats(-20, 25))
stacks = st.lists(st.tuples(st.floats(0.1, 30), st.floats(0, 30)), min_size=1, max_size=3)


@given(start=places, end=places, discs=stacks)
def test_run_into_box_equals_its_reference(start, end, discs):
    samples = 201
    enters, sunk, aside = into_box(start, end, discs)
    begin, stop = np.array([start]), np.array([end])
    late, lower = run_into_box_reference(begin, stop, np.array(discs), BOX, TOP, samples)
    if np.isfinite(late[0]):
        assert late[0] - 1.0 / (samples - 1) - 1e-9 <= enters[0] <= late[0] + 1e-9
        assert (
            lower[0] - 1e-9 <= sunk[0] <= lower[0] + abs(end[2] - start[2]) / (samples - 1) + 1e-9
        )
    elif np.isfinite(enters[0]):
        # A touch that falls between two samples: a little more of everything is seen by both.
        shorter, more = np.array([(start, end)]).transpose(1, 0, 2)
        way = more - shorter
        near = shorter + way * min(enters[0] + 1e-7, 1.0)
        wider = np.array(discs) + np.array([1e-4, -1e-4])
        assert run_into_box_reference(near, near, wider, BOX, TOP, 1)[0][0] == 0.0
    if np.isfinite(enters[0]):
        side = int(np.argmin(aside[0]))
        step = np.array([(-1, 0), (1, 0), (0, -1), (0, 1)][side] * 2, float)
        moved = BOX + (aside[0, side] + 1e-9) * step
        assert into_box(start, end, discs, moved)[0][0] == np.inf


def in_wood(steps, done, radius, height, cell, least, most, made, graze=0.02, origin=(0, 0)):
    state, deepest = np.empty(len(steps), np.int64), np.array([0.0, -1.0])
    stand_in_wood(
        steps, done, radius, height, cell, *origin, least, most, made, tops(least), tops(most),
        tops(made), graze, state, deepest,
    )  # fmt: skip
    return state, deepest


@pytest.mark.parametrize("seed", range(30))
def test_stand_in_wood_equals_its_reference(seed):
    rng = np.random.default_rng(seed)
    rows, columns = rng.integers(5, 60, 2)
    cell = 0.5
    least = np.round(rng.uniform(-12.0, 0.0, (rows, columns)), 1).astype(np.float32)
    least[rng.random((rows, columns)) < 0.8] = -12.0
    most = np.minimum(least + rng.choice([0.0, 3.0, 12.0], (rows, columns)), 0).astype(np.float32)
    made = rng.integers(-1, 40, (rows, columns)).astype(np.int32)
    steps = np.empty((40, 6))
    steps[:, :3] = rng.uniform((-5, -5, -14), (columns * cell + 5, rows * cell + 5, 0), (40, 3))
    steps[:, 3:] = steps[:, :3] + rng.normal(0.0, 1.0, (40, 3)) * rng.choice([0, 1, 5], (40, 3))
    done = np.arange(40)
    radius, height = rng.uniform(0.3, 9.0), rng.uniform(0.0, 6.0)
    args = (done, radius, height, cell, least, most, made)
    state, deepest = in_wood(steps, *args)
    expected, deep = stand_in_wood_reference(steps, *args, graze=0.02)
    assert np.array_equal(state, expected)
    assert deepest[0] == pytest.approx(deep.max(), abs=1e-9)
    if deep.max() > 0:
        assert deep[int(deepest[1])] == pytest.approx(deep.max(), abs=1e-9)
    away = steps + np.tile([7 * cell, 3 * cell, 0.0], 2)
    assert np.array_equal(in_wood(away, *args, origin=(3, 7))[0], expected)


@pytest.mark.parametrize("seed", range(10))
def test_wood_by_dense_sampling(seed):
    rng = np.random.default_rng(100 + seed)
    least = np.round(rng.uniform(-6.0, 0.0, (30, 40)), 1).astype(np.float32)
    never = np.full(least.shape, -1, np.int32)
    step = np.concatenate([rng.uniform((3, 3, -8), (17, 12, -4)) for _ in range(2)])[None]
    radius, height = rng.uniform(1.0, 4.0), rng.uniform(0.0, 4.0)
    _, deepest = in_wood(step, np.array([0]), radius, height, 0.5, least, least, never, 0.0)
    y, x = (np.mgrid[0:30, 0:40] + 0.5) * 0.5
    deep = 0.0
    for share in np.linspace(0.0, 1.0, 2001):
        px, py, pz = step[0, :3] + share * (step[0, 3:] - step[0, :3])
        under = np.hypot(x - px, y - py) < radius
        deep = max(deep, float((least[under] - pz - height).max(initial=0.0)))
    assert deepest[0] == pytest.approx(deep, abs=0.01)


def test_two_moments_settle_what_they_can():
    least = np.full((20, 20), -10.0, np.float32)
    most = np.zeros((20, 20), np.float32)
    made = np.full((20, 20), 5, np.int32)
    step = np.array([[5.0, 5.0, -12.0, 5.5, 5.0, -12.0]])

    def state(done, height=4.0):
        return in_wood(step, np.array([done]), 3.0, height, 0.5, least, most, made)[0][0]

    assert state(6) == CLEAR  # all of it was cut by then, to below the disc
    assert state(5) == OPEN  # step 5 is not yet done
    assert state(5, height=12.1) == CLEAR  # above whatever stood there before
    assert state(5, height=1.9) == HIT  # below what stands in the end

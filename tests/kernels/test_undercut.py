"""Cutters that undercut: spans of wood against voxels, slots against their exact sections."""

from itertools import pairwise
from math import cos, pi, radians, sin, tan

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kerfwright.cutter import read_cutter
from kerfwright.kernels.engagement import HIGHEST, LOWEST
from kerfwright.kernels.profile import DR, DZ, INTEGRALS, OUT_UP, R_DZ, along_edge
from kerfwright.kernels.undercut import (
    SPANS,
    cut_columns_reference,
    take_span,
    take_span_reference,
)
from kerfwright.prove.removal import Remover, form_of
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=70.0, width_mm=70.0, thickness_mm=20.0, wood=WOOD)
SMALL = Board(length_mm=16.0, width_mm=14.0, thickness_mm=9.0, wood=WOOD)

DOVETAIL = read_cutter("dovetail 14 deg 12 mm, flute length 8 mm")
T_SLOT = read_cutter("t-slot 10 mm, flute length 3 mm, neck 4 mm")
#: Two discs on a neck that gets wider: hides itself twice and grows between.
DISCS = read_cutter(
    "profile, outline 2 x 0; 3 x 1; 3 x 2; 1.5 x 2; 1.5 x 3; 4 x 4; 2 x 4.5; 2 x 7 mm"
)
UNDER = [DOVETAIL, T_SLOT, DISCS]
IDS = ["dovetail", "t-slot", "discs"]
FLAT, BALL, V = read_cutter("flat 4 mm"), read_cutter("ball 5 mm"), read_cutter("v 90 deg 6 mm")


def along(points):
    points = np.asarray(points, dtype=float)
    return np.hstack([points[:-1], points[1:]])


def cut(parts, cell_mm, on=BOARD, threads=1, windows=1, connected=True, weighed=True):
    """Field and volume after some (steps, cutter), one after another."""
    remover = Remover(Field.of_board(on, cell_mm), threads, weighed=weighed)
    volume, first = 0.0, 0
    for steps, tool in parts:
        for a, b in pairwise(np.linspace(0, len(steps), windows + 1).astype(int)):
            follows = np.full(b - a, connected)
            if a == 0:
                follows[0] = False
            taken = remover.take(steps[a:b], follows, first + a, tool)
            volume += float(taken.volume.sum(dtype=float)) * cell_mm**2
        first += len(steps)
    remover.close()
    return remover.field, volume


def plain(field, cells):
    """Cells of a one-tile field, (TILE², ..), as rows and columns."""
    side = 16
    shape = (side, side, 8, 8, *cells.shape[1:])
    whole = cells.reshape(shape).swapaxes(1, 2).reshape(128, 128, *cells.shape[1:])
    return whole[: field.rows, : field.columns]


WALKS = {
    "level": [1, 1, 0.0],
    "ramps": [1, 1, 0.4],
    "steep": [0.3, 0.3, 1.2],
}


@pytest.mark.parametrize("walk", list(WALKS))
@pytest.mark.parametrize("tool", UNDER, ids=IDS)
@pytest.mark.parametrize("seed", range(2))
def test_random_paths_against_columns_cut_densely(tool, walk, seed):
    rng = np.random.default_rng(seed)
    deep = -tool.flute_length_mm * 0.9
    points = np.array([7.0, 6.0, deep]) + np.cumsum(rng.normal(0, 1, (6, 3)) * WALKS[walk], 0)
    steps = along(points)
    field, volume = cut([(steps, tool)], 0.5, on=SMALL)
    # Then a plain cutter, over the same tiles.
    later = along(np.array([8.0, 7.0, -1.0]) + np.cumsum(rng.normal(0, 1, (4, 3)) * [1, 1, 0.3], 0))
    both, after = cut([(steps, tool), (later, BALL)], 0.5, on=SMALL)
    y, x = ((np.mgrid[0 : field.rows, 0 : field.columns] + 0.5) * 0.5).reshape(2, -1)
    z = -(np.arange(450) + 0.5) / 50.0
    corners = np.vstack([tool.corners_mm, [tool.corners_mm[-1][0], 50.0]])
    first = cut_columns_reference(x, y, z, steps, corners, 300)
    height = np.linspace(0, 2.5, 400)
    round_ = np.column_stack([np.sqrt(height * (5 - height)), height])
    second = first & cut_columns_reference(x, y, z, later, np.vstack([round_, [2.5, 50.0]]), 200)
    for found, expected, taken in ((field, first, volume), (both, second, after)):
        spans = plain(found, found.spans[0]).reshape(-1, SPANS, 2)
        wood = ((z[:, None] > spans[:, None, :, 0]) & (z[:, None] < spans[:, None, :, 1])).any(-1)
        # A level disc or a wall is in or out between two samples, and by a hundredth of a mm.
        assert (wood != expected).mean() < 0.003
        assert taken == pytest.approx((~expected).sum() * 0.02 * 0.25, rel=0.02)
        # Nothing is lost: volumes taken are what is no longer there.
        left = np.maximum(spans[..., 1] - spans[..., 0], 0.0).sum(dtype=float)
        assert (9.0 * len(x) - left) * 0.25 == pytest.approx(taken, rel=1e-5)
        top = np.where(spans[:, 0, 1] > spans[:, 0, 0], spans[:, 0, 1], -9.0)
        assert np.array_equal(found.maps()[0].ravel(), top)
        assert found.lost.sum() == 0


@pytest.mark.parametrize("aside_mm", [0.0, 0.01])
@pytest.mark.parametrize("step_mm", [4.0, 0.1, 0.03])
@pytest.mark.parametrize("tool", [DOVETAIL, T_SLOT], ids=IDS[:2])
def test_a_lift_leaves_what_a_disc_as_wide_leaves(tool, step_mm, aside_mm):
    # In along a slot, then up: at each height all is gone that the widest place has passed.
    deep, y = 6.0, 35.03
    z = np.append(np.arange(-deep, 2.0, step_mm), 2.0)
    up = along(np.column_stack([35.0 + aside_mm * (z + deep) / 8.0, 0 * z + y, z]))
    field, volume = cut([(np.vstack([[[-9, y, -deep, 35.0, y, -deep]], up]), tool)], 0.1)
    assert field.lost.sum() == 0
    heights = (np.arange(6000) + 0.5) / 6000 * deep
    radius, widest = tool.radius_at_mm(heights), tool.radius_mm
    if tool is T_SLOT:
        radius = np.where(heights < 3.0, 5.0, 2.0)
    behind = radius * np.sqrt(widest**2 - radius**2) + widest**2 * np.arcsin(radius / widest)
    more = deep * np.mean(pi * widest**2 - pi * radius**2 / 2.0 - behind)
    area = 35.0 * 2.0 * radius.mean() * deep + pi / 2.0 * np.mean(radius**2) * deep
    assert volume == pytest.approx(area + more, rel=2e-3)
    # No column within the rim keeps more than its floor.
    rows, columns = np.mgrid[0 : field.rows, 0 : field.columns] * 0.1 + 0.05
    inside = np.hypot(rows - y, columns - 35.0) < widest - 1e-3 - aside_mm
    assert np.abs(field.maps()[0][inside] + deep).max() < 1e-4


def section_mm2(tool, depth):
    """Exact area of the cross section of a level slot: twice the integral of the radius."""
    corners = [*tool.corners_mm, (tool.corners_mm[-1][0], 1e3)]
    area = ends = 0.0
    for (r0, z0), (r1, z1) in pairwise(corners):
        high = min(z1, depth) - z0
        if high > 0.0:
            r1 = r0 + (r1 - r0) * high / (z1 - z0)
            area += (r0 + r1) * high
            ends += pi * high * (r0 * r0 + r0 * r1 + r1 * r1) / 3.0
    return area, ends


def test_sections_in_closed_form():
    # A dovetail slot is a trapezoid, 12 mm wide at the foot; a T-slot two rectangles.
    assert section_mm2(DOVETAIL, 8.0)[0] == pytest.approx(8 * (12 - 8 * tan(radians(14))))
    assert section_mm2(T_SLOT, 8.0)[0] == pytest.approx(10 * 3 + 4 * 5)


@pytest.mark.parametrize("place", [(20.03, 19.07), (20.0, 20.0), (20.125, 20.05), (20.06, 20.19)])
@pytest.mark.parametrize("heading", [0.37, 1.2])
@pytest.mark.parametrize(
    ("tool", "bands"),
    [(DOVETAIL, (3e-5, 3e-6)), (T_SLOT, (2.5e-3, 6e-4)), (DISCS, (1.8e-3, 6e-4))],
    ids=IDS,
)
def test_slot_volume(tool, bands, heading, place):
    # Square to the cells: below, and in the table of docs/models/removal.md.
    depth = 8.0
    points = np.array([[*place, -depth]] * 81)
    points[:, :2] += np.linspace(0, 30, 81)[:, None] * np.array([cos(heading), sin(heading)])
    area, ends = section_mm2(tool, depth)
    for cell_mm, band in zip((0.25, 0.1), bands, strict=True):
        field, volume = cut([(along(points), tool)], cell_mm)
        assert volume == pytest.approx(area * 30 + ends, rel=band)
        whole = cut([(along(points[[0, -1]]), tool)], cell_mm)[1]
        assert whole == pytest.approx(volume, rel=1e-5)
        # The top has only the slit of what is widest at it or below its top.
        slit = (field.maps()[0] < -0.01).sum() * cell_mm**2
        widest = 2 * (DOVETAIL.radius_at_mm(8.0) if tool is DOVETAIL else tool.corners_mm[-1][0])
        if tool is not DISCS:
            assert slit == pytest.approx(widest * 30 + pi * widest**2 / 4, rel=0.03)


@pytest.mark.parametrize("cell_mm", [0.25, 0.1])
@pytest.mark.parametrize("share", np.linspace(0.0, 1.0, 9)[:-1])
@pytest.mark.parametrize(
    ("tool", "upright_mm", "band"),
    [(DOVETAIL, 0.0, 1e-4), (T_SLOT, 8.0, 1e-6), (DISCS, 5.5, 1e-6)],
    ids=IDS,
)
def test_an_axis_parallel_section_is_exact_where_no_wall_lies_on_centres(
    tool, upright_mm, band, share, cell_mm
):
    # Walls are multiples of a cell away from the axis, so that all of them lie on the cells'
    # centres where it does: that row is cut on both sides, half a cell too much at each. A leaning
    # flank is told by the middle of each cell, exact for a straight one.
    depth, y = 8.0, 35.0 + share * cell_mm
    remover = Remover(Field.of_board(BOARD, cell_mm), 1)
    steps = np.array([[-20.0, y, -depth, 90.0, y, -depth]])
    volume = remover.take(steps, np.array([False]), 0, tool).volume.sum(dtype=float) * cell_mm**2
    too_much = cell_mm * upright_mm if share == 0.5 else 0.0
    assert volume / 70.0 == pytest.approx(section_mm2(tool, depth)[0] + too_much, rel=band)


@pytest.mark.parametrize("tool", UNDER, ids=IDS)
def test_same_bits_however_it_is_cut_up(tool):
    rng = np.random.default_rng(5)
    walk = np.array([30.0, 30.0, -5.0]) + np.cumsum(rng.normal(0, 1, (150, 3)) * [1, 1, 0.2], 0)
    parts = [(along(walk), tool), (along(walk[::-1] + [1.0, 0.5, 2.0]), V), (along(walk), T_SLOT)]
    one = cut(parts, 0.25)[0]
    for threads, windows in ((2, 1), (2, 5)):
        other = cut(parts, 0.25, threads=threads, windows=windows)[0]
        for tile in np.flatnonzero(one.layer >= 0):
            spans = one.spans[one.layer[tile]], other.spans[other.layer[tile]]
            assert np.array_equal(*spans)
        for a, b in zip(one.maps(), other.maps(), strict=True):
            assert np.array_equal(a, b)
    light = cut(parts, 0.25, weighed=False)[0]
    assert np.array_equal(one.maps()[0], light.maps()[0])


@pytest.mark.parametrize("tool", UNDER, ids=IDS)
def test_what_is_taken_is_what_is_missing_in_spans(tool):
    """Gaps that were filled in again for want of room (the discs leave some) are not missing."""
    rng = np.random.default_rng(4)
    walk = np.array([30.0, 30.0, -5.0]) + np.cumsum(rng.normal(0, 1, (150, 3)) * [1, 1, 0.2], 0)
    parts = [(along(walk), tool), (along(walk[::-1] + [1.0, 0.5, 2.0]), V)]
    fresh = Field.of_board(BOARD, 0.25).wood_mm3()
    assert fresh == pytest.approx(70 * 70 * 20, rel=1e-12)
    for number in (1, 2):
        field, taken = cut(parts[:number], 0.25)
        assert fresh - field.wood_mm3() == pytest.approx(taken, rel=1e-7)


def test_plain_cutters_take_the_same_in_spans_as_without():
    rng = np.random.default_rng(3)
    walk = np.array([30.0, 30.0, -3.0]) + np.cumsum(rng.normal(0, 1, (100, 3)) * [1, 1, 0.2], 0)
    for tool in (FLAT, BALL, V, read_cutter("bull 6 mm, corner 1 mm")):
        tiles = np.arange(len(Field.of_board(BOARD, 0.25).place))
        whole, spans = (Field.of_board(BOARD, 0.25).with_room(tiles) for _ in range(2))
        whole, spans = Remover(whole, 1, weighed=False), Remover(spans.in_spans(tiles), 1)
        steps, follows = along(walk), np.arange(99) > 0
        taken = [r.take(steps, follows, 0, tool).volume.sum(dtype=float) for r in (whole, spans)]
        for a, b in zip(whole.field.maps(), spans.field.maps(), strict=True):
            assert np.array_equal(a, b)
        assert taken[0] == pytest.approx(taken[1], rel=1e-5)


def test_a_plain_program_has_no_spans():
    field, _ = cut([(along([[20, 20, -3], [40, 30, -3]]), FLAT)], 0.5)
    assert len(field.layer) == len(field.spans) == 0
    field, _ = cut([(along([[20, 20, -3], [40, 30, -3]]), T_SLOT)], 0.5)
    # Only the tiles that it touched.
    assert 0 < len(field.spans) == (field.layer >= 0).sum() <= (field.place >= 0).sum()


def test_through_from_below_is_dated():
    # A T-slot through the underside leaves a roof; a flat cutter then opens it.
    board = Board(length_mm=30.0, width_mm=30.0, thickness_mm=6.0, wood=WOOD)
    slot, roof = along([[-9, 15, -6.5], [39, 15, -6.5]]), along([[-9, 18.5, -4], [39, 18.5, -4]])
    field, _ = cut([(slot, T_SLOT), (roof, FLAT)], 0.5, on=board)
    height, made_by, through = field.maps()
    column = 30
    rows = {name: int(y / 0.5) for name, y in (("slit", 15.1), ("roof", 11.1), ("opened", 18.1))}
    assert through[rows["slit"], column] == 0
    assert (height[rows["roof"], column], through[rows["roof"], column]) == (0.0, -1)
    assert made_by[rows["roof"], column] == -1
    assert (through[rows["opened"], column], made_by[rows["opened"], column]) == (1, 1)


def test_engagement_is_between_the_heights_that_were_cut():
    remover = Remover(Field.of_board(BOARD, 0.25), 1)
    s = np.arange(20.0, 50.0, 0.5)
    points = np.stack([s, 0 * s + 35.0, 0 * s - 8.0], axis=1)
    taken = remover.take(along(points), np.arange(len(s) - 1) > 0, 0, T_SLOT)
    rows = taken.engagement[taken.entry[20] : taken.entry[40], :, 2 : 2 + taken.lanes]
    rows = rows[taken.volume[taken.entry[20] : taken.entry[40]] > 0.0]
    centre = taken.lanes // 2
    for lane, low, high in ((0, 0.0, 3.0), (centre, 0.0, 8.0), (taken.lanes - 1, 0.0, 3.0)):
        known = rows[:, LOWEST, lane] < 1e20
        assert rows[known, LOWEST, lane] == pytest.approx(low, abs=1e-5)
        assert rows[known, HIGHEST, lane] == pytest.approx(high, abs=1e-5)


def test_integrals_along_an_edge_that_comes_back_in():
    out = np.empty(INTEGRALS)
    along_edge(0.0, 8.0, form_of(DOVETAIL), out)
    inwards = 8.0 * tan(radians(14))
    assert out[DZ] == pytest.approx(8.0)
    assert out[DR] == pytest.approx(-inwards)
    # Its normal points upwards: the wood pushes such a flank down.
    assert out[OUT_UP] == pytest.approx(-inwards * cos(radians(14)))
    assert out[R_DZ] == pytest.approx(8.0 * (6.0 - inwards / 2))


heights = st.integers(0, 60)


@settings(max_examples=400, deadline=None)
@given(st.lists(st.tuples(heights, heights), max_size=12))
def test_spans_against_voxels(cuts):
    spans = np.zeros((SPANS, 2), np.float32)
    spans[0, 1] = 60.0
    voxels = np.ones(60, bool)
    filled = False
    for a, b in cuts:
        low, high = min(a, b), max(a, b)
        before = voxels.sum()
        voxels[low:high] = False
        told = [(float(s[0]), float(s[1])) for s in spans if s[1] > s[0]]
        expected = take_span_reference(np.array(told).reshape(-1, 2), low, high)
        wood, lowest, highest, lost = take_span(spans, np.float32(low), np.float32(high))
        left = [(float(s[0]), float(s[1])) for s in spans if s[1] > s[0]]
        assert all(above[0] >= below[1] for above, below in pairwise(left))
        assert wood >= 0.0
        if wood > 0.0:
            assert low <= lowest < highest <= high
        filled = filled or bool(lost)
        if lost:
            # The least gap of all that there would be is filled in, no other.
            assert len(expected) == SPANS + 1
            gaps = [above[0] - below[1] for above, below in pairwise(expected)]
            k = int(np.argmin(gaps))
            joined = [*expected[:k], (expected[k + 1][0], expected[k][1]), *expected[k + 2 :]]
            sizes = sorted(t - b for b, t in joined)
            assert len(left) == SPANS
            assert sum(t - b for b, t in left) == pytest.approx(sum(sizes))
        else:
            assert left == expected
        if not filled:
            grid = np.zeros(60, bool)
            for begin, end in left:
                grid[int(begin) : int(end)] = True
            assert np.array_equal(grid, voxels)
            assert wood == before - voxels.sum()

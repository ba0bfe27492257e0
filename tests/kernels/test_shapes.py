"""Bull noses, tapers, drills and polylines: dense sampling, closed volumes, limits, integrals."""

from itertools import pairwise
from math import cos, pi, radians, sin, tan

import numpy as np
import pytest

from kerfwright.cutter import read_cutter
from kerfwright.kernels.engagement import BINS, FLOOR, HIGHEST, LOWEST, ROWS, VOLUME, nothing
from kerfwright.kernels.profile import (
    DR,
    DZ,
    EDGE,
    INTEGRALS,
    OUT_OUT,
    OUT_UP,
    R_DEDGE,
    R_DR,
    R_DZ,
    UP_UP,
    along_edge,
    profile_mm,
    rise,
    steepness,
)
from kerfwright.kernels.removal import cut_reference
from kerfwright.kernels.spreading import WORK, spread_lanes, spread_reference
from kerfwright.kernels.weighing import floor_reference, floor_within
from kerfwright.prove.removal import Remover, form_of
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=60.0, width_mm=60.0, thickness_mm=20.0, wood=WOOD)
SMALL = Board(length_mm=20.0, width_mm=15.0, thickness_mm=20.0, wood=WOOD)

BULL = read_cutter("bull 6 mm, corner 1 mm")
TAPER = read_cutter("tapered ball 6 mm, tip radius 0.5 mm, angle 20 deg")
DRILL = read_cutter("drill 5 mm")
COVE = read_cutter("profile, outline 1 x 0; 2.5 x 0.4; 3.5 x 1.5; 4 x 3.5 mm")
STEPPED = read_cutter("profile, outline 1.5 x 0; 1.5 x 1; 3 x 1.5; 3 x 3; 4 x 3 mm")
ROUND_OVER = read_cutter("round-over, corner 3 mm, guide 2 mm, guide length 0.5 mm")
SHAPES = [BULL, TAPER, DRILL, COVE, STEPPED, ROUND_OVER]
IDS = ["bull", "taper", "drill", "cove", "stepped", "round-over"]
ROUNDS = [BULL, TAPER]


def along(points):
    points = np.asarray(points, dtype=float)
    return np.hstack([points[:-1], points[1:]])


def cut(steps, tool, cell_mm, on=BOARD, threads=1, windows=1, connected=True, weighed=True):
    remover = Remover(Field.of_board(on, cell_mm), threads, weighed=weighed)
    volume = 0.0
    for a, b in pairwise(np.linspace(0, len(steps), windows + 1).astype(int)):
        follows = np.full(b - a, connected)
        if a == 0:
            follows[0] = False
        taken = remover.take(steps[a:b], follows, a, tool)
        volume += float(taken.volume.sum(dtype=float)) * cell_mm**2
    remover.close()
    return remover.field, volume


@pytest.mark.parametrize(
    ("tool", "above_mm", "below_mm", "worst_mm", "median_mm"),
    [
        # A round edge's place on a slope is found by halving, and stays a little high.
        (BULL, 2.5e-4, 4e-5, 4e-5, 4e-5),
        (TAPER, 2.5e-3, 2e-4, 4e-4, 2e-5),
        (DRILL, 1e-6, 4e-4, 2e-3, 1e-6),
        (COVE, 4e-6, 1.2e-3, 1.5e-3, 1e-6),
        (STEPPED, 1e-6, 3e-3, 3e-3, 1e-6),
        # The cell of the third way that is wholly off lies on the rim of the guide.
        (ROUND_OVER, 2e-6, 3e-3, 0.51, 1e-5),
    ],
    ids=IDS,
)
@pytest.mark.parametrize("seed", range(3))
def test_kernel_equals_reference(tool, above_mm, below_mm, worst_mm, median_mm, seed):
    rng = np.random.default_rng(seed)
    walk = np.array([9.0, 7.0, -2.0]) + np.cumsum(rng.normal(0, 1, (8, 3)) * [1, 1, 0.35], 0)
    field, _ = cut(along(walk), tool, 0.25, on=SMALL)
    expected = cut_reference(
        np.zeros((field.rows, field.columns)), 0.25, along(walk), form_of(tool), samples=300
    )
    off = field.maps()[0] - np.maximum(expected, -20.0)
    # As in test_removal: the sampled one misses the lowest place a little.
    assert off.max() < above_mm
    below = np.sort(-off, axis=None)
    assert below[-5] < below_mm
    assert below[-1] < worst_mm
    assert np.median(np.abs(off[expected < 0.0])) < median_mm


def section_and_ends(tool, depth):
    """Cross section of a level groove, and the volume of revolution, in closed form."""
    if tool is BULL:
        r, c = 3.0, 1.0
        section = 2 * r * depth - 2 * c * c * (1 - pi / 4)
        # A disc with a rounded rim: cylinder of the core, quarter torus, cylinder above.
        core = r - c
        ends = pi * (core**2 * c + pi / 2 * core * c**2 + 2 / 3 * c**3) + pi * r**2 * (depth - c)
        return section, ends
    if tool is TAPER:
        lean, ball = radians(10), 0.5
        top, rim = ball * (1 - sin(lean)), ball * cos(lean)
        angle = pi / 2 - lean
        section = ball**2 * (angle - 0.5 * sin(2 * angle)) + (
            (depth - top) * (2 * rim + (depth - top) * tan(lean))
        )
        ends = pi * top**2 * (ball - top / 3) + frustum(rim, rim + (depth - top) * tan(lean),
                                                        depth - top)  # fmt: skip
        return section, ends
    if tool is DRILL:
        point = 2.5 / tan(radians(59))
        return 5.0 * depth - 2.5 * point, pi * 2.5**2 * (depth - 2 / 3 * point)
    section = ends = 0.0
    corners = [*tool.corners_mm, (tool.corners_mm[-1][0], 1e3)]
    for (r0, z0), (r1, z1) in pairwise(corners):
        high = min(z1, depth) - z0
        if high > 0:
            r1 = r0 + (r1 - r0) * high / (z1 - z0)
            section += (r0 + r1) * high
            ends += frustum(r0, r1, high)
    return section, ends


def frustum(r0, r1, height):
    return pi * height * (r0 * r0 + r0 * r1 + r1 * r1) / 3


@pytest.mark.parametrize(("cell_mm", "aslant"), [(0.25, 2.5e-3), (0.1, 6e-4)])
@pytest.mark.parametrize("tool", SHAPES, ids=IDS)
def test_groove_by_the_heights_at_the_centres(tool, cell_mm, aslant):
    # By what is taken: the table of docs/models/removal.md. Square to the cells a wall may have a
    # whole row of centres on one side.
    depth, length = 4.5, 30.0
    section, ends = section_and_ends(tool, depth)
    for heading, band in ((0.37, aslant), (1.2, aslant), (0.0, 0.015), (pi / 4, 0.015)):
        points = np.array([[15.03, 14.07, -depth], [0, 0, -depth]])
        points[1, :2] = points[0, :2] + length * np.array([cos(heading), sin(heading)])
        field, _ = cut(along(points), tool, cell_mm)
        by_centres = -field.maps()[0].sum(dtype=float) * cell_mm**2
        assert by_centres == pytest.approx(section * length + ends, rel=band)


@pytest.mark.parametrize(("cell_mm", "band"), [(0.25, 3e-4), (0.1, 2e-5)])
@pytest.mark.parametrize("depth", [1.05, 1.2, 2.0, 3.0])
def test_volume_from_just_above_the_corner(depth, cell_mm, band):
    # With the outline at the middle of each cell at the rim: 2 mm deep 1.8e-3 and 6e-4 too little.
    for heading in (0.0, 0.37, pi / 4, 1.2):
        points = np.array([[15.03, 14.07, -depth], [0, 0, -depth]])
        points[1, :2] = points[0, :2] + 30.0 * np.array([cos(heading), sin(heading)])
        section, ends = section_and_ends(BULL, depth)
        _, volume = cut(along(points), BULL, cell_mm)
        assert volume == pytest.approx(section * 30.0 + ends, rel=band)


@pytest.mark.parametrize("tool", [BULL, DRILL, COVE, read_cutter("ball 6 mm")])
@pytest.mark.parametrize("seed", range(4))
def test_floor_of_a_cell_at_the_rim(tool, seed):
    rng = np.random.default_rng(seed)
    form, cell_mm = form_of(tool), rng.uniform(0.05, 0.25)
    off = []
    for angle in (0.0, pi / 4, *rng.uniform(0.0, 2 * pi, 20)):
        nx, ny = cos(angle), sin(angle)
        extent = 0.5 * (abs(nx) + abs(ny))
        inside = rng.uniform(-0.9, 0.99) * extent
        away = tool.radius_mm - inside * cell_mm
        found = floor_within(*np.array([away, inside, nx, ny, cell_mm], np.float32), form)
        expected = floor_reference(away, inside, nx, ny, cell_mm, form)
        fall = rise(tool.radius_mm, form) - rise(tool.radius_mm - 2 * extent * cell_mm, form)
        off.append((found - expected) / fall)
    # Three places across corners of the square: one cell is off more than all of them together.
    assert np.abs(off).max() < 0.035
    assert abs(np.mean(off)) < 0.008


@pytest.mark.parametrize("tool", SHAPES, ids=IDS)
def test_same_bits_at_any_thread_count_and_window(tool):
    rng = np.random.default_rng(5)
    walk = np.array([30.0, 30.0, -2.0]) + np.cumsum(rng.normal(0, 1, (200, 3)) * [1, 1, 0.2], 0)
    one = cut(along(walk), tool, 0.2)[0]
    for threads, windows in ((2, 1), (2, 5)):
        other = cut(along(walk), tool, 0.2, threads=threads, windows=windows)[0]
        for a, b in zip(one.maps(), other.maps(), strict=True):
            assert np.array_equal(a, b)


@pytest.mark.parametrize("tool", SHAPES, ids=IDS)
def test_leaving_out_the_disc_where_the_step_begins_loses_nothing(tool):
    rng = np.random.default_rng(2)
    walk = np.array([30.0, 30.0, -2.0]) + np.cumsum(rng.normal(0, 1, (200, 3)) * [1, 1, 0.3], 0)
    linked = cut(along(walk), tool, 0.2, weighed=False)[0].maps()[0]
    loose = cut(along(walk), tool, 0.2, connected=False, weighed=False)[0].maps()[0]
    off = np.abs(linked - loose)
    # Cells on the line of an upright are in or out by rounding.
    assert (off > 3e-3).mean() < 1e-4


@pytest.mark.parametrize(
    ("words", "limit"),
    [
        ("bull 6 mm, corner 0.01 mm", "flat 6 mm"),
        ("bull 6 mm, corner 3 mm", "ball 6 mm"),
        ("taper 6 mm, angle 60 deg, tip radius 0.01 mm", "v 60 deg 6 mm, tip 0 mm"),
        ("taper 6 mm, angle 1 deg, tip radius 2.9997 mm", "ball 6 mm"),
        ("drill 90 deg 6 mm", "v 90 deg 6 mm, tip 0 mm"),
        ("profile, outline 3 x 0; 3 x 9 mm", "flat 6 mm"),
        ("profile, outline 0.4 x 0; 3 x 2.6 mm", "v 90 deg 6 mm, tip 0.8 mm"),
    ],
)
def test_limits_are_the_plain_shapes(words, limit):
    rng = np.random.default_rng(7)
    walk = np.array([30.0, 30.0, -2.0]) + np.cumsum(rng.normal(0, 1, (60, 3)) * [1, 1, 0.3], 0)
    fields = [cut(along(walk), read_cutter(one), 0.2)[0].maps()[0] for one in (words, limit)]
    off = np.abs(fields[0] - fields[1])
    assert (off > 0.012).mean() < 2e-3
    assert off.mean() < 1e-3


@pytest.mark.parametrize("tool", SHAPES, ids=IDS)
def test_rise_and_its_slope(tool):
    form = form_of(tool)
    r = np.linspace(0.0, tool.radius_mm * 0.9999, 4001)
    expected = profile_mm(r, form)
    assert [rise(x, form) for x in r] == pytest.approx(expected, abs=1e-9)
    slope = np.array([steepness(x, form) for x in 0.5 * (r[1:] + r[:-1])])
    told = np.diff(expected) / np.diff(r)
    smooth = np.abs(told) < 20  # not across an upright, nor at a corner
    assert np.quantile(np.abs(slope - told)[smooth], 0.99) < 0.02
    if tool is not STEPPED:  # its uprights have many heights at one radius
        beyond = r > form[0]
        found = tool.radius_at_mm(expected[beyond])
        assert found == pytest.approx(r[beyond], abs=0.02)


@pytest.mark.parametrize("tool", SHAPES, ids=IDS)
@pytest.mark.parametrize(("low", "high"), [(0.0, 6.0), (0.3, 2.2), (1.2, 1.4), (3.2, 9.0)])
def test_integrals_along_the_edge(tool, low, high):
    corners = np.vstack([tool.outline_mm(), [tool.radius_mm, 50.0]])
    if tool in ROUNDS:  # arcs in chords finer than the tool draws them
        r = np.linspace(0, tool.radius_mm, 400_001)
        corners = np.vstack([[0.0, 0.0], [tool.radius_mm, tool.rim_mm], [tool.radius_mm, 50.0]])
    pieces = [np.linspace(a, b, 50_000, endpoint=False) for a, b in pairwise(corners)]
    if tool in ROUNDS:
        pieces[0] = np.column_stack([r, profile_mm(r, form_of(tool))])
    points = np.vstack([*pieces, corners[-1:]])
    middle = 0.5 * (points[1:] + points[:-1])
    dr, dz = np.diff(points, axis=0).T
    inside = (middle[:, 1] >= low) & (middle[:, 1] <= high) & (middle[:, 1] > 0.0)
    dr, dz, at = dr[inside], dz[inside], middle[inside, 0]
    dl = np.maximum(np.hypot(dr, dz), 1e-15)
    out = np.empty(INTEGRALS)
    along_edge(low, high, form_of(tool), out)
    rubs = np.where(dz == 0.0, 0.0, dl)  # level pieces do not
    expected = {
        DZ: dz, DR: dr, EDGE: rubs, R_DZ: at * dz, R_DEDGE: at * rubs, R_DR: at * dr,
        OUT_OUT: dz * dz / dl, OUT_UP: dz * dr / dl, UP_UP: dr * dr / dl,
    }  # fmt: skip
    for name, parts in expected.items():
        assert out[name] == pytest.approx(parts.sum(), rel=2e-3, abs=2e-3)


@pytest.mark.parametrize("tool", [BULL, TAPER, DRILL, COVE], ids=IDS[:4])
@pytest.mark.parametrize("seed", range(3))
def test_spreading_kernel_equals_reference(tool, seed):
    rng = np.random.default_rng(seed)
    form, radius = form_of(tool), tool.radius_mm
    lanes = int(rng.integers(5, 30))
    heading, m = rng.uniform(-pi, pi), rng.uniform(-0.3, 0.3) * (seed > 0)
    way = rng.uniform(0.5, 2.0)
    beside = (np.arange(lanes) + 0.5) / lanes * 2 * radius - radius
    e = np.linspace(-1, 1, 401)[:, None] * np.sqrt(radius**2 - beside**2)
    lowest = (profile_mm(np.minimum(np.hypot(e, beside), radius), form) - m * e).min(axis=0)
    wood = np.zeros((3, lanes))
    wood[VOLUME] = rng.uniform(0.0, 1.0, lanes) * (rng.random(lanes) < 0.8)
    wood[LOWEST], wood[HIGHEST] = lowest, lowest + rng.uniform(0.05, 4.0, lanes)
    out = np.zeros((ROWS, BINS))
    nothing(out)
    spread_lanes(lanes, wood, way, heading, m, form, np.empty(WORK), out)
    total = wood[VOLUME].sum()
    assert out[VOLUME].sum() + out[FLOOR].sum() == pytest.approx(total, rel=1e-9)
    expected = spread_reference(lanes, wood, way, heading, m, form)
    assert out[VOLUME] + out[FLOOR] == pytest.approx(expected, abs=0.01 * total)


@pytest.mark.parametrize(
    "tool",
    [*SHAPES, read_cutter("flat 6 mm"), read_cutter("ball 6 mm"), read_cutter("v 60 deg 6 mm")],
    ids=[*IDS, "flat", "ball", "V"],
)
def test_volume_of_steep_ways_with_walls(tool):
    # So deep that flanks and walls stand in the wood, up and down: the shares of the cells at them
    # against setting the cutter down 100 times along each step on a field of half the cells.
    rng = np.random.default_rng(1)
    walk = np.array([9.0, 7.0, -7.0]) + np.cumsum(rng.normal(0, 1, (6, 3)) * 0.7, 0)
    _, volume = cut(along(walk), tool, 0.2, on=SMALL)
    fine = np.zeros((150, 200))
    expected = cut_reference(fine, 0.1, along(walk), form_of(tool), samples=100)
    assert volume == pytest.approx(-np.maximum(expected, -20.0).sum() * 0.01, rel=4e-3)

"""Loads from the grid against closed forms, at any heading and place on the grid."""

from itertools import product
from math import asin, cos, hypot, pi, radians, sin

import numpy as np
import pytest

from kerfwright.cutter import Cutter, read_cutter
from kerfwright.kernels import cutting
from kerfwright.kernels.edge_force import (
    ALONG,
    ARC_COLUMNS,
    COVER,
    END,
    FORWARD,
    START,
    covered_arcs,
)
from kerfwright.kernels.engagement import (
    BINS,
    FLOOR,
    HIGHEST,
    LOWEST,
    ROWS,
    VOLUME,
    nothing,
    rim_share,
)
from kerfwright.kernels.profile import (
    BALL,
    DR,
    DZ,
    EDGE,
    FLAT,
    INTEGRALS,
    OUT_OUT,
    OUT_UP,
    R_DEDGE,
    R_DR,
    R_DZ,
    UP_UP,
    VEE,
    along_edge,
    form_of,
    profile_mm,
)
from kerfwright.kernels.spreading import WORK, spread_lanes, spread_reference
from kerfwright.prove.cells import LOADS_MM
from kerfwright.prove.removal import Remover
from kerfwright.prove.removal import form_of as form_of_cutter
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field

# The cut of docs/models/cutting.md: 2 flutes, 18 000 rev/min, 0.1 mm a tooth, K_c 43 N/mm², K_e 3.7
# N/mm, normal shares 0.3 and 0.7, 6 mm deep.
KC, KE, RC, RE = 43.0, 3.7, 0.3, 0.7
DEPTH, FZ, FLUTES, REV_PER_S = 6.0, 0.1, 2, 300.0
FEED = FZ * FLUTES * REV_PER_S
WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=70.0, width_mm=70.0, thickness_mm=20.0, wood=WOOD)
STILL = np.zeros((3, cutting.AXIS_NUMBERS))
STILL[:, cutting.A_LEAD] = STILL[:, cutting.A_MOTORS] = STILL[:, cutting.A_TOP] = 1.0
OFFSETS = ((0.0, 0.0), (0.31, 0.17), (0.5, 0.5), (0.77, 0.42))  # of a cell


def cutter(shape="flat", diameter=6.0, angle=pi, tip=0.0):
    return Cutter(
        name=shape, shape=shape, diameter_mm=diameter, flutes=FLUTES, flute_length_mm=20.0,
        shank_diameter_mm=6.0, stick_out_mm=25.0, included_angle_rad=angle, tip_diameter_mm=tip,
    )  # fmt: skip


def loads(points, cell_mm, tool, cleared=(), step_mm=0.25, group_mm=1.0):
    """Columns and engagements of groups along a polyline, after ``cleared`` moves."""
    remover = Remover(Field.of_board(BOARD, cell_mm), 1)
    for move in cleared:
        remover.take(np.array([move]), np.array([False]), 0, tool)
    n = len(points) - 1
    steps = np.hstack([points[:-1], points[1:]])
    group_first = np.arange(0, n + 1, round(group_mm / step_mm))
    taken = remover.take(steps, np.arange(n) > 0, 0, tool, group_first)
    times = np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)) / FEED
    time = np.stack([np.concatenate([[0.0], times[:-1]]), times], axis=1)
    groups = len(group_first) - 1
    gathered = np.empty((groups, ROWS, BINS))
    column = np.empty((groups, cutting.COLUMNS))
    cutting.group_loads(
        0, groups, group_first, steps, time, np.zeros((n, 3)), np.zeros((n, 3)), REV_PER_S,
        taken.group_run, taken.in_lanes, taken.entry, taken.volume, taken.engagement,
        cell_mm**2, taken.lanes, form_of_cutter(tool), tool.flutes, np.full((2, BINS), KC),
        np.full((2, BINS), KE), RC, RE, 0.0, STILL,
        np.full((3, 8), 1e9), gathered, column, 0.0, 0.0, 0.0, 0.0,
    )  # fmt: skip
    return column, gathered


def straight(
    heading, offset, cell_mm, tool, width=None, side="right", depth=DEPTH, step_mm=0.25,
    group_mm=1.0,
):  # fmt: skip
    """Steady groups of a cut through the middle of the board, ``width`` of it on one ``side``."""
    along = np.array([cos(heading), sin(heading)])
    left = np.array([-along[1], along[0]])
    middle = np.array([35.0, 35.0]) + np.array(offset) * cell_mm
    s = np.arange(-16.0, 16.0 + 1e-9, step_mm)
    points = np.empty((len(s), 3))
    points[:, :2] = middle + s[:, None] * along
    points[:, 2] = -depth
    cleared = []
    if width is not None:
        sign = 1.0 if side == "right" else -1.0
        for beside in width + tool.radius_mm * np.arange(3):
            a, b = (middle + sign * beside * left + end * along for end in (-26.0, 26.0))
            cleared.append([*a, -depth, *b, -depth])
    column, gathered = loads(points, cell_mm, tool, cleared, step_mm, group_mm)
    column, gathered = column[12:-2], gathered[12:-2]
    force = column[:, cutting.FORCE_X : cutting.FORCE_X + 2]
    return force @ along, force @ left, column, gathered


def arc(width, side, diameter):
    """Angles from the heading between which the edge is in the wood."""
    if width is None:
        return -pi / 2, pi / 2
    if side == "right":
        return -pi / 2, asin(2.0 * width / diameter - 1.0)
    return asin(1.0 - 2.0 * width / diameter), pi / 2


def closed(width, side, diameter):
    """Mean force along and to the left, and power: integrals of the edge law over the arc."""
    begin, end = arc(width, side, diameter)
    psi = np.linspace(begin, end, 20001)
    psi, d = 0.5 * (psi[1:] + psi[:-1]), (end - begin) / 20000
    chip, rub = KC * FZ * DEPTH * np.cos(psi), KE * DEPTH
    tangential, normal = chip + rub, RC * chip + RE * rub
    share = FLUTES / (2 * pi) * d
    along = share * (-np.sin(psi) * tangential - np.cos(psi) * normal).sum()
    left = share * (np.cos(psi) * tangential - np.sin(psi) * normal).sum()
    # P = K_c MRR + K_e z a_p v_c psi / 2 pi.
    speed = pi * diameter * REV_PER_S
    power = KC * (width or diameter) * DEPTH * FEED + KE * FLUTES * DEPTH * speed * (
        end - begin
    ) / (2 * pi)
    return along, left, power / 1000.0


def test_closed_form_is_the_one_worked_out_elsewhere():
    # Worked out for this project beforehand: 13.763 and 27.033 N, 92.9 + 125.5 W.
    assert closed(None, "", 6.0) == pytest.approx((-13.763, 27.033, 218.4), abs=0.05)


@pytest.mark.parametrize("heading_deg", [0, 23, 45, 71])
@pytest.mark.parametrize("cell_mm", [0.25, 0.1])
@pytest.mark.parametrize(
    ("width", "side", "band"),
    [
        pytest.param(None, "", 0.004, id="slot"),
        pytest.param(0.5, "right", 0.005, id="half, down the travel"),
        pytest.param(0.5, "left", 0.006, id="half, up the travel"),
        pytest.param(0.2, "right", 0.008, id="a fifth, down the travel"),
        pytest.param(0.2, "left", 0.008, id="a fifth, up the travel"),
    ],
)
def test_mean_force_and_power(heading_deg, cell_mm, width, side, band):
    # Before bins were covered in part the same cuts were off by up to 14, 14 and 29 %.
    for diameter in (6.0, 6.35):
        wide = None if width is None else width * diameter
        expected = closed(wide, side, diameter)
        size = hypot(*expected[:2])
        for offset in OFFSETS if cell_mm > 0.2 else OFFSETS[:2]:
            ahead, left, column, _ = straight(
                radians(heading_deg), offset, cell_mm, cutter(diameter=diameter), wide, side
            )
            assert ahead.mean() == pytest.approx(expected[0], abs=band * size)
            assert left.mean() == pytest.approx(expected[1], abs=band * size)
            assert column[:, cutting.POWER].mean() == pytest.approx(expected[2], rel=band)


@pytest.mark.parametrize("cell_mm", [0.25, 0.1])
def test_one_millimetre_of_path_is_steady_enough(cell_mm):
    # Group by group, not only in the mean: so a worst group is not one picked out by the grid.
    for heading_deg in (23, 45, 71):
        _, _, column, _ = straight(radians(heading_deg), OFFSETS[1], cell_mm, cutter(), 1.2, "left")
        power = column[:, cutting.POWER]
        assert power.std() < 0.012 * power.mean()


@pytest.mark.parametrize(
    ("cell_mm", "volume_share", "force_share"),
    [(0.25, 1.2e-3, 6e-3), (0.1, 1.2e-4, 4e-4), (0.05, 3e-5, 1.5e-4)],
)
@pytest.mark.parametrize("side", ["left", "right"])
def test_each_half_millimetre_is_as_steady(side, cell_mm, volume_share, force_share):
    # Of a kernel that counts cells by their centres, measured beforehand: the volume of a step
    # scatters by 7.2, 2.9 and 0.8 %, the force by 5.8, 2.5 and 0.6 %.
    for offset in OFFSETS:
        _, _, column, _ = straight(
            radians(23), offset, cell_mm, cutter(), 2.4, side, step_mm=0.5, group_mm=0.5
        )
        taken = column[:, cutting.TAKEN]
        assert len(taken) > 40
        assert taken.mean() == pytest.approx(2.4 * DEPTH * 0.5, rel=1e-4)
        assert taken.std() < volume_share * taken.mean()
        force = np.linalg.norm(column[:, cutting.FORCE_X : cutting.FORCE_Z + 1], axis=1)
        assert force.std() < force_share * force.mean()


@pytest.mark.parametrize(("cell_mm", "band_deg"), [(0.25, 1.6), (0.1, 0.9), (0.05, 0.25)])
@pytest.mark.parametrize(
    ("width", "side", "angle_deg"),
    [(1.5, "right", 60), (1.5, "left", 60), (3.0, "right", 90), (3.0, "left", 90), (None, "", 180)],
)
def test_the_arc_that_is_covered(width, side, angle_deg, cell_mm, band_deg):
    begin, end = arc(width, side, 6.0)
    assert end - begin == pytest.approx(radians(angle_deg))
    for heading_deg in (0, 23, 45, 71, 101):
        for offset in OFFSETS[:2]:
            _, _, column, _ = straight(radians(heading_deg), offset, cell_mm, cutter(), width, side)
            short = angle_deg - np.degrees(column[:, cutting.COVERED])
            # Where an arc ends in a bin is told by how full the bin is: never beyond its end.
            assert short.min() > -0.02
            assert short.max() < band_deg


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_coarsest_cells_that_still_tell_loads(side):
    # In cells twice as wide the narrowest of these is told a third too low.
    for width, heading_deg, offset in product((0.6, 1.2, 3.0), (0, 23, 45, 71), OFFSETS[:2]):
        expected = closed(width, side, 6.0)
        ahead, left, column, _ = straight(
            radians(heading_deg), offset, LOADS_MM, cutter(), width, side
        )
        force = hypot(ahead.mean(), left.mean())
        assert force == pytest.approx(hypot(*expected[:2]), rel=0.035)
        assert column[:, cutting.POWER].mean() == pytest.approx(expected[2], rel=0.03)
        assert column[:, cutting.LARGEST].min() > 0.98 * largest(width, side)


def test_cells_coarser_than_that_tell_loads_too_low():
    ahead, left, _, _ = straight(radians(23), OFFSETS[1], 2.0 * LOADS_MM, cutter(), 0.6, "left")
    expected = closed(0.6, "left", 6.0)
    assert hypot(ahead.mean(), left.mean()) < 0.8 * hypot(*expected[:2])


def peak(gathered, heading, way=1.0):
    """Largest force of straight flutes over a turn, and the mean (2,), from the covered arcs."""
    arcs = np.empty((BINS, ARC_COLUMNS))
    covered_arcs(gathered, way, 0.0, heading, form_of(FLAT, 3.0, 0.0, 0.0), arcs)
    angles = np.linspace(-pi, pi, 720, endpoint=False) + 1e-4
    force = np.zeros((len(angles), 2))
    for flute in range(FLUTES):
        psi = np.mod(angles + 2 * pi * flute / FLUTES + pi, 2 * pi) - pi
        for row in arcs[arcs[:, COVER] > 0.0]:
            sines = sin(row[END]) - sin(row[START])
            if sines < 1e-9:
                continue
            there = (psi >= row[START]) & (psi < row[END])
            chip = KC * FZ / way * row[FORWARD] / sines / row[ALONG + R_DZ] * np.cos(psi)
            rub = KE * row[COVER] * np.ones_like(psi)
            tangential = there * (chip * row[ALONG + DZ] + rub * row[ALONG + EDGE])
            normal = there * (RC * chip * row[ALONG + OUT_OUT] + RE * rub * row[ALONG + DZ])
            force[:, 0] += -np.sin(psi) * tangential - np.cos(psi) * normal
            force[:, 1] += np.cos(psi) * tangential - np.sin(psi) * normal
    return np.hypot(*force.T).max(), force.mean(axis=0)


def largest(width, side, diameter=6.0):
    """Largest force of straight flutes, angle by angle and flute by flute."""
    begin, end = arc(width, side, diameter)
    psi = np.linspace(begin, end, 4001)
    force = np.zeros((4001, 2))
    for flute in range(FLUTES):
        at = (psi + 2 * pi * flute / FLUTES + pi) % (2 * pi) - pi
        cuts = (at >= begin) & (at <= end)
        chip, rub = KC * FZ * DEPTH * np.cos(at), KE * DEPTH
        tangential, normal = chip + rub, RC * chip + RE * rub
        force[:, 0] += cuts * (-np.sin(at) * tangential - np.cos(at) * normal)
        force[:, 1] += cuts * (np.cos(at) * tangential - np.sin(at) * normal)
    # In a slot both flutes touch only at the very ends of the arc: no width, no force to see.
    return np.hypot(*force[2:-2].T).max()


@pytest.mark.parametrize("heading_deg", [0, 23, 45])
def test_largest_force_of_a_straight_flute(heading_deg):
    # Before arcs ended where the volume says, the narrowest were told 55 % less, and 42 % less
    # mean force; cuts of 0.2 to 0.5 radii up to 6 % less.
    for side in ("right", "left"):
        for share in (0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0):
            width, heading = 3.0 * share, radians(heading_deg)
            ahead, left, column, _ = straight(heading, OFFSETS[1], 0.1, cutter(), width, side)
            expected = closed(width, side, 6.0)
            size = hypot(*expected[:2])
            assert column[:, cutting.LARGEST] == pytest.approx(largest(width, side), rel=0.02)
            assert ahead.mean() == pytest.approx(expected[0], abs=0.004 * size)
            assert left.mean() == pytest.approx(expected[1], abs=0.004 * size)
            assert column[:, cutting.POWER].mean() == pytest.approx(expected[2], rel=0.004)


@pytest.mark.parametrize("heading_deg", [0, 23, 45])
@pytest.mark.parametrize(
    ("width", "side"), [(None, ""), (3.0, "right"), (1.2, "left"), (1.2, "right")]
)
def test_peak_of_a_straight_flute(heading_deg, width, side):
    tool, heading = cutter(), radians(heading_deg)
    expected = largest(width, side)
    for cell_mm in (0.25, 0.1):
        ahead, left, _, gathered = straight(heading, OFFSETS[1], cell_mm, tool, width, side)
        found = [peak(gathered[k], heading) for k in range(3)]
        assert np.mean([size for size, _ in found]) == pytest.approx(expected, rel=0.02)
        # The mean over a turn is the mean force.
        mean = np.mean([total for _, total in found], axis=0)
        assert mean[0] == pytest.approx(ahead[:3].mean(), abs=0.01 * expected)
        assert mean[1] == pytest.approx(left[:3].mean(), abs=0.01 * expected)


def exact_groove(form, depth):
    """Force along, left and up and power in a full groove, by integrals over the cutter's surface.

    Each bit of the surface that faces the travel and lies below the board's top cuts; the law is
    that of docs/models/cutting.md, bit by bit.
    """
    radius = form[6]
    psi = (np.arange(720) + 0.5) / 720 * 2 * pi - pi
    # Places along the outline: by its distance from the axis, and up its wall.
    edges = np.unique(np.concatenate([np.linspace(0, radius, 1001), [form[0], form[2]]]))
    z = np.minimum(profile_mm(edges, form), depth + 2)
    top = z[-1]
    r0, r1, z0, z1 = edges[:-1], edges[1:], z[:-1], z[1:]
    wall = np.linspace(min(top, depth + 2), depth + 2, 201)
    r0, r1 = np.concatenate([r0, np.full(200, radius)]), np.concatenate([r1, np.full(200, radius)])
    z0, z1 = np.concatenate([z0, wall[:-1]]), np.concatenate([z1, wall[1:]])
    dl = np.hypot(r1 - r0, z1 - z0)
    keep = dl > 0
    r, zm, dl = 0.5 * (r0 + r1)[keep], 0.5 * (z0 + z1)[keep], dl[keep]
    out, up = (z1 - z0)[keep] / dl, (r1 - r0)[keep] / dl
    face = out[:, None] * np.cos(psi)
    # The board's top above the tip, where this bit of surface stands: level.
    cuts = (face > 0) & (zm[:, None] < depth)
    h = FZ * np.where(cuts, face, 0.0)
    chip, rub = KC * h * dl[:, None], KE * cuts * dl[:, None]
    tangential, normal = chip + rub, RC * chip + RE * rub
    share = FLUTES / len(psi)
    ahead = share * (-np.sin(psi) * tangential - np.cos(psi) * out[:, None] * normal).sum()
    left = share * (np.cos(psi) * tangential - np.sin(psi) * out[:, None] * normal).sum()
    upward = share * (up[:, None] * normal).sum()
    torque = share * (r[:, None] * tangential).sum()
    return ahead, left, upward, torque * 2 * pi * REV_PER_S / 1000.0


@pytest.mark.parametrize(
    ("tool", "depth"),
    [
        pytest.param(cutter("ball"), 1.0, id="ball, shallow"),
        pytest.param(cutter("ball"), 3.0, id="ball, half"),
        pytest.param(cutter("ball"), 5.0, id="ball, with walls"),
        pytest.param(cutter("v", 12.0, radians(90.0)), 4.0, id="V"),
        pytest.param(cutter("v", 8.0, radians(60.0), 1.0), 4.0, id="V with a point"),
        pytest.param(read_cutter("bull 6 mm, corner 1 mm"), 4.0, id="bull"),
        pytest.param(read_cutter("bull 8 mm, corner 3 mm"), 2.0, id="bull, in its corner"),
        pytest.param(
            read_cutter("taper 6 mm, tip radius 1 mm, angle 30 deg"), 4.0, id="tapered ball"
        ),
        pytest.param(
            read_cutter("profile, outline 1 x 0; 2.5 x 0.6; 3.5 x 2; 4 x 5 mm"), 4.0, id="profile"
        ),
    ],
)
@pytest.mark.parametrize(("cell_mm", "band"), [(0.25, 0.015), (0.1, 0.007)])
def test_groove_of_other_shapes(tool, depth, cell_mm, band):
    if tool.shape == "taper" and cell_mm > 0.2:
        band = 0.02  # 3.5 mm wide at the top: 14 cells
    expected = exact_groove(form_of_cutter(tool), depth)
    size = np.linalg.norm(expected[:3])
    for heading_deg in (0, 23, 45):
        ahead, left, column, _ = straight(
            radians(heading_deg), OFFSETS[1], cell_mm, tool, depth=depth
        )
        found = np.array([ahead.mean(), left.mean(), column[:, cutting.FORCE_Z].mean()])
        assert found == pytest.approx(expected[:3], abs=band * size)
        assert column[:, cutting.POWER].mean() == pytest.approx(expected[3], rel=band)


FORMS = [
    pytest.param(form_of(FLAT, 3.0, 0.0, 0.0), id="flat"),
    pytest.param(form_of(BALL, 1.5, 0.0, 0.0), id="ball"),
    pytest.param(form_of(VEE, 4.0, 1.0, 0.0), id="V"),
    pytest.param(form_of(VEE, 3.0, 1.7, 0.4), id="V with a point"),
]


@pytest.mark.parametrize("side", [1, -1], ids=["wood to the left", "wood to the right"])
@pytest.mark.parametrize(
    ("cell_mm", "volume", "force"),
    [(0.25, 0.08, 0.09), (0.1, 0.005, 0.01), (0.05, 0.002, 0.004)],
)
def test_steps_of_a_finishing_pass_are_alike(cell_mm, volume, force, side):
    # A ball of 3 mm, passes 0.3 mm apart and 0.5 mm deep, at 23 degrees: each step of 0.3 mm by
    # itself. Standard deviations. The first sketch of the method had 1.0 % of the force in cells of
    # 0.1 mm and 0.4 % in cells of 0.05 mm; as lanes were told before it was 8 % in the former.
    tool, heading, depth = cutter("ball", 3.0), radians(23), 0.5
    along = np.array([cos(heading), sin(heading)])
    left = np.array([-along[1], along[0]])
    middle = np.array([35.0, 35.0]) + np.array(OFFSETS[1]) * cell_mm
    s = np.arange(-12.0, 12.0 + 1e-9, 0.3)
    points = np.column_stack([middle + s[:, None] * along, 0 * s - depth])
    cleared = []
    for at in -side * 0.3 * np.arange(5, 0, -1):
        a, b = (middle + at * left + end * along for end in (-20.0, 20.0))
        cleared.append([*a, -depth, *b, -depth])
    column, _ = loads(points, cell_mm, tool, cleared, step_mm=1.0)
    column = column[10:-5]
    taken = column[:, cutting.TAKEN]
    pushed = np.linalg.norm(column[:, cutting.FORCE_X : cutting.FORCE_Z + 1], axis=1)
    assert taken.std() < volume * taken.mean()
    assert pushed.std() < force * pushed.mean()
    # Six of them together, which is what coarse cells are good for.
    some = len(taken) // 6 * 6
    for each, band in ((taken, 0.0115), (pushed, 0.033)):
        six = each[:some].reshape(-1, 6).mean(axis=1)
        assert six.std() < band * six.mean()
    # What a pass takes is as wide as the passes are apart, less the cusps.
    y = np.linspace(-1.5, 1.5, 3001)
    groove = 1.5 - np.sqrt(2.25 - y * y)
    before = np.min([np.interp(y + 0.3 * k, y, groove, right=9.0) for k in range(1, 6)], axis=0)
    area = np.maximum(np.minimum(before, depth) - groove, 0.0).sum() * (y[1] - y[0])
    assert taken.mean() == pytest.approx(0.3 * area, rel=0.002 if cell_mm < 0.2 else 0.02)


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("seed", range(4))
def test_spreading_kernel_equals_reference(form, seed):
    rng = np.random.default_rng(seed)
    lanes = int(rng.integers(5, 30))
    heading, m = rng.uniform(-pi, pi), rng.uniform(-0.4, 0.4) * (seed > 0)
    way = rng.uniform(0.5, 2.0)
    wood = np.zeros((3, lanes))
    beside = (np.arange(lanes) + 0.5) / lanes * 2 * form[6] - form[6]
    ahead = np.sqrt(form[6] ** 2 - beside**2)
    # From the lowest place of the outline over each lane up.
    e = np.linspace(-1, 1, 401)[:, None] * ahead
    lowest = (profile_mm(np.minimum(np.hypot(e, beside), form[6]), form) - m * e).min(axis=0)
    wood[VOLUME] = rng.uniform(0.0, 1.0, lanes) * (rng.random(lanes) < 0.8)
    wood[LOWEST] = lowest
    wood[HIGHEST] = lowest + rng.uniform(0.05, 4.0, lanes)
    out = np.zeros((ROWS, BINS))
    nothing(out)
    spread_lanes(lanes, wood, way, heading, m, form, np.empty(WORK), out)
    expected = spread_reference(lanes, wood, way, heading, m, form)
    total = wood[VOLUME].sum()
    assert out[VOLUME].sum() + out[FLOOR].sum() == pytest.approx(total, rel=1e-9)
    assert out[VOLUME] + out[FLOOR] == pytest.approx(expected, abs=0.006 * total)


@pytest.mark.parametrize("form", FORMS)
def test_integrals_along_the_edge(form):
    low, high = 0.3, 5.0
    r = np.linspace(form[0], form[6], 200_001)
    z = profile_mm(r, form)
    wall = np.linspace(z[-1], high, 1001)
    r, z = np.concatenate([r, np.full(1001, form[6])]), np.concatenate([z, wall])
    inside = (z[:-1] >= low) & (z[1:] <= high)
    dr, dz = np.diff(r)[inside], np.diff(z)[inside]
    dl = np.maximum(np.hypot(dr, dz), 1e-15)
    at = 0.5 * (r[1:] + r[:-1])[inside]
    out = np.empty(INTEGRALS)
    along_edge(low, high, form, out)
    expected = {
        DZ: dz, DR: dr, EDGE: dl, R_DZ: at * dz, R_DEDGE: at * dl, R_DR: at * dr,
        OUT_OUT: dz * dz / dl, OUT_UP: dz * dr / dl, UP_UP: dr * dr / dl,
    }  # fmt: skip
    for name, parts in expected.items():
        assert out[name] == pytest.approx(parts.sum(), rel=1e-3, abs=1e-9)


@pytest.mark.parametrize("seed", range(10))
def test_share_of_a_cell_by_sampling(seed):
    rng = np.random.default_rng(seed)
    angle, inside = rng.uniform(0, 2 * pi), rng.uniform(-0.2, 0.2)
    y, x = (np.mgrid[0:500, 0:500] + 0.5) / 500 * 0.25 - 0.125
    expected = (x * cos(angle) + y * sin(angle) <= inside).mean()
    found = rim_share(*np.array([inside, cos(angle), sin(angle), 0.25], np.float32))
    assert found == pytest.approx(expected, abs=3e-3)


def test_slivers_alone_give_a_force_all_the_same():
    # The same slot twice, the second time 0.02 mm to the left: a sliver along one wall.
    tool, s = cutter(), np.arange(20.0, 50.0, 0.25)
    points = np.stack([s, 0 * s + 35.02, 0 * s - DEPTH], axis=1)
    column, _ = loads(points, 0.25, tool, [[10.0, 35.0, -DEPTH, 60.0, 35.0, -DEPTH]])
    assert np.isfinite(column).all()
    taken = column[4:-2, cutting.TAKEN]
    assert taken == pytest.approx(np.full(len(taken), 0.02 * DEPTH), rel=0.02)
    # At least the work of the chip.
    assert (column[4:-2, cutting.POWER] > KC * 0.02 * DEPTH * FEED / 1000.0 * 0.97).all()

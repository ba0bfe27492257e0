"""What the job cuts out, as exact outlines: the wood less all that the cutter swept at the bottom.

Outlines come from the programmed path and the cutter's radius, never from the height field, so they
are as sharp as the path. Each size is told by the places of the flank that make it: patches.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, hypot, radians
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from kerfwright.prove.sweep import NOT_CUT, Tooling
from kerfwright.setup import Setup
from kerfwright.trajectory import Trajectory

if TYPE_CHECKING:
    from shapely import LinearRing, Polygon

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: More of a path through the wood is not followed: sizes are then not told.
MOST_VERTICES = 60_000
#: Smaller pieces are splinters. Common practice, no source.
LEAST_MM2 = 25.0
MOST_PARTS = 60
#: Chords in a quarter turn of the cutter: within 1e-4 of the radius.
_QUARTER = 64
#: An edge from this length on is a wall that calipers find.
_WALL_MM = 3.0
_ON_EDGE_MM = 1e-4
#: How far along a bent outline, or from a corner, a patch reaches. [mm]
_BENT_MM, _CORNER_MM = 1.5, 4.0
_STRAIGHT_MM = 0.004
#: Sine of the turn below which a corner is as good as flat.
_BLUNT = 0.05
_PARALLEL = cos(radians(0.3))
_OVERLAP_MM = 2.0
MOST_BETWEEN = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A place of an outline: the size changes by ``weight`` for each mm that it stands proud."""

    at_mm: tuple[float, float]
    out: tuple[float, float]  #: from the cutter into the wood
    half_mm: float  #: reaches so far to both sides along the outline
    weight: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One size of a part, as programmed."""

    name: str
    programmed_mm: float
    at_mm: tuple[float, float]
    patches: tuple[Patch, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """One piece of wood with what can be measured on it."""

    number: int  #: from 1, the largest first; 0: what is left of the board
    inside: int  #: the part in whose hole it lies; 0: none
    area_mm2: float
    middle_mm: tuple[float, float]
    sizes: tuple[Size, ...]


def outlines(trajectory: Trajectory, tools: Tooling, setup: Setup) -> tuple[Outline, ...] | None:
    """Loose pieces, the largest first, then what is left of the board if it has holes of its own.

    None where the path through the wood is too long to follow.
    """
    through_mm = max(_through_mm(setup).values(), default=-np.inf)
    if float(trajectory.point_mm[:, 2].min()) + setup.zero_on_board_mm[2] > through_mm:
        return ()  # nothing goes through: no need to look at every point
    point = trajectory.point_mm + np.array(setup.zero_on_board_mm)
    runs = list(_runs(point, _goes_through(point, tools, setup), tools))
    if not runs:
        return ()
    if sum(end - begin + 1 for begin, end in runs) > MOST_VERTICES:
        return None
    loose, rest = _pieces(point, runs, tools, setup)
    parts = [(number, polygon) for number, polygon in enumerate(loose, start=1)]
    out = []
    for number, polygon in parts:
        around = [k for k, other in parts if k != number and _in_hole(polygon, other)]
        out.append(_outline(number, max(around, default=0), polygon, []))
    for polygon in rest:
        # A window that a part fell out of is no hole that anybody measures.
        filled = [other for _, other in parts]
        left = _outline(0, 0, polygon, filled, outside=False)
        if left.sizes:
            out.append(left)
    return tuple(out)


def _through_mm(setup: Setup) -> dict[int, float]:
    """How low the tip of each cutter is where its whole width stands below the underside."""
    return {
        slot: -setup.board.thickness_mm - cutter.rim_mm + 1e-6
        for slot, cutter in setup.slots.items()
        if not cutter.undercuts
    }


def _goes_through(point_mm: FloatArray, tools: Tooling, setup: Setup) -> BoolArray:
    """Segments at feed along which the whole width of the cutter stands below the underside."""
    deep = np.full(len(tools.slot), -np.inf)
    for slot, deep_mm in _through_mm(setup).items():
        deep[tools.slot == slot] = deep_mm
    highest = np.maximum(point_mm[:-1, 2], point_mm[1:, 2])
    return np.asarray((highest <= deep) & ~tools.rapid & (tools.kind != NOT_CUT))


def _runs(point_mm: FloatArray, through: BoolArray, tools: Tooling) -> Iterator[tuple[int, int]]:
    """First and last segment of each way through the wood; lifts over bridges belong to it."""
    broken = tools.rapid | (tools.kind == NOT_CUT)
    broken |= np.minimum(point_mm[:-1, 2], point_mm[1:, 2]) >= 0.0
    change = np.concatenate([[0], np.cumsum((np.diff(tools.slot) != 0) | broken[1:] | broken[:-1])])
    at = np.flatnonzero(through)
    if not len(at):
        return
    ends = np.flatnonzero(np.diff(change[at])) + 1
    for some in np.split(at, ends):
        yield int(some[0]), int(some[-1])


def _pieces(
    point_mm: FloatArray, runs: list[tuple[int, int]], tools: Tooling, setup: Setup
) -> tuple[list["Polygon"], list["Polygon"]]:
    """Loose pieces, the largest first, and what hangs together with the board's edge."""
    import shapely

    swept = []
    for begin, end in runs:
        line = point_mm[begin : end + 2, :2]
        line = line[np.concatenate([[True], np.abs(np.diff(line, axis=0)).max(axis=1) > 1e-9])]
        way = shapely.Point(line[0]) if len(line) == 1 else shapely.LineString(line)
        radius = setup.slots[int(tools.slot[begin])].radius_mm
        swept.append(shapely.buffer(way, radius, quad_segs=_QUARTER))
    board = shapely.box(0.0, 0.0, setup.board.length_mm, setup.board.width_mm)
    left = shapely.difference(board, shapely.union_all(swept))
    pieces = [p for p in shapely.get_parts(left) if p.area >= LEAST_MM2]
    edge = board.exterior
    loose = [p for p in pieces if not p.intersects(edge)]
    rest = [p for p in pieces if p.intersects(edge)]
    return sorted(loose, key=lambda p: -p.area)[:MOST_PARTS], rest


def _in_hole(polygon: "Polygon", other: "Polygon") -> bool:
    import shapely

    return any(shapely.Polygon(ring).contains(polygon) for ring in other.interiors)


def _outline(
    number: int, inside: int, polygon: "Polygon", not_in: list["Polygon"], *, outside: bool = True
) -> Outline:
    import shapely

    sizes: list[Size] = []
    if outside:
        sizes += _extents(polygon.exterior, "", -1.0)
        sizes += _diagonals(polygon.exterior)
    holes = [
        ring
        for ring in polygon.interiors
        if not any(shapely.Polygon(ring).contains(other) for other in not_in)
    ]
    for hole, ring in enumerate(holes, start=1):
        sizes += _extents(ring, f"hole {hole} ", 1.0)
    if outside:
        sizes += _between([polygon.exterior, *holes], sizes)
    middle = polygon.representative_point()
    return Outline(
        number=number,
        inside=inside,
        area_mm2=float(polygon.area),
        middle_mm=(float(middle.x), float(middle.y)),
        sizes=tuple(sizes),
    )


def _extents(ring: "LinearRing", name: str, side: float) -> list[Size]:
    """Overall sizes along X and Y. ``side``: -1 the wood is inside the ring, 1 outside."""
    points = np.array(ring.coords)[:-1]
    low, high = points.min(axis=0), points.max(axis=0)
    middle = (float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0)
    sizes = []
    for axis, letter in enumerate("XY"):
        patches = [
            *_extreme(points, axis, 1.0, side),
            *_extreme(points, axis, -1.0, side),
        ]
        size = float(high[axis] - low[axis])
        sizes.append(
            Size(
                name=f"{name}across {letter}", programmed_mm=size, at_mm=middle,
                patches=tuple(patches),
            )
        )  # fmt: skip
    return sizes


def _extreme(points: FloatArray, axis: int, end: float, side: float) -> list[Patch]:
    """Patches that hold the outermost place of a ring along an axis."""
    reach = end * points[:, axis]
    top = reach.max()
    after = np.roll(points, -1, axis=0)
    length = np.hypot(*(after - points).T)
    flat = np.flatnonzero((reach > top - _ON_EDGE_MM) & (np.roll(reach, -1) > top - _ON_EDGE_MM))
    normal = [0.0, 0.0]
    normal[axis] = end
    if len(flat) and length[flat].max() >= _WALL_MM:
        share = length[flat] / length[flat].sum()
        return [
            _patch(0.5 * (points[k] + after[k]), normal, 0.5 * length[k], side, -side * part)
            for k, part in zip(flat.tolist(), share.tolist(), strict=True)
            if part > 0.0
        ]
    tip = int(np.argmax(reach))
    edges = _edges_at(points, tip)
    unit = edges / np.hypot(*edges)
    blunt = abs(float(np.linalg.det(unit))) < _BLUNT
    if blunt or np.hypot(*edges).min() < _WALL_MM:
        return [_patch(points[tip], normal, _BENT_MM, side, -side)]
    return _corner(points[tip], edges, np.array(normal), side, -side)


def _edges_at(points: FloatArray, k: int) -> FloatArray:
    """The edges that meet at a vertex, to it and from it. (2, 2) as columns [x, y]"""
    before, after = points[k] - points[k - 1], points[(k + 1) % len(points)] - points[k]
    return np.stack([before, after], axis=1)


def _corner(
    at: FloatArray, edges: FloatArray, along: FloatArray, side: float, weight: float
) -> list[Patch]:
    """A sharp corner, moved along a direction by the two walls that make it."""
    length = np.hypot(*edges)
    unit = edges / length
    normals = np.stack([unit[1], -unit[0]])  # columns: normal of each edge
    if float(along @ normals.sum(axis=1)) < 0.0:  # the ring turns the other way
        normals = -normals
    # The corner moves by d with n1 d = e1 and n2 d = e2.
    share = np.linalg.solve(normals, along)
    patches = []
    for k, sign in enumerate((-1.0, 1.0)):
        half = 0.5 * min(float(length[k]), _CORNER_MM)
        middle = at + sign * unit[:, k] * half
        patches.append(_patch(middle, normals[:, k].tolist(), half, side, weight * float(share[k])))
    return patches


def _patch(
    at: FloatArray, normal: list[float], half_mm: float, side: float, weight: float
) -> Patch:
    """``normal`` points out of the ring; the wood is inside of it with side -1."""
    return Patch(
        at_mm=(float(at[0]), float(at[1])),
        out=(side * normal[0], side * normal[1]),
        half_mm=float(half_mm),
        weight=weight,
    )


def _diagonals(ring: "LinearRing") -> list[Size]:
    """How much longer the diagonal to the right back is: of rectangles along X and Y."""
    points = _straightened(ring)[:-1]
    if len(points) != 4:
        return []
    low, high = points.min(axis=0), points.max(axis=0)
    aside = np.minimum(np.abs(points - low), np.abs(points - high)).max()
    if aside > 0.05 or min(high - low) < 2.0 * _WALL_MM:
        return []
    whole = (high - low) / hypot(*(high - low))
    patches: list[Patch] = []
    for right in (-1.0, 1.0):
        for back in (-1.0, 1.0):
            at = np.where(np.array([right, back]) > 0.0, high, low)
            rising = 1.0 if right == back else -1.0
            # Away from the middle along its own diagonal.
            for axis, end in enumerate((right, back)):
                half = 0.5 * min(_CORNER_MM, float(high[1 - axis] - low[1 - axis]) / 2.0)
                middle = at.copy()
                middle[1 - axis] -= (back if axis == 0 else right) * half
                normal = [0.0, 0.0]
                normal[axis] = end
                patches.append(_patch(middle, normal, half, -1.0, rising * float(whole[axis])))
    return [
        Size(
            name="diagonals differ",
            programmed_mm=0.0,
            at_mm=(float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0),
            patches=tuple(patches),
        )
    ]


def _between(rings: list["LinearRing"], told: list[Size]) -> list[Size]:
    """Distances between parallel walls that the overall sizes do not hold, the shortest first."""
    begin, end, normal = _walls_of(rings)
    if not len(begin):
        return []
    along = np.stack([-normal[:, 1], normal[:, 0]], axis=1)
    middle = 0.5 * (begin + end)
    found = []
    for k in range(len(begin)):
        facing = normal @ normal[k] < -_PARALLEL
        low, high = np.sort(np.stack([begin @ along[k], end @ along[k]]), axis=0)
        overlap = np.minimum(high, high[k]) - np.maximum(low, low[k])
        apart = (middle - middle[k]) @ normal[k]
        for sign in (1.0, -1.0):  # a gap in front of the wall, the wood behind it
            near = np.flatnonzero(facing & (overlap >= _OVERLAP_MM) & (sign * apart > _WALL_MM / 6))
            if not len(near):
                continue
            other = int(near[np.argmin(np.abs(apart[near]))])
            if k < other:
                found.append((abs(float(apart[other])), sign, k, other))
    known = [size.programmed_mm for size in told]
    sizes: list[Size] = []
    for apart_mm, sign, k, other in sorted(found):
        if any(abs(apart_mm - size) < 1e-3 for size in known) or len(sizes) >= MOST_BETWEEN:
            continue
        known.append(apart_mm)
        patches = tuple(
            Patch(
                at_mm=(float(middle[e, 0]), float(middle[e, 1])),
                out=(float(-normal[e, 0]), float(-normal[e, 1])),
                half_mm=0.5 * float(np.hypot(*(end[e] - begin[e]))),
                weight=-sign,
            )
            for e in (k, other)
        )
        place = 0.5 * (middle[k] + middle[other])
        kind = "gap between walls" if sign > 0.0 else "wall to wall"
        nth = sum(size.name.startswith(kind) for size in sizes) + 1
        sizes.append(
            Size(
                name=f"{kind} {nth}",
                programmed_mm=apart_mm,
                at_mm=(float(place[0]), float(place[1])),
                patches=patches,
            )
        )
    return sizes


def _straightened(ring: "LinearRing") -> FloatArray:
    """The ring's corners, closed, walls in one piece. (k + 1, 2)"""
    import shapely

    points = np.array(ring.coords)[:-1]
    way = points - np.roll(points, 1, axis=0)
    unit = way / np.maximum(np.hypot(*way.T), 1e-12)[:, None]
    # It begins where it turns most: what begins amid a wall would part it.
    first = int(np.argmin((unit * np.roll(unit, -1, axis=0)).sum(axis=1)))
    turned = np.roll(points, -first, axis=0)
    closed = shapely.LinearRing(turned).simplify(_STRAIGHT_MM)
    return np.array(closed.coords)


def _walls_of(rings: list["LinearRing"]) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Straight edges with their ends and the normal that points out of the wood. (k, 2) each"""
    begins, ends, normals = [np.empty((0, 2))], [np.empty((0, 2))], [np.empty((0, 2))]
    for number, ring in enumerate(rings):
        points = _straightened(ring)
        way = np.diff(points, axis=0)
        length = np.hypot(*way.T)
        long = length >= _WALL_MM
        turn = 1.0 if ring.is_ccw == (number == 0) else -1.0
        unit = way[long] / length[long, None]
        begins.append(points[:-1][long])
        ends.append(points[1:][long])
        normals.append(turn * np.stack([unit[:, 1], -unit[:, 0]], axis=1))
    return np.vstack(begins), np.vstack(ends), np.vstack(normals)

"""A bar's section from its outline: area, bending, shear and torsion.

The outline is cut into triangles (shapely), and these into smaller ones. Area and second moments
are exact sums over them; shear and torsion are solved on them with linear elements, torsion twice,
from below and from above.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import pi

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array, csc_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from kerfwright.physics.domain import FloatArray, array, refuse
from kerfwright.physics.sections import MOST_CORNERS

_IntArray = NDArray[np.int64]

#: Each cut makes four triangles of one; no more than so many, and no more cuts than so many.
_MOST_TRIANGLES, _MOST_CUTS = 50_000, 6
_MOST_PARTS = 1500
#: Second moments alike to so much: no way is the stiffer one.
_ALIKE = 1e-9


@dataclass(frozen=True, slots=True)
class _Section:
    """Cut up, about its middle and turned so that axis 1 is that of the greatest second moment."""

    polygon: shapely.Polygon
    points: FloatArray  #: (n, 2)
    triangles: _IntArray  #: (t, 3)
    stiff: csc_array
    area: float
    middle: FloatArray
    greatest: float
    least: float
    lean: float


def outline_section(
    outline_mm: FloatArray, holes_mm: FloatArray | None = None
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Area, middle and bending of a section of any outline.

    Parameters
    ----------
    outline_mm : array (k, 2)
        Corners of the outside, across and up, either way round. [mm]
    holes_mm : array (m, 3)
        Number of the hole, then across and up of a corner of it; none if left out. [mm]

    Returns
    -------
    area_mm2, x_mm, y_mm, greatest_mm4, least_mm4, lean_rad : array
        Area and its middle; greatest and least second moment about axes through it; how far the
        axis of the greatest is turned from across, towards up. [mm², mm, mm⁴, rad]

    Raises
    ------
    ValueError
        If lines cross, a hole leaves the outside, or there are more than 400 corners.

    References
    ----------
    .. [1] Triangles by shapely; sums over them and principal axes: textbook.

    Examples
    --------
    outline="[[0, 0], [50, 0], [50, 5], [5, 5], [5, 80], [0, 80]] mm" -> area 625 mm², x 11.5 mm,
    y 26.5 mm, greatest 469755 mm⁴, least 75349 mm⁴, lean 0.3770 rad
    """
    one = _of(outline_mm, holes_mm)
    numbers = (one.area, *one.middle, one.greatest, one.least, one.lean)
    a, b, c, d, e, f = (np.asarray(number, dtype=np.float64) for number in numbers)
    return a, b, c, d, e, f


def outline_shear(
    outline_mm: FloatArray, holes_mm: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Share of the area that carries shear, for a section of any outline.

    Parameters
    ----------
    outline_mm : array (k, 2)
        Corners of the outside, across and up, either way round. [mm]
    holes_mm : array (m, 3)
        Number of the hole, then across and up of a corner of it; none if left out. [mm]

    Returns
    -------
    about_greatest, about_least : array
        Bent about the axis of the greatest second moment, and of the least: second moment² / (area
        times the integral of the flow²). [-]

    Raises
    ------
    ValueError
        As for ``outline-section``.

    Notes
    -----
    By the energy of the shear flow, contraction across left out (Poisson's ratio 0); linear
    elements: up to 1 % high.

    References
    ----------
    .. [1] Shear of a bent bar, Timoshenko and Goodier, Theory of Elasticity: from memory.

    Examples
    --------
    outline="[[0, 0], [40, 0], [40, 80], [0, 80]] mm" -> about_greatest 0.833, about_least 0.834
    """
    first, second = _shear_shares(_of(outline_mm, holes_mm))
    return np.asarray(first), np.asarray(second)


def outline_torsion_mm4(
    outline_mm: FloatArray, holes_mm: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Torsion constant of a section of any outline, from below and from above.

    Parameters
    ----------
    outline_mm : array (k, 2)
        Corners of the outside, across and up, either way round. [mm]
    holes_mm : array (m, 3)
        Number of the hole, then across and up of a corner of it; none if left out. [mm]

    Returns
    -------
    low_mm4, high_mm4 : array
        Prandtl's stress function on linear elements, and the warping: the exact value lies between.
        [mm⁴]

    Raises
    ------
    ValueError
        As for ``outline-section``.

    Notes
    -----
    As a rule within 0.5 % of one another. Warping held at the ends, the shear centre off the
    middle, and walls that bulge are left out.

    References
    ----------
    .. [1] Saint-Venant torsion by stress function and by warping: Timoshenko and Goodier, Theory of
       Elasticity, from memory. Bounds by minimum principles: textbook.

    Examples
    --------
    outline="[[0, 0], [40, 0], [40, 80], [0, 80]] mm" -> low 1.170e6 mm⁴, high 1.171e6 mm⁴
    """
    one = _of(outline_mm, holes_mm)
    low = _by_stress(one.points, one.triangles, one.stiff, one.polygon)
    return np.asarray(low), np.asarray(_by_warping(one.points, one.triangles, one.stiff))


def _of(outline_mm: FloatArray, holes_mm: FloatArray | None) -> _Section:
    outline = np.ascontiguousarray(array(outline_mm))
    holes = np.empty((0, 3)) if holes_mm is None else np.ascontiguousarray(array(holes_mm))
    refuse(outline.shape[1:] != (2,) or holes.shape[1:] != (3,), "corners are pairs")
    return _kept(outline.tobytes(), holes.tobytes())


@lru_cache(maxsize=4)
def _kept(outline: bytes, holes: bytes) -> _Section:
    """The last few, for one section is asked for three times."""
    polygon = _polygon(np.frombuffer(outline).reshape(-1, 2), np.frombuffer(holes).reshape(-1, 3))
    points, triangles = _cut(polygon)
    sizes, middle, moments = _moments(points, triangles)
    least, greatest, lean = _principal(moments)
    turn = np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    points = (points - middle) @ turn
    return _Section(
        polygon, points, triangles, _stiffness(points, triangles), float(sizes.sum()), middle,
        greatest, least, lean,
    )  # fmt: skip


def _polygon(outline: FloatArray, holes: FloatArray) -> shapely.Polygon:
    refuse(len(outline) < 3, "an outline has three corners at least")
    rings = [holes[holes[:, 0] == n, 1:] for n in np.unique(holes[:, 0])]
    refuse(any(len(ring) < 3 for ring in rings), "a hole has three corners at least")
    corners = len(outline) + sum(len(ring) for ring in rings)
    refuse(corners > MOST_CORNERS, f"{corners} corners are more than {MOST_CORNERS}")
    polygon = shapely.Polygon(outline, rings)
    if not polygon.is_valid:
        reason = shapely.is_valid_reason(polygon).partition("[")
        at = f" near {reason[2].rstrip(']').replace(' ', ',')}" if reason[2] else ""
        raise ValueError(f"its lines cross, or a hole lies outside{at}")
    refuse(polygon.area <= 0.0, "it encloses no area")
    return polygon


def _cut(polygon: shapely.Polygon) -> tuple[FloatArray, _IntArray]:
    """Points (n, 2) and triangles (t, 3), all turning the same way.

    Sides are parted into lengths of about twice the wall first, so that the triangles are not long
    and thin, which would cost more than their number.
    """
    about = max(4.0 * polygon.area / polygon.length, polygon.length / _MOST_PARTS)
    parted = shapely.segmentize(polygon, about)
    pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(parted))
    corners = np.stack([shapely.get_coordinates(piece)[:3] for piece in pieces])
    points, index = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
    triangles = np.asarray(index, dtype=np.int64).reshape(-1, 3)
    doubled = _doubled(points, triangles)
    triangles = triangles[doubled != 0.0]
    back = _doubled(points, triangles) < 0.0
    triangles[back] = triangles[back][:, [0, 2, 1]]
    for _ in range(_MOST_CUTS):
        if 4 * len(triangles) > _MOST_TRIANGLES:
            break
        points, triangles = _quartered(points, triangles)
    return points, triangles


def _quartered(points: FloatArray, triangles: _IntArray) -> tuple[FloatArray, _IntArray]:
    edges = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, index = np.unique(edges, axis=0, return_inverse=True)
    middles = np.asarray(index).reshape(-1, 3) + len(points)
    a, b, c = triangles.T
    ab, bc, ca = middles.T
    split = np.concatenate([
        np.stack(one, axis=1) for one in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))
    ])  # fmt: skip
    return np.concatenate([points, points[unique].mean(axis=1)]), split


def _doubled(points: FloatArray, triangles: _IntArray) -> FloatArray:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    one, other = b - a, c - a
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])


def _moments(points: FloatArray, triangles: _IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sizes of the triangles, the middle, and the integral of r r^T about it. (t,), (2,), (2, 2)"""
    sizes = 0.5 * _doubled(points, triangles)
    at = points[triangles]  # (t, 3, 2)
    own = at.mean(axis=1)
    middle = (sizes[:, None] * own).sum(axis=0) / sizes.sum()
    from_middle = at - middle
    sums = from_middle.sum(axis=1)
    second = np.einsum("tki,tkj->tij", from_middle, from_middle) + sums[:, :, None] * sums[:, None]
    return sizes, middle, np.asarray((sizes[:, None, None] * second).sum(axis=0) / 12.0)


def _principal(moments: FloatArray) -> tuple[float, float, float]:
    """Least and greatest second moment; the axis of the greatest, turned from across. [rad]"""
    about_x, about_y, mixed = moments[1, 1], moments[0, 0], moments[0, 1]
    half = float(np.hypot(0.5 * (about_x - about_y), mixed))
    mean = 0.5 * float(about_x + about_y)
    if half <= _ALIKE * mean:
        return mean, mean, 0.0
    lean = 0.5 * float(np.arctan2(-2.0 * mixed, about_x - about_y))
    lean = 0.0 if abs(lean) < _ALIKE else lean  # no -0 either
    return mean - half, mean + half, lean if lean > -0.5 * pi else 0.5 * pi


def _gradients(points: FloatArray, triangles: _IntArray) -> tuple[FloatArray, FloatArray]:
    """Slope of each corner's own linear function, (t, 3, 2), and the triangles' sizes."""
    at = points[triangles]
    doubled = _doubled(points, triangles)
    across = np.roll(at, -1, axis=1) - np.roll(at, -2, axis=1)  # the side facing each corner
    slopes = np.stack([across[..., 1], -across[..., 0]], axis=-1)
    return slopes / doubled[:, None, None], 0.5 * doubled


def _stiffness(points: FloatArray, triangles: _IntArray) -> csc_array:
    slopes, sizes = _gradients(points, triangles)
    local = sizes[:, None, None] * np.einsum("tki,tli->tkl", slopes, slopes)
    rows = np.repeat(triangles, 3, axis=1).ravel()
    columns = np.tile(triangles, (1, 3)).ravel()
    many = len(points)
    return csc_array(coo_array((local.ravel(), (rows, columns)), shape=(many, many)))


def _gathered(triangles: _IntArray, each: FloatArray, many: int) -> FloatArray:
    """Sum over triangles of what they give their corners: (t, 3) to (many,)."""
    return np.asarray(np.bincount(triangles.ravel(), weights=each.ravel(), minlength=many))


def _free(stiff: csc_array, right: FloatArray) -> FloatArray:
    """A field with free edges, (n, k), one point held at 0; ``right`` adds up to nought."""
    out = np.zeros_like(right)
    out[1:] = splu(csc_array(stiff[1:, 1:])).solve(right[1:])
    return out


def _shear_shares(section: _Section) -> tuple[float, float]:
    """Bent about the axis of the greatest second moment and of the least.

    Shear flows as (Q / I) grad f with div grad f = - distance from the axis and free edges.
    """
    points, triangles = section.points, section.triangles
    _, sizes = _gradients(points, triangles)
    shares = []
    for distance, second in ((points[:, 1], section.greatest), (points[:, 0], section.least)):
        own = distance[triangles]
        pushed = sizes[:, None] / 12.0 * (own + own.sum(axis=1)[:, None])
        right = _gathered(triangles, pushed, len(points))
        field = _free(section.stiff, right[:, None])[:, 0]
        shares.append(float(second**2 / (section.area * (right @ field))))
    return shares[0], shares[1]


def _by_warping(points: FloatArray, triangles: _IntArray, stiff: csc_array) -> float:
    """Torsion constant from above: the least of the integral of (w_x - y)² + (w_y + x)²."""
    slopes, sizes = _gradients(points, triangles)
    middle = points[triangles].mean(axis=1)
    swirl = np.stack([middle[:, 1], -middle[:, 0]], axis=-1)  # (y, -x)
    each = sizes[:, None] * np.einsum("tki,ti->tk", slopes, swirl)
    right = _gathered(triangles, each, len(points))
    warp = _free(stiff, right[:, None])[:, 0]
    at = points[triangles]
    squares = (at**2).sum(axis=(1, 2)) + (at.sum(axis=1) ** 2).sum(axis=1)
    return float((sizes * squares).sum() / 12.0 - right @ warp)


def _by_stress(
    points: FloatArray, triangles: _IntArray, stiff: csc_array, polygon: shapely.Polygon
) -> float:
    """Torsion constant from below: twice the stress function's volume, holes filled level."""
    _, sizes = _gradients(points, triangles)
    edges = np.sort(triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    unique, counts = np.unique(edges, axis=0, return_counts=True)
    rim = unique[counts == 1]
    ring, areas = _rings(rim, points, len(polygon.interiors))
    # Points of one hole's edge are one unknown; those of the outside none.
    inner = np.flatnonzero(ring < 0)
    unknown = np.full(len(points), -1)
    unknown[inner] = np.arange(len(inner))
    holed = ring > 0
    unknown[holed] = len(inner) + ring[holed] - 1
    many = len(inner) + len(areas)
    used = np.flatnonzero(unknown >= 0)
    join = csc_array(
        coo_array((np.ones(len(used)), (used, unknown[used])), shape=(len(points), many))
    )
    volume = join.T @ _gathered(triangles, np.repeat(sizes[:, None] / 3.0, 3, axis=1), len(points))
    volume[len(inner) :] += areas
    field = splu(csc_array(join.T @ stiff @ join)).solve(2.0 * volume)
    return float(2.0 * (volume @ field))


def _rings(rim: _IntArray, points: FloatArray, holes: int) -> tuple[_IntArray, FloatArray]:
    """Ring of each point (-1: inside, 0: outside edge, then holes) and the holes' areas."""
    many = len(points)
    graph = coo_array((np.ones(len(rim)), (rim[:, 0], rim[:, 1])), shape=(many, many))
    _, label = connected_components(graph, directed=False)
    ring = np.full(many, -1, dtype=np.int64)
    names = np.unique(label[rim[:, 0]])
    refuse(len(names) != holes + 1, "a hole touches another or the outside")
    boxes = []
    for name in names:
        own = points[label == name]
        lines = shapely.linestrings(points[rim[label[rim[:, 0]] == name]])
        around = shapely.polygonize([*lines])
        boxes.append((float(np.ptp(own[:, 0]) * np.ptp(own[:, 1])), float(around.area), name))
    boxes.sort(reverse=True)  # the outside encloses the rest
    edge = np.zeros(many, dtype=bool)
    edge[rim.ravel()] = True
    for place, (_, _, name) in enumerate(boxes):
        ring[edge & (label == name)] = place
    return ring, np.array([area for _, area, _ in boxes[1:]])

"""Meshes of blanks that are not closed: refused where one sees into them from above, else told."""

import re

import numpy as np
import pytest

from kerfwright.stock.blank import BlankError, blank_of

TOP, BOTTOM, FRONT, BACK, LEFT, RIGHT = "top", "bottom", "front", "back", "left", "right"
FACES = {
    BOTTOM: (0, 1, 3, 2), TOP: (4, 5, 7, 6), FRONT: (0, 1, 5, 4),
    BACK: (2, 3, 7, 6), LEFT: (0, 2, 6, 4), RIGHT: (1, 3, 7, 5),
}  # fmt: skip


def triangles(*quads):
    """Two triangles for each four corners in turn."""
    return np.array(
        [[q[i] for i in part] for q in quads for part in ((0, 1, 2), (0, 2, 3))], float
    )  # fmt: skip


def box(*without, spread=0.0):
    """A blank of 60 x 40 x 12 mm without some of its faces, below wider by ``spread`` all round."""
    corners = [
        (x - s if x == 0 else x + s, y - s if y == 0 else y + s, z)
        for z, s in ((0, spread), (12, 0.0))
        for y in (0, 40)
        for x in (0, 60)
    ]
    return triangles(
        *([corners[i] for i in four] for face, four in FACES.items() if face not in without)
    )


def frame(z, hole):
    """A face of 60 x 40 mm at a height with a square hole in its middle, each side as one edge."""
    out = [(0, 0, z), (60, 0, z), (60, 40, z), (0, 40, z)]
    h = hole / 2
    inner = [(30 - h, 20 - h, z), (30 + h, 20 - h, z), (30 + h, 20 + h, z), (30 - h, 20 + h, z)]
    return triangles(*((out[i], out[i - 3], inner[i - 3], inner[i]) for i in range(4)))


def tube(hole, high, low, spread=0.0):
    """The four walls of a hole in the middle, at its foot wider by ``spread`` all round."""
    quads = []
    for i in range(4):
        quad = []
        for z, h in ((high, hole / 2), (low, hole / 2 + spread)):
            ring = [
                (30 - h, 20 - h, z),
                (30 + h, 20 - h, z),
                (30 + h, 20 + h, z),
                (30 - h, 20 + h, z),
            ]
            pair = [ring[i], ring[i - 3]]
            quad += pair if z == high else pair[::-1]
        quads.append(quad)
    return triangles(*quads)


def scan(missing=(), many=40, spread=-1.0):
    """A measured top, wavy, with walls to a ragged rim about under its edges, and nothing below."""
    x, y = (
        a.ravel() for a in np.meshgrid(np.linspace(0, 60, many + 1), np.linspace(0, 40, many + 1))
    )
    z = 12 + 0.4 * np.sin(x / 7) + 0.3 * np.cos(y / 5)
    points = np.stack([x, y, z], 1).reshape(many + 1, many + 1, 3)
    rng = np.random.default_rng(1)
    quads = [
        (points[i, j], points[i, j + 1], points[i + 1, j + 1], points[i + 1, j])
        for i in range(many)
        for j in range(many)
        if (i, j) not in missing
    ]
    around = [
        *points[0], *points[1:, -1], *points[-1, -2::-1], *points[-2:0:-1, 0],
    ]  # fmt: skip
    foot = [
        (30 + (x - 30) * (1 + share), 20 + (y - 20) * (1 + share), rng.uniform(0, 4))
        for (x, y, _), share in zip(around, spread * rng.uniform(0, 0.03, len(around)), strict=True)
    ]
    quads += [(around[k - 1], around[k], foot[k], foot[k - 1]) for k in range(len(around))]
    return triangles(*quads)


def test_of_a_closed_mesh_nothing_is_said():
    assert blank_of(box(), "the blank").words == "the blank"
    # Corners that rounding has moved a little are the same corner.
    moved = box() + np.random.default_rng(3).uniform(-1e-6, 1e-6, (12, 3, 3))
    assert blank_of(moved, "the blank").words == "the blank"


@pytest.mark.parametrize(
    ("mesh", "open_edges"),
    [
        (box(BOTTOM), 4),
        (box(BOTTOM, spread=1.0), 4),
        (box(BOTTOM, spread=-1.0), 4),
        (box(BACK), 4),
        (triangles([(0, 0, 12), (60, 0, 9), (60, 40, 9), (0, 40, 12)]), 4),
        (scan(), 160),
        (scan(spread=1.0), 160),
        # A hole right through, whose walls end where the underside would begin.
        (np.concatenate([box(TOP, BOTTOM), frame(12, 10), tube(10, 12, 0)]), 8),
        (np.concatenate([box(TOP, BOTTOM), frame(12, 10), tube(10, 12, 0, spread=-1.0)]), 8),
        (np.concatenate([box(TOP, BOTTOM), frame(12, 10), tube(10, 12, 0, spread=1.0)]), 8),
    ],
    ids=[
        "below",
        "flared",
        "dovetailed",
        "behind",
        "a sheet",
        "a scan",
        "a flared scan",
        "ring",
        "cone",
        "bell",
    ],
)
def test_what_is_open_only_where_nobody_sees_it_is_told(mesh, open_edges):
    words = blank_of(mesh, "the blank").words
    found = re.fullmatch(
        r"the blank; the mesh is not closed, (\d+) of its edges are open: no hole wider than"
        r" 0\.09\d? mm shows from above, and its underside is taken where it is lowest",
        words,
    )
    assert found, words
    assert int(found[1]) == open_edges


@pytest.mark.parametrize(
    ("mesh", "where"),
    [
        (box(TOP), "0 to 60 mm from the left and from 0 to 40 mm from the front"),
        (box(TOP, BACK), "0 to 60 mm from the left and from 0 to 40 mm from the front"),
        (box(TOP, spread=1.0), "1 to 61 mm from the left and from 1 to 41 mm from the front"),
        (box(TOP, spread=-1.0), "0 to 60 mm from the left and from 0 to 40 mm from the front"),
        (
            np.concatenate([box(TOP), frame(12, 1)]),
            "29.5 to 30.5 mm from the left and from 19.5 to 20.5 mm from the front",
        ),
        (
            np.concatenate([box(TOP), frame(12, 0.1)]),
            "29.95 to 30.05 mm from the left and from 19.95 to 20.05 mm from the front",
        ),
        (
            np.concatenate([box(TOP, BOTTOM), frame(12, 1)]),
            "29.5 to 30.5 mm from the left and from 19.5 to 20.5 mm from the front",
        ),
        (
            # Its walls end half-way down.
            np.concatenate([box(TOP, BOTTOM), frame(12, 10), tube(10, 12, 6)]),
            "25 to 35 mm from the left and from 15 to 25 mm from the front",
        ),
        (
            scan(missing=[(20, 20)]),
            "30 to 31.5 mm from the left and from 20 to 21 mm from the front",
        ),
        (
            scan(missing=[(9, 30)]),
            "45 to 46.5 mm from the left and from 9 to 10 mm from the front",
        ),
    ],
    ids=["no lid", "no lid nor back", "flared", "dovetailed", "a little hole", "a pinhole",
         "over nothing", "half a wall", "a scan", "a scan elsewhere"],
)  # fmt: skip
def test_a_hole_that_shows_from_above_is_refused(mesh, where):
    with pytest.raises(BlankError) as caught:
        blank_of(mesh, "the blank")
    assert re.fullmatch(
        rf"the mesh is not closed, \d+ of its edges are open: beside those from {where} one sees"
        r" into it from above",
        str(caught.value),
    ), str(caught.value)
    assert caught.value.remedy == (
        "close its holes in the program that made it (fill, mend, make solid), save it again and"
        " prove once more"
    )


def test_most_of_a_top_missing_is_refused():
    """A bottom, a front and two fifths of the top: a rapid through the rest went unseen."""
    part = triangles([(0, 0, 12), (24, 0, 12), (24, 40, 12), (0, 40, 12)])
    mesh = np.concatenate([box(TOP, BACK, LEFT, RIGHT), part])
    with pytest.raises(BlankError, match="0 to 60 mm from the left and from 0 to 40 mm"):
        blank_of(mesh, "")

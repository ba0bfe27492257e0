"""Moves laid as vertices, beside the plain reference and by what arcs are."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.kernels.path import lay_vertices, lay_vertices_reference

PLACES = st.sampled_from([0.0, 1e-10, 0.5, 2.0, -3.0, 7.25])


def lay(start, ends, arcs, pieces=1):
    many = len(ends) + sum(arc[4] for arc in arcs.values())
    point, inside = np.empty((many + 1, 3)), np.zeros(many + 1, np.bool_)
    point[0] = start
    move, feed, mode = np.empty(many, np.int32), np.empty(many), np.empty(many, np.uint8)
    order = sorted(arcs)
    column = lambda k, kind: np.array([arcs[m][k] for m in order], kind)  # noqa: E731
    table = (
        np.array(order, np.int64), column(0, float).reshape(-1, 3), column(1, float).reshape(-1, 3),
        column(2, np.int64), column(3, float), column(4, np.int64),
    )  # fmt: skip
    arc = place = 0
    feeds, modes = np.arange(len(ends)) + 0.5, np.arange(len(ends)).astype(np.uint8)
    for a in range(0, len(ends), -(-len(ends) // pieces)):
        b = min(len(ends), a + -(-len(ends) // pieces))
        arc, place = lay_vertices(
            a, b, arc, place, ends, feeds, modes, *table, point, move, feed, mode, inside
        )  # fmt: skip
    assert np.array_equal(feed[:place], feeds[move[:place]])
    assert np.array_equal(mode[:place], modes[move[:place]])
    return point[: place + 1], move[:place], inside[: place + 1]


@given(
    st.lists(st.tuples(PLACES, PLACES, PLACES), min_size=1, max_size=12),
    st.dictionaries(
        st.integers(0, 11),
        st.tuples(st.integers(0, 2), st.floats(-7, 7), st.integers(1, 9)),
        max_size=4,
    ),
    st.integers(1, 3),
)
def test_kernel_equals_reference(ends, turns, pieces):
    ends = np.array(ends)
    start = np.array([1.0, 1.0, 1.0])
    arcs = {}
    for move, (normal, sweep, chords) in turns.items():
        if move < len(ends):
            begin = ends[move - 1] if move else start
            arcs[move] = (begin, begin + np.array([2.0, -1.0, 0.5]), normal, sweep, chords)
    point, move, inside = lay(start, ends, arcs, pieces)
    points, moves, within = lay_vertices_reference(start, ends, arcs)
    assert point == pytest.approx(np.array(points), rel=1e-13, abs=1e-12)
    assert move.tolist() == moves
    assert inside.tolist() == within


def test_an_arc_lies_on_its_circle_and_ends_where_it_is_told():
    begin, end, centre = np.array([10.0, 0, 0]), np.array([[0.0, 10.0, -2.0]]), np.zeros(3)
    point, _, inside = lay(begin, end, {0: (begin, centre, 2, np.pi / 2, 8)})
    assert np.hypot(point[:, 0], point[:, 1]) == pytest.approx(10.0)
    assert point[:, 2] == pytest.approx(np.linspace(0.0, -2.0, 9))
    assert point[-1].tolist() == end[0].tolist()
    assert inside.tolist() == [False, *[True] * 7, False]


def test_no_two_neighbours_are_alike():
    ends = np.array([[0, 0, 0], [0, 0, 8e-10], [0, 0, 1.6e-9], [0, 0, 0], [5.0, 0, 0], [5, 0, 0]])
    point, move, _ = lay(np.zeros(3), ends, {})
    assert np.linalg.norm(np.diff(point, axis=0), axis=1).min() > 1e-9
    assert move.tolist() == [2, 3, 4]

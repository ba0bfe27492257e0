"""Ends around an error of the part."""

from math import exp, hypot

import pytest

from kerfwright.prove.spread import FORCE, around


def test_force_alone_reaches_farther_out_than_in():
    told = around(0.1, 0.1, 0.34, {})
    assert told.high == pytest.approx(0.1 * exp(1.959964 * 0.34), rel=1e-6)
    assert told.low == pytest.approx(0.1 * exp(-1.959964 * 0.34), rel=1e-6)
    assert told.mostly_from == FORCE


def test_shy_is_proud_turned_over():
    proud, shy = around(0.1, 0.1, 0.34, {"zero": 0.05}), around(-0.1, -0.1, 0.34, {"zero": 0.05})
    assert (shy.low, shy.high) == (pytest.approx(-proud.high), pytest.approx(-proud.low))


def test_what_else_there_is_adds_as_squares_and_may_rule():
    told = around(0.1, 0.0, 0.34, {"zero": 0.3, "play": 0.4})
    assert told.high - 0.1 == pytest.approx(hypot(0.3, 0.4))
    assert told.mostly_from == "play"
    assert around(0.0, 0.0, 0.34, {"zero": 0.0}).mostly_from == ""

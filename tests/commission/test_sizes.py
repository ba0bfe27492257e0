"""Sizes of a cut part narrow set-up, machine and cut: a normal update, held against two others."""

from math import exp, log

import numpy as np
import pytest

from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.commission.sizes import (
    LEAST_LOG_U,
    MeasuredSize,
    law_known,
    law_note,
    narrow,
)


def size(found, shares, u=0.02, name="across X", programmed=100.0):
    """A size; shares: (mm, standard uncertainty) of set-up, machine and cut."""
    return MeasuredSize(
        name=name,
        programmed_mm=programmed,
        found_mm=found,
        u_mm=u,
        shares={
            which: (mm, TWO_SIDED_95 * spread)
            for which, (mm, spread) in zip(("set_up", "machine", "cut"), shares, strict=True)
        },
    )


def test_one_share_is_the_product_of_two_normal_densities():
    # Textbook: precision adds up, the mean is weighted by it (from memory).
    one = size(100.10, [(0.0, 0.0), (0.0, 0.0), (0.04, 0.06)], u=0.03)
    told = narrow([one]).share(one, "cut", after=True)
    precision = 1 / 0.06**2 + 1 / 0.03**2
    assert told.value == pytest.approx((0.04 / 0.06**2 + 0.10 / 0.03**2) / precision)
    assert (told.high - told.low) / (2 * TWO_SIDED_95) == pytest.approx(precision**-0.5)


def test_two_sizes_agree_with_a_sum_over_a_grid():
    sizes = [
        size(100.07, [(0.01, 0.02), (0.0, 0.03), (0.04, 0.05)]),
        size(59.98, [(0.01, 0.02), (0.0, 0.01), (-0.02, 0.03)], name="across Y", programmed=60.0),
    ]
    axis = np.linspace(-4.5, 4.5, 91)
    z = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1).reshape(-1, 3)
    weight = -0.5 * (z**2).sum(axis=1)
    for one in sizes:
        parts = np.array([one.shares[which] for which in ("set_up", "machine", "cut")])
        expected = one.programmed_mm + parts[:, 0].sum() + z @ (parts[:, 1] / TWO_SIDED_95)
        weight -= 0.5 * ((one.found_mm - expected) / one.u_mm) ** 2
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    mean = weight @ z
    covariance = (z - mean).T @ ((z - mean) * weight[:, None])
    told = narrow(sizes)
    assert told.mean == pytest.approx(mean, abs=1e-4)
    assert told.covariance == pytest.approx(covariance, abs=1e-4)
    for one in sizes:
        before, after = told.size(one, after=False), told.size(one, after=True)
        assert after.high - after.low < before.high - before.low
        assert after.low < one.found_mm < after.high


def test_a_size_that_nothing_explains_teaches_nothing():
    far = size(101.5, [(0.0, 0.02), (0.0, 0.02), (0.0, 0.02)])
    told = narrow([far])
    assert told.unexplained == ("across X",)
    assert told.mean == pytest.approx(0.0)
    assert told.covariance == pytest.approx(np.eye(3))
    assert law_note(told, 0.0, 0.35) is None


def test_the_force_law_of_simulated_parts_is_found():
    """Parts cut with 1.4 times the law's force: the factor comes out, whatever order they come in.

    What the cut does goes with the force; each proof was made with what was known by then.
    """
    rng = np.random.default_rng(3)
    truth, own_u = log(1.4), 0.35
    notes = []
    for _ in range(12):
        known = law_known(notes, own_u)
        pushed = 0.2 * known.value  # by the law as it is known by then
        found = 100.0 + 0.2 * exp(truth) + rng.normal(0.0, 0.02) + rng.normal(0.0, 0.02)
        part = size(found, [(0.0, 0.02), (0.0, 0.0), (pushed, known.u * pushed)])
        note = law_note(narrow([part]), log(known.value), known.u)
        notes += [note] if note is not None else []
    known = law_known(notes, own_u)
    assert known.value == pytest.approx(1.4, rel=2.5 * known.u)
    assert LEAST_LOG_U <= known.u < 0.3 * own_u
    again = law_known(notes[::-1], own_u)
    assert (again.value, again.u) == pytest.approx((known.value, known.u))

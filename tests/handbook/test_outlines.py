"""Sections of any outline against closed forms; by a library: ``test_sections``."""

from math import pi

import numpy as np
import pytest

from kerfwright.physics import sections
from kerfwright.physics.outlines import outline_section, outline_shear, outline_torsion_mm4


def box(wide, high, at=(0.0, 0.0)):
    return np.array([[0, 0], [wide, 0], [wide, high], [0, high]], float) + at


def found(outside, *holes):
    numbered = [np.insert(ring, 0, n, axis=1) for n, ring in enumerate(holes)]
    whole = outside, np.concatenate(numbered) if holes else None
    answers = (*outline_section(*whole), *outline_shear(*whole), *outline_torsion_mm4(*whole))
    return [float(one) for one in answers]


@pytest.mark.parametrize("ratio", [1.0, 0.4])
def test_a_bar(ratio):
    # Saint-Venant's series (textbook); 5/6 of the area carries shear where nothing contracts.
    wide, high = 60.0, 60.0 * ratio
    n = np.arange(1, 60, 2)
    series = ratio**3 / 3 * (1 - 192 * ratio / pi**5 * np.sum(np.tanh(n * pi / 2 / ratio) / n**5))
    area, x, y, greatest, least, _, *shares, low, high_end = found(box(wide, high, (7.0, -90.0)))
    assert (area, x, y) == pytest.approx((wide * high, 7 + wide / 2, high / 2 - 90))
    assert (greatest, least) == pytest.approx((high * wide**3 / 12, wide * high**3 / 12))
    assert low < series * wide**4 < high_end < 1.005 * low
    assert shares == pytest.approx([5 / 6, 5 / 6], rel=1e-3)


def test_an_ellipse():
    # pi a³ b³ / (a² + b²) (textbook): of many corners, whose own is a little less
    turn = np.linspace(0, 2 * pi, 121)[:-1]
    a, b, lean = 30.0, 12.0, 0.6
    x, y = a * np.cos(turn), b * np.sin(turn)
    outside = np.stack([x * np.cos(lean) - y * np.sin(lean), x * np.sin(lean) + y * np.cos(lean)])
    values = found(outside.T)
    assert values[0] == pytest.approx(pi * a * b, rel=1e-3)
    assert values[3] == pytest.approx(pi * a**3 * b / 4, rel=2e-3)
    assert values[4] == pytest.approx(pi * a * b**3 / 4, rel=2e-3)
    # the stiff way is bent about the short axis, which stands a quarter turn on
    assert np.cos(values[5] - lean) == pytest.approx(0.0, abs=1e-6)
    exact = pi * a**3 * b**3 / (a**2 + b**2)
    assert values[8] < exact < values[9] < 1.01 * values[8]


def test_a_tube_and_its_thin_formula():
    # computed: 80 x 40 x 3 mm: 5.5853e5 and 1.8429e5 mm⁴; Bredt's 4.2720e5 is low, not high
    values = found(box(40, 80), box(34, 74, (3.0, 3.0)))
    assert values[3:5] == pytest.approx([5.5853e5, 1.8429e5], rel=1e-4)
    bredt = float(sections.rectangle_tube_torsion_mm4(40, 80, 3))
    assert 0.96 * values[9] < bredt < values[8]
    # a slit tube: the sum of b t³ / 3 (textbook), corners counted once and a little stiffer
    slit = np.array([[0, 0], [40, 0], [40, 39], [37, 39], [37, 3], [3, 3], [3, 77], [37, 77],
                     [37, 41], [40, 41], [40, 80], [0, 80]], float)  # fmt: skip
    low, high = found(slit)[-2:]
    thin = (2 * 40 + 77 + 2 * 36) * 3**3 / 3
    assert 0.9 * thin < low < high < 1.1 * thin
    assert values[8] > 100 * high


@pytest.mark.parametrize(
    ("outside", "holes", "words"),
    [
        (box(40, 80)[[0, 2, 1, 3]], [], "lines cross"), (box(1, 1)[:2], [], "three corners"),
        (box(40, 80), [box(9, 9, (35, 5))], "a hole lies outside"),
        (box(40, 80), [box(9, 9, (5, 5)), box(9, 9, (10, 5))], "cross|touches"),
        (np.random.default_rng(1).normal(size=(500, 2)), [], "more than 400"),
    ],
)  # fmt: skip
def test_what_is_no_section(outside, holes, words):
    with pytest.raises(ValueError, match=words):
        found(outside, *holes)

"""Names of woods, and the density that a name can tell."""

from itertools import pairwise

import numpy as np
import pytest

from kerfwright.physics.wood import basic_gravity, wood_density_kg_per_m3
from kerfwright.stock import WoodError, find_wood, wood_names


def test_density_at_12_percent_is_the_tabled_one():
    """Wood Handbook FPL-GTR-190 Table 5-3a (R2): sugar maple G 0.63; equation 4-14: 706 kg/m3."""
    assert find_wood("hard maple", 12.0).density_kg_per_m3 == pytest.approx(705.6, abs=0.1)


def test_equations_4_9_to_4_14_by_hand():
    """The handbook's chain (R2) written out the other way round, from basic gravity upwards."""
    basic, shrinkage = 0.55, 14.7
    for moisture in (0.0, 8.0, 12.0, 25.0):
        at = basic / (1 - shrinkage * (1 - moisture / 30) / 100)
        gravity_12 = basic / (1 - shrinkage * (1 - 12 / 30) / 100)
        assert basic_gravity(gravity_12, shrinkage) == pytest.approx(basic, rel=1e-12)
        built = wood_density_kg_per_m3(gravity_12, moisture, shrinkage)
        assert built == pytest.approx(1000 * at * (1 + moisture / 100), rel=1e-12)


def test_general_shrinkage_rule():
    """Equation 4-12 (R2): S = 26.5 times the basic gravity; then 4-9 at 12 % gives G back."""
    basic = float(basic_gravity(0.63))
    assert basic / (1 - 26.5 * basic * 0.6 / 100) == pytest.approx(0.63, rel=1e-12)


def test_basic_gravity_against_the_printed_green_column():
    """Sugar maple: G 0.56 green and 0.63 at 12 %, Wood Handbook Table 5-3a, from memory (M)."""
    assert basic_gravity(0.63, 14.7) == pytest.approx(0.56, abs=0.02)


def test_density_is_that_of_the_water_above_saturation():
    """Past 30 % the volume stays and only water is added."""
    dry, wet = wood_density_kg_per_m3(0.5, np.array([30.0, 60.0]), 12.0)
    assert wet / dry == pytest.approx(1.6 / 1.3)


def test_density_rises_with_moisture():
    values = wood_density_kg_per_m3(0.6, np.linspace(0, 120, 60), 14.0)
    assert all(a < b for a, b in pairwise(values))


@pytest.mark.parametrize(
    ("gravity", "moisture", "words"),
    [
        (np.array([0.5, -0.1]), 8.0, "gravity is -0.1, not above 0 (index (1,))"),
        (0.5, 300.0, "a moisture is 300 %, not from 0 to 200 (index (0,))"),
        (float("nan"), 8.0, "gravity is nan"),
    ],
)
def test_physics_refuses(gravity, moisture, words):
    with pytest.raises(ValueError, match="not") as caught:
        wood_density_kg_per_m3(gravity, moisture)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("names", "kind", "family"),
    [
        (
            ("hard maple", "Sugar Maple", "Maple, sugar", "rock maple", "maple,  SUGAR"),
            "solid",
            "hardwood",
        ),
        (("walnut", "black walnut", "Walnut, black"), "solid", "hardwood"),
        (("birch ply", "birch plywood", "Baltic birch"), "plywood", "panel"),
        (("MDF", "mdf"), "mdf", "panel"),
        (("chipboard", "Particleboard"), "particleboard", "panel"),
        (("scots pine", "Pine, Scots"), "solid", "softwood"),
        (("yellow poplar", "Yellow-poplar", "poplar"), "solid", "hardwood"),
        (("western red cedar", "Western redcedar", "Cedar, western redcedar"), "solid", "softwood"),
    ],
)
def test_one_wood_by_many_names(names, kind, family):
    woods = [find_wood(name, 8.0) for name in names]
    assert {wood.density_kg_per_m3 for wood in woods} == {woods[0].density_kg_per_m3}
    assert all(wood.kind == kind and wood.family == family for wood in woods)


def test_every_name_resolves_to_something_plausible():
    for name in wood_names():
        wood = find_wood(name, 8.0)
        known = wood.known["density_kg_per_m3"]
        low, high = known.interval()
        assert 100 < low < wood.density_kg_per_m3 < high < 1500, name
        assert known.value == wood.density_kg_per_m3
        assert known.ref


def test_spread_within_a_species_is_ten_percent():
    """Table 5-6 (R2): specific gravity, coefficient of variation 10 %."""
    wood = find_wood("hard maple", 8.0)
    assert wood.known["density_kg_per_m3"].u == pytest.approx(0.10 * wood.density_kg_per_m3)


def test_a_looser_name_knows_less():
    def width(name):
        low, high = find_wood(name).known["density_kg_per_m3"].interval()
        return high - low

    assert width("red oak") < width("oak") < width("hardwood")
    assert width("hard maple") < width("don't know")


def test_unsaid_moisture_widens():
    said = find_wood("cherry", 8.0).known["density_kg_per_m3"].u
    unsaid = find_wood("cherry").known["density_kg_per_m3"].u
    assert said < unsaid < 1.05 * said


@pytest.mark.parametrize("name", ["don't know", "Don’t know", "?", "", "unknown"])
def test_not_knowing_is_an_answer(name):
    known = find_wood(name).known["density_kg_per_m3"]
    assert known.kind == "default"
    assert known.low < 400
    assert known.high > 800


def test_unknown_name_lists_near_ones():
    with pytest.raises(WoodError) as caught:
        find_wood("hrad maple")
    assert str(caught.value).startswith(
        'no wood here is called "hrad maple"\n  remedy: near it are hard maple, '
    )
    assert str(caught.value).endswith('; or write "don\'t know"')


@pytest.mark.parametrize("name", ["acrylic glass", "x" * 100_000, "\x00\n"])
def test_hostile_names_end_soon(name):
    with pytest.raises(WoodError) as caught:
        find_wood(name)
    assert len(str(caught.value)) < 400


def test_moisture_out_of_range():
    with pytest.raises(WoodError, match="a moisture of 900 % is not between 0 and 200 %"):
        find_wood("cherry", 900.0)

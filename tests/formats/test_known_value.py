"""Values with their origin, as our files write them."""

import pytest

from kerfwright.basics import Known
from kerfwright.formats import QuantityError, read_known


def test_a_plain_text_is_an_estimate():
    assert read_known("1 in", "length", "a.toml") == Known(
        value=25.4, kind="estimated", ref="a.toml"
    )


def test_a_table_says_where_it_is_from():
    known = read_known({"is": "2 to 3 kg", "from": "datasheet", "ref": "leaflet"}, "mass", "a.toml")
    assert known == Known(value=2.5, kind="datasheet", ref="leaflet", low=2.0, high=3.0)


def test_a_table_may_say_less():
    assert read_known({"is": "3 mm"}, "length", "a.toml").ref == "a.toml"


@pytest.mark.parametrize("value", ["don't know", "?", {"is": "unknown", "from": "measured"}])
def test_not_knowing(value):
    assert read_known(value, "length", "a.toml") is None


def test_a_pure_number_needs_no_quotes():
    assert read_known(2, "number", "a.toml").value == 2.0
    assert read_known(0.15, "number", "a.toml").value == 0.15


@pytest.mark.parametrize(
    ("value", "problem"),
    [
        (3, "3 has no unit"),
        (True, "is neither a text nor a number"),
        (["3 mm"], "is neither a text nor a number"),
        ({"from": "measured"}, 'the value itself is missing: there is no "is"'),
        ({"is": "3 mm", "from": "default"}, '"default" does not say where a value comes from'),
        ({"is": "3 mm", "from": ["a"]}, "\"['a']\" does not say where a value comes from"),
        ({"is": "3 mm", "ref": 3}, "ref is not a text"),
        ({"is": "3 mm", "form": "measured"}, 'a value has no "form"'),
        ({"is": {"is": "3 mm"}}, "is neither a text nor a number"),
        ("3 kg", '"kg" is no unit of length'),
        (float("nan"), '"nan" is not a number with a unit'),
    ],
)
def test_errors(value, problem):
    dimension = "number" if isinstance(value, float) else "length"
    with pytest.raises(QuantityError) as caught:
        read_known(value, dimension, "a.toml")
    assert caught.value.problem == problem
    assert caught.value.remedy

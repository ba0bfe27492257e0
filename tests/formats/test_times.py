"""Times as people write them: sums of hours, minutes and seconds, with a spread of its own."""

import pytest

from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.formats.quantity import QuantityError, read_quantity


@pytest.mark.parametrize(
    ("text", "seconds", "half_width"),
    [
        ("1 h 12 min", 4320.0, None),
        ("1 h 12 min 5 s", 4325.0, None),
        ("1h12min", 4320.0, None),
        ("0.5 h 30 s", 1830.0, None),
        ("4321 ± 10 s", 4321.0, 10.0),
        ("1 h 12 min ± 30 s", 4320.0, 30.0),
        ("12 min +/- 0.5 min", 720.0, 30.0),
    ],
)
def test_a_time_is_the_sum_of_its_parts(text, seconds, half_width):
    quantity = read_quantity(text, "time")
    assert quantity.value == pytest.approx(seconds)
    if half_width is None:
        assert quantity.u is None
    else:
        assert quantity.u * TWO_SIDED_95 == pytest.approx(half_width)


@pytest.mark.parametrize("text", ["1 h 30", "12 min 1 h", "1 h 2 h", "1 m 30 s", "-1 h 5 min", ""])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(QuantityError) as told:
        read_quantity(text, "time")
    assert told.value.remedy


def test_a_sum_is_of_times_only():
    with pytest.raises(QuantityError):
        read_quantity("1 h 12 min", "length")

"""Numbers with an imaginary part, as they are typed."""

import numpy as np
import pytest

from kerfwright.formats import QuantityError
from kerfwright.formats.plain_values import read_complex


@pytest.mark.parametrize(
    ("text", "unit", "numbers"),
    [
        ("[1+2i]", "", [1 + 2j]), ("[ -12.9 + 43i , i, -i ]", "", [-12.9 + 43j, 1j, -1j]),
        ("[[1, 2i], [3e-1, 4e2-.5i]] kN", "N", [[1e3, 2e3j], [300, 4e5 - 500j]]),
    ],
)  # fmt: skip
def test_numbers_with_an_imaginary_part(text, unit, numbers):
    assert read_complex(text, unit, "x") == pytest.approx(np.array(numbers))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1+2i", "without brackets"), ("[1+]", "not a number"), ("[nan]", "not a number"),
        ("[__import__('os')]", "not a number"), ("[[1+2i], 3]", "no such table"),
        ("[]", "1 to 10000"), ("[1i] mm", '"mm" is a unit'), ("[" * 5000 + "]", "no such table"),
        ("[" + "1i," * 50_000 + "1]", "too many"), ("[9e999]", "not a number"),
    ],
)  # fmt: skip
def test_what_is_none_is_refused(text, words):
    with pytest.raises(QuantityError) as told:
        read_complex(text, "", "x")
    assert words in told.value.problem

"""Inner kernels give what they give by themselves, and become part of their callers."""

from pathlib import Path

import numpy as np
import pytest
from numba import types

from kerfwright.kernels import compiling
from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel


@inner_kernel(**NUMPY)
def _share(a, b):
    return a / b


@inner_kernel(ready=True, **NUMPY)
def _sum(numbers):
    total = 0.0
    for k in range(len(numbers)):
        total += _share(numbers[k], 3.0)
    return total


@kernel(**NUMPY)
def _all(numbers):
    return _sum(numbers) + _share(numbers[0], 0.0)


@pytest.mark.compiler_off
def test_an_inner_kernel_gives_the_same_bits_within_a_kernel_and_called_from_python():
    numbers = np.random.default_rng(1).uniform(0.1, 9.0, 1000)
    total = 0.0
    for number in numbers:
        total += number / 3.0
    assert _sum(numbers) == total
    with np.errstate(divide="ignore"):
        assert _all(numbers) == np.inf  # as IEEE 754 says, both here and within
        assert _share(np.float64(-1.0), 0.0) == -np.inf
    numbers[0] = 0.0
    with np.errstate(invalid="ignore"):
        assert np.isnan(_all(numbers))


def test_only_what_python_calls_becomes_machine_code():
    @inner_kernel(**NUMPY)
    def twice(a):
        return 2.0 * a

    @kernel(**NUMPY)
    def four_times(a):
        return twice(twice(a))

    assert four_times(1.5) == 6.0
    (within,) = twice.overloads.values()
    assert within.signature == types.float64(types.float64)
    assert not within.library._codegen._engine.is_symbol_defined(within.fndesc.mangled_name)
    (whole,) = four_times.overloads.values()
    assert whole.library._codegen._engine.is_symbol_defined(whole.fndesc.mangled_name)
    # One body and its door are left: what was within is nowhere by itself.
    assert not [one for one in whole.library.get_defined_functions() if "twice" in one.name]


def test_what_cannot_be_compiled_is_refused_with_the_place():
    @inner_kernel(**NUMPY)
    def wrong(a):
        return a.nothing

    @kernel(**NUMPY)
    def calls(a):
        return wrong(a)

    with pytest.raises(Exception, match=r"Unknown attribute 'nothing'.*") as told:
        calls(1.0)
    assert "test_compiling.py" in str(told.value)


def test_every_kernel_is_compiled_in_this_way():
    room = Path(compiling.__file__).parent
    others = {file.name for file in room.glob("*.py") if "njit" in file.read_text("utf-8")}
    assert others == {"compiling.py"}

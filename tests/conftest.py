"""Settings that hold for every test."""

import pytest
from hypothesis import settings
from hypothesis.internal.conjecture import providers

# The same examples on every run, and no clock: a slow machine is not a wrong result.
settings.register_profile("check", deadline=None, derandomize=True)
settings.load_profile("check")
# The library also draws numbers that it finds in our modules, those loaded so far: another order
# of tests made other examples, and a failure that could not be had again.
providers._get_local_constants = lambda: providers._local_constants


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """A test that holds a kernel beside its reference also runs with the compiler off."""
    for item in items:
        if item.path.parent.name == "kernels" and "reference" in item.name.partition("[")[0]:
            item.add_marker("compiler_off")

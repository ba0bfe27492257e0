"""Settings that hold for every test."""

import pytest
from hypothesis import settings

# The same examples on every run, and no clock: a slow machine is not a wrong result.
settings.register_profile("check", deadline=None, derandomize=True)
settings.load_profile("check")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """A test that holds a kernel beside its reference also runs with the compiler off."""
    for item in items:
        if item.path.parent.name == "kernels" and "reference" in item.name.partition("[")[0]:
            item.add_marker("compiler_off")

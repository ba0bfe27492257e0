"""The workshop's machine."""

import pytest

from kerfwright.machine import load_machine
from kerfwright.workshop import demo_folder


@pytest.fixture(scope="session")
def machine():
    return load_machine(demo_folder() / "machine.toml")

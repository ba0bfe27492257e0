"""Machines for the tests: the packaged demo, and files written on the spot."""

from pathlib import Path

import pytest

import kerfwright.workshop
from kerfwright.formats.toml_file import parse_toml
from kerfwright.machine import load_machine, parse

DEMO = Path(kerfwright.workshop.__file__).parent / "demo" / "machine.toml"


@pytest.fixture(scope="session")
def demo():
    return load_machine(DEMO)


@pytest.fixture
def machine_of():
    """The machine of a text that follows the first line."""

    def make(text):
        return parse(parse_toml('kerfwright = "machine 1"\n' + text, "machine.toml"))

    return make


@pytest.fixture(scope="session")
def demo_text():
    return DEMO.read_text(encoding="utf-8")

"""Programs for the fits."""

import importlib.util
from functools import cache
from pathlib import Path

import pytest

from kerfwright.program import parse_program


@pytest.fixture(scope="session")
def texts():
    """The module beside this one."""
    path = Path(__file__).with_name("programs.py")
    spec = importlib.util.spec_from_file_location("commission_programs", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def programs(texts):
    """``programs(seed)``: three programs to be timed, and three that are held out."""

    @cache
    def drawn(seed):
        return tuple(
            [parse_program(text.encode(), f"{k}.nc") for k, text in enumerate(many)]
            for many in (texts.timed_texts(seed), texts.held_out_texts(seed))
        )

    return drawn

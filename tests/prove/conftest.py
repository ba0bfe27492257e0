"""A machine, and programs proved from their text."""

import pytest

from kerfwright.jobs.belongings import read
from kerfwright.machine import load_machine
from kerfwright.program import parse_program
from kerfwright.prove.chain import Origin, prove
from kerfwright.prove.sweep import sweep, tooling
from kerfwright.setup import setup_from_words
from kerfwright.trajectory import plan
from kerfwright.workshop import demo_folder

ORIGIN = Origin(version="0", code_sha256="c", tables_sha256="t")
STOCK = "100 x 60 x 18 mm hard maple"
FLAT = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm"
START = "G21 G90 G17\nT1 M6\nS18000 M3\n"


@pytest.fixture(scope="session")
def machine():
    return load_machine(demo_folder() / "machine.toml")


@pytest.fixture
def proved(machine, tmp_path):
    """Prove the text of a program: stock and cutters in words, anything of the set-up replaced."""

    def run(
        body, stock=STOCK, cutters=(FLAT,), on=machine, cell=0.5, start=START, change=None,
        threads=1,
    ):  # fmt: skip
        path = tmp_path / "job.nc"
        path.write_text(start + body + "\nM2\n")
        setup = setup_from_words(stock, list(cutters), on)
        if change is not None:
            setup = change(setup)
        program = read(path, on, setup, lambda stage, done: None)
        return prove(program, setup, on, ORIGIN, cell_mm=cell, threads=threads)

    return run


@pytest.fixture
def swept(machine):
    """Trajectory, tooling and first pass of a program's text."""

    def run(body, stock=STOCK, cutters=(FLAT,), on=machine, cell=0.25, start=START):
        program = parse_program((start + body + "\nM2\n").encode(), "job.nc")
        setup = setup_from_words(stock, list(cutters), on)
        trajectory = plan(program, on)
        tools = tooling(program, trajectory, setup, on)
        return trajectory, tools, setup, sweep(trajectory, tools, setup, on, cell, 1)

    return run

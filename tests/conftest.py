"""Settings that hold for every test."""

import importlib
import sys
from collections import OrderedDict
from types import SimpleNamespace

import pytest
from hypothesis import settings
from hypothesis.internal.conjecture import providers

from kerfwright.machine import build

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


_MOST_KEPT = 20
_kept_draws = OrderedDict()
_draw_anew = build._Description.drawn
_drawing_is_tested = False


def _drawn(description, rng, many):
    """The same machines from the same place of the same random numbers are computed once.

    Each proof draws its 120 machines from one seed, and most tests prove on one machine: that was
    more than half of the time of a small proof.
    """
    if _drawing_is_tested:
        return _draw_anew(description, rng, many)
    seeds = rng.bit_generator.seed_seq
    before = seeds.n_children_spawned  # some values are drawn from random numbers of their own
    key = (description.sha256, many, before, repr(rng.bit_generator.state))
    kept = _kept_draws.get(key)
    if kept is None:
        models = _draw_anew(description, rng, many)
        spawned = seeds.n_children_spawned - before
        _kept_draws[key] = models, spawned, rng.bit_generator.state
        while len(_kept_draws) > _MOST_KEPT:
            _kept_draws.popitem(last=False)
        return models
    models, spawned, rng.bit_generator.state = kept
    seeds.spawn(spawned)
    return models


build._Description.drawn = _drawn


@pytest.fixture(scope="module", autouse=True)
def _draw_anew_where_drawing_is_tested(request):
    global _drawing_is_tested
    _drawing_is_tested = request.path.parent.name == "machine"


@pytest.fixture
def here(capsys, monkeypatch):
    """Run ``kerfwright`` with these arguments in this process, its worker's errands too.

    A process and its worker take seconds to load what is loaded here already. That they start, are
    interrupted and end as they should is what the tests with real processes are for.
    """
    command_line = importlib.import_module("kerfwright.app.command_line")
    for name in ("prove", "time", "demo", "machine", "describe"):
        monkeypatch.setattr(f"kerfwright.app.{name}_command.run", _at_once)

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["kerfwright", *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            command_line.main()
        said = capsys.readouterr()
        return SimpleNamespace(returncode=ended.value.code or 0, stdout=said.out, stderr=said.err)

    return run


def _at_once(errand, *args, on_progress, **_):
    return errand(*args, progress=on_progress)

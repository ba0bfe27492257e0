"""The command line without a process of its own, for tests of what it says."""

import sys
from types import SimpleNamespace

import pytest

from kerfwright.app import command_line, demo_command, prove_command, time_command


def _at_once(errand, *args, on_progress, **_):
    return errand(*args, progress=on_progress)


@pytest.fixture
def here(capsys, monkeypatch):
    """Run ``kerfwright`` with these arguments in this process, its worker's errands too.

    A process and its worker take seconds to load what is loaded here already. That they start, are
    interrupted and end as they should is what the tests with real processes are for.
    """
    for module in (prove_command, time_command, demo_command):
        monkeypatch.setattr(module, "run", _at_once)

    def run(*arguments):
        monkeypatch.setattr(sys, "argv", ["kerfwright", *map(str, arguments)])
        capsys.readouterr()
        with pytest.raises(SystemExit) as ended:
            command_line.main()
        said = capsys.readouterr()
        return SimpleNamespace(returncode=ended.value.code or 0, stdout=said.out, stderr=said.err)

    return run

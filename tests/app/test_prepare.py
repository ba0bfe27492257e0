"""Preparing compiles all that a proof needs."""

import os
import subprocess
import sys

import pytest

COUNT = """
import kerfwright.kernels
from numba.core.dispatcher import Dispatcher
compiled = []
first = Dispatcher.compile
def compile_(self, signature):
    misses = sum(self.stats.cache_misses.values())
    out = first(self, signature)
    if sum(self.stats.cache_misses.values()) > misses:
        compiled.append(self.py_func.__name__)
    return out
Dispatcher.compile = compile_
from kerfwright.jobs.prepare import prepare, prove_little
prepare()
halves = len(compiled)
prove_little()
print(halves, len(compiled) - halves)
"""


@pytest.mark.long
def test_a_second_time_there_is_nothing_left_to_compile(tmp_path):
    settings = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path), "KERFWRIGHT_THREADS": "1"}

    def run():
        done = subprocess.run(
            [sys.executable, "-c", COUNT], env=settings, capture_output=True, text=True, check=True,
            timeout=600,
        )  # fmt: skip
        return [int(word) for word in done.stdout.split()]

    halves, left = run()
    assert halves > 10
    assert left == 0
    assert run() == [0, 0]

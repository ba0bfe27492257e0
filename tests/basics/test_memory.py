"""What is let go goes back to the system."""

import subprocess
import sys

import pytest

_CHILD = """
import numpy as np
from pathlib import Path
from kerfwright.basics.memory import give_back, keep_little

def mib():
    return int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 2**20

keep_little()
begin = mib()
small = [np.ones(8_000) for _ in range(2_000)]
large = [np.ones(1_000_000) for _ in range(16)]
kept = small[-1]  # the last of the heap: it cannot simply be cut off
held = mib()
del small, large
give_back()
print(begin, held, mib(), kept.size)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="asks the C library of Linux")
def test_small_and_large_arrays_go_back():
    told = subprocess.run([sys.executable, "-c", _CHILD], check=True, stdout=subprocess.PIPE)
    begin, held, after, _ = (float(word) for word in told.stdout.split())
    assert held > begin + 200.0
    assert after < begin + 30.0

"""A small workshop of the demo's machine, and its page without a browser."""

import shutil
import time

from starlette.testclient import TestClient

from kerfwright.app.page.application import application
from kerfwright.app.page.guard import TOKEN_HEADER
from kerfwright.workshop import demo_folder, open_workshop

TOKEN = "a-token-of-the-tests"
PROGRAM = b"""G21 G90 G17
T1 M6
S16000 M3
G0 X4 Y4 Z2
G1 Z-1 F300
G1 X16 Y4 F900
G1 X16 Y11
G0 Z2
M2
"""
JOB = """kerfwright = "job 1"  # the first key
note = "a test"

[board]
size = "20 x 15 x 6 mm"  # the board
wood = "hard maple"
at = "middle"

[zero]
x = "left"
y = "front"
z = "top"
x_by = "edge"

[slots]
1 = "flat 6 mm"

[limits]
tolerance = "0.2 mm"
"""


def small_workshop(folder):
    """Machine and cutters of the demo, and one tiny job."""
    (folder / "jobs" / "slot").mkdir(parents=True)
    for name in ("machine.toml", "cutters.toml"):
        shutil.copyfile(demo_folder() / name, folder / name)
    (folder / "jobs" / "slot" / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "jobs" / "slot" / "slot.nc").write_bytes(PROGRAM)
    return open_workshop(folder)


def client_of(shop, base="http://127.0.0.1:8417"):
    """A browser's place: it has the token."""
    return TestClient(application(shop, TOKEN), base_url=base, headers={TOKEN_HEADER: TOKEN})


def wait_until(done, within_s=300.0):
    """Wait for something that another thread does."""
    until = time.monotonic() + within_s
    while not (value := done()):
        assert time.monotonic() < until, "it never came"
        time.sleep(0.02)
    return value

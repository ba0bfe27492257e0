"""A real browser on a real server with a small workshop, and what every test of it asks."""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import pytest
from small_shop import JOB, small_workshop

ROOT = Path(__file__).parents[2]
SCREENS = ROOT / "out" / "page-screens"
AXE = ROOT / "page" / "node_modules" / "axe-core" / "axe.min.js"
PROOF_MS = 600_000  #: for a proof, kernels compiled on a busy machine included
ARGUMENTS = (
    "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist",
)  # fmt: skip
#: Goes 0.3 mm too deep, which a change of the set-up allows; rubs for a while; ends in the wood.
THROUGH = b"""G21 G90 G17
T1 M6
S16000 M3
G0 X30 Y20 Z2
G1 Z-3 F300
G1 X90 F60
G1 Z-6.3 F300
G1 X30 F900
G0 Z2
M2
"""
THROUGH_JOB = """kerfwright = "job 1"
note = "goes too deep, and slowly"

[board]
size = "120 x 40 x 6 mm"
wood = "birch ply"
at = "middle"

[zero]
x = "left"
y = "front"
z = "top"

[slots]
1 = "flat 6 mm"

[limits]
tolerance = "0.3 mm"

[[clamps]]
name = "left"
at = ["-20 mm", "10 mm"]
size = "30 x 20 mm"
height = "12 mm"
"""


def workshop_for_the_page(folder):
    """Three jobs: a small one, one with things to find, one that takes a while."""
    small_workshop(folder)
    for name, job, program in (
        ("through", THROUGH_JOB, THROUGH),
        ("long", JOB.replace("20 x 15", "300 x 200"), long_program()),
    ):
        (folder / "jobs" / name).mkdir()
        (folder / "jobs" / name / "job.toml").write_text(job, encoding="utf-8")
        (folder / "jobs" / name / f"{name}.nc").write_bytes(program)
    return folder


def long_program():
    """Long rows close together, again and again deeper: many seconds to prove, few to draw."""
    lines = ["G21 G90 G17", "T1 M6", "S16000 M3", "G0 X10 Y10 Z2", "F3000"]
    for row in range(7200):
        x = (10, 290)[row % 2]
        y, depth = 10 + 0.3 * (row % 600), 1 + row // 600
        lines += [f"G1 X{x} Y{y:g} Z{-depth:g}", f"X{300 - x} Z{-depth - 0.4:g}"]
    return "\n".join([*lines, "G0 Z5", "M2", ""]).encode()


@contextmanager
def server(folder, data):
    """``kerfwright open`` as a person starts it, without a folder for the demo's own copy.

    Yields its address.
    """
    environment = {**os.environ, "KERFWRIGHT_THREADS": "1", "XDG_DATA_HOME": str(data)}
    where = () if folder is None else (str(folder),)
    command = [sys.executable, "-m", "kerfwright", "open", *where, "--no-browser"]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=environment
    )
    try:
        for line in process.stdout:
            if address := re.match(r"http://127\.0\.0\.1:\d+/", line):
                break
        else:
            pytest.fail("the server printed no address")
        yield address[0]
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            assert process.wait(timeout=60) == 0
        finally:
            process.kill()
            process.stdout.close()


def chromium():
    """Where the browser is. Without it the tests fail: a page that nobody tried is not done."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        pytest.fail("these tests need Chromium: on Debian, apt-get install chromium")
    if not AXE.is_file():
        pytest.fail("these tests need the page's packages: npm ci in the folder page")
    return found


#: Notes that a proof was seen to go on, even one that is over before anybody looks.
SEE_PROGRESS = """() => {
  globalThis.proving = false;
  new MutationObserver(() => {
    if (document.querySelector(".progress")) globalThis.proving = true;
  }).observe(document.body, { childList: true, subtree: true, attributes: true });
}"""


class Watched:
    """A page whose every request, message and error is looked at."""

    def __init__(self, context, address):
        self.page = context.new_page()
        self.page.set_default_timeout(90_000)
        self.address = address
        self.wrong = []
        self.page.on("pageerror", lambda error: self.wrong.append(f"error: {error}"))
        self.page.on("console", self._console)
        self.page.on("request", self._request)

    def _console(self, message):
        # A text that is refused is answered with 422, which the browser tells as well.
        if message.type == "error" and "422" not in message.text:
            self.wrong.append(f"console: {message.text}")

    def _request(self, request):
        if not request.url.startswith((self.address, "data:", "blob:")):
            self.wrong.append(f"outside: {request.url}")

    def open(self, where=""):
        self.page.goto(f"{self.address}#/{where}" if where else self.address)
        self.page.wait_for_selector("article.sheet")
        return self.page

    def shot(self, name):
        SCREENS.mkdir(parents=True, exist_ok=True)
        self.page.screenshot(path=SCREENS / f"{name}.png", full_page=True)

    def prove(self, begin=None):
        """Begin a proof and wait until it is made, however soon that is."""
        self.page.evaluate(SEE_PROGRESS)
        button = self.page.get_by_role("button", name=re.compile("^Prove it"))
        (begin or button.click)()
        until = time.monotonic() + 20.0  # one that begins and ends within one picture is not seen
        while not self.page.evaluate("() => globalThis.proving") and time.monotonic() < until:
            self.page.wait_for_timeout(20)
        self.page.wait_for_selector(".progress", state="detached", timeout=PROOF_MS)

    def tab_to(self, name, most=250):
        """Press Tab until what has the focus is called so."""
        said = (
            "e => (e.getAttribute('aria-label') || e.labels?.[0]?.innerText || e.innerText"
            " || '').trim()"
        )
        for _ in range(most):
            self.page.keyboard.press("Tab")
            focus = self.page.evaluate_handle("document.activeElement")
            if re.search(name, focus.evaluate(said)):
                return focus
        return pytest.fail(f"{name} is not reached by Tab")

    def problems_by_axe(self):
        """What the accessibility checker finds: rule and place."""
        self.page.evaluate(AXE.read_text(encoding="utf-8"))
        found = self.page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        return [
            (rule["id"], node["target"], node.get("failureSummary", "")[:200])
            for rule in found["violations"]
            for node in rule["nodes"][:3]
        ]

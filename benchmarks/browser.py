"""The page in a real browser that draws by software: first paint, first proof, a large field."""

import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from kerfwright.workshop import copy_demo
from make_relief import relief_program
from measure import Bench

_ARGUMENTS = (
    "--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader", "--ignore-gpu-blocklist",
)  # fmt: skip
_WAIT_MS = 150_000
_SMALL = "gear-pair"
#: A board whose map has nearly as many cells as a page's map may have.
_JOB = """kerfwright = "job 1"
note = "a large relief"

[board]
size = "398 x 398 x 30 mm"
wood = "hard maple"
at = "middle"

[zero]
x = "left"
y = "front"
z = "top"

[slots]
1 = "ball 3 mm"
first = 1
"""
#: When something was first seen; the page may be ready before that is told.
_PAINT = """() => new Promise((done) => {
  new PerformanceObserver((list) => {
    const [seen] = list.getEntriesByName('first-contentful-paint');
    if (seen) done(seen.startTime);
  }).observe({ type: 'paint', buffered: true });
})"""
#: Turns the solid view by a key; how many triangles the next picture has, and how long it takes.
_TURN = """async () => {
  const view = document.querySelector('canvas.solid');
  const begin = performance.now();
  view.dispatchEvent(new KeyboardEvent('keydown', { key: 'ArrowRight', bubbles: true }));
  await new Promise((done) => requestAnimationFrame(done));
  const triangles = Number(view.dataset.triangles);
  await new Promise((done) => requestAnimationFrame(done));
  return [triangles, performance.now() - begin];
}"""


def measure_browser(lines: int) -> Bench:
    """Seconds as a person waits them; kernels are compiled before."""
    from playwright.sync_api import sync_playwright

    bench = Bench(repeats=1, text=np.frombuffer(relief_program(3000), np.uint8), memory=False)
    bench.link_s()
    browser = shutil.which("chromium")
    if browser is None:
        raise SystemExit("this part needs Chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        shop = Path(folder) / "shop"
        copy_demo(shop)
        large = shop / "jobs" / "large"
        large.mkdir()
        (large / "job.toml").write_text(_JOB, encoding="utf-8")
        (large / "large.nc").write_bytes(_to_the_corner(relief_program(lines)))
        opened = play.chromium.launch(executable_path=browser, args=list(_ARGUMENTS))
        with _server(shop, Path(folder) / "data") as address:
            page = opened.new_page(viewport={"width": 1280, "height": 900})
            page.set_default_timeout(_WAIT_MS)
            _measure(bench, page, address)
        opened.close()
    bench.link_s()
    return bench


def _measure(bench: Bench, page: Any, address: str) -> None:
    page.goto(f"{address}#/job/{_SMALL}")
    page.wait_for_selector("article.ticket .go button:not([disabled])")
    bench.tell("first paint", page.evaluate(_PAINT) / 1000.0, "s")
    _prove(page)  # whatever is compiled or loaded once
    page.get_by_text("How it is set up").click()
    page.get_by_label("Board", exact=True).fill("151 x 100 x 9 mm")  # nothing is in the cache
    page.get_by_label("Board", exact=True).press("Enter")
    page.wait_for_selector(".answer em")
    begin = time.perf_counter()
    _prove(page)
    page.wait_for_selector("canvas.wood[data-drawn]")
    bench.tell("first proof of a demo job, from the click to its picture", _since(begin), "s")
    page.goto(f"{address}#/job/large")
    page.wait_for_selector("article.ticket .go button:not([disabled])")
    begin = time.perf_counter()
    _prove(page)
    bench.tell("proof of the large relief through the page", _since(begin), "s")
    page.goto("about:blank")
    begin = time.perf_counter()
    page.goto(f"{address}#/job/large")
    page.wait_for_selector("canvas.wood[data-drawn]")
    bench.tell("large relief, from the address to its picture", _since(begin), "s")
    maps = page.evaluate("fetch('api/jobs/large/maps').then((answer) => answer.json())")
    bench.tell("cells of its map", maps["rows"] * maps["columns"] / 1e6, "million")
    bench.tell("points of its path", maps["path"]["points"] / 1e6, "million")
    begin = time.perf_counter()
    page.get_by_text("The board as cut, seen").click()
    page.wait_for_selector("canvas.solid[data-triangles]")
    bench.tell("its solid view, from the click to its first picture", _since(begin), "s")
    page.wait_for_timeout(5_000)
    turned = [page.evaluate(_TURN) for _ in range(5)]
    bench.tell("triangles while it moves", max(many for many, _ in turned) / 1e3, "thousand")
    bench.tell("a picture while it moves", sorted(ms for _, ms in turned)[2] / 1e3, "s")


def _to_the_corner(program: bytes) -> bytes:
    """The program with one plunge far out: a map reaches as far as wood is taken."""
    end = program.rindex(b"G0 Z5")
    corner = b"G0 Z5\nG0 X390 Y390\nG1 Z-1 F300\n"
    return program[:end] + corner + program[end:]


def _prove(page: Any) -> None:
    page.get_by_role("button", name=re.compile("^Prove it")).click()
    page.wait_for_selector(".progress")
    page.wait_for_selector(".progress", state="detached")
    page.wait_for_selector(".answer .mark")


def _since(begin: float) -> float:
    return time.perf_counter() - begin


@contextmanager
def _server(folder: Path, data: Path) -> Iterator[str]:
    settings = os.environ | {"XDG_DATA_HOME": str(data), "KERFWRIGHT_THREADS": "2"}
    command = [sys.executable, "-m", "kerfwright", "open", str(folder), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=settings)
    try:
        found = (re.match(r"http://127\.0\.0\.1:\d+/", line) for line in process.stdout or ())
        address = next((one for one in found if one), None)
        if address is None:
            raise RuntimeError("the server printed no address")
        yield address[0]
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait()

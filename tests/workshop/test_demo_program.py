"""The demo's program: made as committed, well behaved, and of the surface that was meant."""

from functools import cache
from importlib.resources import files

import numpy as np
import pytest

import make_demo
from kerfwright.cutter import chip_range, load_cutters
from kerfwright.program import MoveKind, read_program

DEMO = files("kerfwright.workshop") / "demo"
JOB = DEMO / "jobs" / "relief-tray"
FIRST, LAST = 1, 2  # slots


@cache
def program():
    return read_program(JOB / "program.nc")


@cache
def starts():
    read = program()
    return np.vstack([read.start_mm, read.end_mm[:-1]])


def test_made_again_it_is_the_same():
    assert (JOB / "program.nc").read_bytes() == make_demo.tray_program()


def test_it_reads_strictly_and_is_not_too_long():
    assert program().moves > 50_000
    assert len(program().text) < 900_000
    assert program().notes == ()


def test_the_surface_is_as_steep_and_deep_as_stated():
    x, y = np.meshgrid(np.arange(0, 170, 0.2), np.arange(0, 120, 0.2))
    height = make_demo.tray_height(x, y)
    along_y, along_x = np.gradient(height, 0.2)
    assert np.hypot(along_x, along_y).max() < 1.0
    assert -8.0 < height.min() < -5.0
    assert height.max() == pytest.approx(0.0, abs=1e-12)


def test_rapids_stay_above_the_board():
    rapid = program().kind == MoveKind.RAPID
    low = np.minimum(starts()[rapid, 2], program().end_mm[rapid, 2])
    sideways = np.ptp(np.stack([starts(), program().end_mm])[:, rapid, :2], axis=0).max(axis=1) > 0
    assert (low[sideways] >= make_demo.CLEAR).all()
    down = program().end_mm[rapid, 2] < starts()[rapid, 2]
    assert (program().end_mm[rapid, 2][down] >= 1.0).all()


def test_cuts_stay_inside_the_dish():
    cut = program().kind == MoveKind.LINE
    end = program().end_mm[cut]
    reach = np.abs(end[:, :2] - make_demo.MIDDLE) - make_demo.HALF_SIZE
    assert reach.max() <= 0.0
    assert end[:, 2].min() > -6.0


@pytest.mark.parametrize(
    ("slot", "radius", "ball", "left"),
    [(FIRST, 3.0, False, make_demo.LEFT_FOR_FINISHING), (LAST, 1.5, True, 0.0)],
)
def test_nothing_is_cut_below_the_surface(slot, radius, ball, left):
    """At chosen ends of moves, every point of the cutter against the formula itself."""
    here = (program().slot == slot) & (program().kind == MoveKind.LINE)
    tip = program().end_mm[here][::97]
    ring, angle = np.meshgrid(np.linspace(0, 1, 13) * radius, np.linspace(0, 2 * np.pi, 49))
    x = tip[:, 0, None, None] + ring * np.cos(angle)
    y = tip[:, 1, None, None] + ring * np.sin(angle)
    under = tip[:, 2, None, None] + (radius - np.sqrt(radius**2 - ring**2) if ball else 0 * ring)
    # the grid of 0.25 by 0.2 mm may miss the very contact by slope times half a cell
    assert (under - make_demo.tray_height(x, y)).min() > left - 0.05


def test_chips_are_usual_ones():
    rack = load_cutters(DEMO / "cutters.toml")
    for slot, name in ((FIRST, "flat 6 mm"), (LAST, "ball 3 mm")):
        cutter = rack[name]
        here = (program().slot == slot) & (program().kind == MoveKind.LINE)
        turns = np.abs(program().spindle_rev_per_s[here])
        assert (turns > 0).all()
        chip = program().feed_mm_per_s[here].max() / (turns.max() * cutter.flutes)
        usual = chip_range(cutter.diameter_mm, "hardwood")
        assert usual.low_mm < chip < usual.high_mm


def test_it_ends_with_the_spindle_off():
    kinds = [(event.kind, event.value) for event in program().events]
    assert kinds[-1][0] == "end"
    assert ("spindle", 0.0) in kinds[-3:]
    assert [value for kind, value in kinds if kind == "cutter"] == [1.0, 2.0]

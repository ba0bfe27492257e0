"""Walls from foot to top, against what is known beforehand."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.kernels import cutting
from kerfwright.loads import edge_law_for, rod_of
from kerfwright.loads.teeth import SideCuts, mean_n, scaled, share_of_power, side_arcs
from kerfwright.prove.frames import frames_of
from kerfwright.prove.run_path import AsRun
from kerfwright.prove.walls import walls

LONG = "1: flat 3 mm, 2 flutes, flute length 12 mm, stick-out 35 mm, shank 3 mm, runout 0 mm"
SHORT = "1: flat 6 mm, 2 flutes, flute length 10 mm, stick-out 15 mm, runout 0 mm"
#: A slot, then a pass 1 mm beside it: wood on the right, cut down the travel.
BESIDE = "G0 Z5\nG0 X20 Y30\nG1 Z-5 F300\nG1 X80 F1500\nG0 Z5\nG0 X20 Y29\nG1 Z-5\nG1 X80 F1500"


@pytest.fixture
def stiff(machine):
    """A machine without give and play."""
    still = {axis: replace(getattr(machine, axis), play_mm=0.0) for axis in "xyz"}
    return replace(
        machine, compliance_mm_per_n=machine.compliance_mm_per_n * 1e-9, **still
    )  # fmt: skip


def told(
    swept, on, body=BESIDE, cutter=LONG, stock="100 x 60 x 18 mm MDF", rev_per_min=18_000,
    swings=True,
):  # fmt: skip
    """Walls with all else of the set-up exact, and the first pass."""
    start = f"G21 G90 G17\nT1 M6\nS{rev_per_min} M3\n"
    trajectory, tools, setup, first = swept(
        body, on=on, cutters=(cutter,), stock=stock, start=start
    )
    line = np.zeros(len(trajectory.move), np.int64) + trajectory.move
    none = np.zeros_like(first.give_mm)
    run = AsRun(field=first.field, offset_mm=first.give_mm.astype(float), swing_mm=none)
    frames = frames_of(first, tools, setup, on, ()) if swings else ()
    found = walls(first, run, tools, line, setup, on, 0.34, frames)
    return (
        {(wall.first_line, wall.side): wall for wall in found if wall.length_mm > 30},
        setup,
        first,
    )


def test_engagement_of_a_wall_is_what_the_sweep_saw(swept, stiff):
    _, setup, first = told(swept, stiff, stock="100 x 60 x 18 mm hard maple")
    cutter = setup.slots[1]
    column = first.column.astype(np.float64)
    mine = (column[:, cutting.RIGHT] > 4.9) & (column[:, cutting.LEFT] < 0.1)
    mine &= (column[:, cutting.X] > 30) & (column[:, cutting.X] < 70)
    column = column[mine]
    assert len(column) > 20
    one = np.ones(len(column))
    width = column[:, cutting.TAKEN] / column[:, cutting.WAY] / column[:, cutting.DEPTH]
    assert width == pytest.approx(1.0, rel=0.03)
    law = edge_law_for(setup.board, cutter)
    cuts = SideCuts(
        heading_rad=0 * one, side=-one, width_mm=width, depth_mm=column[:, cutting.DEPTH],
        feed_per_tooth_mm=column[:, cutting.FEED_PER_TOOTH],
    )  # fmt: skip
    arcs = side_arcs(law, cutter, cuts)
    share = share_of_power(arcs, cutter, cuts.depth_mm, 300 * one, column[:, cutting.POWER])
    assert share == pytest.approx(1.0, abs=0.15)
    force = mean_n(scaled(arcs, share))
    seen = column[:, cutting.FORCE_X] + 1j * column[:, cutting.FORCE_Y]
    assert np.abs(force - seen).max() < 0.1 * np.abs(seen).mean()


def test_a_slender_cutter_leans_the_wall(swept, stiff):
    found, setup, first = told(swept, stiff)
    wall = next(wall for (_, side), wall in found.items() if side == "right" and wall.depth_mm > 4.9
                and wall.spot.y_mm < 28)  # fmt: skip
    # Cutting down the travel pushes away from the wall: proud, and more so at the tip, where the
    # edge behind it still cuts.
    assert wall.foot_mm > wall.top_mm
    assert wall.foot_mm > 0.0
    assert wall.foot_mm >= wall.offset.value >= wall.top_mm
    assert abs(wall.worst_mm) >= abs(wall.offset.value)
    # The mean give of the tip alone lies within what the heights say.
    rod = rod_of(setup.slots[1])
    column = first.column.astype(np.float64)
    mine = (column[:, cutting.RIGHT] > 4.9) & (column[:, cutting.LEFT] < 0.1)
    tip = np.median(column[mine, cutting.FORCE_Y]) * float(rod.give_mm_per_n(0.0, 0.0))
    assert 0.3 * tip < wall.offset.value < 2.5 * tip


def test_a_stout_cutter_in_a_stiff_machine_leaves_the_wall_where_it_is(swept, stiff):
    found, _, _ = told(swept, stiff, cutter=SHORT)
    for wall in found.values():
        assert abs(wall.top_mm) < 0.002
        assert abs(wall.foot_mm) < 0.002


def test_a_soft_machine_takes_less_than_it_is_told(swept, stiff):
    soft = np.zeros_like(stiff.compliance_mm_per_n)
    soft[..., 1, 1] = 0.02  # 50 N/mm along Y: K_c a_p / k is far above 0.1
    on = replace(stiff, compliance_mm_per_n=soft)
    found, _, first = told(swept, on, cutter=SHORT)
    wall = next(
        wall for (_, side), wall in found.items() if side == "right" and wall.spot.y_mm < 27
    )
    column = first.column.astype(np.float64)
    mine = (column[:, cutting.RIGHT] > 4.9) & (column[:, cutting.LEFT] < 0.1)
    # It gives way, so it meets less wood: each group cuts as wide as its give leaves it.
    settled = 0.02 * float(np.median(column[mine, cutting.FORCE_Y]))
    assert settled > 0.05
    assert float(np.median(column[mine, cutting.WIDTH])) == pytest.approx(1.0 - settled, abs=0.01)
    programmed = column[mine, cutting.TAKEN] / column[mine, cutting.WAY] / 5.0
    assert float(np.median(programmed)) == pytest.approx(1.0, rel=0.02)
    assert wall.offset.value == pytest.approx(settled, abs=0.01)


def test_balls_keep_the_mean_give(swept, stiff):
    found, _, _ = told(swept, stiff, cutter=LONG.replace("flat", "ball"))
    assert found
    for wall in found.values():
        assert wall.foot_mm == wall.top_mm == pytest.approx(wall.offset.value)


@pytest.mark.parametrize(("flutes", "rev_per_min"), [(1, 8000), (2, 18_000)])
def test_the_machine_swings_as_flutes_pass_a_wall(swept, machine, flutes, rev_per_min):
    still = {axis: replace(getattr(machine, axis), play_mm=0.0) for axis in "xyz"}
    on, cutter = replace(machine, **still), SHORT.replace("2 flutes", f"{flutes} flutes")
    one = {"cutter": cutter, "rev_per_min": rev_per_min, "stock": "100 x 60 x 18 mm hard maple"}
    found, _, first = told(swept, on, **one)
    fixed, _, _ = told(swept, on, **one, swings=False)
    column = first.column.astype(np.float64)
    assert found.keys() == fixed.keys()
    assert len(found) == 2
    largest = 0.0
    for at, wall in found.items():
        moved = wall.offset.value - fixed[at].offset.value
        largest = max(largest, abs(moved))
        assert wall.shares.cut.mm - fixed[at].shares.cut.mm == pytest.approx(moved, abs=1e-9)
        # Damping that is not known reaches into the ends, by the machine's share.
        assert wall.shares.machine.unsure_mm > fixed[at].shares.machine.unsure_mm
    push = np.abs(column[column[:, cutting.WAY] > 0.0, cutting.FORCE_Y]).max()
    give = float(machine.compliance_mm_per_n[2, 2, 0, 1, 1])
    # One flute at 133 Hz meets the demo's modes; two pass them at 600 Hz.
    assert largest > 1e-3 if flutes == 1 else largest < 0.03 * push * give

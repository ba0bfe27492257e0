"""The pass over the path: window-free, volume-true, and the tip where the force puts it."""

from dataclasses import replace
from itertools import pairwise
from math import pi

import numpy as np
import pytest

from kerfwright.basics import Stopped
from kerfwright.kernels import cutting
from kerfwright.kernels.stepping import MOST_IN_GROUP, MOST_IN_SEGMENT
from kerfwright.loads import compliance_at, cutter_compliance_mm_per_n
from kerfwright.prove import sweep as sweep_module
from kerfwright.prove.removal import TAKEN_AHEAD, Remover
from kerfwright.prove.run_path import cut_as_run
from kerfwright.prove.sweep import sweep
from kerfwright.stock.field import Field

SLOT = "G0 Z5\nG0 X20 Y30\nG1 Z-4 F300\nG1 X80 F1500\nG0 Z5"


def test_slot_volume_and_force_direction(swept):
    _, _, _, out = swept(SLOT)
    removed = out.column[:, cutting.TAKEN].sum(dtype=float)
    assert removed == pytest.approx(60 * 6 * 4 + pi * 9 * 4, rel=1e-3)
    steady = out.column[(out.column[:, cutting.X] > 40) & (out.column[:, cutting.X] < 60)]
    # Seen from above the cutter turns clockwise: the wood in front pushes it to the left.
    assert (steady[:, cutting.FORCE_Y] > 0).all()
    assert (steady[:, cutting.FORCE_X] < 0).all()
    assert steady[:, cutting.DEPTH] == pytest.approx(4.0, abs=1e-5)
    # The spindle slows a little under the cut, and the chips get thicker by as much.
    assert (steady[:, cutting.SPEED] < 300.0).all()
    feed = 25.0 / (steady[:, cutting.SPEED] * 2)
    assert steady[:, cutting.FEED_PER_TOOTH] == pytest.approx(feed, rel=1e-5)


def test_windows_change_nothing(machine, swept, monkeypatch):
    body = SLOT + "\nG0 X20 Y20\nG1 Z-2 F300\nG3 X60 Y40 I20 J10 F1500\nG1 X30 Y50 Z-1\nG0 Z5"
    trajectory, tools, setup, whole = swept(body)
    monkeypatch.setattr(sweep_module, "WINDOW", 37)
    parts = sweep(trajectory, tools, setup, machine, 0.25, 2)
    assert np.array_equal(whole.column, parts.column)
    assert np.array_equal(whole.first_step, parts.first_step)
    for a, b in zip(whole.field.maps(), parts.field.maps(), strict=True):
        assert np.array_equal(a, b)
    monkeypatch.undo()
    first = cut_as_run(trajectory, tools, setup, machine, whole, 1)
    monkeypatch.setattr(sweep_module, "WINDOW", 37)
    second = cut_as_run(trajectory, tools, setup, machine, parts, 2)
    assert np.array_equal(first.field.heights(), second.field.heights())
    assert np.array_equal(first.swing_mm, second.swing_mm)
    assert np.array_equal(first.offset_mm, second.offset_mm)


@pytest.mark.slow
def test_no_bit_depends_on_threads_or_windows(machine, swept, monkeypatch):
    # Rows across several tiles, up and down, walls and floors cut again: 34 000 steps.
    body = "G0 Z5\nG0 X2 Y2\n"
    for depth, rows in ((-1.0, 131), (-2.5, 43)):
        for row in range(rows):
            x = np.array([2.0, 34.0, 66.0, 98.0])[:: 1 if row % 2 else -1]
            z = depth + 0.7 * np.sin(0.3 * row + 0.05 * x)
            places = zip(x.tolist(), z.tolist(), strict=True)
            body += "".join(f"G1 X{a:g} Y{2 + 0.42 * row:.2f} Z{b:.3f} F3000\n" for a, b in places)
    trajectory, tools, setup, once = swept(body + "G0 Z5")
    assert once.steps > 32_768
    for threads, window in ((1, 4096), (3, 16_384)):
        monkeypatch.setattr(sweep_module, "WINDOW", window)
        again = sweep(trajectory, tools, setup, machine, 0.25, threads)
        for part in ("column", "segment", "first_step", "give_mm", "motion_mm"):
            assert np.array_equal(getattr(once, part), getattr(again, part)), part
        for a, b in zip(once.field.maps(), again.field.maps(), strict=True):
            assert np.array_equal(a, b)
        assert {k: w.group for k, w in once.worst.items()} == {
            k: w.group for k, w in again.worst.items()
        }


def test_give_is_compliance_times_force(machine, swept):
    _, _, setup, out = swept(SLOT)
    k = int(np.argmax(out.column[:, cutting.POWER]))
    column = out.column[k].astype(float)
    where = column[cutting.X : cutting.Z + 1] + np.array(setup.board_at_mm)
    nose = where[2] + setup.slots[1].stick_out_mm
    compliance = compliance_at(machine, where[:1], where[1:2], np.array([nose]))[0]
    side = cutter_compliance_mm_per_n(setup.slots[1])
    force = column[cutting.FORCE_X : cutting.FORCE_Z + 1]
    expected = (compliance + np.diag([side, side, 0.0])) @ force
    assert out.give_mm[k] == pytest.approx(expected, rel=1e-4)


def test_stepped_cutter_bends_as_worked_out(machine, swept):
    # Reference value worked out beforehand from the stepped cantilever: carbide 6.35 mm, E 600
    # GPa, fluted 25 mm (0.8 of the diameter), shank 15 mm, 50 N at the tip: 30.11 µm.
    cutter = replace(
        swept(SLOT)[2].slots[1], diameter_mm=6.35, shank_diameter_mm=6.35, flute_length_mm=25.0,
        stick_out_mm=40.0,
    )  # fmt: skip
    bend = cutter_compliance_mm_per_n(cutter) * 50.0 * 580.0 / 600.0
    assert bend * 1000 == pytest.approx(30.11, abs=0.01)


def test_as_run_path_is_moved_by_give_and_play(machine, swept):
    loose = replace(machine, y=replace(machine.y, play_mm=0.1, friction_n=1.0))
    trajectory, tools, setup, out = swept(SLOT, on=loose)
    run = cut_as_run(trajectory, tools, setup, loose, out, 1)
    steady = np.flatnonzero((out.column[:, cutting.X] > 40) & (out.column[:, cutting.X] < 60))
    steady = steady[out.column[steady, cutting.TAKEN] > 0]
    # Pushed to the left beyond friction: half the play that way, and the give on top.
    step = loose.y.lead_mm / loose.y.positions_per_rev
    rounding = np.round(30.0 / step) * step - 30.0  # Y stands still on its nearest step
    beside = run.offset_mm[steady, 1] - run.swing_mm[steady, 1]
    assert beside == pytest.approx(out.give_mm[steady, 1] + 0.05 + rounding, abs=1e-6)


def test_pull_left_of_a_rapid_is_that_of_its_own_acceleration(machine, swept):
    _, _, _, out = swept("G0 X60")
    v, a = machine.x.rapid_mm_per_s, machine.x.acceleration_mm_per_s2
    axis = machine.x
    thrust = axis.mass_kg * a / 1000 + axis.friction_n
    turning = axis.inertia_kg_mm2 * a * 2 * pi / axis.lead_mm / 1000
    asked = (thrust * axis.raising_mm + axis.drag_torque_nmm) / axis.motors + turning
    peak = min(v, np.sqrt(60 * a))
    can = np.interp(peak / axis.lead_mm, axis.curve_rev_per_s, axis.curve_torque_nmm)
    assert out.column[0, cutting.PULL_X] == pytest.approx(1 - asked / can, rel=2e-3)


def test_pull_left_is_that_of_the_axes_own_demand_at_every_instant(machine, swept):
    """Cutting along X and Y by turns, so that each stands while the other goes, and a ramp."""
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-4 F300\nG1 X80 F3500\nG1 Y45\nG1 X22 Y20 Z-6\nG0 Z5"
    trajectory, tools, setup, out = swept(body)
    number = standing = 0
    for window in sweep_module.windows(trajectory, tools, setup, 0.25):
        for first, end in pairwise(window.group_first):
            steps = slice(first, end)
            for k, axis in enumerate(machine.axes):
                force = float(out.column[number, cutting.FORCE_X + k])
                speed, gain = window.velocity[steps, k], window.acceleration[steps, k]
                share = np.abs(axis.demand_nmm(force, speed, gain)) / axis.pull_nmm(speed)
                found = out.column[number, cutting.PULL_X + k]
                assert found == pytest.approx(1.0 - share.max(), abs=1e-6)
                standing += bool(force) and not speed.any()
            number += 1
    assert number == len(out.column)
    assert standing > 50


@pytest.mark.parametrize(
    "cutter",
    [
        "flat 6.35 mm", "ball 3 mm", "bull 6 mm, corner 1 mm", "v 60 deg 8 mm",
        "tapered ball 6 mm, tip radius 0.5 mm, angle 20 deg", "drill 5 mm",
        "profile, outline 1 x 0; 2.5 x 0.4; 3.5 x 1.5; 4 x 3.5 mm",
        "profile, outline 1.5 x 0; 1.5 x 1; 3 x 1.5; 3 x 3; 4 x 3 mm",
        "round-over, corner 3 mm, guide 2 mm, guide length 0.5 mm",
    ],
)  # fmt: skip
def test_what_is_taken_is_what_is_missing(swept, monkeypatch, cutter):
    """From cells of which walls keep a part: by their mean heights, over the whole pass."""
    means = []

    class Kept(Remover):
        def close(self):
            means.append((self.field, self.mean_mm))
            super().close()

    monkeypatch.setattr(sweep_module, "Remover", Kept)
    body = SLOT + "\nG0 X20.1 Y12.3\nG1 Z-2 F300\nG1 X70.2 F1500\nG1 Y15\nG1 X20.1 Y15.9 Z-4.3"
    body += "\nG0 Z5\nG0 X10 Y10\nG1 Z-3 F300\nG2 X40 Y30 I15 J10 F1500\nG1 X80 Y50 Z-6\nG0 Z5"
    words = f"1: {cutter}, 2 flutes, flute length 20 mm, stick-out 30 mm"
    _, _, _, out = swept(body, cutters=(words,))
    field, mean = means.pop()
    there = np.flatnonzero(field.place >= 0)
    fresh = field.untouched().with_room(there)
    whole = fresh.height_mm[fresh.place[there]].sum(dtype=float)
    missing = (whole - mean[field.place[there]].sum(dtype=float)) * field.cell_mm**2
    taken = out.column[:, cutting.TAKEN].sum(dtype=float)
    assert taken > 1000.0
    assert taken == pytest.approx(missing, rel=1e-7)


def test_what_an_undercut_takes_is_what_is_missing(swept):
    body = "G0 X-12 Y20\nG0 Z-8\nG1 X112 Y22 F900\nG1 Y40\nG1 X-12 Y38 Z-6\nG0 Z5"
    tool = "1: t-slot 10 mm, flute length 3 mm, neck 4 mm, stick-out 60 mm"
    _, _, setup, out = swept(body, cutters=(tool,))
    fresh = Field.of_board(setup.board, 0.25).wood_mm3()
    taken = out.column[:, cutting.TAKEN].sum(dtype=float)
    assert taken > 5000.0
    assert taken == pytest.approx(fresh - out.field.wood_mm3(), rel=1e-7)


def test_a_worst_place_is_kept_with_what_is_its_own(machine, swept, monkeypatch):
    """Through many windows, up and down, so that no two groups are alike."""
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-1 F300\nG1 X80 Z-6 F1500\nG3 X62 Y12 J-18 Z-2\nG1 X30 Z-5"
    trajectory, tools, setup, _ = swept(body + "\nG1 X20 Y50 Z-3 F2500\nG0 Z5")
    loads_of, engaged = sweep_module.loads_of, []

    def watched(*asked):
        column, gathered = loads_of(*asked)
        engaged.extend(gathered.copy())
        return column, gathered

    monkeypatch.setattr(sweep_module, "loads_of", watched)
    monkeypatch.setattr(sweep_module, "WINDOW", 37)
    out = sweep(trajectory, tools, setup, machine, 0.25, 1)
    groups = [
        (window, slice(first, end))
        for window in sweep_module.windows(trajectory, tools, setup, 0.25)
        for first, end in pairwise(window.group_first)
    ]
    least = {f"pull left {axis}": cutting.PULL_X + k for k, axis in enumerate("xyz")}
    scores = {name: -out.column[:, column] for name, column in least.items()}
    scores["power"] = out.column[:, cutting.POWER]
    scores["deflection"] = np.linalg.norm(out.give_mm, axis=1)
    scores["chip thickest"] = out.column[:, cutting.FEED_PER_TOOTH]
    assert set(out.worst) == set(scores)
    assert len({worst.group for worst in out.worst.values()}) > 3
    for name, worst in out.worst.items():
        g, (window, steps) = worst.group, groups[worst.group]
        assert scores[name][g] == scores[name].max(), name
        assert np.array_equal(worst.column.astype(np.float32), out.column[g])
        assert np.array_equal(worst.engagement, engaged[g])
        assert np.array_equal(worst.velocity, window.velocity[steps])
        assert np.array_equal(worst.acceleration, window.acceleration[steps])
        way = np.diff(window.steps[steps].reshape(-1, 2, 3), axis=1)[:, 0]
        told = np.hypot(way[:, 0], way[:, 1]).sum(), -way[:, 2].sum(), out.column[g, cutting.WAY]
        assert worst.way_mm == pytest.approx(told, rel=1e-6)
        dx, dy, _ = out.motion_mm[g]
        assert worst.heading_rad == pytest.approx(np.arctan2(dy, dx), abs=1e-6)


def test_missing_cutter_is_left_out_and_told(swept):
    body = "G1 X10 F600\nT7 M6\nG1 Z-2 X30\nT1 M6\nG1 Z-1 X50"
    _, tools, _, out = swept(body)
    assert tools.missing == (7,)
    assert out.column[:, cutting.TAKEN].sum() > 0


def test_long_moves_in_one_line_stay_within_a_window(machine, swept):
    # 999 steps each, three to a millimetre: the groups of one would run on into the next.
    body = "G0 Z5\nG1 Z-1 F900\n" + "\n".join(f"G1 X{499.5 * k:.1f}" for k in range(1, 19))
    trajectory, tools, setup, out = swept(body, stock="9500 x 20 x 18 mm hard maple")
    longest = 0
    for window in sweep_module.windows(trajectory, tools, setup, 0.25):
        longest = max(longest, len(window.steps))
        assert (np.diff(window.group_first) > 0).all()
        assert window.group_first[-1] == len(window.steps)
    assert longest <= sweep_module.WINDOW + MOST_IN_GROUP + 1000
    cut = out.column[out.column[:, cutting.TAKEN] > 0]
    assert cut[1:-1, cutting.WAY].max() < 1.6
    assert out.column[:, cutting.WAY].sum(dtype=float) == pytest.approx(
        trajectory.length_mm.sum(), rel=1e-6
    )


def test_a_slipped_decimal_point_costs_no_memory(swept):
    # 10 km beside the board, 10 km along it: an error to tell, not one to fall over.
    body = "G0 Z5\nG0 X-50\nG1 Z-1 F900\nG1 Y9000000\nG0 Z5\nG0 Y10\nG1 Z-1\nG1 X9000000"
    _, _, _, out = swept(body)
    assert out.steps < 2 * MOST_IN_SEGMENT
    assert out.column[:, cutting.TAKEN].sum(dtype=float) == pytest.approx(100 * 6, rel=0.02)


def test_moves_above_the_board_have_no_engagement(machine, swept):
    _, _, setup, _ = swept(SLOT)
    remover = Remover(Field.of_board(setup.board, 0.25), 1)
    steps = np.array([[0.0, 0.0, 1.0, 100.0, 60.0, 0.0], [0.0, 9.0, 1.0, 9.0, 9.0, -1.0]])
    taken = remover.take(steps, np.array([False, True]), 0, setup.slots[1])
    assert np.diff(taken.entry).tolist() == [0, 1]
    assert taken.volume[0] > 0.0


def test_what_is_cut_ahead_ends_soon_after_a_stop(machine, swept, monkeypatch):
    trajectory, tools, setup, _ = swept(SLOT)
    order, close, ahead = [], Remover.close, sweep_module.ahead

    def told(self):
        order.append("threads told")
        close(self)

    def watched(items, most=1):
        try:
            yield from ahead(items, most)
        finally:
            if most == TAKEN_AHEAD:  # not that of the windows, which may end by itself before
                order.append("waited for")

    def stop(stage, done):
        raise Stopped

    monkeypatch.setattr(Remover, "close", told)
    monkeypatch.setattr(sweep_module, "ahead", watched)
    with pytest.raises(Stopped):
        sweep(trajectory, tools, setup, machine, 0.25, 2, stop)
    assert order == ["threads told", "waited for"]

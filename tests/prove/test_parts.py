"""Sizes of what is cut out, against closed forms of what was planted in the machine."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import norm

from kerfwright.cutter import read_slot
from kerfwright.kernels import cutting
from kerfwright.loads import give_mm
from kerfwright.machine import Geometry
from kerfwright.prove.flanks import DIAMETER, RUNOUT, Z_ZERO
from kerfwright.prove.kerfs import kerfs
from kerfwright.prove.margins import Machines
from kerfwright.prove.outlines import outlines
from kerfwright.prove.parts import cut_outs, softness_of
from kerfwright.prove.run_path import cut_as_run
from kerfwright.report import describe
from kerfwright.setup import load_job

CUTTER = "1: flat 4 mm, 2 flutes, flute length 14 mm, stick-out 20 mm, runout 0 mm"
STOCK = "90 x 70 x 6 mm birch plywood"
#: A plate of 60 x 36 mm with a hole of 16 mm, cut from the outside against the clock.
PLATE = """G0 Z5
G0 X42 Y35
G1 Z-6.2 F300
G3 X42 Y35 I-6 F900
G0 Z5
G0 X4 Y15
G1 Z-6.2 F300
G1 X8 Y15 F900
X72
Y55
X8
Y15
Y18
G0 Z5"""


@pytest.fixture(scope="module")
def exact(machine):
    """A machine without any error, nor any doubt about it."""
    axes = {
        axis: replace(
            getattr(machine, axis),
            play_mm=0.0,
            positions_per_rev=10**9,
            friction_n=0.0,
            drag_torque_nmm=0.0,
        )
        for axis in "xyz"
    }
    sure = ("controller", "spindle")  # what a drawn machine needs
    known = {key: value for key, value in machine.known.items() if key.startswith(sure)}
    return replace(
        machine, known=known, compliance_mm_per_n=machine.compliance_mm_per_n * 1e-9,
        controller=replace(machine.controller, corner_rule="exact stop"), **axes,
    )  # fmt: skip


@pytest.fixture
def sizes(swept):
    """Sizes by part and name, each with programmed and as-run."""

    def run(on, body=PLATE, cutter=CUTTER, stock=STOCK, change=None):
        trajectory, tools, setup, first = swept(
            body, on=on, cutters=(cutter,), stock=stock, cell=1.0
        )
        if change is not None:
            setup = change(setup)
        # The cutter itself gives way too: planted is what is planted.
        first = replace(first, give_mm=np.zeros_like(first.give_mm))
        as_run = cut_as_run(trajectory, tools, setup, on, first, 1)
        parts = cut_outs(trajectory, first, as_run, tools, setup, on, np.ones((1, 2)))
        return {(part.number, size.name): size for part in parts for size in part.dimensions}

    return run


def off(sizes):
    return {key: size.size.value - size.programmed_mm for key, size in sizes.items()}


def test_a_machine_without_error_cuts_what_is_programmed(sizes, exact):
    told = sizes(exact)
    programmed = {key: size.programmed_mm for key, size in told.items()}
    assert programmed == {
        (1, "across X"): pytest.approx(60.0, abs=1e-9),
        (1, "across Y"): pytest.approx(36.0, abs=1e-9),
        (1, "diagonals differ"): 0.0,
        (1, "hole 1 across X"): pytest.approx(16.0, abs=5e-3),  # chords within 0.002 mm
        (1, "hole 1 across Y"): pytest.approx(16.0, abs=5e-3),
        (2, "across X"): pytest.approx(8.0, abs=5e-3),
        (2, "across Y"): pytest.approx(8.0, abs=5e-3),
    }
    assert max(abs(error) for error in off(told).values()) < 1e-5


def test_runout_takes_from_the_outside_and_gives_to_the_hole(sizes, exact):
    error = off(sizes(exact, cutter=CUTTER.replace("runout 0", "runout 0.06")))
    assert error[1, "across X"] == pytest.approx(-0.06, abs=1e-4)
    assert error[1, "hole 1 across Y"] == pytest.approx(0.06, abs=1e-4)
    assert error[1, "diagonals differ"] == pytest.approx(0.0, abs=1e-9)


def test_an_axis_that_goes_too_far(sizes, exact):
    # The cutter's path of size + diameter grows by the share, the cutter does not.
    error = off(sizes(replace(exact, geometry=Geometry(scale=(2e-3, -1e-3, 0.0)))))
    assert error[1, "across X"] == pytest.approx(2e-3 * 64.0, abs=1e-4)
    assert error[1, "across Y"] == pytest.approx(-1e-3 * 40.0, abs=1e-4)
    assert error[1, "hole 1 across X"] == pytest.approx(2e-3 * 12.0, abs=1e-3)
    assert error[1, "hole 1 across Y"] == pytest.approx(-1e-3 * 12.0, abs=1e-3)


def test_squareness_shows_in_the_diagonals(sizes, exact):
    lean = 3e-3
    error = off(sizes(replace(exact, geometry=Geometry(square_xy=lean))))
    a, b = 60.0, 36.0
    rising = np.hypot(a + lean * b, b)
    falling = np.hypot(a - lean * b, b)
    # Over the path's 40 mm the wall leans as over the part's 36; the corners' patches stand short
    # of the corner by a few mm, which a leaning wall shows.
    assert error[1, "diagonals differ"] == pytest.approx(rising - falling, rel=0.15)
    assert error[1, "across X"] == pytest.approx(0.0, abs=3e-3)


@pytest.mark.parametrize("pushed", [False, True])
def test_play(sizes, exact, pushed):
    # Held by friction the carriage trails: after going up it stands low, so both walls along X
    # come nearer. Pushed beyond it, the wood holds the cutter on one side of each wall.
    friction = 0.0 if pushed else 1e6
    loose = replace(exact, y=replace(exact.y, play_mm=0.2, friction_n=friction))
    error = off(sizes(loose))
    assert abs(error[1, "across Y"]) == pytest.approx(0.2, abs=1e-3)
    if not pushed:
        assert error[1, "across Y"] < 0.0
    assert error[1, "across X"] == pytest.approx(0.0, abs=1e-4)
    other = off(sizes(loose, body=PLATE.replace("X72\nY55\nX8\nY15\nY18", "Y55\nX72\nY15\nX8\nX4")))
    if pushed:  # the other way round the wood pushes the other way
        assert other[1, "across Y"] == pytest.approx(-error[1, "across Y"], abs=1e-3)
    else:
        assert other[1, "across Y"] == pytest.approx(error[1, "across Y"], abs=1e-3)


def test_doubt_about_the_cutter_is_doubt_about_the_size(sizes, exact):
    told = sizes(exact)[1, "across X"]
    # 0.02 mm of a diameter that nobody measured, nineteen times in twenty: 0.039.
    assert told.size.high - told.size.value == pytest.approx(1.96 * 0.02, rel=0.1)
    assert told.size.mostly_from == DIAMETER
    assert told.shares.set_up.unsure_mm == pytest.approx(1.96 * 0.02, rel=0.1)
    assert told.shares.machine.unsure_mm == pytest.approx(0.0, abs=1e-6)


def test_bridges_and_steps_do_not_part_an_outline(sizes, exact):
    bridged = PLATE.replace("X72\nY55", "X35\nZ-3\nX42\nZ-6.2\nX72\nY55")
    plain, told = sizes(exact), sizes(exact, body=bridged)
    assert {k: s.programmed_mm for k, s in told.items()} == pytest.approx(
        {k: s.programmed_mm for k, s in plain.items()}
    )


def test_slanted_walls_are_measured_between(sizes, exact):
    # A bar 10 mm thick, turned by 30 degrees: its ends are told by corners, its thickness by walls.
    turn = np.radians(30.0)
    ring = np.array([[-22, -7], [22, -7], [22, 7], [-22, 7], [-22, -7]])
    turned = ring @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + [
        45,
        35,
    ]
    lines = "\n".join(f"G1 X{a:.6f} Y{b:.6f} F900" for a, b in turned[1:])
    body = f"G0 Z5\nG0 X{turned[0, 0]:.6f} Y{turned[0, 1]:.6f}\nG1 Z-6.2 F300\n{lines}\nG0 Z5"
    told = sizes(exact, body=body, cutter=CUTTER.replace("runout 0", "runout 0.1"))
    assert told[1, "wall to wall 1"].programmed_mm == pytest.approx(10.0, abs=1e-5)
    assert told[1, "wall to wall 1"].size.value == pytest.approx(9.9, abs=1e-4)
    # Overall: 40 cos 30 + 10 sin 30, and so much less of both.
    across = told[1, "across X"]
    wide = np.cos(turn) + np.sin(turn)
    assert across.programmed_mm == pytest.approx(40 * np.cos(turn) + 10 * np.sin(turn), abs=1e-5)
    assert across.size.value - across.programmed_mm == pytest.approx(-0.1 * wide, abs=1e-4)


def test_kerf_is_cutter_and_runout_and_what_passes_stand_apart(swept, exact):
    body = "G0 Z5\nG0 X10 Y30\nG1 Z-2 F300\nG1 X70 F900\nG1 Z-4 F300\nG1 X10 F900\nG0 Z5"
    cutter = CUTTER.replace("runout 0", "runout 0.05")

    def width(on):
        trajectory, tools, setup, first = swept(body, on=on, cutters=(cutter,), stock=STOCK)
        first = replace(first, give_mm=np.zeros_like(first.give_mm))
        run = cut_as_run(trajectory, tools, setup, on, first, 1)
        return kerfs(first, run, tools, setup, 0.3)[0].width

    assert width(exact).value == pytest.approx(4.05, abs=1e-4)
    loose = replace(exact, y=replace(exact.y, play_mm=0.2, friction_n=0.0))
    # To and fro the wood pushes to either side: the whole play is cut.
    assert width(loose).value == pytest.approx(4.25, abs=0.02)
    assert width(exact).mostly_from in (DIAMETER, RUNOUT)


@pytest.mark.parametrize(("angle", "per_z"), [(60, 1.1547), (90, 2.0)])
def test_a_zero_that_is_off_widens_a_v_groove(swept, proved, exact, tmp_path, angle, per_z):
    # 2 tan(half angle) for each mm: on the wood as it is cut, and in what the verdict says of it.
    cutter = f"1: v 20 mm, angle {angle} deg, 2 flutes, flute length 20 mm, tip 0 mm, runout 0 mm"
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-{z} F300\nG1 X80 F900\nG0 Z5"
    error = 0.2

    def width_cut(z):
        *_, first = swept(body.format(z=z), cutters=(cutter,), cell=0.05)
        middle = np.abs(first.column[:, cutting.X] - 50.0) < 20.0
        taken, way = first.column[middle][:, [cutting.TAKEN, cutting.WAY]].sum(axis=0)
        area = taken / way  # of a section
        return 2.0 * np.sqrt(area * np.tan(np.radians(angle / 2)))

    assert width_cut(3 + error) - width_cut(3) == pytest.approx(per_z * error, rel=0.02)

    # From the way that Z was zeroed, as the job file has it, to the groove in the part.
    (tmp_path / "job.toml").write_text(
        'kerfwright = "job 1"\n[board]\nsize = "100 x 60 x 18 mm"\nwood = "hard maple"\n'
        f'[zero]\nz = "top"\nz_by = "± {error} mm"\n[slots]\n1 = "v"\n'
    )
    rack = {"v": read_slot(cutter)[1]}
    job = load_job(tmp_path / "job.toml", rack, exact)

    verdict = proved(body.format(z=3), on=exact, cutters=(cutter,), change=lambda _: job).verdict
    (groove,) = verdict.ascut.kerfs
    assert groove.per_z == pytest.approx(per_z, abs=1e-4)
    assert groove.meant_mm == pytest.approx(3 * per_z, abs=1e-3)
    assert groove.shares.set_up.unsure_mm == pytest.approx(per_z * error, rel=0.06)
    assert groove.width.mostly_from == Z_ZERO
    assert "mm wider for each mm that Z is low" in describe(verdict)


def test_a_part_that_is_likely_out_is_a_caution(proved, machine):
    far = replace(machine, geometry=Geometry(scale=(0.01, 0.0, 0.0)))
    proof = proved(PLATE, on=far, stock=STOCK, cutters=(CUTTER,), cell=1.0)
    found = [f for f in proof.verdict.findings if f.code == "part off size"]
    assert [f.severity for f in found] == ["caution"]
    assert "across X" in found[0].words
    assert found[0].likelihood > 0.9
    assert found[0].value.value > 60.4
    # Drawn smaller it is right: no push of the cutter makes a machine's scale wrong.
    (remedy,) = found[0].remedies
    assert "smaller" in remedy.words
    assert remedy.tried.value.value == pytest.approx(60.0)
    assert remedy.tried.likelihood < 0.2
    parts = {part.number: part for part in proof.verdict.ascut.parts}
    assert parts[2].inside == 1
    assert not any("squareness" in words for words in proof.verdict.not_checked)
    assert any("geometry not measured" in words for words in proof.verdict.machine_assumed)


def test_too_much_path_is_not_followed(swept, exact, monkeypatch):
    trajectory, tools, setup, _ = swept(PLATE, on=exact, cutters=(CUTTER,), stock=STOCK, cell=1.0)
    assert len(outlines(trajectory, tools, setup)) == 2
    monkeypatch.setattr("kerfwright.prove.outlines.MOST_VERTICES", 10)
    assert outlines(trajectory, tools, setup) is None


@pytest.mark.long
def test_nineteen_times_in_twenty(swept, machine):
    """200 machines drawn from what is known of the demo's, each run for itself."""
    trajectory, tools, setup, first = swept(
        PLATE, on=machine, cutters=(CUTTER.replace(", runout 0 mm", ""),), stock=STOCK, cell=1.0
    )
    law = 0.34
    run = cut_as_run(trajectory, tools, setup, machine, first, 1)
    rng = np.random.default_rng(11)
    models = machine.drawn(rng, 200)
    force = first.column[:, cutting.FORCE_X : cutting.FORCE_Z + 1].astype(float)
    at = first.column[:, cutting.X : cutting.Z + 1] + np.array(setup.board_at_mm)
    cutter = setup.slots[1]
    gives = [give_mm(model, cutter, at, force) for model in models]
    # Known from machines drawn elsewhere, not from those that are tried.
    softness = softness_of(first, tools, setup, machine, Machines.drawn(machine).model)
    told = {
        (part.number, size.name): size
        for part in cut_outs(trajectory, first, run, tools, setup, machine, softness)
        for size in part.dimensions
    }
    held = dict.fromkeys(told, 0)
    # One error of the law for all walls of a machine: 200 of them evenly over its distribution.
    factors = np.exp(law * rng.permutation(norm.ppf((np.arange(200) + 0.5) / 200.0)))
    for model, soft_give, factor in zip(models, gives, factors, strict=True):
        column = first.column.copy()
        column[:, cutting.FORCE_X : cutting.FORCE_Z + 1] *= np.float32(factor)
        mine = replace(first, give_mm=soft_give * factor, column=column)
        wide = rng.normal(0.0, cutter.known["diameter_mm"].u)
        true = replace(cutter, runout_mm=cutter.known["runout_mm"].draw(rng))
        truth = replace(setup, slots={1: true})
        as_run = cut_as_run(trajectory, tools, truth, model, mine, 1)
        for part in cut_outs(trajectory, mine, as_run, tools, truth, model, np.ones((1, 2))):
            for size in part.dimensions:
                sign = 0.0 if "differ" in size.name else 1.0 if "hole" in size.name else -1.0
                value = size.size.value + sign * wide
                estimate = told[part.number, size.name].size
                held[part.number, size.name] += estimate.low <= value <= estimate.high
    shares = np.array([held[key] for key in held]) / 200.0
    assert shares.mean() >= 0.93, held
    assert shares.min() >= 0.90, held

"""How the frame swings, against closed forms of what is left when all else is stiff."""

from math import pi
from pathlib import Path

import numpy as np
import pytest

from kerfwright.machine import frame_modes, nose_modes, set_off, swept_give
from kerfwright.machine.bed import bed_parts
from kerfwright.machine.modes import _swings
from kerfwright.machine.structure import frame_at
from kerfwright.physics.frame import bar_compliance

STIFF = Path(__file__).with_name("stiff_machine.toml").read_text(encoding="utf-8")
BIG_BEAM = 'material = "carbon steel"\nwidth = "990 mm"\ndepth = "990 mm"\nwall = "400 mm"'
#: Only the mount gives: 2000 N/mm, round with a radius of 30 mm, 40 mm above the nose.
ON_ITS_MOUNT = (
    STIFF.replace('mount_stiffness = "9e7 N/mm"', 'mount_stiffness = "2000 N/mm"')
    .replace("[axes.z]\n", '[axes.z]\nmoving_mass = "5 kg"\n')
    .replace('width = "40 mm"\ndepth = "80 mm"\nwall = "3 mm"', BIG_BEAM)
)


def test_a_spindle_that_nods_on_its_mount(machine_of):
    # Two boxes of 2.5 kg, as wide as the plate, 60 mm deep and high, 20 mm below and 120 mm above
    # the mount: up and down together, sqrt(k / m) / 2 pi; nodding to the front and to the side as
    # one body on a shift and a turn, and about the upright (rigid body on springs, by hand).
    modes = frame_modes(machine_of(ON_ITS_MOUNT), 6)
    machine = machine_of(ON_ITS_MOUNT)
    wide = machine.values["frame.z_plate.width"]
    turn = 2000.0 * 30.0**2
    hertz = [np.sqrt(turn / (5e-3 * (wide**2 + 60.0**2) / 12)) / (2 * pi)]  # tonnes: mm, N, s
    for box in (60.0**2 + 60.0**2, wide**2 + 60.0**2):
        turning = 2.5e-3 * (20.0**2 + 120.0**2 + 2 * box / 12)
        heavy = np.array([[5e-3, 2.5e-3 * 100.0], [2.5e-3 * 100.0, turning]])
        ways = np.linalg.eigvals(np.linalg.solve(heavy, np.diag([2000.0, turn])))
        hertz.append(np.sqrt(min(ways)) / (2 * pi))
    # What is left of the other parts lowers each by the root of the mount's share (Rayleigh).
    mount = [mode.hertz / np.sqrt(mode.shares["spindle mount"]) for mode in modes[:4]]
    assert mount[:3] == pytest.approx(sorted(hertz), rel=1e-3)
    assert mount[3] == pytest.approx(np.sqrt(2000 / 5e-3) / (2 * pi), rel=1e-3)
    assert all(mode.shares["spindle mount"] > 0.97 for mode in modes[:4])
    assert {modes[0].along, modes[2].along} == {0, 1}
    assert max(np.abs(way).max() for way in modes[1].moves.values()) < 0.1  # it turns and no more
    assert modes[3].along == 2
    # Up and down both masses go alike: one mass on a spring. A start of Z swings it out by twice
    # a / w² (textbook), and ln 20 / (zeta w) later a twentieth is left.
    assert modes[3].follows[2] == pytest.approx(1.0, abs=0.02)
    swing, settled = set_off(machine, modes[3])
    turn = 2 * pi * modes[3].hertz
    assert swing == pytest.approx(2 * machine.z.acceleration_mm_per_s2 / turn**2, rel=0.02)
    assert np.exp(-machine.damping * turn * settled) == pytest.approx(1 / 20)


def test_stiffer_swings_faster_and_heavier_slower(machine_of, demo, demo_text):
    # Rayleigh: no mode falls when a part stiffens, none rises when a mass is added (textbook).
    text = demo_text.split("\n", 1)[1]
    own = [mode.hertz for mode in frame_modes(demo)]
    assert own == sorted(own)
    old = 'stud_stiffness = "don\'t know"'
    assert old in text
    stiffer = frame_modes(machine_of(text.replace(old, 'stud_stiffness = "20 N/um"')))
    assert all(a.hertz > b for a, b in zip(stiffer, own, strict=True))
    # What the carriage moves holds Z, and what the gantry moves holds both.
    gantry, both, z = ("15 to 19 kg", "{} kg"), ("7 to 9 kg", "{} kg"), ("4.2 ± 0.3 kg", "{} kg")
    for old, changes in (
        ("gantry", ((gantry, 27),)), ("carriage", ((gantry, 22), (both, 13))),
        ("Z", ((gantry, 18.8), (both, 9.8), (z, 6))),
    ):  # fmt: skip
        changed = text
        for (written, form), kg in changes:
            assert written in changed
            changed = changed.replace(written, form.format(kg))
        heavier = frame_modes(machine_of(changed))
        assert all(a.hertz < b + 1e-9 for a, b in zip(heavier, own, strict=True)), old
        assert heavier[0].hertz < 0.999 * own[0]
    shares = [sum(mode.shares.values()) for mode in frame_modes(demo)]
    assert shares == pytest.approx([1.0] * 3)
    for mode in frame_modes(demo):
        assert max(np.abs(move).max() for move in mode.moves.values()) == pytest.approx(1.0)


def test_the_nose_swept(demo):
    # Standing it is the card's give; each peak stands at a mode, and far above them all the nose's
    # own give and the table's are left.
    still = swept_give(demo, np.zeros(1))[0]
    own = demo.compliance_mm_per_n[2, 2, 0]
    assert still == pytest.approx(np.diag(own))
    modes = frame_modes(demo)
    for mode in modes[:2]:
        hertz = np.linspace(0.9 * mode.hertz, 1.1 * mode.hertz, 401)
        swept = swept_give(demo, hertz)[:, mode.along]
        peak = hertz[np.argmax(swept)]
        assert peak == pytest.approx(mode.hertz, rel=0.02)
        assert swept.max() > 2.0 * still[mode.along]
    assert np.all(swept_give(demo, np.array([5000.0]))[0] < still)


@pytest.mark.parametrize("radius", [1e-3, 40.0, 200.0])
def test_a_beam_with_a_heavy_tip_that_turns(radius):
    # A cantilever without mass, m and J = m r² at its tip: w² of [m 0; 0 J] against
    # E I [12/L³ -6/L²; -6/L² 4/L] (textbook). Four bodies: three of them weigh nothing.
    length, bend, mass = 400.0, 4e9, 3.0
    give = bar_compliance(length, 1e12, 1e15, bend, 1e15)
    chain = {"bar": (give, np.zeros(3), 0)}
    heavy = np.zeros((4, 6))
    heavy[2] = mass * np.array([1.0, 1.0, 1.0, 1e-6, 1e-6, radius**2])
    modes = _swings(chain, np.zeros((4, 3)), heavy, np.ones(3), np.zeros((3, 4)))
    stiff = bend * np.array([[12 / length**3, -6 / length**2], [-6 / length**2, 4 / length]])
    # The square of w² by its quadratic: m J w⁴ - (m k22 + J k11) w² + det k = 0, m in tonnes.
    own, turning = mass / 1000.0, mass * radius**2 / 1000.0
    half = 0.5 * (own * stiff[1, 1] + turning * stiff[0, 0])
    rest = np.sqrt(half**2 - own * turning * np.linalg.det(stiff))
    slow, fast = np.linalg.det(stiff) / (half + rest), (half + rest) / (own * turning)
    assert modes[0].hertz == pytest.approx(np.sqrt(slow) / (2 * pi), rel=1e-6)
    light = np.sqrt(3 * bend / length**3 / own) / (2 * pi)
    if radius < 1.0:  # a point
        assert modes[0].hertz == pytest.approx(light, rel=1e-6)
    else:
        assert any(m.hertz == pytest.approx(np.sqrt(fast) / (2 * pi), rel=1e-6) for m in modes)
        assert modes[0].hertz < 0.999 * light


def test_turning_inertia_lowers_every_mode(machine_of, monkeypatch, demo_text):
    text = demo_text.split("\n", 1)[1]
    own = [mode.hertz for mode in frame_modes(machine_of(text), 8)]
    monkeypatch.setattr("kerfwright.machine.modes.inertia.box_inertia_kg_mm2", lambda *_: 0.0)
    points = [mode.hertz for mode in frame_modes(machine_of(text), 8)]
    assert all(a <= b + 1e-9 for a, b in zip(own, points, strict=True))
    assert own[2] < 0.999 * points[2]


def test_a_table_that_moves_swings_under_the_nose(machine_of):
    # Only belts give along Y: a mass on its drive, k (1 - r² + 2 i z r), the nose's side left as it
    # stands (one mass on a spring, textbook). Shares of the standing give are the card's.
    machine = machine_of(
        '[frame]\nmoves = "table"\nmoves_along = "y"\n[axes.y]\ndrive = "belt"\n'
        'moving_mass = "12 kg"\n[rails]\nwheel = "ball carriage"\nstud_stiffness = "90 N/um"\n'
        '[rails.y]\nalong = "400 mm"\nacross = "400 mm"\n'
    )
    own = machine.compliance_mm_per_n[2, 2, 0]
    assert swept_give(machine, np.zeros(1))[0] == pytest.approx(np.diag(own))
    drive = machine.compliance_shares["Y drive"][2, 2, 0, 1] * own[1, 1]
    hertz = np.sqrt(1000.0 / (drive * 12.0)) / (2 * pi)
    peak = swept_give(machine, np.array([hertz]))[0, 1]
    rest = own[1, 1] - drive
    expected = np.hypot(rest, drive / (2 * machine.damping))
    assert peak == pytest.approx(expected, rel=0.05)


MOVING_TABLE = '[frame]\nmoves = "table"\nmoves_along = "y"\n[axes.y]\nmoving_mass = "12 kg"\n'


def middle_of(machine, down=0):
    """The middle of the bed, the nose's height with Z down or half way, and the give there."""
    x, y, z = machine.compliance_at_mm
    return x[2], y[2], z[down], np.diagonal(machine.compliance_mm_per_n[2, 2, down])


def bed_of(machine, down=0.0):
    at = np.array([0.5])
    built = frame_at(machine.values, machine.choices, at, at, np.array([down]))
    return np.diag(sum(part[0, 0, 0] for part in bed_parts(built, 3).values()))


@pytest.mark.parametrize("text", ["", MOVING_TABLE], ids=["gantry", "table"])
def test_mode_by_mode_the_nose_swings_as_it_is_swept(machine_of, demo_text, text):
    # Mode by mode with the table's standing give against the whole flexibility at once.
    machine = machine_of(text or demo_text.split("\n", 1)[1])
    modes = nose_modes(machine, *middle_of(machine))
    hertz = np.array([0.0, 20.0, 34.0, 90.0, 133.0, 300.0, 800.0])
    whole = np.diagonal(modes.answer_mm_per_n(hertz), axis1=1, axis2=2) + bed_of(machine)
    assert np.abs(whole) == pytest.approx(swept_give(machine, hertz), rel=1e-6)
    assert modes.hertz.min() == pytest.approx(frame_modes(machine)[0].hertz, rel=1e-3)


def test_modes_stand_as_far_as_the_nose_does_wherever_it_is(demo):
    # Half way up Z the modes need no scaling: they add up to the grid's own give less the table's.
    place = middle_of(demo, 1)
    own = nose_modes(demo, *place)
    assert (own.moves**2).sum(axis=0) + bed_of(demo, 0.5) == pytest.approx(place[3], rel=1e-6)
    low = nose_modes(demo, *middle_of(demo))
    assert not np.allclose(own.hertz, low.hertz, rtol=0.01)
    # Told a quarter of the give, the same masses swing twice as fast.
    stiff = nose_modes(demo, *place[:3], 0.25 * place[3])
    assert stiff.hertz == pytest.approx(2.0 * own.hertz)
    assert stiff.moves == pytest.approx(0.5 * own.moves)
    rigid = nose_modes(demo, *place[:3], np.zeros(3))
    assert not rigid.answer_mm_per_n(np.array([133.0])).any()

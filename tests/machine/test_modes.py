"""How the frame swings, against closed forms of what is left when all else is stiff."""

from math import pi
from pathlib import Path

import numpy as np
import pytest

from kerfwright.machine import frame_modes, set_off, swept_give

STIFF = Path(__file__).with_name("stiff_machine.toml").read_text(encoding="utf-8")
BIG_BEAM = 'material = "carbon steel"\nwidth = "990 mm"\ndepth = "990 mm"\nwall = "400 mm"'
#: Only the mount gives: 2000 N/mm, round with a radius of 30 mm, 40 mm above the nose.
ON_ITS_MOUNT = (
    STIFF.replace('mount_stiffness = "9e7 N/mm"', 'mount_stiffness = "2000 N/mm"')
    .replace("[axes.z]\n", '[axes.z]\nmoving_mass = "5 kg"\n')
    .replace('width = "40 mm"\ndepth = "80 mm"\nwall = "3 mm"', BIG_BEAM)
)


def test_a_spindle_that_nods_on_its_mount(machine_of):
    # Two masses of 2.5 kg, 20 mm below and 120 mm above the mount: they swing up and down together,
    # sqrt(k / m) / 2 pi, and nod as two masses on a shift and a turn (flexibility by hand).
    modes = frame_modes(machine_of(ON_ITS_MOUNT), 6)
    arms = np.array([-20.0, 120.0])
    flexible = (1.0 + np.outer(arms, arms) / 30.0**2) / 2000.0  # mm/N
    nods = np.linalg.eigvalsh(2.5e-3 * flexible)[::-1]  # tonnes: mm, N, s
    hertz = np.sqrt(1.0 / nods) / (2.0 * pi)
    # What is left of the other parts lowers each by the root of the mount's share (Rayleigh).
    mount = [mode.hertz / np.sqrt(mode.shares["spindle mount"]) for mode in modes[:3]]
    assert mount[:2] == pytest.approx([hertz[0]] * 2, rel=1e-3)
    assert mount[2] == pytest.approx(np.sqrt(2000 / 5e-3) / (2 * pi), rel=1e-3)
    assert all(mode.shares["spindle mount"] > 0.98 for mode in modes[:3])
    assert {mode.along for mode in modes[:2]} == {0, 1}
    assert modes[2].along == 2
    # Up and down both masses go alike: one mass on a spring. A start of Z swings it out by twice
    # a / w² (textbook), and ln 20 / (zeta w) later a twentieth is left.
    machine = machine_of(ON_ITS_MOUNT)
    assert modes[2].follows[2] == pytest.approx(1.0, abs=0.02)
    swing, settled = set_off(machine, modes[2])
    turn = 2 * pi * modes[2].hertz
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
    # Standing it is the card's give but for the table's; each peak stands at a mode, and far above
    # them all the nose's own give is left.
    still = swept_give(demo, np.zeros(1))[0]
    own = demo.compliance_mm_per_n[2, 2, 0]
    table = sum(demo.compliance_shares[part][2, 2, 0] for part in ("table", "table joints"))
    assert still == pytest.approx(np.diag(own) * (1.0 - table))
    modes = frame_modes(demo)
    for mode in modes[:2]:
        hertz = np.linspace(0.9 * mode.hertz, 1.1 * mode.hertz, 401)
        swept = swept_give(demo, hertz)[:, mode.along]
        peak = hertz[np.argmax(swept)]
        assert peak == pytest.approx(mode.hertz, rel=0.02)
        assert swept.max() > 2.0 * still[mode.along]
    assert np.all(swept_give(demo, np.array([5000.0]))[0] < still)

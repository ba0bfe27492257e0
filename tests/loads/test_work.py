"""How a board gives on what holds it, by springs added up by hand."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.basics import Known
from kerfwright.loads import give_mm, whole_compliance, work_of, works_of
from kerfwright.machine import Held, held_board, load_machine
from kerfwright.physics.frame import carried, spring_stiffness
from kerfwright.physics.held_boards import slip_modulus_n_per_mm
from kerfwright.setup import setup_from_words
from kerfwright.setup.hold import Grip, Hold
from kerfwright.workshop import demo_folder

CORNERS = ((15.0, 15.0), (185.0, 15.0), (185.0, 135.0), (15.0, 135.0))
FRICTION = Known(value=0.3, kind="estimated", ref="")
NEWTONS = Known(value=600.0, kind="estimated", ref="")


@pytest.fixture(scope="module")
def machine():
    return load_machine(demo_folder() / "machine.toml")


@pytest.fixture(scope="module")
def setup(machine):
    return setup_from_words("200 x 150 x 18 mm hard maple", ["1: flat 6 mm, 2 flutes"], machine)


def held_by(setup, *grips):
    return replace(setup, hold=Hold(grips=grips, friction=FRICTION, weight_n=4.0))


def test_four_screws_are_four_springs(machine, setup):
    screws = held_by(setup, Grip(kind="screw", at_mm=CORNERS, force_n=NEWTONS))
    # The middle of the ranges: a 4 mm screw once, EN 1995-1-1; the weight over 0.0316 mm; sqrt(5)
    # N/mm³ below. MDF is 800 kg/m³ by the table of materials.
    wood = setup.board.wood.density_kg_per_m3
    slip = (wood * 800.0) ** 0.75 * 4.0 / 23.0
    assert slip == pytest.approx(float(slip_modulus_n_per_mm(wood, 800.0, 4.0)))
    middle = np.array([100.0, 75.0])
    body = sum(
        spring_stiffness(np.append(np.array(at) - middle, 0.0), way, slip)
        for at in CORNERS for way in np.eye(3)[:2]
    )  # fmt: skip
    weight = 4.0 / np.sqrt(0.01 * 0.1)
    body += np.diag([weight, weight, 0, 0, 0, weight * (200.0**2 + 150.0**2) / 12])
    bed = np.sqrt(0.5 * 10) * 200.0 * 150.0
    body += np.diag([0, 0, bed, bed * 150.0**2 / 12, bed * 200.0**2 / 12, 0])
    # At a corner of the board, 4 mm below its top.
    lever = carried(np.array([100.0, 75.0, 14.0]))
    expected = (lever @ np.linalg.inv(body) @ lever.T)[:3, :3]
    tip = np.array([setup.board_at_mm]) + np.array([[200.0, 150.0, -4.0]])
    found = work_of(screws).at(tip)[0]
    assert found[:3, :3] == pytest.approx(expected, rel=1e-6, abs=1e-12)
    many = tip + np.random.default_rng(2).normal(size=(50, 3)) * 60.0
    board = work_of(screws)
    assert board.shifts_at(many) == pytest.approx(board.at(many)[:, :3, :3], rel=1e-9, abs=1e-15)
    # It comes on top of machine and cutter, and nothing where nothing is said of it.
    alone, cutter = whole_compliance(machine, setup.slots[1], tip, None), setup.slots[1]
    whole = whole_compliance(machine, cutter, tip, work_of(screws))
    assert (whole - alone)[0] == pytest.approx(expected, rel=1e-6, abs=1e-12)
    force = np.array([[30.0, -10.0, 20.0]])
    more = give_mm(machine, cutter, tip, force, work_of(screws)) - give_mm(
        machine, cutter, tip, force
    )
    assert more[0] == pytest.approx(expected @ force[0], rel=1e-6, abs=1e-12)
    assert work_of(setup) is None


def test_more_holds_it_stiffer(setup):
    # Whatever the force: what is added only takes from F'CF, and so does a stiffer share.
    tip = np.array([setup.board_at_mm]) + np.array([[180.0, 20.0, -6.0]])
    screws = Grip(kind="screw", at_mm=CORNERS, force_n=NEWTONS)
    nails = Grip(kind="nail", at_mm=CORNERS, force_n=NEWTONS)
    tape = Grip(kind="tape", at_mm=CORNERS, force_n=NEWTONS, area_mm2=500.0)
    clamp = Grip(kind="clamp", at_mm=((100.0, 10.0),), force_n=NEWTONS)
    vacuum = Grip(kind="vacuum", at_mm=CORNERS, force_n=NEWTONS)
    before = work_of(held_by(setup)).at(tip)[0]
    for many in ((nails,), (nails, tape), (nails, tape, clamp), (nails, tape, clamp, vacuum),
                 (nails, tape, clamp, vacuum, screws)):  # fmt: skip
        now = work_of(held_by(setup, *many)).at(tip)[0]
        assert now == pytest.approx(now.T)
        assert np.linalg.eigvalsh(now[:3, :3]).min() > 0.0
        gain = np.linalg.eigvalsh((before - now)[:3, :3])
        assert gain.min() > -1e-9 * np.abs(before[:3, :3]).max()
        assert gain.max() > 0.0
        before = now
    both = [work_of(held_by(setup, screws), share).at(tip)[0] for share in (0.0, 1.0)]
    assert np.linalg.eigvalsh((both[0] - both[1])[:3, :3]).min() > 0.0
    middle, *drawn = works_of(held_by(setup, screws), 40)
    assert middle.at(tip) == pytest.approx(work_of(held_by(setup, screws)).at(tip))
    sizes = [one.at(tip)[0, 0, 0] for one in drawn]
    assert both[1][0, 0] < min(sizes) < middle.at(tip)[0, 0, 0] < max(sizes) < both[0][0, 0]


def test_a_clamp_presses_over_a_disc(setup):
    # Turned about itself: k r² / 2, r the thickness of the board, k the press over the roughness;
    # the weight's share is taken off (springs, statics).
    sides, thick, press = (200.0, 150.0), 18.0, 900.0
    clamp = Grip(kind="clamp", at_mm=((100.0, 75.0),), force_n=replace(NEWTONS, value=press))
    give = work_of(held_by(setup, clamp)).give
    rough = np.sqrt(0.01 * 0.1)
    weight = 4.0 / rough * (sides[0] ** 2 + sides[1] ** 2) / 12
    assert 1 / give[5, 5] - weight == pytest.approx(press / rough * thick**2 / 2)
    assert 1 / give[0, 0] == pytest.approx((press + 4.0) / rough)


def test_a_board_on_tape():
    corners = np.array([[x, y] for x in (-30.0, 30.0) for y in (-15.0, 15.0)])
    tape = Held(kind="tape", at_mm=corners, each=750.0)
    found = held_board((100.0, 50.0), np.zeros(3), 600.0, 1e-9, [tape], 1.0).give
    assert 1 / found[0, 0] == pytest.approx(5.0 * 3000.0)
    assert 1 / found[2, 2] == pytest.approx(10.0 * 5000.0)
    loose = replace(tape, at_mm=np.zeros((1, 2)))
    with pytest.raises(ValueError, match="can turn"):
        held_board((100.0, 50.0), np.zeros(3), 600.0, 1e-9, [loose])

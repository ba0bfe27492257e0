"""The table under the cutter: a body on springs, and a plate by a general-purpose library."""

import numpy as np
import pytest

from kerfwright.machine import nose_give
from kerfwright.machine.bed import at_bed
from kerfwright.machine.materials import modulus_mpa
from kerfwright.machine.structure import frame_at
from kerfwright.physics.frame import carried, spring_stiffness

pynite = pytest.importorskip("Pynite", reason="a library of plates to compare with")

SOLID = """[axes.x]
travel = "600 mm"
[axes.y]
travel = "400 mm"
[table]
width = "600 mm"
depth = "400 mm"
material = "plywood"
skin = "18 mm"
core = "0 mm"
between_supports = "480 mm"
joint_stiffness = "9000 N/mm"
"""
MIDDLE = np.array([0.5])


def at_middle(machine):
    built = frame_at(machine.values, machine.choices, MIDDLE, MIDDLE, np.array([0.0]))
    x, y = (0.5 * axis.travel_mm for axis in machine.axes[:2])
    return {n: p[0, 0] for n, p in at_bed(built, np.array([x]), np.array([y])).items()}


def test_a_stiff_table_is_a_body_on_its_joints(machine_of):
    # Four joints, each as stiff along X, Y and Z, at 240 by 180 mm and half the thickness below
    # (springs on a rigid body, statics): carried to a place beside the middle, and up to the nose.
    stiff = SOLID.replace('"plywood"', '"carbon steel"').replace('"18 mm"', '"450 mm"')
    machine = machine_of(stiff.replace("9000", "90"))
    at = np.array([150.0]), np.array([320.0])
    lowest = machine.nose_height_mm - machine.z.travel_mm
    found = nose_give(machine, *at, np.array([lowest])).parts["table joints"][0, 0, 0]
    body = sum(
        spring_stiffness(np.array([x, y, -225.0]), way, 90.0)
        for x in (-240.0, 240.0) for y in (-180.0, 180.0) for way in np.eye(3)
    )  # fmt: skip
    lever = carried(np.array([-150.0, 120.0, 225.0 + lowest]))
    expected = lever @ np.linalg.inv(body) @ lever.T
    size = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert np.all(np.abs(found - expected) < 2e-3 * size)


@pytest.fixture
def by_library():
    """The table as a mesh of quadrilaterals on springs: movements of its middle, 6 x 6."""
    model = pynite.FEModel3D()
    young = modulus_mpa("plywood")
    model.add_material("wood", young, young / 2.6, 0.3, 0.0)
    model.add_material("stiff", 1e9, 1e9, 0.3, 1e-9)
    model.add_section("arm", 1e4, 1e8, 1e8, 1e8)
    # Lines 30 mm apart: the joints lie on them, and so do the sides of the square that is loaded.
    x, y = (
        np.unique([*np.arange(-side, side + 1.0, 30.0), -75.0, 75.0]) for side in (300.0, 210.0)
    )
    y = y.clip(-200.0, 200.0)
    for j, b in enumerate(y):
        for i, a in enumerate(x):
            model.add_node(f"{i} {j}", a, b, 0.0)
    for j in range(len(y) - 1):
        for i in range(len(x) - 1):
            corners = f"{i} {j}", f"{i + 1} {j}", f"{i + 1} {j + 1}", f"{i} {j + 1}"
            model.add_quad(f"Q {i} {j}", *corners, 18.0, "wood")
    for a in (-240.0, 240.0):
        for b in (-180.0, 180.0):
            i, j = int(np.argmin(abs(x - a))), int(np.argmin(abs(y - b)))
            model.add_node(f"under {i} {j}", a, b, -9.0)
            model.add_member(f"arm {i} {j}", f"{i} {j}", f"under {i} {j}", "stiff", "arm")
            for way in ("DX", "DY", "DZ"):
                model.def_support_spring(f"under {i} {j}", way, 9000.0)
    return model, x, y


def test_the_table_as_a_plate(machine_of, by_library):
    model, x, y = by_library
    one, other = (falls_to(line) for line in (x, y))
    inside = [(i, j, one[i] * other[j]) for i in np.flatnonzero(one) for j in np.flatnonzero(other)]
    for way, case in (("FX", "x"), ("FY", "y"), ("FZ", "z"), ("MX", "mx"), ("MY", "my")):
        for i, j, share in inside:
            model.add_node_load(f"{i} {j}", way, share, case=case)
        model.add_load_combo(case, {case: 1.0})
    model.analyze_linear(check_stability=False)

    def mean(way, case):
        return sum(s * getattr(model.nodes[f"{i} {j}"], way)[case] for i, j, s in inside)

    found = np.array(
        [[mean(w, c) for c in ("x", "y", "z", "mx", "my")] for w in ("DX", "DY", "DZ", "RX", "RY")]
    )
    mine = sum(at_middle(machine_of(SOLID)).values())[:5, :5]
    assert mine == pytest.approx(mine.T)
    # Down within 2 %, tilted within 7. Sideways the joints are points in a thin sheet, which give
    # the more the finer one looks: a tenth apart.
    assert mine[2, 2] == pytest.approx(found[2, 2], rel=0.02)
    assert np.diag(mine)[3:] == pytest.approx(np.diag(found)[3:], rel=0.07)
    assert np.diag(mine)[:2] == pytest.approx(np.diag(found)[:2], rel=0.12)
    # What a force sideways tilts comes of the joints' lever below the middle plane.
    assert [mine[0, 4], mine[1, 3]] == pytest.approx([found[0, 4], found[1, 3]], rel=0.25)


def falls_to(line):
    """Share of each line of nodes of what is spread evenly from -75 to 75 mm."""
    share = np.zeros(len(line))
    gaps = np.where((line[:-1] >= -75.0) & (line[1:] <= 75.0), np.diff(line), 0.0) / 300.0
    share[:-1] += gaps
    share[1:] += gaps
    return share


def test_a_table_that_was_pushed_or_that_moves(machine_of):
    pushed = machine_of(SOLID + 'stiffness = "500 N/mm"\n')
    parts = at_middle(pushed)
    assert np.diag(parts["table"]) == pytest.approx([0, 0, 1 / 500, 0, 0, 0])
    joints = np.diag(parts["table joints"])  # four sideways; about Z each at 300 mm from the middle
    assert joints == pytest.approx([1 / 36e3, 1 / 36e3, 0, 0, 0, 1 / (36e3 * 300.0**2)])
    moves = machine_of('[frame]\nmoves = "table"\nmoves_along = "y"\n')
    assert "table joints" not in moves.compliance_shares
    assert "table.joints" not in moves.values
    assert moves.compliance_shares["table"][2, 2, 0, 2] > 0.0

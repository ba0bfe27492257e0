"""The frame, against limits that can be worked out by hand and against an independent assembly."""

import re
from pathlib import Path

import numpy as np
import pytest

from kerfwright.basics import InputErrors
from kerfwright.machine import nose_give
from kerfwright.machine.frame_parts import WheelSet, axes_turn, corners_mm, wheel_set
from kerfwright.machine.guides import wheel_stiffness_n_per_mm
from kerfwright.machine.results import free_push_n
from kerfwright.machine.structure import frame_at
from kerfwright.physics.frame import spring_stiffness
from kerfwright.physics.slides import slide_stiffness

#: Everything that gives, made so stiff that it does not.
STIFF = Path(__file__).with_name("stiff_machine.toml").read_text(encoding="utf-8")

OTHER = {"x": "y", "y": "x"}
YOUNG = 500 * (68.9 + 71.7)  # table of materials, aluminium, middle of its range


def test_only_the_beam_gives(machine_of):
    # A beam clamped at both ends, bent by the force and twisted by its lever (superposition).
    machine = machine_of(STIFF)
    length, deep, flat = 640.0, 5.5853e5, 1.8429e5  # mm, mm⁴ (computed)
    shear_modulus = YOUNG / 2.66
    area = 40 * 80 - 34 * 74
    own = np.diagonal(machine.compliance_mm_per_n[2, 2], axis1=-2, axis2=-1)  # middle, (nz, 3)
    # Shares of the area that carry shear along 40 and 80 mm: 0.224 and 0.630 by a general-purpose
    # finite-element library of sections (computed; handbook/test_sections.py).
    flat_shear, deep_shear = (length / (4 * k * shear_modulus * area) for k in (0.2242, 0.6296))
    twist = length / (4 * shear_modulus * 4.2720e5)
    lever = np.array([160.0, 115.0, 70.0])
    expected_x = length**3 / (192 * YOUNG * flat) + flat_shear + lever**2 * twist
    expected_z = length**3 / (192 * YOUNG * deep) + deep_shear + 100.0**2 * twist
    assert own[:, 0] == pytest.approx(expected_x, rel=0.02)
    assert own[:, 2] == pytest.approx(expected_z, rel=0.02)
    assert machine.compliance_shares["beam"][2, 2, :, 0] == pytest.approx(1.0, abs=0.02)


BIG_BEAM = 'material = "carbon steel"\nwidth = "990 mm"\ndepth = "990 mm"\nwall = "400 mm"'
#: The feet carry no roll, and give 10 N/µm a side.
SOFT_FEET = (
    'stud_stiffness = "2500 N/mm"\n[rails.x]\nwheels = 8\nalong = "5000 mm"\nacross = "1 mm"'
)


@pytest.mark.parametrize(("place", "um"), [(0.0, 10.0), (0.25, 6.25), (0.5, 5.0)])
def test_two_bearers_are_no_chain(machine_of, place, um):
    # 10 N/µm a side, 100 N up at a share of the span: 10, 6.25 and 5 µm (computed).
    text = STIFF.replace('[axes.y]\ntravel = "400 mm"', '[axes.y]\ntravel = "640 mm"')
    text = text.replace('width = "40 mm"\ndepth = "80 mm"\nwall = "3 mm"', BIG_BEAM)
    text = re.sub(r'stud_stiffness = "5e7 N/mm"\n\[rails.x\]\n.*\n.*', SOFT_FEET, text)
    machine = machine_of(text)
    own = np.diagonal(machine.compliance_mm_per_n, axis1=-2, axis2=-1)
    wheels = (machine.compliance_shares["gantry wheels"] * own)[2, :, -1, 2] * 100 * 1000
    # Beside the very ends the model keeps a twentieth of the beam.
    expected = um if place else 10.0 * (0.95**2 + 0.05**2)
    assert np.interp(place, np.linspace(0, 1, 5), wheels) == pytest.approx(expected, rel=0.01)


def test_one_drive_lets_the_gantry_yaw(machine_of, demo, demo_text):
    # A push along X at the beam's end: one screw in the middle leaves the turning to the wheels.
    demo_text = demo_text.split("\n", 1)[1]
    own = np.diagonal(demo.compliance_mm_per_n, axis1=-2, axis2=-1)
    assert own[:, 0, :, 0] == pytest.approx(own[:, 4, :, 0])  # even about the middle
    yaw = sum(demo.compliance_shares[part] * own for part in ("gantry wheels", "cross bar"))
    assert yaw[2, 0, 2, 0] > 5 * yaw[2, 2, 2, 0]
    two = machine_of(demo_text.replace("motors = 1", "motors = 2", 1))
    both = np.diagonal(two.compliance_mm_per_n, axis1=-2, axis2=-1)
    assert both[2, 0, 0, 0] < own[2, 0, 0, 0]
    low = machine_of(demo_text.replace('"middle"', '"low side"'))
    own = np.diagonal(low.compliance_mm_per_n, axis1=-2, axis2=-1)
    assert own[2, 4, 0, 0] > 1.2 * own[2, 0, 0, 0]


def test_gantry_the_other_way_is_the_same_machine_turned(machine_of):
    turned = (
        STIFF.replace("axes.x", "axes.q").replace("axes.y", "axes.x").replace("axes.q", "axes.y")
    )
    turned = turned.replace("rails.x", "rails.q").replace("rails.y", "rails.x")
    turned = turned.replace("rails.q", "rails.y").replace('moves_along = "x"', 'moves_along = "y"')
    a = machine_of(STIFF).compliance_mm_per_n
    b = machine_of(turned).compliance_mm_per_n
    swap = [1, 0, 2]
    b = np.swapaxes(b, 0, 1)[..., swap, :][..., swap]
    # but for the table's joints, 3e-6 of it: their two rows stay where they are
    own = [np.diagonal(c, axis1=-2, axis2=-1) for c in (a, b)]
    assert own[0] == pytest.approx(own[1], rel=1e-5)
    # the same lever in front along either travel: the coupling of travel and Z keeps its sign
    assert a[..., 0, 2] == pytest.approx(b[..., 0, 2], abs=1e-9)


def test_compliance_is_symmetric_and_positive(demo):
    c = demo.compliance_mm_per_n
    assert c.shape == (5, 5, 3, 3, 3)
    assert np.allclose(c, np.swapaxes(c, -1, -2))
    assert np.all(np.linalg.eigvalsh(c) > 0)
    assert np.allclose(sum(demo.compliance_shares.values()), 1.0)
    assert all(share.min() >= -1e-12 for share in demo.compliance_shares.values())


def test_six_by_six_gives_back_what_it_takes(demo):
    # Reciprocity (Maxwell, Betti; textbook): a force along one way moves another as the other way
    # round, moments and turns too; no load gains by moving what it moves; so of every part.
    at = [np.array([0.2, 0.8]) * axis.travel_mm for axis in demo.axes[:2]]
    give = nose_give(demo, *at, np.array([30.0, 90.0]))
    assert np.all(np.linalg.eigvalsh(_even(give.compliance)) > 0.0)
    for matrix in (give.compliance, *give.parts.values()):
        even = _even(matrix)
        assert np.allclose(even, np.swapaxes(even, -1, -2), atol=1e-12 * np.abs(even).max())
        assert np.linalg.eigvalsh(even).min() > -1e-12 * np.abs(even).max()
    assert {"table", "table joints"} <= set(give.parts)


def _even(matrix):
    """Turns and moments at 100 mm, so that all rows are alike."""
    scale = np.array([1.0] * 3 + [100.0] * 3)
    return scale[:, None] * matrix * scale


def test_grid_is_where_the_nose_can_be(demo):
    x, y, z = demo.compliance_at_mm
    assert (x[0], x[-1]) == (0.0, pytest.approx(demo.x.travel_mm))
    assert (y[0], y[-1]) == (0.0, pytest.approx(demo.y.travel_mm))
    assert (z[0], z[-1]) == (
        pytest.approx(demo.nose_height_mm - demo.z.travel_mm),
        pytest.approx(demo.nose_height_mm),
    )


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('wall = { is = "3 mm", from = "measured", ref = "caliper" }', 'wall = "5 mm"'),
        ('stud_stiffness = "don\'t know"', 'stud_stiffness = "20 N/um"'),
        ('"plywood"\nthickness = "18 mm"', '"carbon steel"\nthickness = "18 mm"'),
        ('preload = "30 to 90 N"', 'preload = "200 N"'),
        ('free_length = "560 mm"', 'free_length = "460 mm"'),
        ('joint_stiffness = "don\'t know"', 'joint_stiffness = "100 N/um"'),
        ("skin = \"12 mm\"", 'skin = "18 mm"'),
        ('[table]\n', '[table]\njoint_stiffness = "100 N/um"\n'),
        ('[table]\n', '[table]\njoints = 8\n'),
        # Wheels, and all between motor and nut.
        ('wheel = "steel V"', 'wheel = "ball carriage"'),
        ("[rails.x]\nwheels = 8", "[rails.x]\nwheels = 10"),
        ("[rails.z]\nwheels = 4", "[rails.z]\nwheels = 6"),
        ('ends = "fixed-supported"', 'ends = "fixed-fixed"'),
        ("motors = 1", "motors = 2"),
        ("[axes.x]\n", '[axes.x]\nbearing_stiffness = "500 N/um"\n'),
        ("[axes.y.screw]\n", '[axes.y.screw]\nnut_stiffness = "500 N/um"\n'),
        ('holding_torque = { is = "1.2 N m"', 'holding_torque = { is = "2.4 N m"'),
    ],
)  # fmt: skip
def test_a_stiffer_part_never_raises_the_work(machine_of, demo, demo_text, old, new):
    """An element, not geometry: the same springs in the same places, one of them stiffer."""
    assert old in demo_text
    stiffer = machine_of(demo_text.replace(old, new).split("\n", 1)[1])
    gain = demo.compliance_mm_per_n - stiffer.compliance_mm_per_n
    size = np.abs(demo.compliance_mm_per_n).max()
    assert np.linalg.eigvalsh(gain).min() > -1e-9 * size  # never more work, whatever the force
    assert np.linalg.eigvalsh(gain).max() > 1e-4 * size  # and some less


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('height = "165 mm"', 'height = "150 mm"'),
        ('[rails.z]\nwheels = 4\nalong = "120 mm"', '[rails.z]\nwheels = 4\nalong = "150 mm"'),
    ],
)
def test_other_geometry_may_raise_it(machine_of, demo, demo_text, old, new):
    """Lower uprights, wheels farther apart: other levers, so some force moves the nose farther."""
    assert old in demo_text
    other = machine_of(demo_text.replace(old, new).split("\n", 1)[1])
    gain = np.linalg.eigvalsh(demo.compliance_mm_per_n - other.compliance_mm_per_n)
    size = np.abs(demo.compliance_mm_per_n).max()
    assert gain.min() < -1e-3 * size
    assert gain.max() > 1e-2 * size  # and others less far


@pytest.mark.parametrize("seed", range(6))
def test_worst_wheel_against_four_springs(seed):
    # Four wheels at the corners, each a radial and an axial spring, solved as a body on springs.
    rng = np.random.default_rng(seed)
    radial, axial, a, b = 900.0, 400.0, 70.0, 45.0
    wheels = WheelSet(
        at_mm=corners_mm(2 * a, 2 * b), each=1.0, radial_n_per_mm=radial, axial_n_per_mm=axial,
        turning_nmm=(0.0, 0.0, 0.0),
        turn=axes_turn(np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])),
    )  # fmt: skip
    free, up, normal = (np.array(v, float) for v in ([0, 1, 0], [0, 0, 1], [1, 0, 0]))
    corners = [s * a * free + t * b * up for s in (1, -1) for t in (1, -1)]
    springs = [(c, way, k) for c in corners for way, k in ((up, radial), (normal, axial))]
    rail = np.diag([0.0, 1.0, 0.0, 0.0, 0.0, 0.0])  # something to hold it along the rail
    stiff = rail + sum(spring_stiffness(c, way, k) for c, way, k in springs)
    load = rng.normal(size=(6, 1)) * np.array([50.0, 0.0, 50.0, 4e3, 4e3, 4e3])[:, None]
    moved = np.linalg.solve(stiff, load)[:, 0]
    at = [moved[:3] + np.cross(moved[3:], c) for c in corners]
    expected = max(abs(radial * u @ up) + abs(axial * u @ normal) for u in at)
    assert wheels.worst_wheel(load)[0] == pytest.approx(expected)
    assert wheels.stiffness() + rail == pytest.approx(stiff, abs=1e-6)


def test_wheels_run_free_at_their_preload(machine_of, demo_text):
    # At the push that is told the worst wheel carries 2.16 / 2 of the preload (line contact).
    text = demo_text.split("\n", 1)[1].replace('preload = "30 to 90 N"', 'preload = "60 N"')
    machine = machine_of(text)
    push, first = free_push_n(machine, (2, 2, 0, 0))
    assert push * machine.wheel_loads[first][2, 2, 0, 0] == pytest.approx(60 * 2.16 / 2, rel=1e-3)
    plastic = machine_of(text.replace('"steel V"', '"plastic V"'))
    assert plastic.wheel_unloads_n == pytest.approx(60 * 2.83 / 2, rel=1e-3)
    assert machine_of(text.replace('"steel V"', '"ball carriage"')).wheel_unloads_n == np.inf


def test_wheels_where_they_stand(machine_of, demo, demo_text):
    # The carriage's four wheels at their corners are the spacing along and across; of the gantry
    # they are those of one side.
    text = demo_text.split("\n", 1)[1]
    for old, new in (
        ('wheels = 4\nalong = "140 mm"\nacross = "95 mm"',
         '"70,47.5 70,-47.5 -70,47.5 -70,-47.5 mm"'),
        ('wheels = 8\nalong = "170 mm"\nacross = "55 mm"',
         '"85,27.5 85,-27.5 -85,27.5 -85,-27.5 mm"'),
    ):  # fmt: skip
        assert old in text
        text = text.replace(old, f"places = {new}")
    same = machine_of(text)
    assert same.compliance_mm_per_n == pytest.approx(demo.compliance_mm_per_n, rel=1e-9, abs=1e-15)
    assert same.values["rails.x.wheels"] == 8
    assert same.values["rails.y.across"] == 95.0


def test_three_wheels_on_a_plate(machine_of, demo_text):
    # Two above, one below in the middle, by the handbook's springs: a push up at the nose.
    text = demo_text.split("\n", 1)[1]
    old = 'wheels = 4\nalong = "140 mm"\nacross = "95 mm"'
    machine = machine_of(text.replace(old, 'places = "70,45 -70,45 0,-45 mm"'))
    built = frame_at(machine.values, machine.choices, *[np.array([0.5])] * 3)
    wheels = wheel_set(built, 1)
    places = np.array([[70.0, 45.0, 0.0], [-70.0, 45.0, 0.0], [0.0, -45.0, 0.0]])
    radial, axial = wheel_stiffness_n_per_mm(machine.values, machine.choices)
    stiff = sum(
        slide_stiffness(places, np.tile(way, (3, 1)), k)
        for way, k in (([0.0, 1.0, 0.0], radial), ([0.0, 0.0, 1.0], axial))
    )
    assert wheels.stiffness() == pytest.approx(wheels.turn @ stiff @ wheels.turn.T)
    assert wheels.stiffness()[2, 2] == pytest.approx(3 * radial)
    # pitch about the normal: radial springs at ±70 along; roll: axial ones at 45, 45 and -45
    assert stiff[5, 5] == pytest.approx(radial * 2 * 70.0**2)
    assert stiff[3, 3] == pytest.approx(axial * 3 * 45.0**2)
    load = np.zeros((6, 1))
    load[2] = 30.0  # up, through the middle: each takes a third, for none of them turns it
    assert wheels.worst_wheel(load)[0] == pytest.approx(10.0)


def test_bearings_keep_from_turning_by_themselves(machine_of):
    # One carriage on one rail: k L² / 12 along it, k w² / 4 about it (closed forms). A sleeve on a
    # round bar alone rolls, so two bars are needed.
    one = (
        '[rails]\nwheel = "{}"\nstud_stiffness = "20 N/um"\nbearing_length = "36 mm"\n'
        '[rails.y]\nplaces = "{} mm"\n'
    )
    machine = machine_of(one.format("ball carriage", "-60,0 60,0") + "")
    assert machine.known["rails.bearing_width"].kind == "default"
    place = [np.array([0.5])] * 3

    def own(machine):
        wheels = wheel_set(frame_at(machine.values, machine.choices, *place), 1)
        return np.diag(wheels.turn.T @ wheels.stiffness() @ wheels.turn)

    width = machine.values["rails.bearing_width"]
    pitch = 2 * 2e4 * (60.0**2 + 36.0**2 / 12)
    assert own(machine) == pytest.approx([0, 4e4, 4e4, 2 * 2e4 * width**2 / 4, pitch, pitch])
    bars = machine_of(one.format("round sleeve", "-60,40 60,40 -60,-40 60,-40"))
    assert own(bars)[3] == pytest.approx(4 * 2e4 * 40.0**2)
    assert bars.wheel_unloads_n == np.inf
    with pytest.raises(InputErrors, match="the carriage could roll"):
        machine_of(one.format("round sleeve", "-60,0 60,0"))


@pytest.mark.parametrize(
    ("places", "words"),
    [
        ("70,45 -70,45 0,-45", "do not end in a unit"), ("70,45 mm", "1 place, not 2"),
        ("70,45 -70;45 mm", "place 2"), ("9e9,1 0,0 mm", "place 1"),
        ("0,45 0,-45 mm", "could turn"), ("70,0 -70,0 mm", "could roll"),
        ("99999,0 0,1 m", "beyond"), ("1,1 " * 600 + "mm", "longer than 2000"),
    ],
)  # fmt: skip
def test_places_that_make_no_carriage(machine_of, places, words):
    with pytest.raises(InputErrors, match=words) as told:
        machine_of(f'[rails.y]\nplaces = "{places}"\n')
    assert "machine.toml:3:" in str(told.value)


def test_places_and_spacing_both(machine_of):
    with pytest.raises(InputErrors, match="says again what places says"):
        machine_of('[rails.y]\nalong = "3 mm"\nplaces = "70,45 -70,45 0,-45 mm"\n')


def test_bars_hung_between_their_ends(machine_of):
    # Two bars of 16 mm, 700 mm long, two sleeves on each, 100 mm apart: four-point bending,
    # P a² (3 L - 4 a) / 6 E I under each of four forces (textbook), in a row with the sleeves.
    text = (
        '[rails]\nwheel = "round sleeve"\nstud_stiffness = "20 N/um"\n[axes.y]\ntravel = "500 mm"\n'
        '[rails.y]\nwheels = 4\nalong = "100 mm"\nacross = "80 mm"\n'
    )
    place = [np.array([0.5])] * 3

    def own(machine):
        wheels = wheel_set(frame_at(machine.values, machine.choices, *place), 1)
        return wheels.turn.T @ wheels.stiffness() @ wheels.turn, wheels

    held, _ = own(machine_of(text))
    hung, wheels = own(machine_of(text + 'bar_diameter = "16 mm"\nbar_length = "700 mm"\n'))
    bend = 207e3 * np.pi * 16.0**4 / 64
    a = 300.0
    give = a**2 * (3 * 700.0 - 4 * a) / (6 * bend) / 4
    for way in (1, 2):
        assert 1 / hung[way, way] == pytest.approx(1 / held[way, way] + give)
    # rolled about the rail one bar goes up and the other down, 40 mm beside the middle
    assert 1 / hung[3, 3] == pytest.approx(1 / held[3, 3] + give / 40.0**2)
    # pitched each half of a bar bends as a beam of half the length, its force 50 mm from the middle
    half = 50.0**2 * a**2 / (3 * bend * 350.0) / (4 * 50.0**2)
    assert 1 / hung[4, 4] == pytest.approx(1 / held[4, 4] + half)
    assert wheels.compliance()[2, 2] == pytest.approx(1 / hung[1, 1])
    load = np.zeros((6, 1))
    load[2] = 40.0
    assert wheels.worst_wheel(load)[0] == pytest.approx(10.0)  # bars or not
    unsaid = machine_of(text + 'bar_diameter = "16 mm"\n')
    assert unsaid.known["rails.y.bar_length"].interval()[0] > 600.0
    with pytest.raises(InputErrors, match="shorter than the travel"):
        machine_of(text + 'bar_diameter = "16 mm"\nbar_length = "550 mm"\n')
    with pytest.raises(InputErrors, match="bar_diameter as well"):
        machine_of(text + 'bar_length = "700 mm"\n')

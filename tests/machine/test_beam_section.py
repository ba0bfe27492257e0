"""A beam by its outline or by its maker's table; the section itself: ``handbook/test_outlines``."""

import numpy as np
import pytest

from kerfwright.basics import InputErrors
from kerfwright.machine import levers
from kerfwright.machine.beam_section import beam_section
from kerfwright.machine.gantry import sides_of
from kerfwright.machine.materials import modulus_mpa, shear_modulus_mpa
from kerfwright.machine.structure import frame_at

TUBE = 'outline = "0,0 40,0 40,80 0,80 mm"\nholes = "3,3 37,3 37,77 3,77 mm"\n'
SIZES = (
    'width = "40 mm"\ndepth = "80 mm"\nwall = { is = "3 mm", from = "measured", ref = "caliper" }\n'
)
ANGLE = 'outline = "0,0 5,0 5,0.5 0.5,0.5 0.5,8 0,8 cm"\n'


def beam_of(machine):
    """Compliance of the low side's beam at the middle, its length, and the way to the back."""
    built = frame_at(machine.values, machine.choices, *[np.array([0.5])] * 3)
    parts, arms = sides_of(built)
    return parts[0]["beam"][0], float(arms[0][0] @ built.beam), built


def test_a_tube_by_its_outline_is_that_tube(machine_of, demo, demo_text):
    text = demo_text.split("\n", 1)[1]
    assert SIZES in text
    by_outline = machine_of(text.replace(SIZES, TUBE))
    one, two = (beam_section(m.values, m.choices) for m in (demo, by_outline))
    assert two.area_mm2 == pytest.approx(one.area_mm2)
    assert two.second_mm4 == pytest.approx(one.second_mm4, rel=1e-6)
    # Bredt's thin walls are 2 to 3 % low; shear within a few per cent of Cowper's.
    assert 1.02 < two.torsion_mm4 / one.torsion_mm4 < 1.03
    assert two.shear_share == pytest.approx(one.shear_share, rel=0.05)
    gives = [np.diagonal(m.compliance_mm_per_n, axis1=-2, axis2=-1) for m in (demo, by_outline)]
    assert gives[1] == pytest.approx(gives[0], rel=0.02)
    known = by_outline.known["frame.beam.torsion"]
    assert known.low < known.value < known.high < 1.005 * known.low
    assert by_outline.values["frame.beam.depth"] == 80.0
    assert "beam depth" not in {lever.id for lever in levers(by_outline)}
    assert by_outline.drawn(np.random.default_rng(1), 1)[0].values["frame.beam.torsion"] > 0.0


def test_an_angle_bends_askew(machine_of, demo_text):
    # L³ / 3 E times the inverse of the whole tensor of inertia (unsymmetrical bending: textbook),
    # here from the angle's two rectangles by parallel axes.
    machine = machine_of(demo_text.split("\n", 1)[1].replace(SIZES, ANGLE))
    give, length, built = beam_of(machine)
    areas = np.array([50.0 * 5.0, 5.0 * 75.0])
    at = np.array([[25.0, 2.5], [2.5, 42.5]])
    sizes = np.array([[50.0, 5.0], [5.0, 75.0]])
    middle = areas @ at / areas.sum()
    off = at - middle
    tensor = np.diag((areas[:, None] * sizes**2 / 12.0).sum(axis=0))
    tensor += np.einsum("k,ki,kj->ij", areas, off, off)  # back, up
    young = modulus_mpa(machine.choices["frame.beam.material"])
    bend = length**3 / (3.0 * young) * np.linalg.inv(tensor)
    ways = np.stack([built.along, [0.0, 0.0, 1.0]])
    found = ways @ give[:3, :3] @ ways.T
    section = beam_section(machine.values, machine.choices)
    shear = length / (shear_modulus_mpa(machine.choices["frame.beam.material"]) * 625.0)
    lean = section.lean_rad
    turn = np.array([[np.cos(lean), np.sin(lean)], [-np.sin(lean), np.cos(lean)]])
    across = np.diag([1.0 / section.shear_share[1], 1.0 / section.shear_share[0]])
    assert found == pytest.approx(bend + shear * turn.T @ across @ turn, rel=1e-6)
    assert found[0, 1] > 0.1 * found[0, 0]  # pushed up it goes to the back as well


def test_a_section_from_its_maker_s_table(machine_of):
    machine = machine_of(
        '[frame.beam]\nwidth = "80 mm"\ndepth = "80 mm"\narea = "14.2 cm2"\n'
        'second_moment_up = "97.5 cm4"\nsecond_moment_forward = "97.5 cm4"\ntorsion = "40 cm4"\n'
    )
    section = beam_section(machine.values, machine.choices)
    assert section.area_mm2 == pytest.approx(1420.0)
    assert section.second_mm4 == pytest.approx((975e3, 975e3))
    assert section.torsion_mm4 == pytest.approx(400e3)
    assert machine.known["frame.beam.shear_share"].interval() == pytest.approx((0.21, 0.59))
    give, length, built = beam_of(machine)
    twist = length / (shear_modulus_mpa("aluminium 6061/6063") * 400e3)
    assert built.beam @ give[3:, 3:] @ built.beam == pytest.approx(twist)


@pytest.mark.parametrize(
    ("section", "line", "words"),
    [
        ('outline = "0,0 40,80 40,0 0,80 mm"', 3, "its lines cross"),
        ('outline = "0,0 40,0 40,80"', 3, "unit of length"),
        ('outline = "0,0 40,0 mm"', 3, "2 places, not 3"),
        ('outline = "0,0 40,0 40;80 0,80 mm"', 3, "place 3 of the outline's corners"),
        (TUBE.replace("37,77", "37,97"), 3, "a hole lies outside"),
        (TUBE.replace("3,3 37", "x,3 37"), 4, "place 1 of the corners of hole 1"),
        (TUBE + 'depth = "80 mm"', 5, "says again what the outline says"),
        ('holes = "3,3 37,3 37,77 3,77 mm"', 3, "without an outline"),
        ('area = "14 cm2"', 3, "needs second_moment_up and second_moment_forward and torsion too"),
        ('outline = 7', 3, "is not a text"),
        (f'outline = "{"0,0 " * 2500}mm"', 3, "longer than 8000"),
    ],
)  # fmt: skip
def test_what_is_no_beam(machine_of, section, line, words):
    with pytest.raises(InputErrors, match=words) as told:
        machine_of(f"[frame.beam]\n{section}\n")
    assert f"machine.toml:{line}:" in str(told.value)

"""How the axes miss: readings as people take them, and what is taken when nobody looked."""

import numpy as np
import pytest

from kerfwright.basics import KerfwrightError
from kerfwright.machine import Geometry

TRAVEL, TABLE_AT, TABLE = np.array([600.0, 400.0, 90.0]), (0.0, 0.0), (600.0, 400.0)


def miss(at, **errors):
    return Geometry(**errors).miss_mm(np.atleast_2d(at).astype(float), TRAVEL, TABLE_AT, TABLE)[0]


def test_a_rise_over_a_length(machine_of):
    machine = machine_of('[geometry]\nsquare_xy = "0.3 ± 0.1 mm over 400 mm"\nscale_x = "-1 mm/m"')
    known = machine.known["geometry.square_xy"]
    assert known.value == pytest.approx(0.3 / 400)
    assert known.u * 1.959964 == pytest.approx(0.1 / 400)
    assert machine.geometry.square_xy == pytest.approx(0.3 / 400)
    assert machine.geometry.scale == (pytest.approx(-1e-3), 0.0, 0.0)
    between = machine_of('[geometry]\nlevel_y = "-0.1 to 0.2 mm over 100 mm"').known
    assert between["geometry.level_y"].interval() == pytest.approx((-9.25e-4, 1.925e-3))


@pytest.mark.parametrize(
    "written",
    ["0.3 mm over 0 mm", "0.3 mm over", "x over 4 mm", "0.3 over 400 mm", "40 mm over 4 mm"],
)
def test_what_is_no_slope_is_refused(machine_of, written):
    with pytest.raises(KerfwrightError, match="remedy"):
        machine_of(f'[geometry]\nsquare_xy = "{written}"')


def test_diagonals_stand_for_squareness(machine_of):
    text = '[geometry]\ndiagonals = "600 x 400 mm: 721.37646 and 720.84395 mm ± 0.2 mm"'
    known = machine_of(text).known["geometry.square_xy"]
    assert known.value == pytest.approx(8e-4, rel=1e-4)
    # One diagonal off by 0.2 mm turns the corner by 0.2 x 721 / (2 x 600 x 400).
    assert known.u * 1.959964 == pytest.approx(np.sqrt(2) * 0.2 * 721.11 / 480_000, rel=1e-4)
    for wrong in ('"600 x 400: 500 and 500 mm"', '"600 x 400 mm"', '"0 x 0 mm: 0 and 0 mm"'):
        with pytest.raises(KerfwrightError, match="diagonals"):
            machine_of(f"[geometry]\ndiagonals = {wrong}")
    with pytest.raises(KerfwrightError, match="twice"):
        machine_of(f'{text}\nsquare_xy = "0 mm/m"')


def test_not_known_moves_nothing_and_is_a_range(machine_of):
    machine = machine_of("")
    assert machine.geometry == Geometry()
    assert machine.known["geometry.square_xy"].interval()[1] > 5e-4
    one, two = (machine.drawn(np.random.default_rng(seed), 1)[0].geometry for seed in (1, 2))
    assert one != two
    assert one.square_xy != 0.0


def test_geometry_changes_no_other_draw(machine_of):
    bare, told = machine_of(""), machine_of('[geometry]\nscale_x = "0 mm/m"')
    a, b = (m.drawn(np.random.default_rng(5), 1)[0] for m in (bare, told))
    assert a.x.play_mm == b.x.play_mm
    assert np.array_equal(a.compliance_mm_per_n, b.compliance_mm_per_n)


def test_which_way_each_error_moves_the_cutter():
    assert miss([100, 200, 10], square_xy=1e-3) == pytest.approx([0.2, 0, 0])
    assert miss([100, 200, 10], square_xz=1e-3) == pytest.approx([0.01, 0, 0])
    assert miss([100, 200, 10], square_yz=1e-3) == pytest.approx([0, 0.01, 0])
    assert miss([100, 200, 10], scale=(1e-3, 2e-3, 3e-3)) == pytest.approx([0.1, 0.4, 0.03])
    assert miss([300, 200, 0], bow_x_back_mm=0.1) == pytest.approx([0, 0.1, 0])
    assert miss([300, 200, 0], bow_x_up_mm=0.1) == pytest.approx([0, 0, 0.1])
    assert miss([300, 200, 0], bow_y_right_mm=0.1) == pytest.approx([0.1, 0, 0])
    assert miss([300, 200, 0], bow_y_up_mm=0.1) == pytest.approx([0, 0, 0.1])
    # Where the table rises the cutter comes nearer to it; where it sags it stands off.
    assert miss([100, 200, 0], level=(1e-3, 2e-3)) == pytest.approx([0, 0, -0.5])
    assert miss([300, 200, 0], sag_mm=0.1) == pytest.approx([0, 0, 0.1])

"""A table that moves under a standing gantry; pushes that were tried."""

import numpy as np
import pytest

from kerfwright.basics import InputErrors
from kerfwright.formats import QuantityError, read_quantity
from kerfwright.machine.guides import wheel_stiffness_n_per_mm
from kerfwright.machine.results import PUSH_N, by_hand_mm

TABLE = '[frame]\nmoves = "table"\nmoves_along = "y"\n'


def test_the_table_s_wheels_give_as_four_springs_do(machine_of):
    """Closed form: four springs at the corners of a rectangle under a rigid body (statics)."""
    machine = machine_of(TABLE)
    radial, axial = wheel_stiffness_n_per_mm(machine.values, machine.choices)
    at = (2, 2, 0)  # middle, Z down
    own = machine.compliance_mm_per_n[at].diagonal()
    give = machine.compliance_shares["table wheels"][at] * own
    v = machine.values
    high = v["table.nose_height"] - v["axes.z.travel"] + v["table.core"] + 2 * v["table.skin"]
    half = v["rails.y.across"] / 2.0
    assert give[0] == pytest.approx(1 / (4 * radial) + high**2 / (4 * axial * half**2))
    assert give[2] == pytest.approx(1 / (4 * axial))
    # Far from the middle the table tilts: softer upwards, by the lever squared.
    end = (
        machine.compliance_mm_per_n[2, 4, 0, 2, 2]
        * machine.compliance_shares["table wheels"][2, 4, 0, 2]
    )
    lever = v["axes.y.travel"] / 2.0 / (v["rails.y.along"] / 2.0)
    assert end == pytest.approx((1 + lever**2) / (4 * axial))
    assert "gantry wheels" not in machine.compliance_shares
    assert sum(s[at] for s in machine.compliance_shares.values()) == pytest.approx(np.ones(3))


def test_a_bar_between_feet_that_stand_is_refused(machine_of):
    with pytest.raises(InputErrors, match="joins the feet of a gantry that moves"):
        machine_of(TABLE + '[frame.cross_bar]\nwidth = "100 mm"\n')


def test_a_push_that_was_tried_replaces_the_estimate(machine_of):
    plain = machine_of("")
    tried = machine_of('[frame]\npushed_x = "0.2 ± 0.02 mm at 45 N"\n')
    # A push by hand does not load the table: that gives on top, as it did.
    at = (2, 2, 0, 0, 0)
    table = [
        m.compliance_mm_per_n[at]
        * sum(m.compliance_shares[p][at[:-1]] for p in ("table", "table joints"))
        for m in (tried, plain)
    ]
    assert (tried.compliance_mm_per_n[at] - table[0]) * 45.0 == pytest.approx(0.2)
    assert table[0] == pytest.approx(table[1])
    assert tried.known["frame.pushed_x"].u == pytest.approx(45.0 / 0.2 * 0.1 / 1.959964)
    assert np.allclose(tried.compliance_mm_per_n[..., 1, 1], plain.compliance_mm_per_n[..., 1, 1])
    ratio = tried.compliance_shares["beam"] / tried.compliance_shares["Z wheels"]
    assert ratio == pytest.approx(
        plain.compliance_shares["beam"] / plain.compliance_shares["Z wheels"]
    )
    assert np.all(np.linalg.eigvalsh(tried.compliance_mm_per_n) > 0.0)


@pytest.mark.parametrize(
    ("text", "n_per_mm"),
    [("0.006 in at 10 lbf", 10 * 4.4482216 / (0.006 * 25.4)), ("0.1 to 0.2 mm at 40 N", 300.0)],
)
def test_pushes_are_read(text, n_per_mm):
    assert read_quantity(text, "stiffness").value == pytest.approx(n_per_mm)


@pytest.mark.parametrize("text", ["0 mm at 45 N", "0.2 mm at 0 N", "0.2 mm at it", "0.2 at 45 N"])
def test_pushes_that_say_nothing_are_refused(text):
    with pytest.raises(QuantityError):
        read_quantity(text, "stiffness")


def test_a_table_rests_on_its_rails(machine_of):
    machine = machine_of(TABLE + '[rails.y]\nacross = "300 ± 2 mm"\n[table]\nwidth = "620 mm"\n')
    assert machine.values["table.between_supports"] == 300.0
    assert machine.known["table.between_supports"].ref == "as far apart as its rails"


def test_a_push_by_hand_does_not_feel_the_table(machine_of):
    # What was tried is what the dial shows; across the table's travel and along it alike.
    tried = machine_of(TABLE + 'pushed_x = "0.2 mm at 45 N"\npushed_y = "0.1 mm at 45 N"\n')
    assert [by_hand_mm(tried, 0), by_hand_mm(tried, 1)] == pytest.approx([0.2, 0.1])
    drive = tried.compliance_shares["Y drive"][2, 2, 0, 1]
    whole = PUSH_N * tried.compliance_mm_per_n[2, 2, 0, 1, 1]
    # Along the travel the table's drive comes on top, as stiff as it is.
    assert whole * drive == pytest.approx(PUSH_N / (tried.y.motors * tried.y.stiffness_n_per_mm))
    assert whole > 0.1 + 0.99 * whole * drive

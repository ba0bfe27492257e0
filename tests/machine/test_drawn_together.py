"""Machines that are drawn and assembled together are those drawn one by one."""

import numpy as np
import pytest

HUNG = (
    '[rails]\nwheel = "round sleeve"\n[rails.y]\nbar_diameter = "15 to 17 mm"\n'
    'bar_length = "700 mm"\n[axes.y]\ntravel = "500 mm"\n'
)
#: With one row of wheels on Z in some draws, two in others.
ROWS = '[rails.z]\nalong = "10 to 30 mm"\nwheels = 4\n'
TABLE = '[frame]\nmoves = "table"\n'


@pytest.mark.parametrize("text", ["", HUNG, ROWS, TABLE, '[frame]\npushed_x = "200 to 260 N/mm"\n'])
def test_together_as_one_by_one(machine_of, text):
    machine = machine_of(text)
    one_by_one, together = np.random.default_rng(3), np.random.default_rng(3)
    each = [machine.drawn(one_by_one, 1)[0] for _ in range(5)]
    crowd = machine.drawn(together, 5)
    assert one_by_one.bit_generator.state == together.bit_generator.state
    assert len({one.compliance_mm_per_n.tobytes() for one in crowd}) == 5
    for alone, drawn in zip(each, crowd, strict=True):
        assert dict(alone.values) == dict(drawn.values)
        for name in ("compliance_shares", "wheel_loads"):
            parts, others = getattr(alone, name), getattr(drawn, name)
            assert set(parts) == set(others)
            for part in parts:
                np.testing.assert_allclose(others[part], parts[part], rtol=1e-12, atol=1e-15)
        np.testing.assert_allclose(drawn.pushed_scale, alone.pushed_scale, rtol=1e-12)
        own = np.abs(alone.compliance_mm_per_n).max()
        np.testing.assert_allclose(
            drawn.compliance_mm_per_n, alone.compliance_mm_per_n, rtol=1e-12, atol=1e-12 * own
        )
        for here, there in zip(alone.compliance_at_mm, drawn.compliance_at_mm, strict=True):
            assert np.array_equal(here, there)

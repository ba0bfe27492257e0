"""The map of error and the walls, from forces and play that are known beforehand."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.prove.as_cut import error_map
from kerfwright.prove.run_path import cut_as_run
from kerfwright.stock.field import Field

FACING = "G0 Z5\nG0 X-4 Y4\nG1 Z-1 F900\n" + "\n".join(
    f"G1 X{104 if k % 2 == 0 else -4} F1500\nG1 Y{4 + 4 * (k + 1)}" for k in range(13)
)


def test_a_stiff_machine_cuts_what_is_programmed(proved, machine):
    stiff = replace(
        machine, compliance_mm_per_n=machine.compliance_mm_per_n * 1e-9,
        controller=replace(machine.controller, corner_rule="exact stop"),
        **{
            axis: replace(getattr(machine, axis), play_mm=0.0, positions_per_rev=10**9)
            for axis in "xyz"
        },
    )  # fmt: skip
    ascut = proved(FACING, on=stiff).verdict.ascut
    assert ascut.outside_percent == 0.0
    assert abs(ascut.mean_mm) < 1e-6
    assert ascut.ninety_five_mm < 1e-5


def test_a_machine_that_sags_leaves_the_floor_off_by_what_it_sags(proved, machine):
    # One newton upwards at the cutter lifts it by 1 µm; the map must show the same rise.
    soft = np.zeros_like(machine.compliance_mm_per_n)
    soft[..., 2, 2] = 1e-3
    tight = {axis: replace(getattr(machine, axis), play_mm=0.0) for axis in "xyz"}
    lifted = replace(
        machine, compliance_mm_per_n=soft, **tight,
        controller=replace(machine.controller, corner_rule="exact stop"),
    )  # fmt: skip
    v = ["1: v 90 deg 10 mm, 2 flutes, flute length 12 mm, stick-out 25 mm"]
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-3 F600\nG1 X80 F1500\nG0 Z5"
    proof = proved(body, on=lifted, cutters=v, cell=0.1)
    error = proof.error_mm[np.isfinite(proof.error_mm)]
    # The flank stands at 45 degrees: a lift of the tip shows square to it with a factor of 0.71.
    force = proof.series.deflection_mm.max() / 1e-3
    assert force > 0.5
    assert np.median(np.abs(error)) == pytest.approx(
        proof.series.deflection_mm.max() * 0.7071, rel=0.3
    )


def test_play_of_z_shifts_nothing_while_its_weight_holds_it(proved, machine):
    loose = replace(machine, z=replace(machine.z, play_mm=0.2))
    tight = proved(FACING, on=replace(machine, z=replace(machine.z, play_mm=0.0)))
    hanging = proved(FACING, on=loose)
    # It hangs at the lower side of its play the whole time, as it did when its zero was set.
    assert hanging.verdict.ascut.mean_mm == pytest.approx(tight.verdict.ascut.mean_mm, abs=1e-3)


def test_z_lighter_than_its_friction_stands_on_either_side_of_its_play(proved, machine):
    stiff = machine.z.weight_n * 1.5
    loose = replace(machine, z=replace(machine.z, play_mm=0.2, friction_n=stiff))
    # It went down into the wood, so it trails above: half the play from the middle.
    assert proved(FACING, on=loose).verdict.ascut.mean_mm == pytest.approx(0.1, abs=0.03)


def test_zero_rules_when_nothing_else_does(proved, machine):
    def zero(setup):
        return replace(setup, zero_u_mm=(0.0, 0.0, 0.5))

    ascut = proved(FACING, change=zero).verdict.ascut
    assert ascut.ruled_by == "set-up"
    assert ascut.shy.high - ascut.shy.low > 1.9
    assert ascut.shy.mostly_from == "how Z was zeroed"


def test_walls_and_through_cuts_are_no_part_of_the_map(proved):
    proof = proved("G0 Z5\nG0 X20 Y30\nG1 Z-18 F300\nG1 X80 F900\nG0 Z5")
    assert np.isnan(proof.error_mm).all()
    assert proof.verdict.ascut.outside_percent == 0.0
    assert proof.verdict.ascut.walls


def test_map_of_two_equal_fields_is_nought(proved):
    proof = proved("G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\nG1 X80 F900\nG0 Z5")
    field = Field.of_board(proof.setup.board, 0.5).with_room(np.array([0]))
    top = error_map(field, field, 0.1)
    assert np.isnan(top.error_mm).all()  # nothing was touched
    assert top.height_mm.shape == (120, 128 + 3)  # the tile that was touched, and a margin
    assert top.proud.error_mm == top.shy.error_mm == 0.0


def test_walls_are_as_unsure_as_zero_play_and_force_together(proved, machine):
    def sure(setup):
        return replace(setup, zero_u_mm=(0.0, 0.0, 0.0))

    def zero(setup):
        return replace(setup, zero_u_mm=(0.5, 0.1, 0.0))

    loose = replace(machine, y=replace(machine.y, play_mm=0.4))
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-6 F300\nG1 X80 F1500\nG0 Z5"

    def offsets(change):
        walls = proved(body, on=loose, change=change).verdict.ascut.walls
        return {wall.side: wall.offset for wall in walls}

    tight, wide = offsets(sure), offsets(zero)
    for side in ("left", "right"):
        half = wide[side].high - wide[side].value
        alone = tight[side].high - tight[side].value
        # The wall runs along X: only Y's zero counts.
        assert half == pytest.approx(np.hypot(alone, 1.96 * 0.1), rel=1e-3)
        assert 0.2 < alone < abs(tight[side].value) + 0.2
        assert wide[side].mostly_from == "play in the machine"


def test_walls_in_a_wood_beyond_the_law_are_twice_as_unsure(proved, machine):
    # Nothing but the force: no play, no steps, no lag, nothing that swings.
    still = replace(
        machine.y, play_mm=0.0, positions_per_rev=10**9, friction_n=0.0, drag_torque_nmm=0.0,
        mass_kg=1e-9,
    )  # fmt: skip
    rigid = replace(machine, y=still)
    known = {key: value for key, value in rigid.known.items() if "geometry" not in key}
    certain = replace(rigid, drawn=lambda rng, many: (rigid,) * many, known=known)

    def density(value):
        def change(setup):
            wood = replace(setup.board.wood, density_kg_per_m3=value)
            true = replace(setup.slots[1], runout_mm=0.0, known={})
            board = replace(setup.board, wood=wood)
            return replace(setup, board=board, zero_u_mm=(0.0, 0.0, 0.0), slots={1: true})

        return change

    body = "G0 Z5\nG0 X20 Y30\nG1 Z-6 F300\nG1 X80 F1500\nG0 Z5"

    def share(value):
        proof = proved(body, on=certain, change=density(value))
        offset = proof.verdict.ascut.walls[0].offset
        far, near = sorted((offset.high - offset.value, offset.value - offset.low), reverse=True)
        return far / abs(offset.value), near / abs(offset.value)

    # How the cutter swings adds a little beside it.
    for value, log_spread in ((700.0, 0.34), (160.0, 0.68)):
        far, near = share(value)
        assert far == pytest.approx(np.exp(1.96 * log_spread) - 1.0, rel=0.03)
        assert near == pytest.approx(1.0 - np.exp(-1.96 * log_spread), rel=0.05)


def test_strips_of_the_map_are_the_map(swept, machine, monkeypatch):
    body = "G0 X-5 Y30 Z1\nG1 Z-3 F600\nG1 X60 Y40 Z-6\nX20 Y5\nX95 Y58"
    trajectory, tools, setup, first = swept(body)
    run = cut_as_run(trajectory, tools, setup, machine, first, 1).field
    whole = error_map(first.field, run, 0.1)
    monkeypatch.setattr("kerfwright.prove.as_cut.STRIP_CELLS", 37 * 400)
    strips = error_map(first.field, run, 0.1)
    assert np.array_equal(whole.height_mm, strips.height_mm)
    assert np.array_equal(whole.error_mm, strips.error_mm, equal_nan=True)
    assert np.isfinite(whole.error_mm).sum() > 1000
    assert np.array_equal(whole.height_mm, first.field.maps()[0])
    known = whole.error_mm[np.isfinite(whole.error_mm)]
    assert whole.usual == strips.usual
    assert whole.usual.mean_mm == pytest.approx(known.mean(dtype=np.float64), rel=1e-13)
    sizes = np.abs(known).astype(np.float64)
    assert whole.usual.ninety_five_mm == np.quantile(sizes, 0.95, method="inverted_cdf")
    assert whole.usual.outside_percent == 100.0 * (np.abs(known) > 0.1).mean()
    assert (strips.proud, strips.shy) == (whole.proud, whole.shy)
    for place in (whole.proud, whole.shy):
        assert whole.error_mm[place.row, place.column] == pytest.approx(place.error_mm, abs=0.02)
        assert whole.height_mm[place.row, place.column] == place.height_mm


def test_a_map_of_what_was_touched_says_the_same_as_one_of_the_whole_board(proved, monkeypatch):
    body = "G0 Z5\nG0 X70 Y38\nG1 Z-3 F600\nG1 X90 Y45 Z-4 F900\nG0 Z5"
    proof = proved(body, stock="300 x 200 x 18 mm hard maple")
    assert proof.error_mm.size < 0.3 * 600 * 400
    monkeypatch.setattr(
        "kerfwright.prove.as_cut._window", lambda one, _: (0, one.rows, 0, one.columns)
    )
    whole = proved(body, stock="300 x 200 x 18 mm hard maple")
    assert whole.verdict == proof.verdict
    assert whole.error_mm.shape == (400, 600)
    column, row = (round(mm / 0.5) for mm in proof.corner_mm)
    rows, columns = proof.error_mm.shape
    part = (slice(row, row + rows), slice(column, column + columns))
    assert np.array_equal(whole.error_mm[part], proof.error_mm, equal_nan=True)
    assert np.array_equal(whole.height_mm[part], proof.height_mm)
    assert np.isfinite(whole.error_mm).sum() == np.isfinite(proof.error_mm).sum() > 300
    # Coarser cells hold the worst of theirs; the numbers of the verdict are of all cells.
    monkeypatch.setattr("kerfwright.prove.as_cut.MOST_CELLS", 600 * 400 // 16)
    coarse = proved(body, stock="300 x 200 x 18 mm hard maple")
    assert coarse.verdict == proof.verdict
    assert coarse.cell_mm == 2.0
    assert np.nanmax(np.abs(coarse.error_mm)) == np.nanmax(np.abs(whole.error_mm))
    assert np.isfinite(coarse.error_mm).sum() >= np.isfinite(whole.error_mm).sum() / 16

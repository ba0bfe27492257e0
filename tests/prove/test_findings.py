"""Each finding has a program that raises it, at its line, and a near miss that does not."""

from dataclasses import replace

import numpy as np
import pytest

from kerfwright.prove.cells import TooManyCells
from kerfwright.prove.chain import NothingMoves, TooLong
from kerfwright.prove.inside import lowest_over
from kerfwright.prove.telling import _sentence
from kerfwright.trajectory import TooManyPieces

FLAT = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm"
FLAT = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm"
IN = "G0 Z5\nG0 X20 Y30\nG1 Z-2 F300\n"  # lines 4 to 6
OUT = "\nG0 Z5"


def codes(proof):
    return [finding.code for finding in proof.verdict.findings]


def only(proof, code):
    found = [finding for finding in proof.verdict.findings if finding.code == code]
    assert len(found) == 1, codes(proof)
    return found[0]


def test_a_good_program_is_clear(proved):
    proof = proved(IN + "G1 X80 F1500" + OUT)
    assert codes(proof) == []
    assert proof.verdict.outcome == "clear"
    assert proof.verdict.ascut is not None


@pytest.mark.parametrize(
    ("body", "over_mm", "id_"),
    [
        ("G0 Z5\nG1 X400 F3000", None, "travel-5-x-right"),
        ("G0 Z5\nG1 X-400 F3000", None, "travel-5-x-left"),
        ("G0 Z5\nG1 Y400 F3000", None, "travel-5-y-back"),
        ("G0 Z200", None, "travel-4-z-top"),
    ],
)
def test_travel(proved, body, over_mm, id_):
    proof = proved(body)
    found = only(proof, "travel")
    assert (found.id, found.severity, found.likelihood) == (id_, "stop", None)
    assert proof.verdict.outcome == "stop"


def test_travel_to_the_very_end_is_none(proved, machine):
    def run(extra):
        def place(setup):
            return replace(setup, board_at_mm=(100.0, 100.0, setup.board_at_mm[2]))

        return proved(f"G0 Z5\nG0 X{machine.x.travel_mm - 100.0 + extra:.3f}", change=place)

    assert "travel" not in codes(run(0.0))
    found = only(run(0.01), "travel")
    assert found.value.value - found.limit == pytest.approx(0.01)
    assert "0.01 mm past the right end" in found.words
    assert found.remedies[0].words == "Move the board 0.1 mm towards the left"


def test_table(proved):
    deep = "G0 Z5\nG0 X20 Y30\nG1 Z-{:.2f} F300\nG1 X40"
    assert "table" not in codes(proved(deep.format(18.0)))
    found = only(proved(deep.format(18.3)), "table")
    assert (found.line, found.severity) == (6, "stop")
    assert "0.30 mm below the underside" in found.words
    assert "spoil board" in found.words

    def allowed(setup):
        return replace(setup, below_board_mm=0.5)

    assert "table" not in codes(proved(deep.format(18.3), change=allowed))


def test_table_crossed_from_side_to_side(proved, machine):
    small = replace(machine, table_mm=(40.0, 40.0), table_at_mm=(180.0, 170.0))

    def place(setup):
        return replace(setup, board_at_mm=(150.0, 150.0, setup.board_at_mm[2]))

    # Both ends of line 7 lie off the table; at Y60 it passes the table's left front corner by.
    across = "G0 Z5\nG0 X-20 Y{y}\nG1 Z-19 F900\nG1 X120\nG0 Z5"
    found = only(proved(across.format(y=30), on=small, change=place), "table")
    assert (found.line, found.value.value) == (7, pytest.approx(1.0))
    assert "table" not in codes(proved(across.format(y=61), on=small, change=place))


def test_lowest_over_a_table():
    # Into it from the left, out at the back, over a corner, beside it, straight down.
    at = [[-1, 5, 0], [5, 5, -12], [5, 20, -42], [20, 5, -42], [5, 5, -42], [5, 5, -50]]
    low, over = lowest_over(np.array(at, float), (0.0, 0.0), (10.0, 10.0))
    assert over.tolist() == [True, True, False, True, True]
    assert low[over] == pytest.approx([-12.0, -22.0, -42.0, -50.0])


def test_changes_that_the_controller_ignores(proved, machine):
    body = IN + "G1 X80 F1500\nG0 Z5\nT2 M6\nM3\nG0 X20 Y15\nG1 Z-1 F300\nG1 X60 F900" + OUT
    both = [FLAT, "2: flat 3 mm, 2 flutes"]
    assert "change ignored" not in codes(proved(body, cutters=both))
    deaf = replace(machine, controller=replace(machine.controller, cutter_change="ignores it"))
    found = only(proved(body, cutters=both, on=deaf), "change ignored")
    assert (found.line, found.severity) == (12, "stop")
    assert "cutter 1 still turns where the program wants cutter 2" in found.words
    assert "change ignored" not in codes(proved(IN + "G1 X80 F1500" + OUT, on=deaf))


def test_rapid_through_wood(proved):
    found = only(proved(IN + "G0 X40\nG1 X80 F1500" + OUT), "rapid through wood")
    assert (found.line, found.severity) == (7, "stop")
    assert found.value.value == pytest.approx(2.0, abs=1e-3)
    assert found.spot.z_mm == pytest.approx(-2.0)
    # Back along the slot that is cut already there is no wood.
    again = proved(IN + "G1 X80 F1500\nG0 X20" + OUT)
    assert "rapid through wood" not in codes(again)


def test_missing_cutter(proved):
    found = only(proved("G0 Z5\nT3 M6\nG1 X20 Y20 Z-1 F600" + OUT), "missing cutter")
    assert (found.line, found.severity) == (6, "stop")
    assert "slot 3" in found.words
    assert "(there: 1)" in found.words


def test_one_cutter_needs_no_cutter_word(proved):
    proof = proved(IN + "G1 X60 F1500" + OUT, start="G21 G90 G17\nS18000 M3\n\n")
    assert codes(proof) == []


def test_spindle_off(proved):
    body = IN + "G1 X60 F1500" + OUT
    found = only(proved(body, start="G21 G90 G17\nT1 M6\n\n"), "spindle off")
    assert (found.line, found.severity) == (6, "stop")


def test_spindle_backwards(proved, machine):
    body = IN + "G1 X80 F1500" + OUT
    back = "G21 G90 G17\nT1 M6\nS18000 M4\n"
    found = only(proved(body, start=back), "spindle backwards")
    assert (found.line, found.severity, found.value.value) == (6, "caution", -18000.0)
    by_hand = replace(machine, spindle=replace(machine.spindle, kind="hand router"))
    assert "spindle backwards" not in codes(proved(body, start=back, on=by_hand))


def test_hand_router_needs_no_spindle_word(proved, machine):
    spindle = replace(machine.spindle, kind="hand router")
    body = IN + "G1 X60 F1500" + OUT
    proof = proved(body, start="G21 G90 G17\nT1 M6\n\n", on=replace(machine, spindle=spindle))
    assert "spindle off" not in codes(proof)
    assert any("switched by hand" in words for words in proof.verdict.assumed)


def test_flutes_too_short(proved):
    short = "1: flat 6 mm, 2 flutes, flute length {} mm, stick-out 30 mm"
    passes = "G0 Z5\nG0 X20 Y30\n" + "\n".join(
        f"G1 Z-{z} F300\nG1 X{80 if z % 4 else 20} F1500" for z in (2, 4, 6, 8)
    )
    deep = proved(passes + OUT, cutters=[short.format(7)])
    assert "flutes too short" not in codes(deep)  # each pass takes 2 mm of wood only
    plunge = "G0 Z5\nG0 X20 Y30\nG1 Z-8 F300\nG1 X60 F600" + OUT
    found = only(proved(plunge, cutters=[short.format(7)]), "flutes too short")
    assert found.severity == "stop"
    assert found.value.value == pytest.approx(8.0, abs=0.01)
    assert "flutes too short" not in codes(proved(plunge, cutters=[short.format(8.5)]))


def test_pull_left(proved, machine):
    body = IN + "G1 X80 F1500" + OUT
    weak = machine.x
    # A motor of a twentieth of the torque cannot do it; halving it only eats into the reserve.
    starved = replace(weak, curve_torque_nmm=weak.curve_torque_nmm * 0.05)
    on = replace(machine, x=starved, drawn=lambda rng, many: (replace(machine, x=starved),) * many)
    found = [f for f in proved(body, on=on).verdict.findings if f.id.startswith("pull-left-x")]
    assert [f.severity for f in found] == ["caution"]
    assert found[0].likelihood > 0.9
    assert "pull left" not in codes(proved(body))


def test_slower_is_offered_only_after_it_was_tried(proved, machine):
    # Pull that falls off with speed, so that half the feed is enough.
    axis = machine.x
    curve = np.where(axis.curve_rev_per_s < 1.2, axis.curve_torque_nmm, 0.1 * axis.curve_torque_nmm)
    weak = replace(axis, curve_torque_nmm=curve, friction_n=60.0)
    on = replace(machine, x=weak, drawn=lambda rng, many: (replace(machine, x=weak),) * many)
    body = "G0 Z5\nG1 X20 Y30 F900\nG1 Z-2 F300\nG1 X80 F1800\nG1 Z5 F900"
    found = [f for f in proved(body, on=on).verdict.findings if f.id.startswith("pull-left-x")]
    assert len(found) == 1
    assert found[0].line in (7, 8)
    remedy = found[0].remedies[0]
    if remedy.tried is not None:
        assert remedy.tried.value.value >= 0.3
        assert remedy.changes[0].new.startswith("×")


def test_power(proved, machine):
    body = "G0 Z5\nG0 X20 Y30\nG1 Z-12 F300\nG1 X80 F2400" + OUT
    small = replace(machine, spindle=replace(machine.spindle, shaft_power_w=60.0))
    found = only(proved(body, on=small), "power")
    assert (found.severity, found.limit) == ("caution", pytest.approx(60.0 * 0.75, rel=0.3))
    assert found.likelihood > 0.5
    assert "power" not in codes(proved(IN + "G1 X80 F1500" + OUT))


def test_deflection(proved):
    deep = "G0 Z5\nG0 X20 Y30\nG1 Z-12 F300\nG1 X80 F1500" + OUT
    long = ["1: flat 3 mm, 2 flutes, flute length 14 mm, stick-out 40 mm, shank 3 mm"]
    found = only(proved(deep, cutters=long), "cutter pushed aside")
    assert found.severity == "caution"
    assert found.value.low < found.value.value < found.value.high
    assert found.value.value > found.limit
    assert "cutter pushed aside" not in codes(proved(IN + "G1 X80 F1500" + OUT))


def test_chip_thin_and_thick(proved):
    slow = only(proved(IN + "G1 X80 F150" + OUT), "chip too thin")
    assert (slow.severity, slow.line) == ("caution", 7)
    assert slow.value.value == pytest.approx(150 / 60 / 600, rel=0.01)
    assert "chip too thin" not in codes(proved(IN + "G1 X80 F1500" + OUT))
    at_6000 = "G21 G90 G17\nT1 M6\nS6000 M3\n"
    many = IN + "\n".join(
        f"G1 X80 F3900\nG0 Z5\nG0 X20 Y{y}\nG1 Z-2 F300" for y in range(31, 55, 2)
    ) + OUT  # fmt: skip
    thick = only(proved(many, start=at_6000), "chip too thick")
    assert thick.value.value > 1.5 * thick.limit


def test_wall_offset_is_the_give_square_to_the_wall(proved):
    proof = proved("G0 Z5\nG0 X20 Y30\nG1 Z-6 F300\nG1 X80 F1500" + OUT, cell=0.25)
    walls = {wall.side: wall for wall in proof.verdict.ascut.walls if wall.length_mm > 40}
    # In a slot the wood pushes the cutter to the left: that wall is shy, the other proud.
    assert walls["left"].offset.value < 0 < walls["right"].offset.value
    # Away from the middle by the same; both are shy by half the runout, 0.02 mm in all. The flute
    # passes the two walls at different forces, which a stiff cutter shows by some micrometres.
    both = walls["left"].offset.value + walls["right"].offset.value
    assert both == pytest.approx(-0.02, abs=0.005)
    assert walls["left"].depth_mm == pytest.approx(6.0, abs=1e-3)
    assert (walls["left"].first_line, walls["left"].last_line) == (7, 7)


def test_totals_and_time(proved):
    proof = proved(IN + "G1 X80 F1500" + OUT)
    totals = proof.verdict.totals
    assert totals.rapid_mm == pytest.approx(5 + np.hypot(20, 30) + 7)
    assert totals.cut_mm == pytest.approx(7 + 60)
    assert totals.lowest_mm == (0.0, 0.0, -2.0)
    assert totals.highest_mm == (80.0, 30.0, 5.0)
    assert totals.removed_mm3 == pytest.approx(2 * (60 * 6 + np.pi * 9), rel=5e-3)
    assert totals.time_s < 60.0  # the cutter is in the spindle already: no change to wait for
    assert totals.time_spread_s[0] < totals.time_s < totals.time_spread_s[1]
    assert 60 / 25 < totals.cutting_time_s < totals.time_s


@pytest.mark.parametrize(
    ("time_s", "words"),
    [(42.0, "42 s"), (59.8 * 60, "60 min"), (119.8 * 60, "2 h 00 min"), (7500.0, "2 h 05 min")],
)
def test_time_in_the_sentence(time_s, words):
    assert _sentence([], time_s, True) == f"Nothing was found that stops it; about {words}."


def test_nothing_moves(proved):
    with pytest.raises(NothingMoves, match=r"no line of it moves the cutter"):
        proved("G4 P1")


@pytest.mark.parametrize("cell", [0.01, 5.0, float("nan")])
def test_cells_out_of_bounds(proved, cell):
    with pytest.raises(TooManyCells, match="remedy"):
        proved("G1 X5 F100", cell=cell)


def test_stray_rim_cells_are_no_deep_wood(proved):
    # Ring passes whose arcs are split differently leave single cells at the rim; flutes of 7 mm
    # see 3 mm of wood each time.
    rings = []
    for z, parts in ((-3, 2), (-6, 3), (-9, 5)):
        rings.append(f"G1 X60 Y30 Z{z} F600")
        for k in range(1, parts + 1):
            turn = 2 * np.pi * k / parts
            before = 2 * np.pi * (k - 1) / parts
            x, y = 40 + 20 * np.cos(turn), 30 + 20 * np.sin(turn)
            i, j = -20 * np.cos(before), -20 * np.sin(before)
            rings.append(f"G3 X{x:.4f} Y{y:.4f} I{i:.4f} J{j:.4f} F1500")
    body = "G0 Z5\nG0 X60 Y30\n" + "\n".join(rings) + OUT
    short = ["1: flat 6 mm, 2 flutes, flute length 7 mm, stick-out 30 mm"]
    for cell in (0.1, 0.25):
        proof = proved(body, cutters=short, cell=cell)
        assert "flutes too short" not in codes(proof)


def test_rapid_straight_down_is_told_with_its_whole_depth(proved):
    found = only(proved("G0 Z5\nG0 X20 Y30\nG0 Z-10\nG1 X30 F900" + OUT), "rapid through wood")
    assert found.value.value == pytest.approx(10.0, abs=0.01)


def test_nothing_touched_is_a_caution(proved):
    found = only(proved("G0 Z5\nG1 X50 Y20 F900"), "no wood")
    assert (found.severity, found.line) == ("caution", 5)
    assert "no wood" not in codes(proved("G0 Z5\nG0 X50 Y20"))


def test_a_path_longer_than_the_travel_cannot_be_moved_into_it(proved):
    ends = [f for f in proved("G0 Z5\nG1 X-300 F3000\nX700").verdict.findings if f.code == "travel"]
    assert {f.id.rsplit("-", 1)[1] for f in ends} == {"left", "right"}
    assert all("longer than the travel" in f.remedies[0].words for f in ends)


def test_missing_cutter_in_the_air_is_no_matter(proved):
    start = "G21 G90 G17\nG1 X5 Y5 Z5 F900\nT1 M6\nS18000 M3\n"
    two = [FLAT, FLAT.replace("1:", "2:")]
    assert "missing cutter" not in codes(
        proved(IN + "G1 X60 F1500" + OUT, start=start, cutters=two)
    )
    early = "G21 G90 G17\nG0 X5 Y5 Z-1\nT1 M6\nS18000 M3\n"
    told = only(proved(IN + "G1 X60 F1500" + OUT, start=early, cutters=two), "missing cutter")
    assert told.line == 2


def test_too_many_pieces_are_refused(proved, monkeypatch):
    monkeypatch.setattr("kerfwright.trajectory.path.MOST_PIECES", 50)
    with pytest.raises(TooManyPieces, match="remedy"):
        proved("G2 X0 Y0 I25 J0 F900")
    monkeypatch.undo()
    monkeypatch.setattr("kerfwright.prove.chain.MOST_METRES", 0.01)
    with pytest.raises(TooLong, match="remedy"):
        proved(IN + "G1 X80 F1500" + OUT)


def test_units_that_make_no_sense_are_asked_about_before_all_else(proved):
    body = "G0 X10 Y10 Z2\nG1 Z-1 F300\nX60 F1800\nY40\nG0 Z5"
    inches = proved(body, start="G20 G90 G17\nT1 M6\nS18000 M3\n").verdict
    asked = [f for f in inches.findings if f.code == "units"]
    assert [f.severity for f in asked] == ["caution"]
    assert asked[0].remedies[0].changes[0].new == "G21"
    assert inches.sentence.startswith(
        "Do not cut this yet: is this program meant in millimetres? As it stands: line"
    )
    assert "units" not in [f.code for f in proved(body).verdict.findings]

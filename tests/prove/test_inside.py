"""Travel and table: what is said to bring the job inside does, when it is proved again."""

from dataclasses import replace

import pytest

from .every_finding import DEEP, OUT, bed_with, track


def told(proof, code):
    return next((one for one in proof.verdict.findings if one.code == code), None)


def stands_at(x, y):
    return lambda setup: replace(setup, board_at_mm=(x, y, setup.board_at_mm[2]))


@pytest.mark.parametrize(
    ("body", "at", "path"),
    [
        ("G0 Z5\nG1 X80 F3000" + OUT, (560.07, 100.0), "560.1"),
        ("G0 Z5\nG1 X-30 F3000" + OUT, (10.0, 100.0), "10"),
        ("G0 Z5\nG1 Y-30 F3000" + OUT, (100.0, 10.0), "10"),
    ],
)
def test_the_least_shift_of_the_board(proved, body, at, path):
    found = told(proved(body, change=stands_at(*at)), "travel")
    (remedy,) = found.remedies
    assert remedy.more_s == 0.0
    (change,) = remedy.changes
    assert change.path == "board.at"
    # From the table's corner, as job.toml has it: it begins 40 and 35 mm before the travel.
    x, y = (float(one.removesuffix(" mm")) for one in change.new.split(", "))
    after = (x - 40.0, y - 35.0)
    assert told(proved(body, change=stands_at(*after)), "travel") is None
    back = tuple(a + 0.15 * (b > a) - 0.15 * (b < a) for a, b in zip(after, at, strict=True))
    assert told(proved(body, change=stands_at(*back)), "travel") is not None


def test_no_place_takes_it_all(proved):
    found = told(proved("G0 Z5\nG1 X-300 F3000\nX700" + OUT), "travel")
    (remedy,) = found.remedies
    assert remedy.tried is None
    assert "no place of the board" in remedy.not_tried


def test_a_shift_onto_metal_is_none(proved):
    # The way back from the edge leads over a track that the job cuts into.
    body = "G0 Z5\nG0 X80 Y30\nG1 Z-18.5 F300" + OUT
    at = (535.0, 100.0)
    rail = replace(track(30.0), from_mm=(74.0, 20.0), to_mm=(74.0, 40.0), half_width_mm=1.0)

    def change(setup):
        return bed_with(metal=(rail,))(stands_at(*at)(setup))

    free = told(proved(body, change=stands_at(*at)), "travel").remedies[0]
    assert free.tried is not None
    (remedy,) = told(proved(body, change=change), "travel").remedies
    assert remedy.tried is None
    assert "something else" in remedy.not_tried


def test_lifting_less(proved):
    body = "G0 Z200\nG0 X20 Y30\nG0 Z5\nG1 Z-1 F300\nG1 X40" + OUT
    first = proved(body)
    found = told(first, "travel")
    (remedy,) = found.remedies
    mm = float(remedy.changes[0].new.split()[0])
    again = proved(body.replace("Z200", f"Z{200 - mm:.1f}"))
    assert told(again, "travel") is None
    longer = again.verdict.totals.time_s - first.verdict.totals.time_s
    assert remedy.more_s == pytest.approx(longer, abs=0.01)


def test_a_cutter_held_longer(proved):
    def low(setup):
        x, y, z = setup.board_at_mm
        return replace(setup, board_at_mm=(x, y, z - 19.0))

    short = "1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out {}"
    deep = DEEP.format(z=18, f=900)
    found = told(proved(deep, cutters=(short.format("22 mm"),), change=low), "travel")
    assert "past the bottom end" in found.words
    longer, spacer = found.remedies
    assert longer.changes[0].new == "24.0 mm"
    again = proved(deep, cutters=(short.format("24.0 mm"),), change=low)
    assert told(again, "travel") is None
    assert spacer.tried is None
    assert spacer.not_tried


def test_out_of_the_table_three_ways(proved):
    body = DEEP.format(z=18.3, f=300)
    raised, zero, allowed = told(proved(body), "table").remedies
    assert [one.more_s for one in (raised, zero, allowed)] == [0.0, 0.0, 0.0]
    assert told(proved(DEEP.format(z=18.0, f=300)), "table") is None

    def higher(setup):
        mm = float(zero.changes[0].new.removesuffix(" mm"))
        return replace(setup, zero_on_board_mm=(0.0, 0.0, mm))

    def more(setup):
        return replace(setup, below_board_mm=float(allowed.changes[0].new.removesuffix(" mm")))

    for change in (higher, more):
        assert told(proved(body, change=change), "table") is None
    # Beyond the spoil board nothing more can be allowed.
    assert len(told(proved(DEEP.format(z=40.0, f=300)), "table").remedies) == 2

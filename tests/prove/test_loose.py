"""A piece that comes loose early, cut free last."""

from .every_finding import ALLOWED, OUT, free_square

HOLE = "G0 X36 Y20\nG1 Z-5 F300\nG1 X44 F600\nY30\nX36\nY20" + OUT
TWO = ("1: flat 6 mm, 2 flutes, flute length 20 mm, stick-out 30 mm",
       "2: flat 3 mm, 2 flutes, flute length 12 mm, stick-out 24 mm")  # fmt: skip


def told(proof, code="loose piece"):
    return next((one for one in proof.verdict.findings if one.code == code), None)


def last_of(found):
    return next((one for one in found.remedies if "free last" in one.words), None)


def test_it_is_cut_free_last(proved):
    body = free_square(0.0) + "\n" + HOLE
    first = proved(body, **ALLOWED)
    remedy = last_of(told(first))
    assert remedy.tried.unit == "s"
    assert remedy.tried.value.value == 0.0
    # Lines 5 to 35 of the square behind the hole's.
    assert "move lines 5 to 36 behind line" in remedy.words
    lines = body.split("\n")
    end = lines.index("G0 X36 Y20")
    mended = "\n".join([lines[0], *lines[end:], *lines[1:end]])
    again = proved(mended, **ALLOWED)
    found = told(again)
    assert found.time_s > told(first).time_s
    assert last_of(found) is None
    assert abs(again.verdict.totals.time_s - first.verdict.totals.time_s - remedy.more_s) < 0.02


def test_it_is_cut_last_already(proved):
    assert last_of(told(proved(free_square(0.0), **ALLOWED))) is None


def test_why_it_was_not_tried(proved):
    change = "\nT2 M6\nS18000 M3\n"
    found = told(proved(free_square(0.0) + change + HOLE, cutters=TWO, **ALLOWED))
    remedy = last_of(found)
    assert remedy.tried is None
    assert "another cutter" in remedy.not_tried
    # Sunk into the hole without a lift: the two hang together.
    joined = free_square(0.0).removesuffix(OUT) + "\nG1 X36 Y20 Z-5\nX44\nY30\nX36\nY20" + OUT
    remedy = last_of(told(proved(joined, **ALLOWED)))
    assert remedy.tried is None
    assert "same stretch" in remedy.not_tried


def test_a_board_is_held_by_its_rim(proved):
    # The part is larger than what is left around it: it is the part that comes loose.
    turns = "".join(f"G1 Z-{z} F300\nG1 X92 F1500\nY52\nX8\nY8\n" for z in (6, 12, 18.2))
    found = told(proved("G0 Z5\nG0 X8 Y8\n" + turns + "G0 Z5", **ALLOWED))
    assert "about 78 x 38 mm" in found.words
    assert found.value.value == 78 * 38

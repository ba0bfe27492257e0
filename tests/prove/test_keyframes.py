"""The board at cutter changes: the same bits as a program that ends there."""

import numpy as np
import pytest

from kerfwright.prove import keyframes as keyframes_module
from kerfwright.prove import sweep as sweep_module
from kerfwright.prove.cut import Cut, arrays_of, cut_from
from kerfwright.prove.keyframes import Recorder
from kerfwright.prove.removal import Remover
from kerfwright.prove.run_path import AsRun
from kerfwright.stock.field import Field

CUTTERS = (
    "1: flat 6 mm, 2 flutes, flute length 20 mm",
    "2: ball 3 mm, 2 flutes",
    "3: v 90 deg 6 mm",
)
PARTS = (
    "G0 Z5\nG0 X10 Y10\nG1 Z-4 F600\nG1 X60 Y20 F1500\nG0 Z5",
    "G0 X20 Y10\nG1 Z-6 F600\nG3 X60 Y30 I20 J10 F1200\nG0 Z5",
    "G0 X12 Y8\nG1 Z-2 F600\nG1 X75 Y45 F900\nG0 Z5",
    "G0 X40 Y5\nG1 Z-7 F600\nG1 X40 Y50 F900\nG0 Z5",
)
CHANGES = ("", "T2 M6\nS18000 M3\n", "T3 M6\nS18000 M3\n", "T1 M6\nS18000 M3\n")


def program(parts):
    return "\n".join(
        change + body for change, body in list(zip(CHANGES, PARTS, strict=True))[:parts]
    )


@pytest.fixture
def whole(swept, monkeypatch):
    monkeypatch.setattr(sweep_module, "WINDOW", 150)
    return swept(program(4), cutters=CUTTERS)


@pytest.mark.parametrize("number", [0, 1, 2])
def test_keyframe_is_the_board_of_a_program_cut_off_there(swept, whole, number):
    found = whole[3].keyframes
    short = swept(program(number + 1), cutters=CUTTERS)[3]
    at = found.field(number, whole[3].field)
    for a, b in zip(at.maps(), short.field.maps(), strict=True):
        assert np.array_equal(a, b)
    assert found.frames[number].slot == (2, 3, 1)[number]
    assert found.left_out == 0
    # Tops of blocks serve the kernel that would cut on from here.
    touched = at.place >= 0
    assert np.array_equal(
        at.top_mm[at.place[touched]],
        at.height_mm[at.place[touched]].reshape(-1, 256, 64).max(axis=2),
    )


def test_only_what_was_cut_again_is_copied(whole):
    out = whole[3]
    copies = [len(frame.height_mm) for frame in out.keyframes.frames]
    assert copies[0] > 0
    assert sum(copies) < 3 * len(out.field.height_mm)


def test_keyframes_come_back_from_the_kept_arrays(whole):
    _, _, setup, out = whole
    none = np.zeros((len(out.column), 3))
    run = AsRun(field=out.field, offset_mm=none, swing_mm=none)
    kept = Cut(swept=out, run=run)
    back = cut_from(arrays_of(kept), setup.board).swept
    for number in range(3):
        was, now = (s.keyframes.field(number, s.field).maps() for s in (out, back))
        for a, b in zip(was, now, strict=True):
            assert np.array_equal(a, b)


def shown(done, found, last):
    """Heights when so many steps are done, by the rule of the page, and where that is not sure.

    A cell shows what the next cutter change, or the end, has of it once the last step that made it
    so is done, and what the change before had until then.
    """
    number = sum(frame.step <= done for frame in found.frames)
    before = found.field(number - 1, last) if number else last.untouched()
    after = found.field(number, last) if number < len(found.frames) else last
    (low, made_by, _), high = after.maps(), before.heights()
    later = made_by >= done
    return np.where(later, high, low), later & (low < high)


def test_between_keyframes_heights_are_true_or_those_of_the_change_before(whole):
    _, _, setup, out = whole
    trajectory, tools = whole[0], whole[1]
    remover = Remover(Field.of_board(setup.board, 0.25), 1)
    seen = 0
    for window in sweep_module.windows(trajectory, tools, setup, 0.25):
        remover.take(
            window.steps,
            window.follows,
            window.first_step,
            setup.slots[int(tools.slot[window.begin])],
            window.group_first,
        )
        truth = remover.field.maps()[0]
        high, unsure = shown(window.first_step + len(window.steps), out.keyframes, out.field)
        assert np.array_equal(high[~unsure], truth[~unsure])
        assert (high >= truth).all()
        seen += int(unsure.sum())
    assert seen > 0  # the path crosses itself
    assert not unsure.any()


def test_when_room_runs_out_the_earliest_are_let_go(monkeypatch, swept):
    few = 3 * keyframes_module._TILE_BYTES
    monkeypatch.setattr(sweep_module, "Recorder", lambda: Recorder(few))
    out = swept(program(4), cutters=CUTTERS, cell=0.1)[3]
    found = out.keyframes
    assert found.left_out > 0
    assert sum(len(frame.height_mm) for frame in found.frames) <= 3
    assert found.left_out + len(found.frames) == 3


@pytest.mark.parametrize(
    ("tiles", "changes"), [(14, "cutter change"), (6, "2 cutter changes"), (3, "3 cutter changes")]
)
def test_what_was_let_go_is_told(monkeypatch, proved, tiles, changes):
    few = tiles * keyframes_module._TILE_BYTES
    monkeypatch.setattr(sweep_module, "Recorder", lambda: Recorder(few))
    verdict = proved(program(4), cutters=CUTTERS, cell=0.1).verdict
    words = (
        f"how the board stood at the first {changes}: copies of it would have taken more than"
        " 200 MB; until the change after, the page shows what is cut several times as whole before"
        " the last of them"
    )
    assert [one for one in verdict.not_checked if "stood" in one] == [words]


def test_where_all_are_kept_nothing_is_told(proved):
    verdict = proved(program(4), cutters=CUTTERS).verdict
    assert not [one for one in verdict.not_checked if "stood" in one]

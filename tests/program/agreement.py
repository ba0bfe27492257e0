"""What it means that two readings of one program agree."""

import numpy as np
import pytest

from kerfwright.program import StartState, examine_program
from kerfwright.program.listing import entries

from .second_reader import read

_STEP_MM = 1e-7  # a shorter straight move changes no place
#: How far the two may be apart: mm, degrees, seconds and mm/min alike; the last two also by ratio.
_APART = 1e-6

_COLUMNS = (
    *("kind", "end_mm", "feed_mm_per_s", "line", "byte", "slot", "spindle_rev_per_s", "path_mode"),
    "timed_moves",
)
#: Refusals by a limit of the package's own, which the language does not have.
_OWN_LIMITS = ("mm away", "out of all reach", "far too fast")
_ARCS = ("move", "centre_mm", "normal", "sweep_rad")
_LIKE = ("events", "notes", "after", "lines", "unit_mm", "unit_said")


def start_of(setup):
    """The second reader's setup as the package wants to be told it."""
    return StartState(
        start_mm=tuple(map(float, setup.get("start", (0, 0, 0)))),
        slots=12,
        length_mm={int(slot): cutter["length"] for slot, cutter in setup["tools"].items()},
        diameter_mm={int(slot): cutter["diameter"] for slot, cutter in setup["tools"].items()},
        slot_in_spindle=1,
        block_delete=setup.get("block_delete", False),
        optional_stop=setup.get("optional_stop", False),
        zero_at_mm=(0.0, 0.0, 0.0),
    )


def assert_twins(text, rules, start=None):
    """Read both ways; columns, events, notes, faults and state must be the same."""
    fast = examine_program(text, "f", rules, start)
    slow = examine_program(text, "f", rules, start, kernel_on=False)
    assert [str(error) for error in fast.errors] == [str(error) for error in slow.errors]
    assert [error.kind for error in fast.errors] == [error.kind for error in slow.errors]
    for name in _COLUMNS:
        a, b = getattr(fast.program, name), getattr(slow.program, name)
        assert (a.dtype, a.shape) == (b.dtype, b.shape), name
        assert a.tobytes() == b.tobytes(), name
    for name in _ARCS:
        a, b = getattr(fast.program.arcs, name), getattr(slow.program.arcs, name)
        assert a.tobytes() == b.tobytes(), name
    for name in _LIKE:
        assert getattr(fast.program, name) == getattr(slow.program, name), name
    assert fast.program.jumps.move.tolist() == slow.program.jumps.move.tolist()
    assert fast.program.jumps.by_mm.tobytes() == slow.program.jumps.by_mm.tobytes()
    assert (fast.more, fast.good_moves) == (slow.more, slow.good_moves)
    assert fast.good_events == slow.good_events
    return fast


def without_empty(listed, place, kinds=None):
    """The entries that change something: no straight move to where the cutter is."""
    kept = []
    for entry in listed:
        to = entry.get("to")
        straight = entry["type"] in ("rapid", "feed")
        if straight and max(abs(a - b) for a, b in zip(to, place, strict=True)) < _STEP_MM:
            continue
        place = to or place
        if kinds is None or entry["type"] in kinds:
            kept.append(entry)
    return kept


def without_still(program):
    """The package's entries without straight moves of no length: a length offset (G43) may lie
    between the numbers of two ends that are one place.
    """
    length = np.linalg.norm(program.end_mm - program.from_mm, axis=1).tolist()
    kept, move = [], 0
    for entry in entries(program):
        still = False
        if entry["type"] in ("rapid", "feed", "arc", "probe"):
            still = entry["type"] in ("rapid", "feed") and length[move] < _STEP_MM
            move += 1
        if not still:
            kept.append(entry)
    assert move == program.moves
    return kept


def assert_equal(found, wanted, apart, where):
    """Two values of entries: numbers within ``apart``, words the same."""
    if isinstance(wanted, list | tuple):
        assert len(found) == len(wanted), where
        for have, want in zip(found, wanted, strict=True):
            assert_equal(have, want, apart, where)
    elif isinstance(wanted, float | int) and not isinstance(wanted, bool):
        assert found == pytest.approx(wanted, abs=apart, rel=apart), where
    else:
        assert found == wanted, where


def assert_same_listing(found, wanted, place, apart=_APART, kinds=None):
    found, wanted = without_empty(found, place, kinds), without_empty(wanted, place, kinds)
    assert [entry["type"] for entry in found] == [entry["type"] for entry in wanted]
    for have, want in zip(found, wanted, strict=True):
        assert want.keys() - {"z_range"} <= have.keys()
        for key in want.keys() - {"z_range"}:
            if key == "to" and "z_range" in want:
                low, high = want["z_range"]
                assert low < have["to"][2] <= high
                assert_equal(have["to"][:2], want["to"][:2], apart, (key, have, want))
            else:
                assert_equal(have[key], want[key], apart, (key, have, want))


def assert_same_reading(program, second, setup):
    """The package's program and what the second reader made of the same text."""
    assert_same_listing(without_still(program), second.motions, setup.get("start", (0, 0, 0)))
    after, wanted = program.after, second.after
    assert_equal(list(program.place_at_end_mm), wanted["place"], _APART, "place at the end")
    modes = {**after.modes, "g92": list(after.g92_mm)}
    assert modes.keys() == wanted["modes"].keys()
    for mode, value in wanted["modes"].items():
        assert_equal(modes[mode], value, _APART, mode)
    assert list(after.messages) == wanted["messages"]
    assert after.gauge_z_mm == pytest.approx(wanted["gauge_z"], abs=_APART)
    for index in sorted(after.parameters.keys() | wanted["params"].keys()):
        have, want = after.parameters.get(index, 0.0), wanted["params"].get(index, 0.0)
        assert_equal(have, want, _APART, f"parameter {index}")


def assert_same_answer(text, reading, setup):
    """Both readers refuse the text, and on the same line first; or both read the same."""
    second = read(text.decode("latin-1"), setup)
    if reading.errors:
        told = str(reading.errors[0])
        if any(words in told for words in _OWN_LIMITS):
            return
        assert second.fault is not None, told
        assert (reading.errors[0].place.line or None) == second.fault.line, (told, second.fault)
    else:
        assert second.fault is None, second.fault
        assert_same_reading(reading.program, second, setup)

"""A set-up from the command line."""

import pytest

from kerfwright.basics import InputError
from kerfwright.setup import setup_from_words

BOARD = "310 x 200 x 30 mm hard maple"


def test_the_board_lies_in_the_middle_on_the_spoil_board(machine):
    setup = setup_from_words(BOARD, ["1: ball 3 mm, 2 flutes"], machine)
    # table 700 x 800 from (-50, -100): middle at (300, 300)
    assert setup.board_at_mm == (300.0 - 155.0, 300.0 - 100.0, 12.0 + 30.0)
    assert setup.zero_on_board_mm == (0.0, 0.0, 0.0)
    assert setup.zero_u_mm == (0.15, 0.15, 0.05)
    assert setup.below_board_mm == 0.0
    assert list(setup.slots) == [1]
    assert setup.first_slot == 1


def test_everything_assumed_is_said(machine):
    setup = setup_from_words(BOARD, ["1: ball 3 mm, 2 flutes"], machine)
    said = "\n".join(setup.assumed)
    for words in (
        "density of hard maple: 695 kg/m³",
        "moisture 8 % (6 to 12)",
        "grain along X",
        "thickness within 0.2 mm",
        "zero at the left front top corner",
        "middle of the table",
        "zero in X within 0.29 mm nineteen times in twenty",
        "zero in Z within 0.098 mm nineteen times in twenty",
        "lies flat on the spoil board",
        "ball 3 mm: runout 0.02 mm (0.01 to 0.05)",
        "the cutter of slot 1 is in the spindle from the start",
    ):
        assert words in said
    assert setup.known["zero.x"].kind == "default"


def test_two_slots_leave_the_first_open(machine):
    setup = setup_from_words(BOARD, ["2: ball 3 mm", "1: flat 6 mm"], machine)
    assert list(setup.slots) == [1, 2]
    assert setup.first_slot is None


@pytest.mark.parametrize(
    ("stock", "slots", "message"),
    [
        (
            BOARD,
            [],
            '--cutter: no cutter is given\n  remedy: add --cutter "1: ball 3 mm, 2 flutes"',
        ),
        (
            BOARD,
            ["1: ball 3 mm", "1: flat 6 mm"],
            "--cutter: slot 1 is given twice\n  remedy: give each slot once",
        ),
        (
            "310 x 200 x 30 mm hrad maple",
            ["1: ball 3 mm"],
            '--stock: no wood here is called "hrad maple"\n  remedy: near it are ',
        ),
    ],
)
def test_errors(machine, stock, slots, message):
    with pytest.raises(InputError) as caught:
        setup_from_words(stock, slots, machine)
    assert str(caught.value).startswith(message)

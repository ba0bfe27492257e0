"""``[[parts]]`` and ``[climate]`` of job.toml."""

import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.cutter import read_cutter
from kerfwright.setup import load_job

JOB = """kerfwright = "job 1"
[board]
size = "300 x 200 x 12 mm"
wood = "hard maple"
{board}
[limits]
tolerance = "0.3 mm"
[slots]
1 = "flat"
{more}
"""


@pytest.fixture
def load(tmp_path, machine):
    def run(more, board=""):
        path = tmp_path / "job.toml"
        path.write_text(JOB.format(more=more, board=board), encoding="utf-8")
        return load_job(path, {"flat": read_cutter("flat 6 mm, 2 flutes")}, machine)

    return run


def test_nothing_asked_is_nothing_judged(load):
    setup = load("")
    assert (setup.wanted, setup.climate) == ((), None)


@pytest.mark.parametrize(
    ("size", "ends"),
    [
        ('"19 ± 0.1 mm"', (18.9, 19.1)),
        ('"18.9 to 19.0 mm"', (18.9, 19.0)),
        ('"19 mm"', (18.7, 19.3)),  # that of [limits]
        ('"19 mm"\nwithin = "0.05 mm"', (18.95, 19.05)),
        ('"3/4 in"', (18.75, 19.35)),
    ],
)
def test_a_size_with_its_tolerance(load, size, ends):
    (one,) = load(f'[[parts]]\nname = "tongue"\nsize = {size}').wanted
    assert (one.low_mm, one.high_mm) == pytest.approx(ends)
    assert (one.name, one.near_mm, one.line, one.measure) == ("tongue", None, 0, "")


def test_where_it_is(load):
    (one,) = load(
        '[[parts]]\nname = "hole of the pin"\nsize = "8 mm"\nmeasure = "across X"\n'
        'near = ["85 mm", "2 in"]\nline = 120'
    ).wanted
    assert (one.near_mm, one.line, one.measure) == ((85.0, 50.8), 120, "across X")
    assert one.key == "hole-of-the-pin"


def test_moisture_of_the_wood_or_of_the_air(load):
    climate = load(
        '[climate]\nwood_now = "8 ± 1 %"\nair_later = "30 to 65 %"\ntemperature = "21.1 degC"\n'
        'sawn = "flat"'
    ).climate
    assert climate.now_percent.value == pytest.approx(8.0)
    assert climate.now_percent.u == pytest.approx(1.0 / 1.96, rel=0.01)
    # Wood Handbook, table 4-2 (from memory): 70 °F, 30 and 65 %: 6.2 and 12.0 %.
    assert climate.later_percent.low == pytest.approx(6.2 - 0.7, abs=0.06)
    assert climate.later_percent.high == pytest.approx(12.0 + 0.7, abs=0.06)
    assert climate.sawn == "flat"


def test_the_boards_own_moisture_counts(load):
    climate = load("[climate]\n", board='moisture = "10 %"').climate
    assert climate.now_percent.value == pytest.approx(10.0)
    assert (climate.later_percent.low, climate.later_percent.high) == (6.0, 12.0)


def test_every_slip_is_told(load):
    with pytest.raises((InputError, InputErrors)) as told:
        load(
            '[[parts]]\nsize = "5 mm"\n'
            '[[parts]]\nname = "a"\nsize = "-5 mm"\n'
            '[[parts]]\nname = "b"\nsize = "5 mm"\nnear = ["900 mm", "5 mm"]\n'
            '[[parts]]\nname = "c"\nsize = "5 mm"\nline = "six"\nmeasure = "round"\n'
            '[[parts]]\nname = "d"\nsize = "5 mm"\n[[parts]]\nname = "d"\nsize = "6 mm"\n'
            '[climate]\nwood_now = "80 %"\nwood_later = "8 %"\nair_later = "50 %"\nsawn = "odd"\n'
        )
    said = str(told.value)
    for words in (
        "the size has no name", "is no size that a part can have", "the place is not on the board",
        "is no line of a program", "is no kind of size", 'there are two "d"',
        "wood_now is beyond all that can be", "moisture is said twice", "how the board was sawn",
    ):  # fmt: skip
        assert words in said, words

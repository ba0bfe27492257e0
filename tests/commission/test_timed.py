"""timed.toml: what stands in it, and every error at once."""

import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.basics.known import TWO_SIDED_95
from kerfwright.commission import read_timed

HEAD = 'kerfwright = "timed 1"\n'


@pytest.fixture
def timed(tmp_path):
    for name in ("a", "b", "c"):
        (tmp_path / f"{name}.nc").write_text("G21\nG1 X10 F600\nM2\n")

    def read(text, head=HEAD):
        path = tmp_path / "timed.toml"
        path.write_text(head + text, encoding="utf-8")
        return read_timed(path)

    return read


def entry(name="a", took='"10 min"', more=""):
    return f'[[program]]\nfile = "{name}.nc"\ntook = {took}\n{more}\n'


def test_programs_are_looked_for_beside_the_file(timed, tmp_path):
    read = timed(
        entry("a", '"1 h 12 min"')
        + entry("b", '"4321 ± 10 s"', "changes_left_out = true")
        + entry("c", '"70 to 76 min"', 'note = "with the feed at 100 %"')
    )
    assert [one.file for one in read] == [tmp_path / f"{name}.nc" for name in "abc"]
    assert [one.took_s for one in read] == [4320.0, 4321.0, 4380.0]
    assert [one.changes_left_out for one in read] == [False, True, False]
    # Nothing said: a second and half a per cent, nineteen times in twenty.
    assert read[0].u_s * TWO_SIDED_95 == pytest.approx(1.0 + 0.005 * 4320.0)
    assert read[1].u_s * TWO_SIDED_95 == pytest.approx(10.0)
    # All values of a range alike: its width over the root of twelve.
    assert read[2].u_s == pytest.approx(360.0 / 12**0.5)
    assert read[2].note == "with the feed at 100 %"


@pytest.mark.parametrize("many", [0, 1, 2])
def test_fewer_than_three_are_refused(timed, many):
    with pytest.raises(InputErrors) as told:
        timed("".join(entry(name) for name in "abc"[:many]))
    assert "at least 3 are needed" in str(told.value)
    assert "remedy: " in str(told.value)


@pytest.mark.parametrize(
    ("changed", "line", "words"),
    [
        (entry("a", "600"), 4, "not a time in quotes"),
        (entry("a", '"10 parsec"'), 4, "no unit of time"),
        (entry("a", '"don\'t know"'), 4, "says nothing"),
        (entry("a", '"0 s"'), 4, "no time that a program takes"),
        (entry("a", '"-5 min"'), 4, "no time that a program takes"),
        (entry("missing"), 3, "there is no file"),
        ('[[program]]\nfile = 3\ntook = "10 min"\n', 3, "not the name of a file"),
        ('[[program]]\ntook = "10 min"\n', 2, "has no file"),
        ('[[program]]\nfile = "a.nc"\n', 2, "has no took"),
        (entry("a", more="changes_left_out = 1"), 5, "neither true nor false"),
        (entry("a", more='size = "3 mm"'), 5, "means nothing here"),
        (entry("a", more="note = 3"), 5, "not a text"),
    ],
)
def test_each_error_has_its_place_and_remedy(timed, changed, line, words):
    with pytest.raises(InputErrors) as told:
        timed(changed + entry("b") + entry("c"))
    assert len(told.value.errors) == 1
    error = told.value.errors[0]
    assert words in error.problem
    assert error.place.line == line
    assert error.place.column >= 1
    assert error.remedy


def test_all_errors_are_told_together(timed):
    with pytest.raises(InputErrors) as told:
        timed(entry("a", "1") + entry("nowhere") + entry("c", '"1 mile"'))
    assert [error.place.line for error in told.value.errors] == [4, 7, 12]


@pytest.mark.parametrize("head", ["", 'kerfwright = "job 1"\n', 'kerfwright = "timed 2"\n'])
def test_another_kind_or_a_newer_file_is_refused(timed, head):
    with pytest.raises(InputError):
        timed(entry("a") + entry("b") + entry("c"), head)


def test_program_that_is_no_list(timed):
    with pytest.raises(InputErrors, match="no list of programs"):
        timed("program = 3\n")


def test_more_than_can_be_fitted(timed):
    with pytest.raises(InputErrors, match="at most 100"):
        timed("".join(entry("a") for _ in range(101)))

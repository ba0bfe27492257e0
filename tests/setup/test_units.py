"""Do a program's numbers make sense on the machine? The near misses must not ask."""

import numpy as np
import pytest

from kerfwright.machine import load_machine
from kerfwright.program import WORKSHOP, parse_program
from kerfwright.setup.units import doubt, extent_of, misfit, size_words, unit_word
from kerfwright.workshop import demo_folder


@pytest.fixture(scope="module")
def machine():
    """Travels 610 x 410 x 95 mm."""
    return load_machine(demo_folder() / "machine.toml")


def program(body, head="G21 G90 G17\n"):
    return parse_program(f"{head}{body}M2\n".encode(), "job.nc", WORKSHOP)


def box(x, y, z, feed=20):
    """A box from X0 Y0 Z0 to these."""
    return f"G0 X0 Y0 Z0\nG1 X{x} F{feed}\nY{y}\nZ-{z}\n"


class TestMisfit:
    @pytest.mark.parametrize(
        ("body", "words"),
        [
            (box(610, 410, 95), ""),
            (box(610.1, 5, 5), "more than the 610 x 410 x 95 mm that this machine travels"),
            (box(5, 410.1, 5), "more than the 610"),
            (box(5, 5, 95.1), "more than the 610"),
            (box(2.9, 2.9, 2.9), "all of it within 3 mm"),
            (box(2.9, 2.9, 3.0), ""),
            ("G1 X0 Y0 Z-2 F60\nG0 Z0.5\n", ""),  # one hole: from above a point, which says nothing
            (box(50, 50, 5, 20000), ""),
            (box(50, 50, 5, 20001), "with a feed of 20001 mm/min"),
            (box(50, 50, 5, 1), ""),
            (box(50, 50, 5, 0.5), "with a feed of 0.5 mm/min"),
            ("G0 X600 Y50\nG93 G1 X601 Y0 F99999\n", ""),  # a time, no feed
            ("G1 X0 Y0 F100\nG2 I205 J0\n", ""),  # a circle as wide as the travel of Y
            ("G1 X0 Y0 F100\nG2 I205.2 J0\n", "more than the 610"),
        ],
    )
    def test_reasons(self, machine, body, words):
        found = misfit(extent_of(program(body)), machine)
        assert found == words if not words else words in found

    def test_where_it_is_taken_to_start_does_not_count(self, machine):
        extent = extent_of(program("G0 X700 Y700\nX720\n"))
        assert extent.size_mm == (20.0, 0.0, 0.0)
        assert misfit(extent, machine) == ""

    def test_no_move_fits(self, machine):
        assert misfit(extent_of(program("")), machine) == ""


class TestDoubt:
    """The program states its units."""

    def test_inches_that_were_meant_as_millimetres(self, machine):
        asked = doubt(program(box(305, 203, 6, 600), "(out)\nG90 g20\n"), machine)
        assert asked.line == 2
        assert asked.words == (
            "Is this program meant in millimetres? The program says G20 on line 2: in inches it is"
            " 7747 x 5156 x 152 mm, and the machine travels 610 x 410 x 95 mm; in millimetres it"
            " would be 305 x 203 x 6 mm"
        )
        assert (asked.value_mm, asked.limit_mm) == (pytest.approx(7747.0), pytest.approx(610.0))
        assert (asked.change.path, asked.change.old, asked.change.new) == (
            "word on line 2", "G20", "G21",
        )  # fmt: skip
        assert asked.remedy == "If it is, write G21 in place of G20 on line 2"

    def test_millimetres_that_were_meant_as_inches(self, machine):
        asked = doubt(program(box(2.5, 1.5, 0.8), "G71 G90\n"), machine)
        assert (
            "meant in inches? The program says G71 on line 1: in millimetres it is" in asked.words
        )
        assert "2.5 x 1.5 x 0.8 mm, less than a cutter of 3 mm" in asked.words
        assert "63.5 x 38.1 x 20.3 mm" in asked.words
        assert (asked.change.old, asked.change.new) == ("G71", "G70")

    def test_the_width_of_the_cutter_counts(self, machine):
        text = program(box(5, 4, 2))
        assert doubt(text, machine) is None
        assert doubt(text, machine, 6.0).limit_mm == 6.0
        assert doubt(text, machine, 5.0) is None

    @pytest.mark.parametrize(
        ("head", "body"),
        [
            ("G21 G90\n", box(305, 203, 6)),  # all is well
            ("G20 G90\n", box(12, 8, 0.25)),
            ("G20 G90\n", box(40, 8, 0.25)),  # 1016 mm: past the travel, but not by far
            ("G21 G90\n", box(1300, 203, 6)),  # far too large, and inches would be larger
            ("G20 G90\n", box(30_000, 203, 6)),  # neither fits
            ("G21 G90\n", "G1 X0 Y0 Z-2 F60\nG0 Z0.5\n"),  # one small hole
            ("G21 G90\n", box(2.5, 1.5, 4.0)),  # a small thing, with a clearance in Z
            ("G21 G90\n", box(2.5, 1.5, 0.75, 1000)),  # inches would be 25.4 m/min
            ("G20 G90\n", box(305, 203, 6, 0.5)),  # millimetres would be 0.5 mm/min
            ("G21 G90\n", box(0.1, 0.1, 0.1)),  # inches would be as senseless
            ("G21 G90\n", "G20\nG0 X0\nG1 X305 F600\nG21\nG0 X1\n"),  # it changes them on the way
            ("G21 G90\n", ""),
        ],
    )
    def test_near_misses_do_not_ask(self, machine, head, body):
        assert doubt(program(body, head), machine) is None

    def test_units_that_the_machine_is_set_to(self, machine):
        from kerfwright.program import StartState

        text = f"G90 G17\n{box(305, 203, 6, 600)}M2\n".encode()
        asked = doubt(parse_program(text, "a", WORKSHOP, StartState(inches=True)), machine)
        assert "does not say its units, and the machine is set to them: in inches" in asked.words
        assert asked.line == 3
        assert asked.remedy == "If it is, write G21 before line 3"
        assert (asked.change.old, asked.change.new) == ("", "G21")


@pytest.mark.parametrize(
    ("head", "line", "word"),
    [
        ("G21 G90\n", 1, "G21"),
        ("N10 G90\r\nN20 g 021.0 (G20)\r\n", 2, "G21"),
        ("(G20)\nG90 ; G20\nG21\n", 3, "G21"),
        ("G20\rG21\r", 2, "G21"),
        ("G2 I0 J0 F1 (G20\n", 0, ""),
        ("G90 G[20+1]\n", 0, ""),
    ],
)
def test_where_the_units_are_stated(head, line, word):
    text = f"{head}G0 X1\nG20\nM2\n".encode()
    read = parse_program(text.replace(b"G2 I0 J0 F1 (G20", b"G90"), "a", WORKSHOP)
    assert unit_word(read) == (line, word)


def test_sizes_in_words():
    assert size_words((7747.0, 60.96, 6.35)) == "7747 x 61 x 6.35 mm"
    assert size_words((100.4, 20.04, 0.0)) == "100 x 20 x 0 mm"
    assert np.isfinite(extent_of(program(box(1, 1, 1))).fastest_mm_per_s)

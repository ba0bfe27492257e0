"""One function turns machine.toml's words into rules of reading, and every errand reads by it."""

from dataclasses import fields, replace

import pytest

from kerfwright.formats.toml_file import parse_toml
from kerfwright.jobs.reading import examine_on, rules_of
from kerfwright.machine import Controller, parse
from kerfwright.machine.entries import SECTIONS
from kerfwright.program import WORKSHOP, Dialect, StartState
from kerfwright.workshop import demo_folder


@pytest.fixture(scope="module")
def controller_of():
    base = parse(parse_toml('kerfwright = "machine 1"\n', "m")).controller

    def make(**habits):
        own = {key: habits.pop(key) for key in list(habits) if hasattr(base, key)}
        return replace(base, reads=replace(base.reads, **habits), **own)

    return make


def test_what_is_not_said_is_the_workshop_s(controller_of):
    assert rules_of(controller_of()) == replace(WORKSHOP, name="machine.toml")


@pytest.mark.parametrize(
    ("said", "rule"),
    [
        ({"lower_case": False}, {"lower_case": False}),
        ({"blanks_in_numbers": False}, {"blanks_in_numbers": False}),
        ({"semicolons": False}, {"semicolon_comments": False}),
        ({"late_numbers": False}, {"number_anywhere": False}),
        ({"missing_end": False}, {"end_may_be_missing": False}),
        ({"byte_order_mark": False}, {"byte_order_mark": False}),
        ({"line_ends": "CR LF"}, {"line_ends": "CR LF"}),
        ({"longest_line": 70}, {"longest_line": 70}),
        ({"bare_coordinates": "feed"}, {"bare_motion": 10}),
        ({"bare_coordinates": "rapid"}, {"bare_motion": 0}),
        ({"knows_g70": False}, {"old_unit_codes": False}),
        ({"knows_g90_1": False}, {"centre_codes": False}),
        ({"knows_g64_p": False}, {"tolerance_words": False}),
        ({"unknown_words": "skips"}, {"skips_unknown": True}),
        ({"arc_centres": "absolute"}, {"centres_absolute": True}),
        ({"corner_rule": "path tolerance"}, {"tolerance_heeded": True}),
    ],
)
def test_each_word_becomes_its_rule(controller_of, said, rule):
    assert rules_of(controller_of(**said)) == replace(WORKSHOP, name="machine.toml", **rule)


def test_every_way_of_reading_has_a_key():
    """What no key rules is the same on every machine, and listed here."""
    ruled = {"default_units", "arc_centres", "unknown_words", "slash_lines"}
    ruled |= {f.name for f in fields(Controller.__dataclass_fields__["reads"].default_factory)}
    assert ruled <= set(SECTIONS["controller"])
    alike = {"name", "number_digits", "wide_comments", "percent_anywhere", "program_number"}
    alike |= {"repeats_allowed", "full_circle_alone", "round_mm", "round_inch_mm", "chord_over_mm"}
    assert len(fields(Dialect)) == len(alike) + len(ruled - {"default_units", "slash_lines"}) + 1


class TestUnits:
    """What a program that does not state its units is read in."""

    SIZE = "G90 G17\nG0 X0 Y0 Z0\nG1 X{} F{}\nY{}\nZ-{}\nM2\n"

    @pytest.fixture
    def machine(self):
        """Travels 610 x 410 x 95 mm, and does not say its units."""
        text = (demo_folder() / "machine.toml").read_text("utf-8")
        return parse(parse_toml(text.replace('default_units = "mm"\n', ""), "machine.toml"))

    def read(self, machine, x, y, z, feed=100):
        text = self.SIZE.format(x, feed, y, z)
        return examine_on(machine, text.encode(), "job.nc", StartState())

    def set_to(self, machine, units):
        return replace(machine, controller=replace(machine.controller, default_units=units))

    @pytest.mark.parametrize(
        ("size", "feed", "x_mm", "words"),
        [
            (
                (305, 203, 6), 100, 305.0,
                "read as millimetres, 305 x 203 x 6 mm, for in inches it would be"
                " 7747 x 5156 x 152 mm, more than the 610 x 410 x 95 mm that this machine travels",
            ),
            ((2.5, 1.5, 0.8), 40, 63.5, "read as inches, 63.5 x 38.1 x 20.3 mm, for in millimet"),
            ((12, 8, 0.25), 1000, 12.0, "12 x 8 x 0.25 mm, for in inches it would be 305 x 203 x"),
            ((12, 8, 0.25), 0.9, 304.8, "with a feed of 0.9 mm/min"),
        ],
    )  # fmt: skip
    def test_the_only_ones_that_fit_are_taken_and_told(self, machine, size, feed, x_mm, words):
        reading = self.read(machine, *size, feed)
        assert not reading.errors
        assert reading.program.end_mm[:, 0].max() == pytest.approx(x_mm)
        notes = [note for note in reading.program.notes if "G20 nor G21" in note]
        assert len(notes) == 1
        assert words in notes[0]

    @pytest.mark.parametrize(
        ("size", "fit"),
        [
            ((12, 8, 0.25), "12 x 8 x 0.25 mm, in inches 305 x 203 x 6.35 mm, and both fit this"),
            (
                (700, 8, 0.25),
                "700 x 8 x 0.25 mm, in inches 17780 x 203 x 6.35 mm, and neither fits this",
            ),
        ],
    )
    def test_else_it_is_a_question(self, machine, size, fit):
        reading = self.read(machine, *size)
        assert [error.kind for error in reading.errors] == ["units"]
        assert fit in str(reading.errors[0])
        assert 'default_units = "mm" or "inch" under [controller]' in str(reading.errors[0])

    @pytest.mark.parametrize(("units", "x_mm"), [("mm", 12.0), ("inch", 304.8)])
    def test_not_where_machine_toml_says(self, machine, units, x_mm):
        reading = self.read(self.set_to(machine, units), 12, 8, 0.25)
        assert not reading.errors
        assert reading.program.end_mm[:, 0].max() == pytest.approx(x_mm)

    @pytest.mark.parametrize(("word", "x_mm"), [("G21", 12.0), ("G20", 304.8), ("G70", 304.8)])
    def test_not_where_the_program_says(self, machine, word, x_mm):
        text = f"{word}\n{self.SIZE.format(12, 100, 8, 0.25)}".encode()
        reading = examine_on(machine, text, "job.nc", StartState())
        assert not reading.errors
        assert reading.program.end_mm[:, 0].max() == pytest.approx(x_mm)

    def test_nor_where_nothing_moves(self, machine):
        assert not examine_on(machine, b"M3 S100\nM2\n", "job.nc", StartState()).errors

    def test_faults_come_first(self, machine):
        text = self.SIZE.format(12, 100, 8, 0.25).replace("M2", "G5 X1\nX2O\nM2").encode()
        kinds = [e.kind for e in examine_on(machine, text, "job.nc", StartState()).errors]
        assert kinds == ["g_code_unknown", "number"]

    def test_lines_with_a_slash_are_left_out_if_the_machine_does(self, machine):
        controller = machine.controller
        reads = replace(controller.reads, slash_lines="left out")
        other = replace(machine, controller=replace(controller, reads=reads))
        text = b"G21 G0 X5\n/X400\nM2\n"
        assert examine_on(other, text, "a", StartState()).program.moves == 1
        assert examine_on(machine, text, "a", StartState()).program.moves == 2

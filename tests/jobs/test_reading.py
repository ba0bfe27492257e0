"""One function turns machine.toml's words into rules of reading, and every errand reads by it."""

from dataclasses import fields, replace

import pytest

from kerfwright.formats.toml_file import parse_toml
from kerfwright.jobs.reading import rules_of
from kerfwright.machine import Controller, parse
from kerfwright.machine.entries import SECTIONS
from kerfwright.program import WORKSHOP, Dialect


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

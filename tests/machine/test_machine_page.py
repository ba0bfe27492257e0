"""docs/machine-file.md names every key, and the ranges that the table holds."""

import re
from pathlib import Path

import pytest

from kerfwright.machine.defaults import amount_words, table_default
from kerfwright.machine.entries import AXES, SECTIONS, Choice, Number
from kerfwright.tables import read_table

PAGE = (Path(__file__).parents[2] / "docs" / "machine-file.md").read_text(encoding="utf-8")
ROWS = {
    section: dict(re.findall(r"^\| `(\w+)` \| (.*) \|$", body, re.M))
    for section, body in re.findall(r"^## `\[(.*?)\]`\n(.*?)(?=^## |\Z)", PAGE, re.M | re.S)
}
STATED = [s for s in SECTIONS if s and not {"y", "z"} & set(s.split("."))]


@pytest.mark.parametrize("section", STATED)
def test_every_key_is_explained_and_no_other(section):
    assert list(ROWS[section]) == list(SECTIONS[section])


@pytest.mark.parametrize("section", STATED)
def test_choices_are_all_named(section):
    for key, entry in SECTIONS[section].items():
        if isinstance(entry, Choice):
            assert all(f'"{option}"' in ROWS[section][key] for option in entry.options)


def test_ranges_are_those_of_the_table():
    for row in read_table("machine_defaults"):
        axis = row["for"] if row["for"] in AXES else "x"
        path = row["key"].replace("*", axis)
        section, _, key = row["key"].replace("*", "x").rpartition(".")
        assert isinstance(SECTIONS[section][key], Number)
        words = amount_words(path, table_default(path, row["for"])).removesuffix(" peak")
        assert words in ROWS[section][key], row


def test_the_page_s_example_is_read(machine_of):
    example = re.search(r"```toml\n(.*?)```", PAGE, re.S)[1]
    machine = machine_of(example.split("\n", 1)[1])
    assert machine.x.lead_mm == pytest.approx(12.7)
    assert "axes.x.screw.preload" in machine.known


def test_examples_in_the_tables_are_read(machine_of):
    for section, rows in ROWS.items():
        for key, row in rows.items():
            if isinstance(SECTIONS[section][key], Choice):
                continue
            example = re.search(r"\| `(.*?)` \|", f"|{row.split('|', 1)[1]} |")[1]
            text = f"[{section}]\n{key} = {example}\n"
            if key in ("pitch", "root_diameter") and "screw" in section:
                text += 'diameter = "12.7 mm"\n'
            if "belt" in section or "rack" in section:
                text = f'[axes.x]\ndrive = "{section.rpartition(".")[2]}"\n' + text
            if key == "free_length":
                text = '[axes.x]\ntravel = "610 mm"\n' + text
            if key == "length" and "beam" in section:
                text = '[axes.y]\ntravel = "400 mm"\n' + text
            if key == "bar_length":
                text = '[axes.x]\ntravel = "610 mm"\n' + text + 'bar_diameter = "16 mm"\n'
            if key == "holes":
                text += 'outline = "0,0 40,0 40,80 0,80 mm"\n'
            if key in ("area", "second_moment_up", "second_moment_forward"):
                continue  # belong together: test_beam_section
            if key in ("swings_from", "swings_to", "swings_lose"):
                continue  # so do these: test_read_machine, test_stalls
            if key == "efficiency" and "screw" in section:
                text += 'form = "ball"\n'
            machine_of(text)

"""Every public formula can be listed, explained and evaluated, with units and a source."""

import re
from importlib import import_module
from inspect import isfunction
from pkgutil import iter_modules

import numpy as np
import pytest

from kerfwright import physics
from kerfwright.basics.unit_expressions import SUFFIX_UNITS, unit_of
from kerfwright.jobs.handbook import evaluate, pages_json
from kerfwright.jobs.handbook_pages import page_name, pages
from kerfwright.jobs.handbook_words import answer_words, page_words

FOLDER = physics.__path__
PAGES = tuple(pages().values())


def ids(page):
    return page.name


def examples():
    for page in PAGES:
        for number, example in enumerate(page.examples):
            yield pytest.param(page, example, id=f"{page.name}-{number}")


def test_there_is_a_handbook():
    assert len(PAGES) > 100
    modules = [import_module(f"kerfwright.physics.{one.name}") for one in iter_modules(FOLDER)]
    public = {
        value
        for module in modules
        if not module.__name__.endswith(".domain")
        for name, value in vars(module).items()
        if isfunction(value) and value.__module__ == module.__name__ and name[0] != "_"
    }
    assert {page.function for page in PAGES} == public, "not listed, or two share a name"
    assert pages_json(PAGES).count('"source"') == len(PAGES)


@pytest.mark.parametrize("page", PAGES, ids=ids)
def test_it_has_a_source_and_says_what_it_takes(page):
    assert page.about
    assert page.source, "no References section"
    for one in page.arguments:
        assert one.words, f"{one.parameter} is not explained"
        assert one.kind != "word" or one.choices, f"the words for {one.parameter} are not listed"
    assert "`" not in page_words(page)


@pytest.mark.parametrize("page", PAGES, ids=ids)
def test_it_has_an_example(page):
    assert page.examples, 'no Examples section: argument="value unit" ... -> result'


@pytest.mark.parametrize("page", PAGES, ids=ids)
def test_units_of_the_docstring_are_those_of_the_names(page):
    """What stands in brackets behind a parameter agrees with the ending of its name."""
    doc = page.function.__doc__ or ""
    takes = re.search(r"Parameters\n\s+-+\n(.*?)(\n\s+\w+\n\s+-{3,}|\Z)", doc, re.S)
    if takes is None:
        assert not page.arguments
        return
    for entry in re.split(r"\n    (?=\w)", takes[1].strip("\n")):
        names = {name.strip() for name in entry.partition(" : ")[0].split(",")}
        own = (one for one in page.arguments if one.parameter in names and not one.part)
        units = {one.unit for one in own if one.unit}
        brackets = re.findall(r"\[([^\]]*)\]", entry)
        written = {_plain(unit) for text in brackets[-1:] for unit in text.split(",")}
        assert written <= units | {""}, f"{sorted(names)}: no ending for [{', '.join(written)}]"
        assert units <= written | {""}, f"{sorted(names)}: {units} but [{', '.join(written)}]"


def _plain(unit):
    return {"-": "", "um": "µm"}.get(unit.strip(), unit.strip())


@pytest.mark.parametrize("suffix", SUFFIX_UNITS)
def test_every_unit_is_known(suffix):
    assert SUFFIX_UNITS[suffix] == "%" or unit_of(SUFFIX_UNITS[suffix]) is not None


@pytest.mark.parametrize(("page", "example"), list(examples()))
def test_examples_come_out_to_the_digits_printed(page, example):
    answer = evaluate(page, example.given)
    assert answer_words(answer).startswith(page.name)
    if isinstance(answer.unit, dict):
        parts = re.split(r",\s+(?=\w+ [-\[\d])", example.result)
        assert [part.split()[0] for part in parts] == list(answer.unit)
        for part in parts:
            name, _, rest = part.partition(" ")
            _compare(rest, answer.value[name], answer.unit[name])
    else:
        _compare(example.result, answer.value, answer.unit)


def _compare(printed, value, unit):
    """A printed result, to half a unit of its last digit."""
    if isinstance(value, bool):
        assert printed == ("yes" if value else "no")
        return
    if printed in ("infinite", "none"):
        assert value == printed
        return
    if printed.startswith("first row "):  # of a matrix
        printed, value = printed.removeprefix("first row "), value[0]
    row = re.match(r"(\[.*\])(?:\s+(.*))?$", printed)
    numbers, written = (
        (row[1], row[2]) if row else re.match(r"(\S+)(?:\s+(.*))?$", printed).groups()
    )
    assert (written or "") == unit
    digits = re.findall(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?", numbers)
    found = np.ravel(_flat(value))
    assert len(digits) == len(found)
    for text, got in zip(digits, found, strict=True):
        assert got == pytest.approx(float(text), abs=0.51 * _last_digit(text))


def _flat(value):
    if isinstance(value, dict):
        return [value["real"], value["imaginary"]]
    if isinstance(value, list) and any(isinstance(one, (dict, list)) for one in value):
        return [_flat(one) for one in value]
    return np.array(value, dtype=float)


def _last_digit(text):
    """Worth of the last digit printed."""
    mantissa, _, power = text.partition("e")
    return 10.0 ** (int(power or 0) - len(mantissa.partition(".")[2]))


def test_the_rule_of_names():
    assert page_name("screws", "raising_torque") == "screw-raising-torque"
    assert page_name("screw_limits", "whip_speed") == "screw-limit-whip-speed"
    assert page_name("inertia", "inertia_torque") == "inertia-torque"
    assert page_name("teeth", "peak") == "tooth-peak"
    assert page_name("thermal", "growth") == "thermal-growth"
    assert page_name("straightness", "bend") == "straightness-bend"

"""The verdict file: valid, exact, whole, and explained."""

import json
import re
from dataclasses import replace
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from kerfwright.report import VerdictFileError, verdict_as_plain, write_verdict
from kerfwright.report.verdict_file import SCHEMA_FILE, verdict_text

DOCS = Path(__file__).parents[2] / "docs" / "verdict.md"


@pytest.fixture(scope="module")
def schema():
    loaded = json.loads(SCHEMA_FILE.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(loaded)
    return loaded


def properties(schema):
    """Every property of a schema, with its own schema, at any depth."""
    for name, below in schema.get("properties", {}).items():
        yield name, below
        yield from properties(below)
    for below in schema.get("$defs", {}).values():
        yield from properties(below)


def test_file_is_valid_and_says_what_it_is(verdict, schema, tmp_path):
    path = tmp_path / "verdict.json"
    write_verdict(path, verdict)
    plain = json.loads(path.read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator(schema).validate(plain)
    assert next(iter(plain.items())) == ("kerfwright", "verdict 1")
    assert list(plain) == list(schema["properties"])
    assert plain["verdict"] == "stop"
    assert plain["totals"]["extents_mm"] == {
        "x": [-3.0, 313.0],
        "y": [-3.0, 313.0],
        "z": [-18.2, 12.0],
    }
    assert plain["findings"][2]["remedies"][0]["tried"]["value"]["value"] == 0.31
    assert [p.name for p in tmp_path.iterdir()] == ["verdict.json"]


def test_nothing_cut_is_valid(make, schema):
    plain = verdict_as_plain(make.verdict(outcome="clear", findings=(), margins=(), ascut=None))
    jsonschema.Draft202012Validator(schema).validate(plain)
    assert plain["ascut"] is None


def test_every_property_is_described_in_schema_and_docs(schema):
    page = DOCS.read_text(encoding="utf-8")
    explained = {name for code in re.findall(r"`([^`\n]+)`", page) for name in [code]}
    for name, below in properties(schema):
        assert below.get("description", "").strip(), name
        assert name in explained, f"{name} is not explained in docs/verdict.md"


def test_schema_is_closed(schema, verdict):
    plain = verdict_as_plain(verdict)
    plain["totals"]["weight_kg"] = 1.0
    with pytest.raises(jsonschema.ValidationError, match="weight_kg"):
        jsonschema.Draft202012Validator(schema).validate(plain)


@pytest.mark.parametrize("value", [0.1 + 0.2, 1.0 / 3.0, 5e-324, 1.7976931348623157e308, -0.0])
def test_numbers_read_back_the_same(make, value):
    verdict = make.verdict()
    verdict = replace(verdict, totals=replace(verdict.totals, rapid_mm=value))
    read = json.loads(verdict_text(verdict))["totals"]["rapid_mm"]
    assert np.float64(read).tobytes() == np.float64(value).tobytes()


def test_numpy_numbers_are_written_as_numbers(make):
    verdict = make.verdict()
    totals = replace(verdict.totals, moves=np.int64(7), cut_mm=np.float32(0.5))
    plain = json.loads(verdict_text(replace(verdict, totals=totals)))
    assert plain["totals"]["moves"] == 7
    assert plain["totals"]["cut_mm"] == 0.5


@pytest.mark.parametrize("value", [float("nan"), float("inf"), np.float32("-inf")])
def test_a_number_that_is_none_is_refused_by_name(make, tmp_path, value):
    verdict = make.verdict()
    margin = replace(verdict.margins[3], value=make.estimate(value, 0.0))
    path = tmp_path / "verdict.json"
    with pytest.raises(VerdictFileError, match=r"margins\[3\]\.value\.value is"):
        write_verdict(path, replace(verdict, margins=(*verdict.margins[:3], margin)))
    assert not path.exists()


def test_a_file_name_that_is_not_utf8_can_be_written(make):
    verdict = make.verdict()
    made = replace(verdict.provenance, program_file="caf\udce9.nc")
    text = verdict_text(replace(verdict, provenance=made))
    assert json.loads(text.encode("utf-8"))["provenance"]["program_file"] == "caf?.nc"

"""The start state as a file."""

import json

import pytest

from kerfwright.basics import InputError, InputErrors
from kerfwright.program.start_file import USUAL_START, read_start


def write(path, data):
    path.write_text(data if isinstance(data, str) else json.dumps(data), "utf-8")
    return path


def test_single_items_replace_the_usual_ones(tmp_path):
    data = {
        "start": [1, 2, 3.5],
        "tools": {"1": {"diameter": 8}, "7": {"length": 33.0}},
        "tool_in_spindle": 7,
        "params": {"5161": 4},
        "block_delete": True,
        "optional_stop": True,
        "probe_trip": None,
    }
    for form in (data, {"setup": data}):
        start = read_start(write(tmp_path / "s.json", form))
        assert start.start_mm == (1.0, 2.0, 3.5)
        assert start.diameter_mm == {1: 8.0, 2: 3.175, 3: 12.0}
        assert start.length_mm == {1: 50.0, 2: 42.5, 3: 61.0, 7: 33.0}
        assert start.slot_in_spindle == 7
        assert start.parameters == {5161: 4.0}
        assert (start.block_delete, start.optional_stop) == (True, True)
        assert start.probe_contact_mm is None
    assert read_start(write(tmp_path / "s.json", {})) == USUAL_START


@pytest.mark.parametrize(
    ("data", "words"),
    [
        ('{"start": [1, 2', "s.json:1:"),
        ("[1]", "holds no JSON object"),
        ('{"start": [1, 2, NaN]}', '"start": this is not a number'),
        ('{"start": [1, 2, 1e99]}', "out of all reach"),
        ('{"start": 3}', "not a list of three numbers"),
        ('{"speed": 3}', '"speed": nothing is called that; use start, tools'),
        ('{"tools": {"13": {"length": 1}}}', "not a whole number from 1 to 12"),
        ('{"tools": {"1": {"weight": 1}}}', '"weight" is neither length nor diameter'),
        ('{"params": {"5400": 1}}', "not a whole number from 1 to 5399"),
        ('{"block_delete": 1}', "neither true nor false"),
        ("[" * 100_000, "this is not JSON"),
        ("\ud800".encode("utf-8", "surrogatepass").decode("latin-1"), "s.json:1:1"),
    ],
)
def test_faults(tmp_path, data, words):
    with pytest.raises((InputError, InputErrors)) as caught:
        read_start(write(tmp_path / "s.json", data))
    assert words in str(caught.value)


def test_all_faults_are_gathered(tmp_path):
    with pytest.raises(InputErrors) as caught:
        read_start(write(tmp_path / "s.json", {"start": 1, "optional_stop": 2, "params": 3}))
    assert len(caught.value.errors) == 3


def test_no_file(tmp_path):
    with pytest.raises(InputError, match="cannot be read"):
        read_start(tmp_path / "none.json")

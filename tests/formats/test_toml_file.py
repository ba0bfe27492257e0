"""TOML with places."""

import time
import tomllib

import pytest

from kerfwright.basics import InputError
from kerfwright.formats import read_toml
from kerfwright.formats.toml_file import LARGEST_BYTES, parse_toml

TEXT = """first = 1
# name = "not this one"
[plain]
name = "a"
table = { inner = "b", other = [1, 2,
  3] }
"quoted" = 2

[plain.deeper]
name = "c"

[[many]]
name = "d"
[[many]]
x.dotted = 4
name = "e"
[many.below]
name = "f"
"""


@pytest.mark.parametrize(
    ("path", "line", "column"),
    [
        (("first",), 1, 9),
        (("plain",), 3, 1),
        (("plain", "name"), 4, 8),
        (("plain", "table"), 5, 9),
        (("plain", "table", "inner"), 5, 19),
        (("plain", "table", "other", 2), 6, 3),
        (("plain", "quoted"), 7, 12),
        (("plain", "deeper"), 9, 1),
        (("plain", "deeper", "name"), 10, 8),
        (("many", 0, "name"), 13, 8),
        (("many", 1, "name"), 16, 8),
        (("many", 1), 14, 1),
        (("many", 1, "x", "dotted"), 15, 12),
        (("many", 1, "missing"), 14, 1),
        (("nowhere", "at", "all"), 0, 0),
    ],
)
def test_places(path, line, column):
    place = parse_toml(TEXT, "a.toml").place(path)
    assert (place.line, place.column) == (line, column)


def test_values_are_those_of_the_standard_library():
    assert parse_toml(TEXT, "a.toml").data == tomllib.loads(TEXT)


@pytest.mark.parametrize(
    ("text", "line", "column"),
    [
        ("a = 1\nb == 2\n", 2, 4),
        ("a = 1\na = 2\n", 2, 6),
        ("a = [1,\n", 2, 1),
        ("a = " + "9" * 5000 + "\n", 0, 0),
        ("a = " + "[" * 50, 1, 45),
    ],
)
def test_not_toml(text, line, column):
    with pytest.raises(InputError) as caught:
        parse_toml(text, "a.toml")
    assert (caught.value.place.line, caught.value.place.column) == (line, column)
    assert len(str(caught.value)) < 600


@pytest.mark.parametrize(
    "text", ['[[cutter]]\nname = "c"\n' * 20_000, "k = [" + "{}," * 100_000 + "]\n"]
)
def test_a_large_file_is_placed_in_bounded_time(text):
    began = time.perf_counter()
    toml = parse_toml(text, "a.toml")
    for index in range(20):
        assert toml.place((next(iter(toml.data)), index, "name")).line >= 0
    assert time.perf_counter() - began < 10.0


def test_a_file_too_large(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * (LARGEST_BYTES + 1))
    with pytest.raises(InputError, match="is larger than 1000 kB"):
        read_toml(path)


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("a = 1\n" + ".".join(["b"] * 20_000) + " = 1\n", 2),
        ("[" + " . ".join(["b"] * 20_000) + "]\n", 1),
        ("a = {" + ".".join(['"b"'] * 20_000) + " = 1}\n", 1),
        ("a.b = 1\n" + "c" * 900_000, 2),  # one long name costs no more than its reading
        # No name too long, but together they are deeper than a reader can bear.
        ("[" + ".".join("a" * 39) + "]\n" + ".".join("b" * 39) + " = 1\n", 0),
    ],
)
def test_deep_names_are_refused_at_once(text, line):
    begin = time.monotonic()
    with pytest.raises(InputError) as caught:
        parse_toml(text, "a.toml")
    assert time.monotonic() - begin < 1.0
    assert (caught.value.place.file, caught.value.place.line) == ("a.toml", line)


def test_a_long_dotted_text_is_no_name():
    text = 'a = "' + ".".join(["b"] * 200) + '"\n'
    assert parse_toml(text, "a.toml").place(("a",)).line == 1

"""Every table says where it is from, what its columns mean, and whether the source was seen."""

import csv
import tomllib
from importlib.resources import files

import pytest

from kerfwright.tables import read_table, table_names, tables_sha256

FOLDER = files("kerfwright.tables")
STATUS_WORDS = ("R1", "R2", "M", "D")


def source_of(name):
    return tomllib.loads((FOLDER / f"{name}.source.toml").read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", table_names())
def test_table_has_its_source(name):
    source = source_of(name)
    assert source["kerfwright"] == "source 1"
    assert source["table"] == name
    assert source["about"]
    assert source["exact_unit"]
    assert source["source"], "no source is named"
    for entry in source["source"]:
        assert set(entry) - {"remark"} == {"author", "title", "year", "where", "how_read", "seen"}
        assert all(entry[key] for key in ("author", "title", "where", "how_read"))
        assert isinstance(entry["seen"], bool)
        assert isinstance(entry["year"], int)


@pytest.mark.parametrize("name", table_names())
def test_columns_are_described_and_no_others(name):
    source = source_of(name)
    rows = read_table(name)
    assert rows
    assert list(source["columns"]) == list(rows[0])
    for column in source["columns"].values():
        assert set(column) == {"unit", "words"}
        assert column["words"]


@pytest.mark.parametrize("name", table_names())
def test_rows_are_as_wide_as_the_heading(name):
    text = (FOLDER / f"{name}.csv").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    widths = {len(row) for row in csv.reader(lines)}
    assert len(widths) == 1


@pytest.mark.parametrize("name", table_names())
def test_seen_agrees_with_the_status_words(name):
    """A source counts as seen only where its own page text was read (R1)."""
    for entry in source_of(name)["source"]:
        if entry["seen"]:
            assert "(R1)" in entry["how_read"] or "page" in entry["how_read"]
            assert "transcription" not in entry["how_read"]
            assert "from memory" not in entry["how_read"]


@pytest.mark.parametrize("name", table_names())
def test_every_row_carries_a_known_status(name):
    for column in source_of(name).get("status_columns", []):
        for row in read_table(name):
            assert not row[column] or any(word in row[column] for word in STATUS_WORDS), row


def test_no_source_without_its_table():
    stated = {
        item.name.removesuffix(".source.toml")
        for item in FOLDER.iterdir()
        if item.name.endswith(".source.toml")
    }
    assert stated == set(table_names())


def test_hash_is_of_the_content():
    digits = tables_sha256()
    assert len(digits) == 64
    assert int(digits, 16) > 0
    assert digits == tables_sha256()


def test_unknown_table():
    with pytest.raises(FileNotFoundError):
        read_table("no_such_table")

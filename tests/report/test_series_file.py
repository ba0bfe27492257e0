"""The series: what the proof found, row by row, and nothing half-written."""

import re
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

from kerfwright.app.outputs import check_outputs
from kerfwright.basics import InputError, Stopped
from kerfwright.jobs.belongings import read
from kerfwright.kernels import cutting
from kerfwright.machine import load_machine
from kerfwright.prove.chain import Origin, prove
from kerfwright.report import series_file
from kerfwright.report.series_file import COLUMNS, write_series
from kerfwright.setup import setup_from_words
from kerfwright.workshop import demo_folder

TEXT = """G21 G90 G17
T1 M6
S18000 M3
G0 Z5
G0 X20 Y30
G1 Z-4 F300
G1 X60 F1500
G1 Y40
G0 Z5
M2
"""


@pytest.fixture(scope="module")
def proof(tmp_path_factory):
    path = tmp_path_factory.mktemp("job") / "job.nc"
    path.write_text(TEXT)
    machine = load_machine(demo_folder() / "machine.toml")
    setup = setup_from_words("100 x 60 x 18 mm hard maple", ["1: flat 6 mm, 2 flutes"], machine)
    program = read(path, machine, setup, lambda stage, done: None)
    origin = Origin(version="0", code_sha256="c", tables_sha256="t")
    return prove(program, setup, machine, origin, cell_mm=0.5, threads=1)


def test_rows_are_the_groups(proof, tmp_path, monkeypatch):
    monkeypatch.setattr(series_file, "AT_ONCE", 17)  # several row groups
    told = []
    path = write_series(tmp_path / "loads.parquet", proof, lambda stage, done: told.append(done))
    assert told[-1] == 1.0
    assert [p.name for p in tmp_path.iterdir()] == ["loads.parquet"]
    table = pq.read_table(path)
    assert table.column_names == [column.name for column in COLUMNS]
    groups = proof.groups
    assert len(table) == len(groups.column)
    for name, number in (("time_s", cutting.TIME), ("force_y_n", cutting.FORCE_Y),
                         ("peak_n", cutting.LARGEST), ("pull_left_z", cutting.PULL_Z)):  # fmt: skip
        assert np.array_equal(table[name].to_numpy(), groups.column[:, number])
    assert np.array_equal(table["give_x_mm"].to_numpy(), groups.give_mm[:, 0])
    # A line's byte is where it begins in the text.
    lines = TEXT.splitlines(keepends=True)
    for line, byte in set(zip(table["line"].to_pylist(), table["byte"].to_pylist(), strict=True)):
        assert byte == sum(len(one) for one in lines[: line - 1])


def test_rows_are_short_in_reach_of_the_wood_and_whole_moves_clear_of_it(proof, tmp_path):
    table = pq.read_table(write_series(tmp_path / "loads.parquet", proof))
    ways = {}
    for line, way in zip(table["line"].to_pylist(), table["way_mm"].to_pylist(), strict=True):
        ways.setdefault(line, []).append(way)
    assert ways[5] == pytest.approx([np.hypot(20.0, 30.0)])  # the rapid at Z5
    assert len(ways[7]) == 40
    assert max(ways[6] + ways[7] + ways[8] + ways[9]) <= 2.0
    assert sum(ways[7]) == pytest.approx(40.0)


def test_rows_hang_together(proof, tmp_path):
    table = pq.read_table(write_series(tmp_path / "loads.parquet", proof))
    get = {name: np.array(table[name].to_pylist()) for name in table.column_names}
    cut = (get["taken_mm3"] > 1.0) & ~get["rapid"] & (np.abs(get["travel_z_mm"]) < 0.1)
    assert cut.sum() > 40
    feed = get["feed_mm_per_s"] / (2 * get["spindle_rev_per_s"])
    assert feed[cut] == pytest.approx(get["feed_per_tooth_mm"][cut], rel=1e-4)
    mean = np.hypot(get["force_x_n"], get["force_y_n"])
    assert (get["peak_n"][cut] > mean[cut]).all()
    assert (get["chip_mm"][cut] >= 0.99 * get["feed_per_tooth_mm"][cut]).all()  # it runs out
    slot = cut & (get["at_x_mm"] > 30) & (get["at_x_mm"] < 50)
    assert set(get["side"][slot]) == {"both"}
    assert get["up_share"][slot] == pytest.approx(0.5, abs=0.05)
    assert set(get["side"][get["taken_mm3"] == 0.0]) == {""}
    assert get["covered_rad"][cut].max() == pytest.approx(np.pi, abs=0.1)
    assert ((get["asked_x_nmm"] >= 0.0) & (get["pull_left_x"] <= 1.0)).all()
    assert np.isfinite(get["power_w"]).all()


def test_names_end_in_their_units_and_the_file_says_where_it_is_from(proof, tmp_path):
    schema = pq.read_schema(write_series(tmp_path / "loads.parquet", proof))
    endings = {"s": "_s", "mm": "_mm", "N": "_n", "N mm": "_nmm", "W": "_w", "mm/s": "_mm_per_s",
               "1/s": "_per_s", "rad": "_rad", "mm³": "_mm3"}  # fmt: skip
    for field in schema:
        unit = field.metadata[b"unit"].decode()
        assert unit in ("", "1") or field.name.endswith(endings[unit])
        assert field.metadata[b"about"]
    told = {key.decode(): value.decode() for key, value in schema.metadata.items()}
    assert told["kerfwright"] == "series 1"
    assert told["program_sha256"] == proof.verdict.provenance.program_sha256
    assert {"machine_sha256", "tables_sha256", "code_sha256", "kerfwright_version"} <= set(told)


def test_the_page_names_every_column():
    page = (Path(__file__).parents[2] / "docs" / "series.md").read_text()
    table = page[page.index("| columns") : page.index("Nothing in it")]
    for column in COLUMNS:
        plain = column.name in table
        assert plain or re.sub("_[xyz]", "_x", column.name) in table


def test_stopped_leaves_nothing_behind(proof, tmp_path):
    def stop(stage, done):
        raise Stopped

    with pytest.raises(Stopped):
        write_series(tmp_path / "loads.parquet", proof, stop)
    assert list(tmp_path.iterdir()) == []


def test_another_ending_is_refused_before_the_work(tmp_path):
    with pytest.raises(InputError, match=r"does not end in \.parquet"):
        check_outputs(series=tmp_path / "loads.csv")
    (tmp_path / "a.parquet").mkdir()
    with pytest.raises(InputError, match="is a folder"):
        check_outputs(series=tmp_path / "a.parquet")
    check_outputs(series=tmp_path / "loads.parquet")

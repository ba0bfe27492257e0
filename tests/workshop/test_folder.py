"""The workshop's folder, the demo and what is kept of overwritten files."""

import os

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kerfwright.basics import InputError, KerfwrightError
from kerfwright.workshop import (
    copy_demo,
    copy_workshop,
    create_workshop,
    demo_folder,
    history,
    open_demo,
    open_workshop,
    replace_keeping_old,
)

MACHINE = 'kerfwright = "machine 1"\n'
CUTTERS = 'kerfwright = "cutters 1"\n'


@pytest.fixture
def workshop(tmp_path):
    return create_workshop(tmp_path / "shop", MACHINE, CUTTERS)


def add_job(workshop, name, *files):
    folder = workshop.folder / "jobs" / name
    folder.mkdir(parents=True)
    for file in files:
        (folder / file).write_text("x")
    return folder


def test_create_open_and_use(workshop):
    opened = open_workshop(workshop.folder)
    assert opened == workshop
    assert opened.machine_file.read_text() == MACHINE
    assert opened.cutters_file.read_text() == CUTTERS
    assert opened.jobs() == ()
    with opened.log() as log:
        assert history(log) == ()
    cache = opened.cache()
    assert cache is not None
    assert cache.get("0" * 64) is None


def test_create_never_overwrites(workshop):
    with pytest.raises(InputError, match=r"machine\.toml: is there already"):
        create_workshop(workshop.folder, "new", "new")
    assert workshop.machine_file.read_text() == MACHINE


def test_what_is_no_workshop_is_told(tmp_path):
    (tmp_path / "file").write_text("")
    for name, words in (
        ("gone", "is not there"),
        ("file", "is no folder"),
        (".", "is no workshop"),
    ):
        with pytest.raises(InputError, match=words):
            open_workshop(tmp_path / name)


def test_jobs_are_found_by_name(workshop):
    add_job(
        workshop, "gear-train", "job.toml", "gears.NC", "gears.dxf", ".gears.nc", "old.nc.1.bak"
    )
    add_job(workshop, "bat-box", "job.toml", "bat-box.tap")
    add_job(workshop, ".hidden")
    (workshop.folder / "jobs" / "note.txt").write_text("not a job")
    assert [job.name for job in workshop.jobs()] == ["bat-box", "gear-train"]
    gears = workshop.job("gear-train")
    assert gears.program_file().name == "gears.NC"
    assert gears.drawing_file().name == "gears.dxf"
    assert gears.job_file.is_file()
    assert gears.verdict_file.parent == gears.folder
    assert workshop.job("bat-box").drawing_file() is None


@pytest.mark.parametrize("name", ["shelf", "..", "../jobs/bat-box", "bat-box/", ".hidden", ""])
def test_other_names_are_no_jobs(workshop, name):
    add_job(workshop, "bat-box")
    add_job(workshop, ".hidden")
    with pytest.raises(InputError, match="there is no job") as refused:
        workshop.job(name)
    assert refused.value.remedy == "there are: bat-box"


def test_one_program_and_one_drawing(workshop):
    add_job(workshop, "none", "job.toml")
    add_job(workshop, "two", "a.nc", "b.ngc", "a.svg", "b.dxf")
    with pytest.raises(InputError, match="holds no program"):
        workshop.job("none").program_file()
    with pytest.raises(InputError, match=r"holds 2 programs: a\.nc, b\.ngc"):
        workshop.job("two").program_file()
    with pytest.raises(InputError, match=r"holds 2 drawings: a\.svg, b\.dxf"):
        workshop.job("two").drawing_file()


def test_read_only_keeps_no_log_and_no_cache(workshop):
    opened = open_workshop(workshop.folder, read_only=True)
    assert opened.cache() is None
    with pytest.raises(KerfwrightError, match="keeps no shop log"):
        opened.log()
    assert not (workshop.folder / "log.sqlite").exists()


def test_copy_is_whole_writable_and_without_log(workshop, tmp_path):
    add_job(workshop, "bat-box", "job.toml", "bat-box.nc")
    with workshop.log():
        pass
    (workshop.folder / ".cache").mkdir()
    workshop.machine_file.chmod(0o444)
    (tmp_path / "empty").mkdir()
    for name in ("copy", "empty", "deep/er"):
        copy = copy_workshop(workshop.folder, tmp_path / name)
        assert copy.job("bat-box").program_file().read_text() == "x"
        assert not copy.read_only
        assert os.access(copy.machine_file, os.W_OK)
        assert sorted(p.name for p in copy.folder.iterdir()) == [
            "cutters.toml",
            "jobs",
            "machine.toml",
        ]
    with pytest.raises(InputError, match="not empty"):
        copy_workshop(workshop.folder, tmp_path / "copy")
    assert not [p.name for p in tmp_path.iterdir() if p.name.endswith(".part")]


def test_a_copy_that_fails_leaves_nothing(workshop, tmp_path, monkeypatch):
    def full(*args, **kwargs):
        raise OSError("the disk is full")

    monkeypatch.setattr("shutil.copytree", full)
    with pytest.raises(OSError, match="full"):
        copy_workshop(workshop.folder, tmp_path / "copy")
    assert [p.name for p in tmp_path.iterdir()] == ["shop"]


def test_the_packaged_demo_opens_and_copies(tmp_path):
    demo = open_demo()
    assert demo.read_only
    assert demo.folder == demo_folder()
    names = [job.name for job in demo.jobs()]
    copy = copy_demo(tmp_path / "shop")
    assert [job.name for job in copy.jobs()] == names
    for job in demo.jobs():
        assert job.job_file.is_file()
        assert copy.job(job.name).program_file().read_bytes() == job.program_file().read_bytes()


def test_the_old_one_is_kept(tmp_path):
    path = tmp_path / "machine.toml"
    assert replace_keeping_old(path, "one") is None
    assert replace_keeping_old(path, "one") is None
    assert replace_keeping_old(path, "two") == tmp_path / "machine.toml.1.bak"
    assert replace_keeping_old(path, "three") == tmp_path / "machine.toml.2.bak"
    (tmp_path / "machine.toml.1.bak").unlink()
    (tmp_path / "machine.toml.x.bak").write_text("not ours")
    assert replace_keeping_old(path, "four") == tmp_path / "machine.toml.3.bak"
    assert path.read_text() == "four"
    assert (tmp_path / "machine.toml.3.bak").read_text() == "three"


@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    st.lists(st.text(max_size=5), min_size=1, max_size=6), st.sampled_from(["a", "[x]*?", "ä b"])
)
def test_nothing_that_was_written_is_lost(tmp_path_factory, texts, name):
    path = tmp_path_factory.mktemp("kept") / name
    for text in texts:
        replace_keeping_old(path, text)
    found = {p.read_bytes().decode("utf-8") for p in path.parent.iterdir()}
    assert set(texts) == found

"""The wheel alone, in an empty environment and far from the project, proves the demo."""

import os
import subprocess
import sys
import tarfile
import venv
import zipfile
from pathlib import Path

import pytest

pytestmark = pytest.mark.long


def run(command, folder):
    kept = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [str(word) for word in command],
        cwd=folder,
        env=kept | {"PYTHONUTF8": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
        timeout=600,
        check=False,
    )
    assert done.returncode == 0, done.stdout
    return done.stdout


def build(kind, source, target):
    run([sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", target], source)
    (made,) = target.iterdir()
    return made


@pytest.fixture(scope="module")
def built(root, tmp_path_factory):
    """The wheel made from the project, and the one made from its unpacked source archive."""
    folder = tmp_path_factory.mktemp("built")
    archive = build("sdist", root, folder / "sdist")
    with tarfile.open(archive) as packed:
        packed.extractall(folder / "unpacked", filter="data")
    (unpacked,) = (folder / "unpacked").iterdir()
    return build("wheel", root, folder / "one"), build("wheel", unpacked, folder / "two"), unpacked


def test_the_archive_makes_the_same_wheel(root, built):
    first, second, unpacked = built
    with zipfile.ZipFile(first) as one, zipfile.ZipFile(second) as two:
        files = {name: one.read(name) for name in one.namelist() if "dist-info" not in name}
        assert files == {name: two.read(name) for name in two.namelist() if "dist-info" not in name}
    package = root / "src"
    for source in (package / "kerfwright").rglob("*"):
        if source.is_file() and "__pycache__" not in source.parts:
            assert source.relative_to(package).as_posix() in files
    for name in ("start.py", "check.py", "requirements.lock", "requirements-check.lock"):
        assert (unpacked / name).is_file()


def test_the_wheel_alone_proves_the_demo(root, built, tmp_path):
    home = tmp_path / "an empty environment"
    venv.create(home, with_pip=True)
    python = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    pip = [python, "-m", "pip", "install", "-q", "--only-binary", ":all:"]
    run([*pip, "--require-hashes", "-r", root / "requirements.lock"], tmp_path)
    # No index and no `--no-deps`: it fails if the wheel asks for more than the lock gives.
    run([*pip, "--no-index", built[0]], tmp_path)
    run([python, "-m", "pip", "check"], tmp_path)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    where = run([python, "-c", "import kerfwright; print(kerfwright.__file__)"], elsewhere)
    assert Path(where.strip()).is_relative_to(home)
    command = python.with_name("kerfwright.exe" if os.name == "nt" else "kerfwright")
    run([command, "demo", "--out", elsewhere / "demo"], elsewhere)
    assert any((elsewhere / "demo").iterdir())

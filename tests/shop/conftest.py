"""A stand-in project: the real start.py over a tiny package and hand-made wheels, so that the
set-up can be tested in seconds and without a network."""

import base64
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BASE_PYTHON = os.path.realpath(getattr(sys, "_base_executable", sys.executable))

BACKEND = '''
"""The least that can install a project in place (PEP 517, PEP 660)."""
import pathlib, zipfile

META = "Metadata-Version: 2.1\\nName: kerfwright\\nVersion: 0.1.0\\n"
WHEEL = "Wheel-Version: 1.0\\nGenerator: standin\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n"


def build_editable(wheel_directory, config_settings=None, metadata_directory=None):
    name = "kerfwright-0.1.0-py3-none-any.whl"
    info = "kerfwright-0.1.0.dist-info/"
    files = {"kerfwright.pth": str(pathlib.Path("src").resolve()), info + "METADATA": META,
             info + "WHEEL": WHEEL}
    files[info + "RECORD"] = "".join(f"{path},,\\n" for path in [*files, info + "RECORD"])
    with zipfile.ZipFile(pathlib.Path(wheel_directory, name), "w") as wheel:
        for path, text in files.items():
            wheel.writestr(path, text)
    return name
'''

MAIN = """
import json, os, sys
import standin_part
names = ("PYTHONPATH", "PIP_USER", "PYTHONUTF8")
told = {"arguments": sys.argv[1:], "folder": os.getcwd(), "part": standin_part.__file__}
print("DEMO " + json.dumps(told | {name: os.environ.get(name) for name in names}))
sys.exit(3)
"""

PYPROJECT = """
[build-system]
requires = ["standin-backend"]
build-backend = "standin_backend"
"""


def make_wheel(folder, name, module, source):
    """Write a wheel of one module, version 1.0, and return its SHA-256."""
    info = f"{name.replace('-', '_')}-1.0.dist-info/"
    files = {
        f"{module}.py": source,
        info + "METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n",
        info + "WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = ""
    for path, text in files.items():
        digest = base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).rstrip(b"=")
        record += f"{path},sha256={digest.decode()},{len(text.encode())}\n"
    files[info + "RECORD"] = record + f"{info}RECORD,,\n"
    target = folder / f"{name.replace('-', '_')}-1.0-py3-none-any.whl"
    with zipfile.ZipFile(target, "w") as wheel:
        for path, text in files.items():
            wheel.writestr(path, text)
    return hashlib.sha256(target.read_bytes()).hexdigest()


class Shop:
    """Where stand-in projects are made and their start.py is run."""

    def __init__(self, folder):
        self.folder = folder
        self.wheels = folder / "wheels"
        self.wheels.mkdir()
        self.no_programs = folder / "no-programs"
        self.no_programs.mkdir()
        parts = {"standin-backend": BACKEND, "standin-part": "", "standin-gauge": ""}
        self.hashes = {
            name: make_wheel(self.wheels, name, name.replace("-", "_"), source)
            for name, source in parts.items()
        }

    def project(self, name):
        """A new stand-in project in a folder of this name.

        A worker may set up a module's fixtures twice, when tests are shared out anew: each project
        has a parent of its own.
        """
        root = Path(tempfile.mkdtemp(dir=self.folder)) / name
        package = root / "src" / "kerfwright"
        package.mkdir(parents=True)
        (package / "__init__.py").write_text("")
        (package / "__main__.py").write_text(MAIN)
        (root / "pyproject.toml").write_text(PYPROJECT)
        run = ["standin-backend", "standin-part"]
        self.write_lock(root / "requirements.lock", run)
        self.write_lock(root / "requirements-check.lock", [*run, "standin-gauge"])
        shutil.copy(ROOT / "start.py", root)
        (root / "tools").mkdir()
        for tool in ("environment.py", "front_end.py", "python_version.py"):
            shutil.copy(ROOT / "tools" / tool, root / "tools")
        return root

    def write_lock(self, path, names):
        lines = [f"{name}==1.0 --hash=sha256:{self.hashes[name]}\n" for name in names]
        path.write_text("".join(lines))

    def start(self, root, **settings):
        """Run start.py as a person would, from another folder, and return what it did."""
        return self.run([BASE_PYTHON, str(root / "start.py")], **settings)

    def run(self, command, *, network=True, path=None, **variables):
        kept = {
            name: value
            for name, value in os.environ.items()
            if name in ("HOME", "SYSTEMROOT", "TEMP", "TMP", "USERPROFILE")
        }
        # The hand-made wheels play the network; no program at all is on PATH, Node included.
        settings = {
            "PATH": str(path or self.no_programs),
            "PIP_NO_INDEX": "1",
            "PIP_CONFIG_FILE": os.devnull,
            "PIP_FIND_LINKS": self.wheels.as_uri() if network else "file:///no-such-folder",
        }
        return subprocess.run(
            command,
            env=kept | settings | variables,
            cwd=self.folder,
            capture_output=True,
            encoding="utf-8",
            timeout=120,
            check=False,
        )


@pytest.fixture(scope="session")
def shop(tmp_path_factory):
    return Shop(tmp_path_factory.mktemp("shop"))


@pytest.fixture(scope="session")
def root():
    """The real project."""
    return ROOT


@pytest.fixture(scope="session")
def base_python():
    """The Python that is installed on this machine, outside of every environment."""
    return BASE_PYTHON

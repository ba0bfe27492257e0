"""start.py sets itself up anywhere, once, and hands on what the demo says."""

import json
import os
import re
import shutil
import stat
import time
from pathlib import Path

import pytest

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(os.name == "nt", reason="the stand-ins for Python are shell scripts"),
]

DEMO_EXIT_CODE = 3  # what the stand-in's demo ends with
MAKING = "Making the environment"
INSTALLING = "Installing the packages"
LAST_MINOR = 14


@pytest.fixture(scope="module")
def ready(shop):
    """A project that was started once, with blanks in its path, and what that run did."""
    root = shop.project("a shop with  blanks")
    return root, shop.start(root)


def demo(done):
    """What the stand-in's demo said about how it was run."""
    assert done.returncode == DEMO_EXIT_CODE, done.stdout + done.stderr
    (line,) = re.findall(r"^DEMO (.*)$", done.stdout, re.MULTILINE)
    return json.loads(line)


def test_the_first_start_installs_and_runs_the_demo(ready, shop):
    root, done = ready
    told = demo(done)
    assert told["arguments"] == ["demo", "--out", str(Path("out", "demo"))]
    assert told["folder"] == str(root)
    assert told["part"].startswith(str(root / ".venv"))
    assert told["PYTHONUTF8"] == "1"
    assert done.stdout.splitlines()[:5] == [
        "Making the environment .venv (once only) ...",
        "Installing the packages of requirements.lock (once only) ...",
        "  standin_backend 1.0",
        "  standin_part 1.0",
        "  unpacking 2 packages ...",
    ]
    assert done.stderr == ""


def test_no_node_was_on_the_path(shop):
    assert shutil.which("node", path=str(shop.no_programs)) is None


def test_the_second_start_is_quick_and_needs_no_network(ready, shop):
    root, _ = ready
    took_s = []
    for _ in range(3):
        began_s = time.monotonic()
        done = shop.start(root, network=False)
        took_s.append(time.monotonic() - began_s)
        assert done.stdout.startswith("DEMO ")
        demo(done)
    assert min(took_s) < 1.0


@pytest.fixture(scope="module")
def rescued(shop, tmp_path_factory):
    """A project with a half-made environment, started among settings meant for other Pythons."""
    root = shop.project("rescued")
    write_program(root / ".venv" / "bin" / "python", "exit 1")
    (root / ".venv" / "leftover.txt").write_text("from a run that was cut off")
    foreign = tmp_path_factory.mktemp("foreign")
    (foreign / "json.py").write_text("raise SystemExit('a foreign json module was imported')\n")
    (foreign / "wanted.txt").write_text("standin-part==9.9\n")
    settings = foreign / "pip.conf"
    settings.write_text(f"[global]\nuser = true\nconstraint = {foreign / 'wanted.txt'}\n")
    done = shop.start(
        root,
        PYTHONPATH=str(foreign),
        PYTHONDONTWRITEBYTECODE="1",
        PIP_USER="1",
        PIP_TARGET=str(foreign / "elsewhere"),
        PIP_REQUIRE_VIRTUALENV="1",
        PIP_NO_BINARY=":all:",
        PIP_CONFIG_FILE=str(settings),
    )
    return root, done, foreign


@pytest.mark.long
def test_a_half_made_environment_is_made_anew(rescued):
    root, done, _ = rescued
    demo(done)
    assert MAKING in done.stdout
    assert not (root / ".venv" / "leftover.txt").exists()


@pytest.mark.long
def test_settings_of_other_pythons_do_not_reach_it(rescued):
    root, done, foreign = rescued
    told = demo(done)
    assert told["PYTHONPATH"] is None
    assert told["part"].startswith(str(root / ".venv"))
    assert not (foreign / "elsewhere").exists()


@pytest.mark.long
def test_an_install_that_failed_is_not_taken_for_done(shop):
    root = shop.project("cut off")
    failed = shop.start(root, network=False)
    assert failed.returncode == 2
    assert failed.stderr.endswith(
        "The packages could not be fetched. The first start needs the network (or a package "
        "mirror that pip is set up for); run the same command again when it is there.\n"
    )
    assert "Traceback" not in failed.stderr
    done = shop.start(root)
    demo(done)
    assert MAKING in done.stdout


@pytest.mark.long
def test_a_package_other_than_the_locked_one_is_refused(shop):
    root = shop.project("swapped")
    lock = root / "requirements.lock"
    lock.write_text(lock.read_text().replace(shop.hashes["standin-part"], "0" * 64))
    done = shop.start(root)
    assert done.returncode == 2
    assert "is not the one that was locked: nothing was installed" in done.stderr


@pytest.mark.long
def test_a_moved_project_gets_a_new_environment(ready, shop):
    root, _ = ready
    moved = shop.folder / "moved"
    shutil.copytree(root, moved, symlinks=True)
    done = shop.start(moved)
    told = demo(done)
    assert MAKING in done.stdout
    assert told["part"].startswith(str(moved / ".venv"))


@pytest.mark.long
def test_another_lock_makes_the_environment_anew(shop):
    root = shop.project("renewed")
    demo(shop.start(root))
    shop.write_lock(root / "requirements.lock", shop.hashes)
    done = shop.start(root)
    demo(done)
    assert MAKING in done.stdout


def test_a_changed_project_file_installs_the_project_alone(ready, shop):
    root, _ = ready
    with (root / "pyproject.toml").open("a") as project:
        project.write("# changed\n")
    done = shop.start(root, network=False)
    demo(done)
    assert MAKING not in done.stdout
    assert INSTALLING not in done.stdout


@pytest.mark.long
def test_checking_adds_to_what_running_needs(ready, shop, base_python):
    root, _ = ready
    script = (
        "import sys; from pathlib import Path; root = Path(sys.argv[1]); "
        "sys.path.insert(0, str(root / 'tools')); import environment; "
        "print('READY', environment.prepare(root, 'check'))"
    )
    done = shop.run([base_python, "-c", script, str(root)])
    assert MAKING not in done.stdout
    assert "Installing the packages of requirements-check.lock" in done.stdout
    python = done.stdout.rsplit("READY ", 1)[1].strip()
    assert shop.run([python, "-c", "import standin_gauge, standin_part"]).returncode == 0
    # What is there for checking serves for running too.
    assert shop.start(root, network=False).stdout.startswith("DEMO ")


def write_program(path, text):
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"#!/bin/sh\n{text}\n")
    path.chmod(path.stat().st_mode | stat.S_IXUSR)
    return path


def python_without_ensurepip(folder, base_python, *, pip):
    """A Python as Debian hands it out: venv fails, and leaves half an environment behind."""
    no_pip = "" if pip else '*"-m pip"*) echo "No module named pip"; exit 1 ;;'
    return write_program(
        folder / "python-without-ensurepip",
        f"""case "$*" in
        *--without-pip*) ;;
        *"-m venv"*) for last; do :; done; mkdir -p "$last/bin"
            echo "The virtual environment was not created: ensurepip is not available."; exit 1 ;;
        {no_pip}
        esac
        exec "{base_python}" "$@" """,
    )


PREPARE_WITH = (
    "import sys; from pathlib import Path; root = Path(sys.argv[1]); "
    "sys.path.insert(0, str(root / 'tools')); import environment\n"
    "try: print('READY', environment.prepare(root, 'run', python=sys.argv[2]))\n"
    "except environment.SetUpError as error: print('ERROR', error)\n"
)


@pytest.mark.long
def test_debian_without_ensurepip_uses_the_outer_pip(shop, base_python, tmp_path):
    root = shop.project("debian")
    debian = python_without_ensurepip(tmp_path, base_python, pip=True)
    done = shop.run([base_python, "-c", PREPARE_WITH, str(root), str(debian)])
    assert "READY" in done.stdout, done.stdout + done.stderr
    python = str(root / ".venv" / "bin" / "python")
    assert shop.run([python, "-c", "import pip"]).returncode != 0
    demo(shop.run([python, "-m", "kerfwright"]))


def test_debian_without_any_pip_asks_apt_or_says_how(shop, base_python, tmp_path):
    root = shop.project("bare debian")
    debian = python_without_ensurepip(tmp_path, base_python, pip=False)
    programs = tmp_path / "programs"
    asked = tmp_path / "asked"
    write_program(programs / "apt-get", f'echo "$@" >> "{asked}"; exit 1')
    done = shop.run([base_python, "-c", PREPARE_WITH, str(root), str(debian)], path=programs)
    assert re.search(r"sudo apt install python3\.\d+-venv$", done.stdout.strip())
    assert "Traceback" not in done.stderr
    if os.geteuid() == 0:
        assert re.match(r"install -y -q python3\.\d+-venv\n", asked.read_text())
    else:
        assert not asked.exists()


def test_an_unfit_python_hands_over_to_a_fit_one(ready, shop, base_python, tmp_path):
    root, _ = ready
    # First on the list, but only a stub that tells what is not installed.
    write_program(tmp_path / f"python3.{LAST_MINOR}", "echo 'not installed' >&2; exit 127")
    (tmp_path / "python3.11").symlink_to(base_python)
    done = shop.run(pretend_python_39(base_python, root), path=tmp_path)
    told = demo(done)
    assert told["folder"] == str(root)


def test_an_unfit_python_alone_gets_one_sentence(shop, base_python):
    root = shop.project("old")
    done = shop.run(pretend_python_39(base_python, root))
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == (
        "Kerfwright needs Python 3.11, 3.12, 3.13 or 3.14, and this is 3.9 (cpython): "
        "install one of those, then run the same command again.\n"
    )
    assert not (root / ".venv").exists()


def pretend_python_39(base_python, root):
    script = str(root / "start.py")
    pretend = (
        "import runpy, sys; sys.version_info = (3, 9, 18, 'final', 0); "
        f"sys.argv = [{script!r}]; runpy.run_path({script!r}, run_name='__main__')"
    )
    return [base_python, "-c", pretend]


def test_an_argument_is_refused_kindly(shop, base_python, root):
    done = shop.run([base_python, str(root / "start.py"), "shelf.nc"])
    assert done.returncode == 2
    assert done.stderr == "start.py takes no arguments; python3 start.py is the whole command\n"

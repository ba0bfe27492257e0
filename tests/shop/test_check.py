"""check.py goes through all its steps, and ends with one plain line."""

import importlib.util
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest


@pytest.fixture
def checks(root, monkeypatch):
    monkeypatch.syspath_prepend(str(root / "tools"))
    spec = importlib.util.spec_from_file_location("checks", root / "tools" / "checks.py")
    module = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "checks", module)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module.environment, "prepare", lambda root, purpose: Path(sys.executable))
    return module


def with_exit_codes(checks, monkeypatch, tmp_path, codes):
    """Run check.py with steps that end with these exit codes and leave a file each."""
    steps = [
        checks.Step(
            mend=f"step {number}",
            command=[
                sys.executable,
                "-c",
                f"import sys; open('ran{number}', 'w'); sys.exit({code})",
            ],
        )
        for number, code in enumerate(codes)
    ]
    monkeypatch.setattr(checks, "_steps", lambda tier, python, root, scratch: steps)
    code = checks.main(tmp_path, [])
    assert {path.name for path in tmp_path.iterdir()} == {f"ran{n}" for n in range(len(codes))}
    return code


def test_all_steps_run_and_the_last_line_says_what_to_mend(checks, monkeypatch, tmp_path, capfd):
    assert with_exit_codes(checks, monkeypatch, tmp_path, [1, 0, 2]) == 1
    assert capfd.readouterr().out.splitlines()[-1] == "mend: step 0; step 2"


def test_a_clean_run_ends_with_pass(checks, monkeypatch, tmp_path, capfd):
    assert with_exit_codes(checks, monkeypatch, tmp_path, [0, 0]) == 0
    assert capfd.readouterr().out.splitlines()[-1].startswith("pass (plain, ")


def test_a_step_that_hangs_is_ended(checks, monkeypatch, tmp_path, capfd):
    monkeypatch.setattr(checks, "_PATIENCE", 0.5)
    step = checks.Step(mend="it", command=[sys.executable, "-c", "import time; time.sleep(60)"])
    assert not checks._passes(step, tmp_path, 1.0)
    assert capfd.readouterr().out.splitlines()[-1] == "== ended after 0 s without an answer"


def test_a_set_up_that_fails_is_said_in_the_last_line(checks, monkeypatch, tmp_path, capsys):
    def fail(root, purpose):
        raise checks.environment.SetUpError("no network")

    monkeypatch.setattr(checks.environment, "prepare", fail)
    assert checks.main(tmp_path, ["--quick"]) == 2
    assert capsys.readouterr().out.splitlines() == ["no network", "mend: the set-up"]


def marks(checks, tier, root, tmp_path):
    steps = list(checks._steps(tier, Path(sys.executable), root, tmp_path))
    tests = [step.command for step in steps if "pytest" in step.command]
    return [command[command.index("-m", 3) + 1] for command in tests]


def test_plain_and_long_hold_each_test_once(checks, root, tmp_path):
    assert marks(checks, "plain", root, tmp_path) == ["compiler_off", "not long"]
    assert marks(checks, "long", root, tmp_path) == ["long"]
    assert marks(checks, "quick", root, tmp_path) == ["not long and not slow"]


def test_the_compiler_off_pass_has_a_cache_of_its_own(checks, root, tmp_path):
    steps = checks._steps("plain", Path(sys.executable), root, tmp_path)
    (step,) = [step for step in steps if "compiler_off" in step.command]
    assert step.settings == {"NUMBA_DISABLE_JIT": "1", "NUMBA_CACHE_DIR": str(tmp_path)}


def test_an_unknown_option_is_refused(root):
    done = subprocess.run(
        [sys.executable, str(root / "check.py"), "--fast"],
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    assert done.returncode == 2
    assert "unrecognized arguments: --fast" in done.stderr


@pytest.mark.skipif(os.name == "nt", reason="the script is for Linux machines")
@pytest.mark.parametrize(("plain", "long", "told"), [(0, 0, 0), (1, 0, 1), (0, 1, 1), (2, 2, 1)])
def test_the_ci_script_runs_both_and_fails_with_either(root, tmp_path, plain, long, told):
    (tmp_path / ".ci").mkdir()
    shutil.copy(root / ".ci" / "run", tmp_path / ".ci")
    (tmp_path / "check.py").write_text(
        f"import sys; print(sys.argv[1:]); sys.exit({long} if '--long' in sys.argv else {plain})"
    )
    done = subprocess.run(
        [str(tmp_path / ".ci" / "run")],
        cwd=root,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    assert done.stdout == "[]\n['--long']\n"
    assert done.returncode == told

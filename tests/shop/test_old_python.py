"""What an old Python reads first must be readable to it, or it cannot say that it is old."""

import ast
import shutil
import subprocess
from pathlib import Path

import pytest

READ_BY_OLD_PYTHONS = ("start.py", "check.py", "tools/python_version.py")
OLD = ("2.7", "3.6", "3.7", "3.8", "3.9", "3.10")


@pytest.mark.parametrize("name", READ_BY_OLD_PYTHONS)
def test_the_first_files_hold_no_new_syntax(root, name):
    source = (root / name).read_text(encoding="utf-8")
    tree = ast.parse(source, feature_version=(3, 6))
    # Python 2.7 and 3.5 know neither f-strings nor annotations.
    for node in ast.walk(tree):
        assert not isinstance(node, ast.JoinedStr | ast.AnnAssign)
        if isinstance(node, ast.FunctionDef):
            assert node.returns is None
            assert all(argument.annotation is None for argument in node.args.args)


def old_pythons():
    """The old Pythons of this machine: on PATH, and side by side in the home folder."""
    for version in OLD:
        places = sorted(Path.home().glob(f".pyenv/versions/{version}.*/bin/python"))
        on_path = shutil.which(f"python{version}", path="/usr/bin:/usr/local/bin")
        found = on_path or (str(places[-1]) if places else None)
        skip = () if found else pytest.mark.skip(f"no Python {version} on this machine")
        yield pytest.param(found, version, id=version, marks=skip)


@pytest.mark.parametrize(("python", "version"), list(old_pythons()))
@pytest.mark.parametrize("script", ["start.py", "check.py"])
def test_an_old_python_is_told_in_one_sentence(root, shop, python, version, script):
    done = subprocess.run(
        [python, str(root / script)],
        env={"PATH": str(shop.no_programs), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True,
        encoding="utf-8",
        timeout=30,
        check=False,
    )
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr == (
        f"Kerfwright needs Python 3.11, 3.12, 3.13 or 3.14, and this is {version} (cpython): "
        "install one of those, then run the same command again.\n"
    )

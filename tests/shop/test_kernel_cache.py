"""Compiled kernels are kept, and never outlive their sources."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from kerfwright.kernels import cache_folder
from kerfwright.kernels.cache_folder import sources_name


def run(code, **variables):
    """Run code in a new Python, with no compiler setting but those given."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("NUMBA_")}
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=kept | variables,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


WHERE = "import os, sys, kerfwright.kernels; print(os.environ['NUMBA_CACHE_DIR'])"


def test_the_folder_is_chosen_before_the_compiler_reads_it(tmp_path):
    told = run(
        f"{WHERE}; import numba; print(numba.config.CACHE_DIR)", XDG_CACHE_HOME=str(tmp_path)
    )
    folder, compiler = told.splitlines()
    assert compiler == folder
    assert Path(folder).is_dir()
    if sys.platform.startswith("linux"):
        name = sources_name(Path(cache_folder.__file__).parent, {})
        assert folder == str(tmp_path / "kerfwright" / "kernels" / name)


KERNEL = """
import numpy as np
from kerfwright.kernels.compiling import kernel

@kernel()
def thirds(count):
    out = np.empty(count)
    for k in range(count):
        out[k] = k / 3.0
    return out
"""
#: What it gives; whether the compiler is awake, and has brought linear algebra with it.
CALL = """
import sys
sys.path.insert(0, {folder!r})
from thirds import thirds
print(thirds(4).tolist(), "numba.np.linalg" in sys.modules, "scipy.linalg" in sys.modules)
"""


def test_kept_code_is_read_without_the_compiler_and_gives_the_same(tmp_path):
    (tmp_path / "thirds.py").write_text(KERNEL)
    code, cache = CALL.format(folder=str(tmp_path)), str(tmp_path / "cache")
    assert run(code, NUMBA_CACHE_DIR=cache) == f"{[0.0, 1 / 3, 2 / 3, 1.0]} True False"
    assert run(code, NUMBA_CACHE_DIR=cache) == f"{[0.0, 1 / 3, 2 / 3, 1.0]} False False"
    # For other types of arguments it wakes, and linear algebra is there for others.
    told = run(
        code + "import numpy as np\nprint(thirds(np.int32(3)).tolist())\n"
        "import scipy.linalg; print(scipy.linalg.det([[2.0]]))",
        NUMBA_CACHE_DIR=cache,
    )
    assert told.splitlines()[1:] == [str([0.0, 1 / 3, 2 / 3]), "2.0"]


def test_a_folder_is_prepared_once_it_was_marked(tmp_path):
    code = (
        "from kerfwright.kernels import cache_folder as c; print(c.is_prepared());"
        "c.mark_prepared(); print(c.is_prepared())"
    )
    assert run(code, NUMBA_CACHE_DIR=str(tmp_path / "not there yet")).split() == ["False", "True"]


def test_for_undercuts_it_is_marked_by_itself(tmp_path):
    code = (
        "from kerfwright.kernels import cache_folder as c; c.mark_prepared();"
        "print(c.is_prepared(undercuts=True)); c.mark_prepared(undercuts=True);"
        "print(c.is_prepared(undercuts=True))"
    )
    assert run(code, NUMBA_CACHE_DIR=str(tmp_path)).split() == ["False", "True"]


def test_a_folder_that_the_user_chose_is_kept(tmp_path):
    assert run(WHERE, NUMBA_CACHE_DIR=str(tmp_path)) == str(tmp_path)


def test_a_folder_for_other_sources_is_not_taken_over(tmp_path):
    first = run(WHERE, XDG_CACHE_HOME=str(tmp_path))
    of_others = Path(first).with_name("0" * 16)
    assert run(WHERE, XDG_CACHE_HOME=str(tmp_path), NUMBA_CACHE_DIR=str(of_others)) == first


def test_a_compiler_that_was_there_first_is_told_too(tmp_path):
    code = f"import numba; {WHERE}; print(numba.config.CACHE_DIR)"
    chosen, used = run(code, XDG_CACHE_HOME=str(tmp_path)).splitlines()
    assert used == chosen


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such permissions")
def test_without_a_home_the_temporary_folder_is_private(tmp_path):
    told = run(WHERE, HOME="", XDG_CACHE_HOME="", TMPDIR=str(tmp_path))
    shelf = Path(told).parent
    assert shelf.parent == tmp_path
    assert shelf.stat().st_mode & 0o777 == 0o700
    # Somebody else could plant code in a folder that is open to all: it is passed by.
    shelf.chmod(0o777)
    again = Path(run(WHERE, HOME="", XDG_CACHE_HOME="", TMPDIR=str(tmp_path))).parent
    assert again != shelf
    assert again.stat().st_mode & 0o777 == 0o700


def test_a_home_that_cannot_be_used_falls_back(tmp_path):
    in_the_way = tmp_path / "file"
    in_the_way.write_text("")
    told = run(WHERE, HOME=str(in_the_way), XDG_CACHE_HOME="", TMPDIR=str(tmp_path))
    assert Path(told).parent.parent == tmp_path


def test_the_name_follows_the_sources_and_the_settings(tmp_path):
    (tmp_path / "a.py").write_text("1")
    (tmp_path / "b.py").write_text("2")
    names = [sources_name(tmp_path, {})]
    assert sources_name(tmp_path, {"NUMBA_NUM_THREADS": "4", "HOME": "/x"}) == names[0]
    # A warm cache would hide the checks of indices.
    names.append(sources_name(tmp_path, {"NUMBA_BOUNDSCHECK": "1"}))
    (tmp_path / "b.py").write_text("3")
    names.append(sources_name(tmp_path, {}))
    (tmp_path / "b.py").rename(tmp_path / "c.py")
    names.append(sources_name(tmp_path, {}))
    assert len(set(names)) == 4


def test_old_caches_are_cleared_away(tmp_path):
    shelf = tmp_path / "kerfwright" / "kernels"
    for number in range(20):
        old = shelf / f"{number:016x}"
        old.mkdir(parents=True)
        os.utime(old, (number, number))
    (shelf / "notes").mkdir()
    told = run(WHERE, XDG_CACHE_HOME=str(tmp_path))
    kept = {entry.name for entry in shelf.iterdir()}
    assert kept == {"notes", Path(told).name, *(f"{number:016x}" for number in range(9, 20))}


INNER = """
from numba import njit
@njit(cache=True)
def depth(x):
    return x + {step}
"""

OUTER = """
from numba import njit
from trial.kernels.inner import depth
@njit(cache=True)
def twice(x):
    return 2 * depth(x)
"""


@pytest.mark.slow
def test_an_edit_in_another_file_reaches_a_cached_kernel(tmp_path):
    room = tmp_path / "trial" / "kernels"
    room.mkdir(parents=True)
    (room.parent / "__init__.py").write_text("")
    shutil.copy(cache_folder.__file__, room)
    (room / "__init__.py").write_text(
        "from trial.kernels.cache_folder import choose_cache_folder\nchoose_cache_folder()\n"
    )
    (room / "outer.py").write_text(OUTER)
    (room / "inner.py").write_text(INNER.format(step=1))
    code = (
        f"import sys; sys.path.insert(0, {str(tmp_path)!r}); sys.dont_write_bytecode = True; "
        "from trial.kernels.outer import twice; "
        "print(twice(10), sum(twice.stats.cache_hits.values()))"
    )
    home = {"XDG_CACHE_HOME": str(tmp_path / "cache"), "LOCALAPPDATA": str(tmp_path / "cache")}
    assert run(code, **home) == "22 0"
    assert run(code, **home) == "22 1"
    (room / "inner.py").write_text(INNER.format(step=5))
    assert run(code, **home) == "30 0"


def test_only_the_kernels_room_brings_the_compiler_in(root):
    package = root / "src" / "kerfwright"
    guilty = [
        source.relative_to(package).as_posix()
        for source in sorted(package.rglob("*.py"))
        if source.parent.name != "kernels"
        and any(
            line.lstrip().startswith(("import numba", "from numba"))
            for line in source.read_text(encoding="utf-8").splitlines()
        )
    ]
    assert guilty == []

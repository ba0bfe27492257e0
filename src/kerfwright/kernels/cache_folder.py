"""Where the compiled kernels are kept between runs.

The compiler checks a cached kernel against its own source file alone. When that kernel calls one
in another file and the other file is edited, the old result comes back without a word. So the
cache stands in a folder named by a hash of every source in this room, and of the settings that
change what is compiled: another source, another folder, and nothing stale can be found.
"""

import hashlib
import os
import sys
from collections.abc import Mapping
from pathlib import Path

from kerfwright.basics.user_folders import user_root

_ROOM = Path(__file__).parent
_KEPT_FOLDERS = 12
_NAME_LETTERS = 16
#: Files in a folder that holds every kernel: without and with those for wood in spans.
_PREPARED = {False: "prepared", True: "prepared for undercuts"}
# These two say where kernels are kept and how many run at once, not what is compiled.
_SAME_CODE = frozenset({"NUMBA_CACHE_DIR", "NUMBA_NUM_THREADS"})


def choose_cache_folder() -> None:
    """Point the compiler at the cache of these sources, unless the user has chosen a folder.

    Must run before the compiler is imported; if it is there already, its setting is changed too.
    A folder that was chosen by a parent process for other sources is not taken over. Takes about
    half a millisecond.
    """
    chosen = os.environ.get("NUMBA_CACHE_DIR", "")
    shelf = _usable_shelf()
    ours = chosen != "" and Path(chosen).parent == shelf and len(Path(chosen).name) == _NAME_LETTERS
    if chosen and not ours:
        return
    folder = shelf / sources_name(_ROOM, os.environ)
    if not folder.is_dir():
        _make_room_for_one(shelf)
        folder.mkdir(exist_ok=True)
    os.environ["NUMBA_CACHE_DIR"] = str(folder)
    compiler = sys.modules.get("numba")
    if compiler is not None:
        compiler.config.CACHE_DIR = str(folder)


def is_prepared(*, undercuts: bool = False) -> bool:
    """Whether all kernels were compiled into the chosen folder once, or there is no compiler.

    Those for ``undercuts`` are asked for by themselves: few jobs need them.
    """
    file = Path(os.environ.get("NUMBA_CACHE_DIR", "")) / _PREPARED[undercuts]
    return os.environ.get("NUMBA_DISABLE_JIT", "0") != "0" or file.is_file()


def mark_prepared(*, undercuts: bool = False) -> None:
    """Note in the chosen folder that all kernels, or those for undercuts, are there."""
    folder = Path(os.environ["NUMBA_CACHE_DIR"])
    folder.mkdir(parents=True, exist_ok=True)
    (folder / _PREPARED[undercuts]).touch()


def sources_name(room: Path, environment: Mapping[str, str]) -> str:
    """Sixteen hex letters that change with any source of the room or any compiler setting."""
    digest = hashlib.sha256()
    for source in sorted(room.rglob("*.py")):
        digest.update(f"\0{source.relative_to(room).as_posix()}\0".encode())
        digest.update(source.read_bytes())
    for name in sorted(environment):
        if name.startswith("NUMBA_") and name not in _SAME_CODE:
            digest.update(f"\0{name}={environment[name]}".encode(errors="surrogateescape"))
    return digest.hexdigest()[:_NAME_LETTERS]


def _usable_shelf() -> Path:
    root = user_root("cache", sys.platform, os.environ)
    if root is not None:
        shelf = root / "kerfwright" / "kernels"
        try:
            shelf.mkdir(parents=True, exist_ok=True)
        except OSError:
            return _temporary_shelf()
        if os.access(shelf, os.W_OK | os.X_OK):
            return shelf
    return _temporary_shelf()


def _temporary_shelf() -> Path:
    """A folder of this user alone: a cached kernel is code, and others may write beside it."""
    import tempfile

    user = os.getuid() if hasattr(os, "getuid") else 0
    shelf = Path(tempfile.gettempdir()) / f"kerfwright-kernels-{user}"
    try:
        shelf.mkdir(mode=0o700, exist_ok=True)
        status = shelf.lstat()
        private = not shelf.is_symlink() and status.st_mode & 0o077 == 0 and status.st_uid == user
    except OSError:
        private = False
    if private or sys.platform == "win32":
        return shelf
    return Path(tempfile.mkdtemp(prefix="kerfwright-kernels-"))


def _make_room_for_one(shelf: Path) -> None:
    """Remove the oldest caches, so that a year of edits does not fill the disk."""
    import shutil

    folders = [
        entry for entry in shelf.iterdir() if entry.is_dir() and len(entry.name) == _NAME_LETTERS
    ]
    folders.sort(key=lambda folder: folder.stat().st_mtime, reverse=True)
    for old in folders[_KEPT_FOLDERS - 1 :]:
        shutil.rmtree(old, ignore_errors=True)

"""The demo: the invented Alder Lane Workshop, packaged read-only, and copies of it to work in."""

import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path

from kerfwright.basics import InputError, Place
from kerfwright.formats import read_toml, require_kind
from kerfwright.workshop.folder import JobFolder, Workshop, open_workshop

_NOT_COPIED = shutil.ignore_patterns("__pycache__", ".cache", "log.sqlite*", "*.part")


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """A fault that was put into a job of the demo on purpose."""

    code: str  #: of the finding that must come of it
    severity: str
    line: int
    words: str


def planted_in(job: JobFolder) -> tuple[Planted, ...]:
    """The faults of a job's ``planted.toml``, in the order of its lines; none without one."""
    path = job.folder / "planted.toml"
    if not path.is_file():
        return ()
    toml = read_toml(path)
    require_kind(toml, "planted", 1)
    return tuple(Planted(**fault) for fault in toml.data["fault"])


def demo_folder() -> Path:
    """The packaged demo. Nothing may be written there."""
    return Path(__file__).parent / "demo"


def open_demo() -> Workshop:
    """The packaged demo as a workshop that keeps no log and no cache."""
    return open_workshop(demo_folder(), read_only=True)


def copy_demo(to: Path) -> Workshop:
    """Copy the demo into a folder of one's own: whole or not at all.

    Raises
    ------
    InputError
        If ``to`` is a file, or a folder that holds anything.
    """
    return copy_workshop(demo_folder(), to)


def copy_workshop(source: Path, to: Path) -> Workshop:
    """Copy a workshop without its log and its cache."""
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise InputError(
            Place(file=str(to)), "is there already, and not empty", "choose a new folder"
        )
    to.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(dir=to.parent, prefix=f".{to.name}.", suffix=".part"))
    try:
        # Contents only, no modes: the packaged files may be write-protected, the copy is not.
        shutil.copytree(source, beside / "copy", ignore=_NOT_COPIED, copy_function=shutil.copyfile)
        if to.exists():
            to.rmdir()  # empty; not every system renames onto a folder
        (beside / "copy").replace(to)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return open_workshop(to)

"""The workshop's small files, read again only when they have changed."""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from kerfwright.basics import KerfwrightError
from kerfwright.cutter import Cutter, load_cutters
from kerfwright.fixture import ClampShape, load_clamps
from kerfwright.formats import read_toml
from kerfwright.jobs.belongings import bed_of, on_bed
from kerfwright.machine import MachineModel, load_machine
from kerfwright.setup import Setup, load_job
from kerfwright.workshop.folder import JobFolder, Workshop

Mark = tuple[int, int]
_NONE: Mark = (0, 0)


def mark_of(path: Path) -> Mark:
    """Time and size of a file: while they stay, so does what it says."""
    try:
        state = path.stat()
    except OSError:
        return _NONE
    return state.st_mtime_ns, state.st_size


def machine(path: Path) -> MachineModel:
    """The machine. Raises ``KerfwrightError``."""
    return _machine(path, mark_of(path))


@lru_cache(maxsize=4)
def _machine(path: Path, mark: Mark) -> MachineModel:  # noqa: ARG001
    return load_machine(path)


def machine_words(path: Path) -> tuple[str, str]:
    """Name of the machine and a sentence: what is wrong with its file, or nothing."""
    try:
        return machine(path).name, ""
    except KerfwrightError as error:
        return "", f"machine.toml cannot be read: {str(error).splitlines()[0]}"


def rack(workshop: Workshop) -> dict[str, Cutter]:
    """The cutters; none where there is no file. Raises ``KerfwrightError``."""
    path = workshop.cutters_file
    return dict(_rack(path, mark_of(path))) if path.is_file() else {}


@lru_cache(maxsize=4)
def _rack(path: Path, mark: Mark) -> dict[str, Cutter]:  # noqa: ARG001
    return dict(load_cutters(path))


def clamp_shapes(workshop: Workshop) -> dict[str, ClampShape]:
    """The shop's clamps; none where there is no file. Raises ``KerfwrightError``."""
    path = workshop.folder / "clamps.toml"
    return dict(load_clamps(path)) if path.is_file() else {}


def setup_of(workshop: Workshop, job_file: Path) -> Setup:
    """The set-up of a job. Raises ``KerfwrightError``."""
    bed = bed_of(job_file, job_file)
    bedded = on_bed(machine(workshop.machine_file), bed)
    setup = load_job(job_file, rack(workshop), bedded, clamp_shapes(workshop))
    return replace(setup, bed=bed)


def data_of(job_file: Path) -> dict[str, Any]:
    """What stands in a job file; nothing where it cannot be read."""
    try:
        return read_toml(job_file).data
    except KerfwrightError:
        return {}


def note_of(job: JobFolder) -> str:
    """The note of a job."""
    return _note(job.job_file, mark_of(job.job_file))


@lru_cache(maxsize=512)
def _note(path: Path, mark: Mark) -> str:  # noqa: ARG001
    said = data_of(path).get("note", "")
    return said[:300] if isinstance(said, str) else ""

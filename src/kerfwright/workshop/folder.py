"""The workshop's folder: a machine, a rack of cutters, jobs, the shop log."""

import os
from collections.abc import Iterable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from sqlite3 import Connection

from kerfwright.basics import InputError, KerfwrightError, Place
from kerfwright.formats import write_text
from kerfwright.workshop.shop_log import open_log
from kerfwright.workshop.stage_cache import StageCache

#: How programs and drawings are told from other files in a job's folder.
PROGRAM_SUFFIXES = (".nc", ".ngc", ".cnc", ".tap", ".gcode", ".txt")
DRAWING_SUFFIXES = (".dxf", ".svg", ".stl")
VERDICT_NAME = "verdict.json"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFolder:
    """One job: ``job.toml``, the program, maybe a drawing, and what was made from them."""

    name: str
    folder: Path

    @property
    def job_file(self) -> Path:
        """Where the set-up of the job is written."""
        return self.folder / "job.toml"

    @property
    def verdict_file(self) -> Path:
        """Where the verdict of its last proof stands, if there was one."""
        return self.folder / VERDICT_NAME

    def program_file(self) -> Path:
        """The one program of the job.

        Raises
        ------
        InputError
            If there is none, or more than one.
        """
        found = self._files(PROGRAM_SUFFIXES)
        if len(found) == 1:
            return found[0]
        endings = ", ".join(PROGRAM_SUFFIXES)
        if not found:
            raise InputError(
                Place(file=str(self.folder)),
                "holds no program",
                f"put the program there, with one of the endings {endings}",
            )
        raise InputError(
            Place(file=str(self.folder)),
            f"holds {len(found)} programs: {_some(found)}",
            "keep the one that will be run and give each other one a job of its own",
        )

    def drawing_file(self) -> Path | None:
        """The drawing of the job; None if there is none.

        Raises
        ------
        InputError
            If there is more than one.
        """
        found = self._files(DRAWING_SUFFIXES)
        if len(found) > 1:
            raise InputError(
                Place(file=str(self.folder)),
                f"holds {len(found)} drawings: {_some(found)}",
                "keep the one that the program was made from",
            )
        return found[0] if found else None

    def _files(self, suffixes: tuple[str, ...]) -> list[Path]:
        return sorted(
            file
            for file in self.folder.iterdir()
            if file.suffix.lower() in suffixes and not file.name.startswith(".") and file.is_file()
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Workshop:
    """A folder that was found to be a workshop. Open one with ``open_workshop``."""

    folder: Path
    read_only: bool = False  #: nothing may be written into it: the packaged demo

    @property
    def machine_file(self) -> Path:
        """The description of the machine."""
        return self.folder / "machine.toml"

    @property
    def cutters_file(self) -> Path:
        """The rack of cutters."""
        return self.folder / "cutters.toml"

    def jobs(self) -> tuple[JobFolder, ...]:
        """All jobs, by name."""
        try:
            found = [entry for entry in (self.folder / "jobs").iterdir() if entry.is_dir()]
        except FileNotFoundError:
            found = []
        return tuple(
            JobFolder(name=entry.name, folder=entry)
            for entry in sorted(found, key=lambda entry: entry.name)
            if not entry.name.startswith(".")
        )

    def job(self, name: str) -> JobFolder:
        """The job of this name.

        Raises
        ------
        InputError
            If there is no such job.
        """
        jobs = self.jobs()
        for job in jobs:
            if job.name == name:
                return job
        names = _some(job.folder for job in jobs)
        raise InputError(
            Place(file=str(self.folder / "jobs")),
            f'there is no job "{name[:60]}"',
            f"there are: {names}" if jobs else "make a folder for it there",
        )

    def log(self) -> AbstractContextManager[Connection]:
        """The shop log, open for the length of a ``with`` block.

        Raises
        ------
        KerfwrightError
            If nothing may be written into this workshop.
        """
        if self.read_only:
            raise KerfwrightError(
                f"{self.folder} cannot be written to, so it keeps no shop log\n"
                "  remedy: make a copy of the workshop in a folder of your own"
            )
        return open_log(self.folder / "log.sqlite")

    def cache(self) -> StageCache | None:
        """Results kept from earlier proofs; None if nothing may be written."""
        return None if self.read_only else StageCache(self.folder / ".cache")


def open_workshop(path: Path, *, read_only: bool = False) -> Workshop:
    """Open the workshop in a folder.

    Raises
    ------
    InputError
        If the folder is none: it must hold a machine.toml.
    """
    if not path.is_dir():
        raise InputError(
            Place(file=str(path)),
            "is no folder" if path.exists() else "is not there",
            "give the folder that holds your machine.toml",
        )
    if not (path / "machine.toml").is_file():
        raise InputError(
            Place(file=str(path)),
            "is no workshop: it holds no machine.toml",
            "give the folder that does, or copy the demo workshop and begin from that",
        )
    return Workshop(folder=path, read_only=read_only or not os.access(path, os.W_OK))


def create_workshop(path: Path, machine_text: str, cutters_text: str) -> Workshop:
    """Make a workshop with a machine and a rack, in a new folder or one without a workshop.

    Raises
    ------
    InputError
        If one of its files is there already.
    """
    workshop = Workshop(folder=path)
    for file in (workshop.machine_file, workshop.cutters_file):
        if file.exists():
            raise InputError(Place(file=str(file)), "is there already", "choose another folder")
    (path / "jobs").mkdir(parents=True, exist_ok=True)
    write_text(workshop.cutters_file, cutters_text)
    write_text(workshop.machine_file, machine_text)  # last: it is what makes it a workshop
    return workshop


def _some(files: Iterable[Path], most: int = 6) -> str:
    names = [file.name for file in files]
    words = ", ".join(names[:most])
    return f"{words} and {len(names) - most} more" if len(names) > most else words

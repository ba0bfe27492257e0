"""Proofs that were made for the page, kept in the workshop's cache; and whether they are stale."""

import json
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

from kerfwright.basics.sources import code_sha256
from kerfwright.jobs.show_errand import GUESS, KIND, MAPS, VERDICT
from kerfwright.workshop.folder import JobFolder, Workshop

#: Files of the workshop that a proof depends on beside those of its job.
SHARED = ("machine.toml", "cutters.toml", "clamps.toml", "bed.toml", "learned.json")
_ABSENT = ""


class Hashes:
    """Hashes of files, made again only where a file has another size or time."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._known: dict[Path, tuple[tuple[int, int], str]] = {}

    def of(self, path: Path) -> str:
        """SHA-256 of a file; empty where there is none."""
        try:
            state = path.stat()
        except OSError:
            return _ABSENT
        mark = (state.st_mtime_ns, state.st_size)
        with self._lock:
            known = self._known.get(path)
        if known is not None and known[0] == mark:
            return known[1]
        digest = sha256()
        try:
            with path.open("rb") as file:
                while block := file.read(1 << 20):
                    digest.update(block)
        except OSError:
            return _ABSENT
        with self._lock:
            self._known[path] = (mark, digest.hexdigest())
        return digest.hexdigest()


def inputs_of(workshop: Workshop, job: JobFolder, program: Path, hashes: Hashes) -> dict[str, str]:
    """Hashes of everything that a proof of a job is made from."""
    files = {name: workshop.folder / name for name in SHARED}
    files |= {"job.toml": job.job_file, "program": program}
    out = {name: hashes.of(path) for name, path in files.items()}
    return out | {"file": program.name, "code": code_sha256()}


class ShownProof:
    """The last proof of one job as it lies in the cache."""

    def __init__(self, folder: Path, inputs: Mapping[str, str], verdict: dict[str, Any]) -> None:
        self.folder = folder
        self.inputs = inputs
        self.verdict = verdict

    @property
    def made_at(self) -> str:
        """The key of its arrays."""
        return str(self.verdict["made_at"])

    def maps(self) -> dict[str, Any]:
        """What ``GET maps`` answers."""
        return {"made_at": self.made_at, **_read(self.folder / MAPS)}

    def guess(self) -> dict[str, Any]:
        """What to compare with after the cut."""
        return _read(self.folder / GUESS)

    def series(self) -> dict[str, Any]:
        """Curves through time."""
        return _read(self.folder / "series.json")

    def array_file(self, name: str, keyframe: int | None = None) -> Path | None:
        """The file of a map or of the path; None if there is none."""
        names = {"height": "i16", "error": "i16", "time": "u16", "path": "f32"}
        if name not in names or (keyframe is not None and name not in ("height", "time")):
            return None
        middle = "" if keyframe is None else f".{keyframe}"
        path = self.folder / f"{name}{middle}.{names[name]}"
        return path if path.is_file() else None

    def moments(self) -> Any:
        """Columns as ``report.page_arrays`` has them, read where they are needed only."""
        return np.load(self.folder / "moments.npy", mmap_mode="r", allow_pickle=False)

    def line_starts(self) -> Any:
        """When each line begins to move, from line 0; NaN where nothing moves. [s]"""
        return np.load(self.folder / "lines.npy", mmap_mode="r", allow_pickle=False)


def shown_folder(workshop: Workshop, job: str) -> Path:
    """Where what the page draws of a job is kept."""
    return workshop.folder / ".cache" / "shown" / job


def read_shown(workshop: Workshop, job: str) -> ShownProof | None:
    """The last proof of a job; None if there is none, it is damaged, or of another shape."""
    folder = shown_folder(workshop, job)
    try:
        whole = _read(folder / VERDICT)
        if whole["kerfwright"] != KIND:
            return None
        return ShownProof(folder, whole["inputs"], whole["shown"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _read(path: Path) -> dict[str, Any]:
    value = json.loads(path.read_text(encoding="utf-8"))
    if not isinstance(value, dict):
        raise ValueError(f"{path} holds no answer")
    return value

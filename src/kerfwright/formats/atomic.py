"""Files are written beside their place and renamed into it: whole or not at all."""

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


@contextmanager
def writing(path: Path) -> Iterator[BinaryIO]:
    """A file to write beside ``path``; it takes that place once all is on disk, or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(
        dir=path.parent, prefix=f".{path.name[:100]}.{os.getpid()}.", suffix=".part"
    )
    try:
        with os.fdopen(handle, "w+b") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        # mkstemp makes private files; a result is as readable as the person's other files.
        mask = os.umask(0)
        os.umask(mask)
        Path(beside).chmod(0o666 & ~mask)
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise


def write_bytes(path: Path, data: bytes) -> None:
    """Write ``data`` at ``path``, replacing what is there only once all is on disk."""
    with writing(path) as file:
        file.write(data)


def write_text(path: Path, text: str) -> None:
    """``write_bytes`` of text as UTF-8 with line feeds."""
    write_bytes(path, text.encode("utf-8"))


def remove_parts(folder: Path, process: int) -> None:
    """Remove what a process that is no more left half-written in a folder."""
    for part in folder.glob(f".*.{process}.*.part"):
        if part.is_dir():
            shutil.rmtree(part, ignore_errors=True)
        else:
            part.unlink(missing_ok=True)


@contextmanager
def folder_beside(folder: Path) -> Iterator[Path]:
    """An empty folder beside another, to fill before its files are moved there; gone at the end."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    prefix = f".{folder.name}.{os.getpid()}."
    with tempfile.TemporaryDirectory(dir=folder.parent, prefix=prefix, suffix=".part") as part:
        yield Path(part)

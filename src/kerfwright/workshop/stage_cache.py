"""Results of finished stages, kept by what they were made from."""

import json
import os
import re
import struct
import zipfile
import zlib
from collections.abc import Mapping
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.sources import code_sha256
from kerfwright.formats.atomic import writing

LARGEST_BYTES = 2_000_000_000
_META = "meta.json"
#: What reading a damaged archive can raise.
_UNREADABLE = (
    ValueError,
    KeyError,
    EOFError,
    RuntimeError,
    MemoryError,
    struct.error,
    zipfile.BadZipFile,
    zlib.error,
)
_KEY = re.compile(r"[0-9a-f]{64}")

Arrays = dict[str, NDArray[Any]]


def stage_key(stage: str, inputs: Mapping[str, Any]) -> str:
    """A key for the result of a stage.

    Parameters
    ----------
    stage : str
        Which stage of the chain.
    inputs : mapping
        All that the result depends on, as text, numbers, lists and mappings of these: hashes of
        program, machine and tables, the cell, the wood ... The code is put in by this function.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    whole = {"stage": stage, "code": code_sha256(), "inputs": dict(inputs)}
    text = json.dumps(whole, sort_keys=True, allow_nan=False)
    return sha256(text.encode("utf-8")).hexdigest()


class StageCache:
    """A folder of stage results, each one file; the longest unused are removed for room.

    Several processes may use one folder at a time. A file that cannot be read is removed and
    made anew; a cache that cannot be written to just keeps nothing.
    """

    def __init__(self, folder: Path, largest_bytes: int = LARGEST_BYTES) -> None:
        self._folder = folder
        self._largest_bytes = largest_bytes

    def get(self, key: str) -> tuple[Arrays, dict[str, Any]] | None:
        """Arrays and facts kept under a key; None if there are none that can be read."""
        path = self._path(key)
        try:
            with path.open("rb") as file:
                entry = _unpack(file)
        except OSError:
            return None
        except _UNREADABLE:
            with suppress(OSError):
                path.unlink()
            return None
        with suppress(OSError):
            os.utime(path)  # used just now: the last to be removed
        return entry

    def put(self, key: str, arrays: Mapping[str, NDArray[Any]], meta: Mapping[str, Any]) -> None:
        """Keep arrays (plain numbers, no objects) and facts (that JSON can hold) under a key."""
        said = json.dumps(dict(meta), allow_nan=False)
        if any(np.asarray(array).dtype.hasobject for array in arrays.values()):
            raise ValueError("Object arrays cannot be kept")
        if sum(np.asarray(array).nbytes for array in arrays.values()) > self._largest_bytes:
            return
        with suppress(OSError):
            # Straight into the file: a second copy of all fields would not fit everywhere.
            with writing(self._path(key)) as file:
                _pack(file, arrays, said)
            self._make_room()

    def _path(self, key: str) -> Path:
        if not _KEY.fullmatch(key):
            raise ValueError(f"{key!r} is no key: use stage_key")
        return self._folder / f"{key}.npz"

    def _make_room(self) -> None:
        entries = []
        for path in self._folder.glob("*.npz"):
            with suppress(OSError):  # another process may have removed it
                state = path.stat()
                entries.append((state.st_mtime_ns, path.name, state.st_size, path))
        total = sum(size for _, _, size, _ in entries)
        for _, _, size, path in sorted(entries):
            if total <= self._largest_bytes:
                return
            with suppress(OSError):
                path.unlink()
            total -= size


def _pack(file: BinaryIO, arrays: Mapping[str, NDArray[Any]], meta: str) -> None:
    """A zip archive of .npy files, uncompressed, and the facts as JSON beside them."""
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
        for name, array in arrays.items():
            with archive.open(f"{name}.npy", "w", force_zip64=True) as member:
                np.lib.format.write_array(member, np.asarray(array), allow_pickle=False)
        archive.writestr(_META, meta)


def _unpack(file: BinaryIO) -> tuple[Arrays, dict[str, Any]]:
    with zipfile.ZipFile(file) as archive:
        # Checksums first: a flipped bit in a header could ask for all the memory there is.
        if archive.testzip() is not None:
            raise zipfile.BadZipFile("a checksum is wrong")
        meta = json.loads(archive.read(_META))
        arrays = {}
        for name in archive.namelist():
            if name != _META:
                with archive.open(name) as member:
                    arrays[name.removesuffix(".npy")] = np.lib.format.read_array(
                        member, allow_pickle=False
                    )
    return arrays, meta

"""Triangles from an STL file, binary or text; bounded in time and memory whatever it holds."""

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.errors import InputError, Place

MOST_TRIANGLES = 1_000_000
LARGEST_TEXT = 60_000_000  #: bytes
_HEAD, _EACH = 84, 50
_VERTEX = re.compile(
    rb"\bvertex[ \t]+([-+.\deE]{1,40})[ \t]+([-+.\deE]{1,40})[ \t]+([-+.\deE]{1,40})"
)
_OUTSIDE = 1e6


def read_stl(path: Path) -> NDArray[np.float64]:
    """Read the triangles of a mesh.

    Parameters
    ----------
    path : Path
        Binary: 80 bytes of anything, the number of triangles, 50 bytes for each. Text: it begins
        with ``solid`` and has lines ``vertex x y z``, three to a facet.

    Returns
    -------
    array (k, 3, 3)
        Corners of each triangle, x y z in the unit of the file, which it does not name.

    Raises
    ------
    InputError
        If it cannot be read, is cut short, or is larger than a blank can need.
    """
    place = Place(file=str(path))
    try:
        size = path.stat().st_size
        if size > _HEAD + _EACH * MOST_TRIANGLES and size > LARGEST_TEXT:
            raise InputError(
                place,
                f"is larger than a mesh of {MOST_TRIANGLES // 1000}000 triangles",
                "save it with fewer triangles",
            )
        with path.open("rb") as file:
            data = file.read(max(_HEAD + _EACH * MOST_TRIANGLES, LARGEST_TEXT) + 1)
    except OSError as error:
        raise InputError(
            place, f"cannot be opened: {error.strerror}", "check the name and the folder"
        ) from error
    many = int.from_bytes(data[80:84], "little") if len(data) >= _HEAD else -1
    if many >= 0 and len(data) == _HEAD + _EACH * many:
        corners = _binary(data, many)
    elif data[:5].lower() == b"solid" and b"\0" not in data[:_HEAD]:
        corners = _text(data, place)
    else:
        raise InputError(
            place,
            "is no STL file, or was not saved whole",
            "save the blank as STL again, binary or text",
        )
    if not len(corners):
        raise InputError(place, "holds no triangle", "save the blank as STL again")
    if not np.isfinite(corners).all() or float(np.abs(corners).max()) > _OUTSIDE:
        raise InputError(
            place, "holds corners that are nowhere on a table", "save the blank as STL again"
        )
    return corners


def _binary(data: bytes, many: int) -> NDArray[np.float64]:
    records = np.frombuffer(
        data, np.dtype([("normal", "<f4", 3), ("corner", "<f4", (3, 3)), ("", "<u2")]), many, _HEAD
    )
    return records["corner"].astype(np.float64)


def _text(data: bytes, place: Place) -> NDArray[np.float64]:
    if len(data) > LARGEST_TEXT:
        raise InputError(
            place,
            f"is a text of more than {LARGEST_TEXT // 1_000_000} MB",
            "save it as a binary STL, or with fewer triangles",
        )
    said = len(re.findall(rb"\bvertex\b", data))
    if said > 3 * MOST_TRIANGLES:
        raise InputError(
            place,
            f"has more than {MOST_TRIANGLES // 1000}000 triangles",
            "save it with fewer triangles",
        )
    out = np.empty((said, 3))
    many = 0
    for match in _VERTEX.finditer(data):
        try:
            out[many] = [float(number) for number in match.groups()]
        except ValueError:
            break
        many += 1
    if many != said or many % 3:
        line = data.count(b"\n", 0, _after(data, many)) + 1
        raise InputError(
            Place(file=place.file, line=line),
            "a corner cannot be read, or a triangle has not three of them",
            "save the blank as STL again",
        )
    return out.reshape(-1, 3, 3)


def _after(data: bytes, many: int) -> int:
    """Where the corner after the first ``many`` stands."""
    at = 0
    for number, match in enumerate(re.finditer(rb"\bvertex\b", data)):
        at = match.start()
        if number == many:
            break
    return at

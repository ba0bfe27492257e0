"""A board as an earlier job left it: kept in a file of ours, and where the next job starts."""

import json
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import InputError, Place
from kerfwright.formats.atomic import writing
from kerfwright.kernels.tiles import BLOCK, TILE
from kerfwright.stock.field import Field

FloatArray = NDArray[np.float64]
Over = Literal["", "x", "y"]

KIND = "board 1"
NAME = "left.board"  #: of the file in the folder of a job
_FACTS = "board.json"
_LARGEST_FACTS = 100_000
_MOST_TILES = 20_000  #: 330 million cells: more than is ever cut
_UNREADABLE = (
    ValueError,
    KeyError,
    TypeError,
    EOFError,
    zipfile.BadZipFile,
    zlib.error,
    RuntimeError,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeftBoard:
    """Top and underside of an earlier job's board, as it was or turned over.

    Heights between the centres of its cells are those of the cell: a grid of another size takes the
    nearest.
    """

    words: str
    sha256: str
    size_mm: tuple[float, float, float]  #: along X, along Y, thick
    cell_mm: float
    rows: int
    columns: int
    facts: Mapping[str, Any]  #: all that its file says beside the heights
    over: Over = ""  #: turned over about this axis
    place: NDArray[np.int64] = field(repr=False)  #: (tiles,) where each stands below, -1 whole
    height_mm: NDArray[np.float32] = field(repr=False)  #: (places, TILE²) by blocks
    beneath_mm: NDArray[np.float32] = field(repr=False)  #: the same, or (0, TILE²)

    @property
    def hollow(self) -> bool:
        """Whether its underside is not the same everywhere."""
        return bool(self.over) or len(self.beneath_mm) > 0

    @property
    def highest_mm(self) -> float:
        """Height of the highest wood."""
        if self.over or (self.place < 0).any() or not len(self.height_mm):
            return 0.0
        return float(self.height_mm.max())

    def heights(self, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Top and underside, see ``Start``."""
        length, width = self.size_mm[:2]
        thick = -float(np.float32(-self.size_mm[2]))
        x = length - x_mm if self.over == "y" else x_mm
        y = width - y_mm if self.over == "x" else y_mm
        # The centre of a cell at the very middle between two must not fall either way by rounding.
        column = np.clip(np.floor(x / self.cell_mm + 1e-6), 0, self.columns - 1).astype(np.int64)
        row = np.clip(np.floor(y / self.cell_mm + 1e-6), 0, self.rows - 1).astype(np.int64)
        top = self._gathered(self.height_mm, row, column, 0.0)
        beneath = np.full_like(top, -thick)
        if len(self.beneath_mm):
            beneath = self._gathered(self.beneath_mm, row, column, -thick)
        none = top <= beneath
        if self.over:
            top, beneath = -thick - beneath, -thick - top
        top[none] = beneath[none] = -np.inf
        return top, beneath

    def _gathered(
        self, store: NDArray[np.float32], row: NDArray[np.int64], column: NDArray[np.int64],
        whole: float,
    ) -> FloatArray:  # fmt: skip
        tiles_x = -(-self.columns // TILE)
        tile = (row // TILE * tiles_x)[:, None] + column // TILE
        side = TILE // BLOCK
        r, c = row % TILE, column % TILE
        block = (r // BLOCK * side)[:, None] + c // BLOCK
        cell = block * BLOCK * BLOCK + (r % BLOCK * BLOCK)[:, None] + c % BLOCK
        place = self.place[tile]
        out = np.full(place.shape, whole)
        held = place >= 0
        out[held] = store[place[held], cell[held]]
        return out


def write_left(
    path: Path, left: Field, size_mm: tuple[float, float, float], facts: Mapping[str, Any]
) -> None:
    """Keep a field with facts that JSON can hold; undercut wood is kept as if it were whole."""
    tiles = left.tiles_that_say_anything()
    head = {
        "kerfwright": KIND,
        "size_mm": list(size_mm),
        "cell_mm": left.cell_mm,
        "rows": left.rows,
        "columns": left.columns,
        "tiles": len(tiles),
        "hollow": left.hollow,
        **facts,
    }
    with (
        writing(path) as beside,
        zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
    ):
        archive.writestr(_FACTS, json.dumps(head, allow_nan=False, indent=1))
        archive.writestr("tiles", tiles.astype("<i8").tobytes())
        parts = ("height", "beneath") if left.hollow else ("height",)
        for number, part in enumerate(parts):
            with archive.open(part, "w", force_zip64=True) as member:
                for tile in tiles.tolist():
                    member.write(left.stored(tile)[number].astype("<f4").tobytes())


def read_left(path: Path, over: Over = "") -> LeftBoard:
    """Read what ``write_left`` wrote.

    Parameters
    ----------
    over : "", "x" or "y"
        Turned over about an axis along X or along Y for the other side.

    Raises
    ------
    InputError
        If it is not there, broken, or of a newer version.
    """
    place = Place(file=str(path))
    remedy = "prove that job again with --keep-board"
    if not path.is_file():
        raise InputError(place, "is not there: that job has kept no board", remedy)
    try:
        with zipfile.ZipFile(path) as archive:
            if archive.getinfo(_FACTS).file_size > _LARGEST_FACTS:
                raise ValueError("too long")
            facts = json.loads(archive.read(_FACTS))
            said = facts["kerfwright"]
            if said != KIND:
                raise InputError(place, f'is "{str(said)[:40]}", and "{KIND}" is read here', remedy)
            return _left(archive, facts, over)
    except OSError as error:
        raise InputError(place, f"cannot be read: {error.strerror}", remedy) from error
    except _UNREADABLE as error:
        raise InputError(
            place, "is broken: it was not written whole, or changed since", remedy
        ) from error


def _left(archive: zipfile.ZipFile, facts: dict[str, Any], over: Over) -> LeftBoard:
    size = tuple(float(value) for value in facts["size_mm"])
    cell, rows, columns = float(facts["cell_mm"]), int(facts["rows"]), int(facts["columns"])
    many = int(facts["tiles"])
    whole = -(-rows // TILE) * -(-columns // TILE)
    sound = (
        len(size) == 3 and all(0.0 < value < 10_000.0 for value in size) and 0.01 <= cell <= 10.0
    )
    sound &= rows == max(1, int(np.ceil(size[1] / cell - 1e-9)))
    sound &= columns == max(1, int(np.ceil(size[0] / cell - 1e-9)))
    if not sound or not 0 <= many <= min(whole, _MOST_TILES):
        raise ValueError("no board")
    tiles = np.frombuffer(_bytes(archive, "tiles", 8 * many), "<i8")
    if many and (tiles[0] < 0 or tiles[-1] >= whole or (np.diff(tiles) <= 0).any()):
        raise ValueError("no tiles of it")
    hashed = sha256(json.dumps(facts, sort_keys=True).encode() + over.encode() + tiles.tobytes())
    stores = []
    for part in ("height", "beneath") if facts["hollow"] else ("height",):
        raw = _bytes(archive, part, 4 * many * TILE * TILE)
        hashed.update(raw)
        store = np.frombuffer(raw, "<f4").reshape(many, TILE * TILE)
        if not ((store >= np.float32(-size[2])) & (store <= 0.0)).all():
            raise ValueError("heights beyond the board")
        stores.append(store)
    place = np.full(whole, -1, np.int64)
    place[tiles] = np.arange(many)
    turned = f", turned over about {over.upper()}" if over else ""
    return LeftBoard(
        words=f"the board as {str(facts.get('job', 'an earlier job'))[:80]} left it{turned}",
        sha256=hashed.hexdigest(),
        size_mm=(size[0], size[1], size[2]),
        cell_mm=cell,
        rows=rows,
        columns=columns,
        facts=facts,
        over=over,
        place=place,
        height_mm=stores[0],
        beneath_mm=stores[1] if len(stores) > 1 else np.empty((0, TILE * TILE), np.float32),
    )


def _bytes(archive: zipfile.ZipFile, name: str, many: int) -> bytes:
    """So many bytes of a member and no more, whatever the archive says of it."""
    if archive.getinfo(name).file_size != many:
        raise ValueError(f"{name} is not as long as it must be")
    with archive.open(name) as member:
        data = member.read(many + 1)
    if len(data) != many:
        raise ValueError(f"{name} is not as long as it must be")
    return data

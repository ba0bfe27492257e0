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
from kerfwright.kernels.undercut import SPANS
from kerfwright.stock.field import Field

FloatArray = NDArray[np.float64]
Over = Literal["", "x", "y"]

KIND = "board 2"
_BEFORE = "board 1"  #: the same without hollows
NAME = "left.board"  #: of the file in the folder of a job
_FACTS = "board.json"
_LARGEST_FACTS = 100_000
_MOST_TILES = 20_000  #: 330 million cells: more than is ever cut
_MOST_HOLLOWS = 50_000_000  #: cells, 40 bytes each
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
    """The wood of an earlier job's board, as it was or turned over.

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
    #: (k,) cells with wood over a hollow, by place and where they are stored there, ascending
    hollow_at: NDArray[np.int64] = field(repr=False)
    spans_mm: NDArray[np.float32] = field(repr=False)  #: (k, SPANS, 2) of them, as it lies now
    opened: bool = False  #: whether one of those hollows is open underneath

    @property
    def hollow(self) -> bool:
        """Whether its underside is not the same everywhere."""
        return bool(self.over) or len(self.beneath_mm) > 0 or self.opened

    @property
    def undercut(self) -> bool:
        """Whether wood stands over a hollow in it."""
        return len(self.hollow_at) > 0

    @property
    def highest_mm(self) -> float:
        """Height of the highest wood."""
        if self.over or (self.place < 0).any() or not len(self.height_mm):
            return 0.0
        return float(self.height_mm.max())

    def heights(self, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Top and underside, see ``Start``."""
        place, cell = self._stored_at(x_mm, y_mm)
        held = place >= 0
        thick = -float(np.float32(-self.size_mm[2]))
        top, beneath = np.zeros(place.shape), np.full(place.shape, -thick)
        top[held] = self.height_mm[place[held], cell[held]]
        if len(self.beneath_mm):
            beneath[held] = self.beneath_mm[place[held], cell[held]]
        none = top <= beneath
        if self.over:
            top, beneath = -thick - beneath, -thick - top
        top[none] = beneath[none] = -np.inf
        mine, which = self._hollows(place, cell)
        top[mine] = self.spans_mm[which, 0, 1]
        beneath[mine] = _lowest(self.spans_mm[which])
        return top, beneath

    def spans(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray | None:
        """Wood of each column, see ``Start``."""
        mine, which = self._hollows(*self._stored_at(x_mm, y_mm))
        if not len(which):
            return None
        top, beneath = self.heights(x_mm, y_mm)
        out = np.zeros((*top.shape, SPANS, 2))
        out[..., 0, 0], out[..., 0, 1] = beneath, top
        out[mine] = self.spans_mm[which]
        return out

    def _stored_at(
        self, x_mm: FloatArray, y_mm: FloatArray
    ) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Where the cells nearest to some columns and rows are stored: place, and cell in it."""
        length, width = self.size_mm[:2]
        x = length - x_mm if self.over == "y" else x_mm
        y = width - y_mm if self.over == "x" else y_mm
        # The centre of a cell at the very middle between two must not fall either way by rounding.
        column = np.clip(np.floor(x / self.cell_mm + 1e-6), 0, self.columns - 1).astype(np.int64)
        row = np.clip(np.floor(y / self.cell_mm + 1e-6), 0, self.rows - 1).astype(np.int64)
        tiles_x = -(-self.columns // TILE)
        tile = (row // TILE * tiles_x)[:, None] + column // TILE
        side = TILE // BLOCK
        r, c = row % TILE, column % TILE
        block = (r // BLOCK * side)[:, None] + c // BLOCK
        cell = block * BLOCK * BLOCK + (r % BLOCK * BLOCK)[:, None] + c % BLOCK
        return self.place[tile], cell

    def _hollows(
        self, place: NDArray[np.int64], cell: NDArray[np.int64]
    ) -> tuple[NDArray[np.bool_], NDArray[np.int64]]:
        """Which of some cells have wood over a hollow, and which of ``spans_mm`` each of those."""
        at = place * (TILE * TILE) + cell
        near = np.searchsorted(self.hollow_at, [at.min(), at.max() + 1]) if at.size else [0, 0]
        some = self.hollow_at[near[0] : near[1]]
        if not len(some):
            return np.zeros(at.shape, np.bool_), np.empty(0, np.int64)
        which = np.minimum(np.searchsorted(some, at), len(some) - 1)
        mine = (some[which] == at) & (place >= 0)
        return mine, which[mine] + near[0]


def write_left(
    path: Path, left: Field, size_mm: tuple[float, float, float], facts: Mapping[str, Any]
) -> None:
    """Keep a field with facts that JSON can hold.

    Raises
    ------
    InputError
        If more of its cells are undercut than a file holds.
    """
    tiles = left.tiles_that_say_anything()
    hollows, spans = _hollows_of(left, tiles)
    if len(hollows) > _MOST_HOLLOWS:
        raise InputError(
            Place(file=str(path)),
            f"the board has more undercut cells than the {_MOST_HOLLOWS // 1_000_000} million that"
            " are kept",
            "prove it with larger cells, like --cell 0.25",
        )
    head = {
        "kerfwright": KIND,
        "size_mm": list(size_mm),
        "cell_mm": left.cell_mm,
        "rows": left.rows,
        "columns": left.columns,
        "tiles": len(tiles),
        "hollow": left.hollow,
        "hollow_cells": len(hollows),
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
        if len(hollows):
            archive.writestr("hollows", hollows.astype("<i8").tobytes())
            with archive.open("spans", "w", force_zip64=True) as member:
                member.write(spans.astype("<f4").data.cast("B"))


def _hollows_of(
    left: Field, tiles: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.float32]]:
    """Cells with wood over a hollow, by number of the tile and where they are stored, and it."""
    at, spans = [np.empty(0, np.int64)], [np.empty((0, SPANS, 2), np.float32)]
    for place, tile in enumerate(tiles.tolist()):
        kept = left.spans_of(tile)
        if kept is None:
            continue
        wood = kept[..., 1] > kept[..., 0]
        raised = kept[:, 0, 0] > left.stored(tile)[1]
        mine = np.flatnonzero(wood[:, 1] | (wood[:, 0] & raised))
        at.append(place * TILE * TILE + mine)
        spans.append(kept[mine])
    return np.concatenate(at), np.concatenate(spans)


def _lowest(spans: NDArray[np.float32]) -> NDArray[np.float32]:
    """Where the wood of some columns ends below. (k, SPANS, 2) to (k,)"""
    wood = spans[..., 1] > spans[..., 0]
    lowest: NDArray[np.float32] = np.where(wood, spans[..., 0], np.float32(0.0)).min(axis=1)
    return lowest


def _turned(spans: NDArray[np.float32], thick: float) -> NDArray[np.float32]:
    """Wood of some columns of a board that lies on its other side."""
    wood = spans[..., 1] > spans[..., 0]
    out = np.where(wood[..., None], -thick - spans[..., ::-1].astype(np.float64), -np.inf)
    order = np.argsort(-out[..., 1], axis=1, kind="stable")
    out = np.take_along_axis(out, order[..., None], axis=1)
    return np.where(np.isfinite(out), out, 0.0).astype(np.float32)


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
            if said not in (KIND, _BEFORE):
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
    hollow_at, spans = _read_hollows(archive, facts, stores[0], np.float32(-size[2]), hashed)
    place = np.full(whole, -1, np.int64)
    place[tiles] = np.arange(many)
    words = f"the board as {str(facts.get('job', 'an earlier job'))[:80]} left it"
    words += f", turned over about {over.upper()}" if over else ""
    if facts["kerfwright"] == _BEFORE:
        words += "; an earlier version kept it: where a cutter undercut it, it counts as whole"
    if over:
        spans = _turned(spans, -float(np.float32(-size[2])))
    return LeftBoard(
        words=words,
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
        hollow_at=hollow_at,
        spans_mm=spans,
        opened=bool((_lowest(spans) > np.float32(-size[2])).any()),
    )


def _read_hollows(
    archive: zipfile.ZipFile, facts: Mapping[str, Any], height: NDArray[np.float32],
    floor: np.float32, hashed: Any,
) -> tuple[NDArray[np.int64], NDArray[np.float32]]:  # fmt: skip
    """Cells with wood over a hollow, and their spans, as ``kernels.undercut`` has them."""
    many = 0 if facts["kerfwright"] == _BEFORE else int(facts["hollow_cells"])
    if not 0 <= many <= _MOST_HOLLOWS or (many == 0) != ("hollows" not in archive.namelist()):
        raise ValueError("no such number of hollows")
    if many == 0:
        return np.empty(0, np.int64), np.empty((0, SPANS, 2), np.float32)
    at = np.frombuffer(_bytes(archive, "hollows", 8 * many), "<i8")
    if at[0] < 0 or at[-1] >= height.size or (np.diff(at) <= 0).any():
        raise ValueError("no cells of it")
    spans = np.frombuffer(_bytes(archive, "spans", 8 * SPANS * many), "<f4").reshape(-1, SPANS, 2)
    begin, end = spans[..., 0], spans[..., 1]
    wood = end > begin
    sound = (begin >= floor).all() and (end <= 0.0).all() and (begin <= end).all()
    sound = sound and (wood[:, 0] & (end[:, 0] == height.reshape(-1)[at])).all()
    sound = sound and (~wood[:, 1:] | (wood[:, :-1] & (end[:, 1:] <= begin[:, :-1]))).all()
    if not sound:
        raise ValueError("no spans of wood")
    hashed.update(at.tobytes())
    hashed.update(spans.tobytes())
    return at, spans


def _bytes(archive: zipfile.ZipFile, name: str, many: int) -> bytes:
    """So many bytes of a member and no more, whatever the archive says of it."""
    if archive.getinfo(name).file_size != many:
        raise ValueError(f"{name} is not as long as it must be")
    with archive.open(name) as member:
        data = member.read(many + 1)
    if len(data) != many:
        raise ValueError(f"{name} is not as long as it must be")
    return data

"""The board at each cutter change, kept by what was cut again afterwards."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.tiles import TILE
from kerfwright.stock.field import Field, FloatArray, IntArray

AS_LATER = -2  #: in ``place``: the tile was not cut again before the next keyframe, or the end
#: What the copies may take together; the earliest keyframes are let go for the later ones.
MOST_BYTES = 200_000_000
_TILE_BYTES = 3 * 4 * TILE * TILE


@dataclass(frozen=True, slots=True, kw_only=True)
class Keyframe:
    """The board when a cutter comes in; copies of the tiles that are cut before the next does."""

    step: int  #: how many steps were done by then
    slot: int  #: of the cutter that comes
    place: NDArray[np.int64]  #: (tiles,) where each tile's copy stands; -1 untouched; AS_LATER
    height_mm: FloatArray  #: (copies, TILE²) as in a field, by blocks
    made_by: IntArray  #: (copies, TILE²)
    through_at: IntArray  #: (copies, TILE²)


@dataclass(frozen=True, slots=True, kw_only=True)
class Keyframes:
    """All keyframes of a pass, in the order of travel."""

    frames: tuple[Keyframe, ...] = ()
    left_out: int = 0  #: earlier cutter changes that were let go, for the copies took too much room

    def field(self, number: int, last: Field) -> Field:
        """The board at a keyframe, the same as if the program had ended there.

        Spans of undercut wood are not kept, only how high the wood stands.

        Parameters
        ----------
        number : int
            Index in ``frames``.
        last : Field
            The board at the end of the pass.
        """
        later = np.full(len(last.place), AS_LATER, np.int64)
        held = np.full(len(later), -1, np.int64)  # the frame whose copy it is, -1 for the end
        for k, frame in list(enumerate(self.frames))[number:]:
            fresh = (later == AS_LATER) & (frame.place != AS_LATER)
            later[fresh], held[fresh] = frame.place[fresh], k
        at_end = later == AS_LATER
        later[at_end] = last.place[at_end]
        touched = np.flatnonzero(later >= 0)
        place = np.full(len(later), -1, np.int64)
        place[touched] = np.arange(len(touched))
        shape = (len(touched), TILE * TILE)
        height, made = np.empty(shape, np.float32), np.empty(shape, np.int32)
        through = np.empty(shape, np.int32)
        for k in [-1, *range(number, len(self.frames))]:
            source = last if k < 0 else self.frames[k]
            mine = np.flatnonzero(held[touched] == k)
            for out, part in ((height, "height_mm"), (made, "made_by"), (through, "through_at")):
                out[mine] = getattr(source, part)[later[touched[mine]]]
        blocks = last.top_mm.shape[1]
        return replace(
            last,
            place=place,
            height_mm=height,
            beneath_mm=last.beneath_mm[last.place[touched]] if last.hollow else last.beneath_mm,
            top_mm=height.reshape(len(touched), blocks, -1).max(axis=2),
            made_by=made,
            through_at=through,
            layer=last.layer[:0],
            spans=last.spans[:0],
            lost=last.lost[:0],
        )


class Recorder:
    """Copies tiles before they are cut again, for the latest cutter change."""

    def __init__(self, most_bytes: int = MOST_BYTES) -> None:
        self._most = most_bytes // _TILE_BYTES
        self._done: list[Keyframe] = []
        self._open: tuple[int, int, NDArray[np.int64]] | None = None
        self._copies: list[tuple[FloatArray, IntArray, IntArray]] = []
        self._many = 0  #: copies that are held in all
        self._left_out = 0

    def change(self, step: int, slot: int, tiles: int) -> None:
        """A cutter comes into the spindle when ``step`` steps are done."""
        self._close()
        self._open = (step, slot, np.full(tiles, AS_LATER, np.int64))

    def before_cut(self, field: Field, tiles: NDArray[np.int64]) -> None:
        """Some tiles of the field are about to be cut."""
        if self._open is None:
            return
        place = self._open[2]
        fresh = tiles[place[tiles] == AS_LATER]
        stored = field.place[fresh]
        place[fresh[stored < 0]] = -1
        fresh, stored = fresh[stored >= 0], stored[stored >= 0]
        if not len(fresh):
            return
        own = sum(len(copy[0]) for copy in self._copies)
        place[fresh] = own + np.arange(len(fresh))
        self._copies.append(
            (field.height_mm[stored], field.made_by[stored], field.through_at[stored])
        )
        self._many += len(fresh)
        while self._many > self._most and self._done:
            self._many -= len(self._done.pop(0).height_mm)
            self._left_out += 1
        if self._many > self._most:
            self._open, self._copies, self._many = None, [], 0
            self._left_out += 1

    def keyframes(self) -> Keyframes:
        """All that were kept."""
        self._close()
        return Keyframes(frames=tuple(self._done), left_out=self._left_out)

    def _close(self) -> None:
        if self._open is None:
            return
        step, slot, place = self._open
        none = np.empty((0, TILE * TILE), np.float32)
        parts = list(zip(*self._copies, strict=True))
        height, made_by, through_at = (
            tuple(np.concatenate(part) for part in parts)
            if parts
            else (none, none.astype(np.int32), none.astype(np.int32))
        )
        self._done.append(
            Keyframe(
                step=step, slot=slot, place=place, height_mm=height, made_by=made_by,
                through_at=through_at,
            )
        )  # fmt: skip
        self._open, self._copies = None, []

"""Errors of very many cells in three figures, strip by strip: they are never held all at once."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import fsum

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.surface import BINS, DROPPED, errors_of_rows
from kerfwright.stock.field import NEVER, Field

#: Rows to each side of a strip that its errors hang on: where it is steep, and a cell around that.
_AROUND = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """The errors of all cells of the field that have one."""

    mean_mm: float = 0.0
    ninety_five_mm: float = 0.0  #: 95 in 100 lie within so much of the program
    outside_percent: float = 0.0  #: beyond the tolerance


class Errors:
    """Errors between the columns ``left`` and ``right`` of two fields, counted as they are told."""

    def __init__(
        self, programmed: Field, as_run: Field, left: int, right: int, tolerance_mm: float
    ) -> None:
        self._fields, self._columns = (programmed, as_run), (left, right)
        self._tolerance_mm = np.float32(tolerance_mm)
        self._beyond = 0
        self._sums: list[float] = []
        self._in_bin = np.zeros(BINS, np.int64)

    def of_rows(
        self, row: int, error_mm: NDArray[np.float32]
    ) -> tuple[NDArray[np.float32], float, float]:
        """Tell those of the rows from ``row`` on, (n, columns): above 0 proud, NaN where unknown.

        Returns their heights as programmed, and the least and the most error: inf, -inf if none.
        """
        programmed, as_run = self._fields
        first, end = max(row - _AROUND, 0), row + len(error_mm)
        span = first, min(end + _AROUND, programmed.rows), *self._columns
        high, sums = programmed.heights(*span), np.empty(len(error_mm))
        # A tip that gives way may graze the board on its way; that alone is no cut. What the run
        # left lower than the program was cut in it: before, the board was no lower than now.
        beyond, least, most = errors_of_rows(
            high, as_run.heights(*span), programmed.makers(*span), NEVER, row - first,
            np.float32(programmed.cell_mm), np.float32(programmed.floor_mm), error_mm,
            error_mm.view(np.int32), self._tolerance_mm, self._in_bin, sums,
        )  # fmt: skip
        self._beyond += beyond
        self._sums += sums.tolist()
        return high[row - first : end - first], least, most

    def usual(self, again: Iterable[NDArray[np.float32]]) -> Usual:
        """What those told so far come to. ``again``: the same errors once more."""
        up_to = np.cumsum(self._in_bin)
        many = int(up_to[-1])
        if many == 0:
            return Usual()
        # The size that has 95 in 100 at or below it: first its bin, then its place in there.
        nth = -(-19 * many // 20)
        bin_ = int(np.searchsorted(up_to, nth))
        parts = [off[off.view(np.int32) >> DROPPED == bin_] for off in map(np.abs, again)]
        inside = np.sort(np.concatenate(parts))
        before = int(up_to[bin_] - self._in_bin[bin_])
        return Usual(
            # Rows are summed, then all of them rounded once: strips make no difference.
            mean_mm=fsum(self._sums) / many,
            ninety_five_mm=float(inside[nth - before - 1]),
            outside_percent=100.0 * self._beyond / many,
        )

"""Which value of a machine a figure's spread comes from mostly."""

from collections.abc import Sequence

import numpy as np

from kerfwright.machine.entries import words_at
from kerfwright.machine.model import FloatArray, MachineModel

#: Rank correlation from which one input is said to rule a figure.
_RULES = 0.5


class Rulers:
    """The values that differ between machines drawn from one description, by rank."""

    def __init__(self, machine: MachineModel, crowd: Sequence[MachineModel]) -> None:
        loose = [p for p, k in machine.known.items() if k.u is not None or k.low is not None]
        columns = {path: np.array([m.values[path] for m in crowd]) for path in loose}
        self._paths = [path for path, column in columns.items() if np.ptp(column) > 0.0]
        if self._paths:
            self._ranks = _standard(np.stack([_ranks(columns[path]) for path in self._paths]))

    def of(self, many: FloatArray) -> str:
        """The value whose rank goes most with a figure's, one for each machine; "" if none does."""
        if not self._paths or not np.all(np.isfinite(many)) or np.ptp(many) == 0.0:
            return ""
        likeness = np.abs(self._ranks @ _standard(_ranks(many)[None])[0])
        best = int(np.argmax(likeness))
        return words_at(self._paths[best]) if likeness[best] >= _RULES else ""


def _ranks(values: FloatArray) -> FloatArray:
    """Place of each value when sorted; a library for this alone takes a second to load."""
    return np.argsort(np.argsort(values)).astype(np.float64)


def _standard(rows: FloatArray) -> FloatArray:
    """Rows with mean 0 and length 1, so that their products are correlations."""
    centred = rows - rows.mean(axis=1, keepdims=True)
    length = np.linalg.norm(centred, axis=1, keepdims=True)
    return np.asarray(centred / np.where(length > 0.0, length, 1.0))

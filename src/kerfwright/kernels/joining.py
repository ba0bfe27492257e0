"""When wood that was cut through last hung together: cells joined from the last cut back."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.kernels.compiling import NUMPY, inner_kernel, kernel


@inner_kernel(**NUMPY)
def root_of(parent, cell):  # type: ignore[no-untyped-def]
    """The cell that stands for all that hang together with one; ways to it are cut short."""
    root = cell
    while parent[root] != root:
        root = parent[root]
    while parent[cell] != root:
        parent[cell], cell = root, parent[cell]
    return root


@kernel(**NUMPY)
def join_rows(first, end, there, held, parent):  # type: ignore[no-untyped-def]
    """Join the cells of some rows that are there with those to the left and before them.

    Parameters
    ----------
    there, held : (rows, columns) bool: wood that is never cut through; cells that are held.
    parent : (rows x columns + 1,) int32, each its own number at the start; the last one stands for
        all that is held.
    """
    columns = there.shape[1]
    whole = parent.size - 1
    for row in range(first, end):
        for column in range(columns):
            if not there[row, column]:
                continue
            cell = row * columns + column
            if column > 0 and there[row, column - 1]:
                parent[root_of(parent, cell)] = root_of(parent, cell - 1)
            if row > 0 and there[row - 1, column]:
                parent[root_of(parent, cell)] = root_of(parent, cell - columns)
            if held[row, column]:
                parent[root_of(parent, cell)] = root_of(parent, whole)


@kernel(**NUMPY)
def join_cut(begin, end, cells, piece, there, held, parent):  # type: ignore[no-untyped-def]
    """Add cut cells, one after the other, until a piece hangs on what is held.

    Parameters
    ----------
    begin, end : which of ``cells`` to add.
    cells : (k,) numbers of cells, those that were cut through last first.
    piece : number of a cell of the piece.
    there : as in ``join_rows``; cells that are added are marked in it.

    Returns
    -------
    int
        Which of ``cells`` made them hang together; -1 if none of these did.
    """
    rows, columns = there.shape
    whole = parent.size - 1
    for k in range(begin, end):
        cell = cells[k]
        row, column = cell // columns, cell % columns
        there[row, column] = True
        if column > 0 and there[row, column - 1]:
            parent[root_of(parent, cell)] = root_of(parent, cell - 1)
        if column < columns - 1 and there[row, column + 1]:
            parent[root_of(parent, cell)] = root_of(parent, cell + 1)
        if row > 0 and there[row - 1, column]:
            parent[root_of(parent, cell)] = root_of(parent, cell - columns)
        if row < rows - 1 and there[row + 1, column]:
            parent[root_of(parent, cell)] = root_of(parent, cell + columns)
        if held[row, column]:
            parent[root_of(parent, cell)] = root_of(parent, whole)
        if root_of(parent, piece) == root_of(parent, whole):
            return k
    return -1


def parted_at_reference(
    through: NDArray[np.int32],
    there: NDArray[np.bool_],
    held: NDArray[np.bool_],
    piece: tuple[int, int],
) -> int:
    """The first step after which no way through wood leads from a piece to what is held.

    By trying the steps one after the other; ``through`` (rows, columns) is the step that cut a cell
    through, below 0 where none did, ``there`` the wood that is never cut through.
    """
    from scipy import ndimage

    steps = np.unique(through[through >= 0]).tolist()
    for step in steps:
        label, _ = ndimage.label((through > step) | there)
        if not (held & (label == label[piece])).any():
            return int(step)
    return int(steps[-1]) if steps else 0

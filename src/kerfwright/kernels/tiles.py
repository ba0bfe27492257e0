"""A field in tiles, and which of them each step may touch.

A tile is 128 x 128 cells, stored as blocks of 8 x 8 cells that lie one after another in memory.
"""

import numpy as np

from kerfwright.kernels.compiling import NUMPY, kernel

TILE = 128
BLOCK = 8


@kernel(**NUMPY)
def touched_tiles(steps, count, reach_mm, cell_mm, tiles_x, tiles_y, rectangle, entry_of):  # type: ignore[no-untyped-def]
    """Which tiles each step may touch, as a rectangle, and how many entries that makes.

    ``rectangle`` (count, 4): first and last tile in x and in y. ``entry_of`` (count + 1,): where
    the entries of each step begin. Returns the number of entries.
    """
    entries = 0
    side = TILE * cell_mm
    for i in range(count):
        if min(steps[i, 2], steps[i, 5]) >= 0.0:
            # Above the board: a long move would else touch every tile that it crosses.
            rectangle[i, 0], rectangle[i, 1], rectangle[i, 2], rectangle[i, 3] = 0, -1, 0, -1
            entry_of[i] = entries
            continue
        c0 = int(max(0.0, np.floor((min(steps[i, 0], steps[i, 3]) - reach_mm) / side)))
        c1 = int(min(tiles_x - 1.0, np.floor((max(steps[i, 0], steps[i, 3]) + reach_mm) / side)))
        r0 = int(max(0.0, np.floor((min(steps[i, 1], steps[i, 4]) - reach_mm) / side)))
        r1 = int(min(tiles_y - 1.0, np.floor((max(steps[i, 1], steps[i, 4]) + reach_mm) / side)))
        rectangle[i, 0], rectangle[i, 1], rectangle[i, 2], rectangle[i, 3] = c0, c1, r0, r1
        entry_of[i] = entries
        if c1 >= c0 and r1 >= r0:
            entries += (c1 - c0 + 1) * (r1 - r0 + 1)
    entry_of[count] = entries
    return entries


@kernel(**NUMPY)
def sort_by_tile(count, rectangle, entry_of, tiles_x, many, start, touched, step_of, row_of):  # type: ignore[no-untyped-def]
    """Counting sort of the entries by tile, the program's order kept within each tile.

    ``many`` and ``start`` (tiles,): entries of each tile and where they begin; ``many`` must come
    in as zeros. Returns how many tiles are touched; their indices stand in ``touched``.
    """
    tiles = 0
    for i in range(count):
        for ty in range(rectangle[i, 2], rectangle[i, 3] + 1):
            for tx in range(rectangle[i, 0], rectangle[i, 1] + 1):
                t = ty * tiles_x + tx
                if many[t] == 0:
                    touched[tiles] = t
                    tiles += 1
                many[t] += 1
    total = 0
    for j in range(tiles):
        t = touched[j]
        start[t] = total
        total += many[t]
    for i in range(count):
        row = entry_of[i]
        for ty in range(rectangle[i, 2], rectangle[i, 3] + 1):
            for tx in range(rectangle[i, 0], rectangle[i, 1] + 1):
                t = ty * tiles_x + tx
                step_of[start[t]] = i
                row_of[start[t]] = row
                start[t] += 1
                row += 1
    for j in range(tiles):
        start[touched[j]] -= many[touched[j]]
    return tiles


@kernel(**NUMPY)
def lay_out(store, place, tiles_x, first, left, untouched, out):  # type: ignore[no-untyped-def]
    """Some rows and columns of a field as a plain array.

    Parameters
    ----------
    store : (places, TILE²) by blocks; place : (tiles,) where in it each tile is, -1: nowhere.
    first, left : row and column of the field with which ``out`` (rows, columns), written, begins.
    untouched : what stands in tiles that are nowhere; a number of the same kind.
    """
    rows, columns = out.shape
    per_side = TILE // BLOCK
    for r in range(rows):
        ty, down = divmod(first + r, TILE)
        begin = (down // BLOCK * per_side * BLOCK + down % BLOCK) * BLOCK
        c = 0
        while c < columns:
            tx, over = divmod(left + c, TILE)
            many = min(BLOCK - over % BLOCK, columns - c)
            p = place[ty * tiles_x + tx]
            at = begin + over // BLOCK * BLOCK * BLOCK + over % BLOCK
            for k in range(many):
                out[r, c + k] = store[p, at + k] if p >= 0 else untouched
            c += many

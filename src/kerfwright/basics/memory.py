"""Memory that is let go goes back to the system, where the C library would keep it."""

import ctypes
import sys
from functools import cache
from typing import Any

#: Larger blocks are asked of the system one by one, and go back to it one by one.
_LARGE_BYTES = 4 * 2**20
#: Of what small blocks leave free at the end of their room so much stays until ``give_back``, more
#: than they ever leave: cut off at once it would be asked for again, and cleared again, for the
#: next window of steps.
_AT_THE_END_BYTES = 256 * 2**20
#: ``M_MMAP_THRESHOLD``, ``M_TRIM_THRESHOLD`` and ``M_ARENA_MAX`` of ``mallopt``, as the C library's
#: header ``malloc.h`` has them.
_LARGE, _AT_THE_END, _MOST_ROOMS = -3, -1, -8


@cache
def _c_library() -> Any:
    """The C library, where it is one that can be asked; else None."""
    if sys.platform != "linux":
        return None
    library = ctypes.CDLL(None)
    return library if hasattr(library, "malloc_trim") else None


def keep_little() -> None:
    """For this process from now on: large arrays that were let go are not kept for later ones.

    Left to itself the library raises the size from which it does so with each array that is let
    go, up to 32 MiB, and then keeps most of what a proof lets go between its stages. And it has a
    room for the small blocks of each thread, of which ``give_back`` does not reach the end.
    """
    library = _c_library()
    if library is not None:
        library.mallopt(_LARGE, _LARGE_BYTES)
        library.mallopt(_AT_THE_END, _AT_THE_END_BYTES)
        library.mallopt(_MOST_ROOMS, 1)


def give_back() -> None:
    """Give back what small blocks have left behind: a few milliseconds' work."""
    library = _c_library()
    if library is not None:
        library.malloc_trim(0)

"""How kernels are compiled that only borrow the arrays they work on."""

from typing import Any

#: For ``njit``: such a kernel counts no references. Every part taken of an array would else count
#: one up and one down again, by instructions that the threads wait for one another with: a seventh
#: of all time for the cut with its loads, and the reason why two threads gained little. It makes no
#: array: whoever calls it passes the room it works in. No door for callers in C is made beside it,
#: which nobody uses and which takes a twentieth of the time to compile.
BORROWING: dict[str, Any] = {
    "cache": True, "nogil": True, "error_model": "numpy", "_nrt": False,
    "no_cfunc_wrapper": True,
}  # fmt: skip

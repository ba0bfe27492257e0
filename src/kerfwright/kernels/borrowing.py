"""How kernels are compiled that only borrow the arrays they work on."""

from typing import Any

#: For ``kernel`` and ``inner_kernel``: such a kernel counts no references. Every part taken of an
#: array would else count one up and one down again, by instructions that the threads wait for one
#: another with: a seventh of all time for the cut with its loads, and the reason why two threads
#: gained little. It makes no array: whoever calls it passes the room it works in.
BORROWING: dict[str, Any] = {"error_model": "numpy", "_nrt": False}

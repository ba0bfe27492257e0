"""How kernels are compiled that only borrow the arrays they work on."""

from typing import Any

#: For ``kernel`` and ``inner_kernel``: such a kernel counts no references. Every part taken of an
#: array would else count one up and one down again, by instructions that the threads wait for one
#: another with: a seventh of all time for the cut with its loads, and the reason why two threads
#: gained little. It makes no array: whoever calls it passes the room it works in.
BORROWING: dict[str, Any] = {"error_model": "numpy", "_nrt": False}

#: The same for what is called from one place only, block by block or group by group, or is short
#: and called for each lane: it becomes a part of what calls it. A call hands over seven numbers for
#: each array: that took a tenth of all time.
INLINED: dict[str, Any] = {**BORROWING, "forceinline": True}

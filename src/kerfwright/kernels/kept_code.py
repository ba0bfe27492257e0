"""Compiled kernels are read back from the cache without waking the compiler.

Left to itself the compiler first loads all that it can compile with - lists, texts, random numbers,
array functions - and only then looks whether the code is there already, which needs none of it.
"""

from functools import cache
from typing import Any

from llvmlite import binding
from numba.core.caching import FunctionCache
from numba.core.runtime import _nrt_python  # type: ignore[attr-defined]


class KeptCode(FunctionCache):
    """The kept code of one kernel, for all types of arguments that it was compiled for."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        """See the base class. When there is none, the compiler wakes by itself to make it."""
        _name_memory_functions()
        with self._guard_against_spurious_io_errors():
            return self._load_overload(sig, target_context)  # type: ignore[no-untyped-call]
        return None


@cache
def _name_memory_functions() -> None:
    """What kernels take memory with is found by its name, when their code is put into place."""
    for name, address in _nrt_python.c_helpers.items():
        binding.add_symbol(name if name.startswith("_") else f"NRT_{name}", address)

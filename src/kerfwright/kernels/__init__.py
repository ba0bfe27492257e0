"""Compiled inner loops, each beside its plain reference."""

import sys

from kerfwright.kernels.cache_folder import choose_cache_folder

# Before any module of this room brings the compiler in: it reads the folder once, at its import.
choose_cache_folder()


def _without_linear_algebra() -> None:
    """Load the compiler's array functions without the linear algebra that no kernel here uses.

    They look for it by importing all of ``scipy.linalg``, which takes as long as starting the
    compiler itself; while the name stands for nothing, they do without.
    """
    name = "scipy.linalg"
    if name in sys.modules:
        return
    sys.modules[name] = None  # type: ignore[assignment]
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        del sys.modules[name]


_without_linear_algebra()

"""What the compiler knows of the machine, asked less."""

from typing import Any, ClassVar

from numba.core import types
from numba.core.cpu import CPUContext

from kerfwright.kernels.short_code import code_of


class Target(CPUContext):
    """What the compiler knows of the machine, that looks once for what is not there.

    At each use of an array it asks what else than an array this may be, and looks through all that
    it knows: four thousand times for the kernels.
    """

    _missing: ClassVar[set[Any]] = set()

    def __init__(self, asked: Any) -> None:
        self.__dict__ = asked.__dict__  # the same knowledge, not a copy

    def get_function(self, fn: Any, sig: Any, _firstcall: bool = True) -> Any:
        """See the base class."""
        code = code_of(self, fn.typing_key if isinstance(fn, types.Function) else fn, sig)
        if code is not None:
            return code
        if not isinstance(fn, str):
            return super().get_function(fn, sig, _firstcall)
        if (fn, sig.args) in self._missing:
            raise NotImplementedError(fn)
        try:
            return super().get_function(fn, sig, _firstcall)
        except NotImplementedError:
            self._missing.add((fn, sig.args))
            raise

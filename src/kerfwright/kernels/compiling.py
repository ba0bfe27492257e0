"""How the kernels are compiled: in the shortest way that gives the same code.

Left to itself the compiler optimises every function once by itself and again inside each function
that calls it, writes machine code and a door from Python for each, goes through passes for what no
kernel here has, and finds the type of every sum by asking a hundred ways of adding in turn. For
kernels that consist of a hundred and fifty small functions that doubled the first run.

- ``kernel``: called from Python. Kept on disk.
- ``inner_kernel``: called by kernels and other inner ones. It becomes part of the kernel that
  calls it, is optimised there once, and is kept nowhere else. From Python it can be called too, as
  tests do: a kernel is then made of it.
"""

import operator
import sys
from functools import cache
from typing import Any
from weakref import WeakKeyDictionary

from numba import njit
from numba.core import config, types
from numba.core.compiler import CompilerBase, Flags
from numba.core.compiler_machinery import PassManager
from numba.core.registry import CPUDispatcher
from numba.core.targetconfig import ConfigStack
from numba.core.typing.context import Context

from kerfwright.kernels import passes
from kerfwright.kernels.kept_code import KeptCode
from kerfwright.kernels.short_code import type_of_call
from kerfwright.kernels.target import Target

#: For both: a division by nought gives what IEEE 754 says, and is not looked for.
NUMPY: dict[str, Any] = {"error_model": "numpy"}
#: Alike for all: what the compiler's own functions are compiled to is shared between equal ones.
_ALWAYS: dict[str, Any] = {"nogil": True, "no_cfunc_wrapper": True}


def kernel(**options: Any) -> Any:
    """Decorate a function that Python calls. ``options`` as for ``numba.njit``."""

    def decorate(function: Any) -> Any:
        made = njit(pipeline_class=_Kernel, **_ALWAYS, **options)(function)
        if made is not function:  # it is where the compiler is turned off
            made._cache = KeptCode(function)
        return made

    return decorate


def inner_kernel(*, ready: bool = False, **options: Any) -> Any:
    """Decorate a function that kernels call. ``options`` as for ``numba.njit``.

    ``ready``: it is optimised by itself before it comes into its callers. For small loops over
    cells that must take several at a time: within a large kernel the compiler may see no longer
    that it can.
    """

    def decorate(function: Any) -> Any:
        if config.DISABLE_JIT:  # type: ignore[attr-defined]
            return function
        return _Inner(
            py_func=function,
            targetoptions={"nopython": True, "boundscheck": None, **_ALWAYS, **options},
            pipeline_class=_ReadyInner if ready else _OpenInner,
        )

    return decorate


class _Inner(CPUDispatcher):
    """What the compiler finds behind the name of an inner kernel."""

    _door: Any = None

    def add_overload(self, compiled: Any) -> None:
        """Note what has been compiled; there is nothing that Python could call."""
        self.overloads[tuple(compiled.signature.args)] = compiled

    def __call__(self, *numbers: Any) -> Any:
        """A call from Python: by a kernel made of it."""
        if self._door is None:
            plain = {"nopython", "boundscheck", "inline", *_ALWAYS}
            options = {k: v for k, v in self.targetoptions.items() if k not in plain}
            self._door = kernel(**options)(self.py_func)
        return self._door(*numbers)


class _Remembering(Context):
    """The compiler's knowledge of types, that asks for each operation on the same types once."""

    def __init__(self, asked: Any) -> None:
        self.__dict__ = asked.__dict__  # the same knowledge, not a copy
        self.remembered: dict[Any, Any] = getattr(asked, "remembered", {})

    def resolve_function_type(self, func: Any, args: Any, kws: Any) -> Any:
        """See the base class. What depends on the function that is compiled is not kept."""
        known = self._lookup_global(func) or func
        if kws or not isinstance(known, types.Function):
            return super().resolve_function_type(func, args, kws)
        args = _plain(args)
        found = type_of_call(self, known.typing_key, args)
        if found is not None:
            return found
        own = known, args, ConfigStack.top_or_none()
        found = self.remembered.get((known, args)) or self.remembered.get(own)
        if found is None:
            _answer_again(known)
            found = super().resolve_function_type(known, args, kws)
            if found is None:
                return None
            # Where the compiler writes the code itself the settings in force change no type.
            itself = known.get_impl_key(found) is known.typing_key
            self.remembered[(known, args) if itself else own] = found
        return found

    def resolve_setitem(self, target: Any, index: Any, value: Any) -> Any:
        """See the base class."""
        return self.resolve_function_type(operator.setitem, (target, index, value), {})


def _answer_again(function: Any) -> None:
    """Let a function know for which types it was found before.

    When the code of an operator is written each of thousands is asked that once more.
    """
    if "get_call_type" in function.__dict__:
        return
    ask, answers = function.get_call_type, {}

    def again(context: Any, args: Any, kws: Any) -> Any:
        if kws:
            return ask(context, args, kws)
        key = tuple(args), ConfigStack.top_or_none()
        if key not in answers:
            found = ask(context, args, kws)
            answers[key] = found, function.get_impl_key(found)
        found, code = answers[key]
        function._impl_keys[found.args] = code
        return found

    function.get_call_type = again


def _plain(args: Any) -> tuple[Any, ...]:
    """Types of arguments; that a number or an index is known beforehand changes no type."""
    plain = tuple(types.unliteral(one) for one in args)
    if plain and isinstance(plain[0], types.Array):
        return plain
    return plain if all(isinstance(one, types.Number) for one in plain) else tuple(args)


class _Settings(Flags):
    """Settings that change no more: the compiler compares and hashes them all the time."""

    __slots__ = ()
    __hash__ = object.__hash__
    __eq__ = object.__eq__

    def copy(self) -> "_Settings":
        return self


@cache
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


_KNOWLEDGE: "WeakKeyDictionary[Any, _Remembering]" = WeakKeyDictionary()
_SETTINGS: dict[Any, _Settings] = {}


class _Compiler(CompilerBase):
    """Only the passes that the kernels need, in the compiler's own order."""

    lower: type

    def __init__(self, typingctx: Any, *others: Any) -> None:
        _without_linear_algebra()
        if typingctx not in _KNOWLEDGE:
            _KNOWLEDGE[typingctx] = _Remembering(typingctx)
        super().__init__(_KNOWLEDGE[typingctx], *others)
        self.state.targetctx = Target(self.state.targetctx)
        flags = self.state.flags
        key = tuple(sorted((k, repr(v)) for k, v in flags.values().items()))
        self.state.flags = _SETTINGS.setdefault(key, _Settings(flags))

    def define_pipelines(self) -> list[PassManager]:
        whole = PassManager("kernel")
        for one in (*passes.BEFORE, self.lower, *passes.AFTER):
            whole.add_pass(one, one.__name__)
        whole.finalize()
        return [whole]


class _Kernel(_Compiler):
    lower = passes.LowerKernel


class _OpenInner(_Compiler):
    lower = passes.LowerOpenInner


class _ReadyInner(_Compiler):
    lower = passes.LowerReadyInner

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

from typing import Any
from weakref import WeakKeyDictionary

from numba import njit
from numba.core import config, funcdesc, lowering, typed_passes, types, untyped_passes
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import CompilerBase, Flags, _LowerResult
from numba.core.compiler_machinery import LoweringPass, PassManager, register_pass
from numba.core.registry import CPUDispatcher
from numba.core.targetconfig import ConfigStack
from numba.core.typing.context import Context

#: For both: a division by nought gives what IEEE 754 says, and is not looked for.
NUMPY: dict[str, Any] = {"error_model": "numpy"}
#: Alike for all: what the compiler's own functions are compiled to is shared between equal ones.
_ALWAYS: dict[str, Any] = {"nogil": True, "no_cfunc_wrapper": True}


def kernel(**options: Any) -> Any:
    """Decorate a function that Python calls. ``options`` as for ``numba.njit``."""
    return njit(cache=True, pipeline_class=_Kernel, **_ALWAYS, **options)


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


class _Library(JITCodeLibrary):
    """Code of one function. That of an inner kernel is never made into machine code by itself."""

    is_inner = ready = False

    def add_linking_library(self, library: Any) -> None:
        """What this calls; with an open inner kernel come those that it calls."""
        library._ensure_finalized()
        is_open = isinstance(library, _Library) and library.is_inner and not library.ready
        for one in [library, *(library._linking_libraries if is_open else ())]:
            if one not in self._linking_libraries:
                self._linking_libraries.append(one)

    def finalize(self) -> None:
        if not self.is_inner:
            super().finalize()
            return
        if self.ready:
            for library in self._linking_libraries:
                self._final_module.link_in(library._get_module_for_linking(), preserve=True)
            self._optimize_final_module()
        self._finalized = True


def _library(state: Any) -> _Library:
    library = _Library(state.targetctx.codegen(), state.func_id.func_qualname)
    library.enable_object_caching()
    return library


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
        key = known, tuple(args), ConfigStack.top_or_none()
        if key not in self.remembered:
            found = super().resolve_function_type(func, args, kws)
            if found is None:
                return None
            self.remembered[key] = found
        return self.remembered[key]


class _Settings(Flags):
    """Settings that change no more: the compiler compares and hashes them all the time."""

    __slots__ = ()
    __hash__ = object.__hash__
    __eq__ = object.__eq__

    def copy(self) -> "_Settings":
        return self


_KNOWLEDGE: "WeakKeyDictionary[Any, _Remembering]" = WeakKeyDictionary()
_SETTINGS: dict[Any, _Settings] = {}


class _Compiler(CompilerBase):
    """Only the passes that the kernels need, in the compiler's own order."""

    lower: type
    _PASSES = (
        untyped_passes.TranslateByteCode, untyped_passes.FixupArgs, untyped_passes.IRProcessing,
        untyped_passes.DeadBranchPrune, untyped_passes.GenericRewrites,
        untyped_passes.RewriteDynamicRaises, untyped_passes.InlineInlinables,
        untyped_passes.ReconstructSSA, untyped_passes.DeadBranchPrune,
        typed_passes.NopythonTypeInference, typed_passes.PreLowerStripPhis,
        typed_passes.IRLegalization, typed_passes.AnnotateTypes,
    )  # fmt: skip

    def __init__(self, typingctx: Any, *others: Any) -> None:
        if typingctx not in _KNOWLEDGE:
            _KNOWLEDGE[typingctx] = _Remembering(typingctx)
        super().__init__(_KNOWLEDGE[typingctx], *others)
        flags = self.state.flags
        key = tuple(sorted((k, repr(v)) for k, v in flags.values().items()))
        self.state.flags = _SETTINGS.setdefault(key, _Settings(flags))

    def define_pipelines(self) -> list[PassManager]:
        passes = PassManager("kernel")
        for one in (*self._PASSES, self.lower, typed_passes.NoPythonBackend):
            passes.add_pass(one, one.__name__)
        passes.finalize()
        return [passes]


@register_pass(mutates_CFG=True, analysis_only=False)
class _LowerKernel(typed_passes.NativeLowering):
    _name = "lower_kernel"

    def run_pass(self, state: Any) -> bool:
        state.library = _library(state)
        return bool(super().run_pass(state))


@register_pass(mutates_CFG=True, analysis_only=False)
class _LowerOpenInner(LoweringPass):
    """To the optimiser's language, and no further: without doors, without machine code."""

    _name = "lower_open_inner"
    ready = False

    def __init__(self) -> None:
        LoweringPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        context, flags = state.targetctx, state.flags
        state.library = library = _library(state)
        library.is_inner, library.ready = True, self.ready
        library._reload_init.update(state.reload_init)
        described = funcdesc.PythonFunctionDescriptor.from_specialized_function(
            state.func_ir, state.typemap, state.return_type, state.calltypes,
            mangler=context.mangler, inline=flags.forceinline, noalias=flags.noalias,
            abi_tags=[flags.get_mangle_string()],
        )  # fmt: skip
        with context.push_code_library(library):
            lower = lowering.Lower(
                context, library, described, state.func_ir, metadata=state.metadata
            )
            lower.lower()
        name = object()  # by which callers ask for it, where a kernel has its machine code
        context.insert_user_function(name, described, [library])
        state.reload_init.extend(library._reload_init)
        state["cr"] = _LowerResult(described, lower.call_helper, cfunc=name, env=lower.env)
        return True


@register_pass(mutates_CFG=True, analysis_only=False)
class _LowerReadyInner(_LowerOpenInner):
    _name = "lower_ready_inner"
    ready = True


class _Kernel(_Compiler):
    lower = _LowerKernel


class _OpenInner(_Compiler):
    lower = _LowerOpenInner


class _ReadyInner(_Compiler):
    lower = _LowerReadyInner

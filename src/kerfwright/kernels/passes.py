"""The passes that a kernel goes through on its way to machine code; see ``compiling``.

The compiler's own, less what no kernel needs: to find out again after each pass where a variable
lives, to drop variables where no references are counted, to note sizes for a debugger.
"""

from typing import Any

from llvmlite import binding
from numba.core import cgutils, funcdesc, lowering, ssa, transforms, typed_passes, untyped_passes
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import _LowerResult
from numba.core.compiler_machinery import AnalysisPass, FunctionPass, LoweringPass, register_pass
from numba.core.ir_utils import build_definitions, check_and_legalize_ir

#: How much is optimised. With 3 instead loops are written out several times over that gain nothing
#: from it: it took a third longer, and nothing was faster.
_LEVEL = 2


class Library(JITCodeLibrary):
    """Code of one function. That of an inner kernel is never made into machine code by itself."""

    is_inner = ready = False

    def add_linking_library(self, library: Any) -> None:
        """What this calls; with an open inner kernel come those that it calls."""
        library._ensure_finalized()
        is_open = isinstance(library, Library) and library.is_inner and not library.ready
        for one in [library, *(library._linking_libraries if is_open else ())]:
            if one not in self._linking_libraries:
                self._linking_libraries.append(one)

    def _optimize_functions(self, ll_module: Any) -> None:
        """Variables into registers, and little more: the rest is done once, with all that calls."""
        ll_module.data_layout = self._codegen._data_layout
        passes = binding.create_new_module_pass_manager()
        passes.add_sroa_pass()
        passes.add_instruction_combine_pass()
        passes.add_simplify_cfg_pass()
        passes.run(ll_module, self._codegen._pass_builder(opt=_LEVEL))

    def _optimize_final_module(self) -> None:
        """Once: the compiler itself does it twice, to find more references to drop."""
        passes, builder = self._codegen._module_pass_manager(opt=_LEVEL)
        passes.run(self._final_module, builder)

    def finalize(self) -> None:
        if not self.is_inner:
            super().finalize()
            return
        if self.ready:
            for library in self._linking_libraries:
                self._final_module.link_in(library._get_module_for_linking(), preserve=True)
            self._optimize_final_module()
        self._finalized = True


def _library(state: Any) -> Library:
    library = Library(state.targetctx.codegen(), state.func_id.func_qualname)
    library.enable_object_caching()
    return library


@register_pass(mutates_CFG=True, analysis_only=False)
class _Blocks(FunctionPass):
    """Only blocks that can be reached, joined where one always follows the other."""

    _name = "blocks_of_kernel"

    def __init__(self) -> None:
        FunctionPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        state.func_ir.blocks = transforms.canonicalize_cfg(state.func_ir.blocks)
        return True


@register_pass(mutates_CFG=True, analysis_only=False)
class _SingleAssignment(untyped_passes.ReconstructSSA):
    _name = "single_assignment_of_kernel"

    def run_pass(self, state: Any) -> bool:
        state.func_ir = ssa.reconstruct_ssa(state.func_ir)
        self._patch_locals(state)
        blocks = transforms.canonicalize_cfg(state.func_ir.blocks)
        state.func_ir.blocks, state.func_ir._definitions = blocks, build_definitions(blocks)
        return True


@register_pass(mutates_CFG=True, analysis_only=False)
class _StripPhis(typed_passes.PreLowerStripPhis):
    _name = "strip_phis_of_kernel"

    def run_pass(self, state: Any) -> bool:
        state.func_ir = self._strip_phi_nodes(state.func_ir)
        blocks = transforms.canonicalize_cfg(state.func_ir.blocks)
        state.func_ir.blocks, state.func_ir._definitions = blocks, build_definitions(blocks)
        return True


@register_pass(mutates_CFG=True, analysis_only=False)
class _DropVariables(AnalysisPass):
    """Where references are counted, each variable is dropped behind its last use."""

    _name = "drop_variables_of_kernel"

    def __init__(self) -> None:
        AnalysisPass.__init__(self)

    def run_pass(self, state: Any) -> bool:
        if state.flags.nrt:
            check_and_legalize_ir(state.func_ir, flags=state.flags)
        return True


class _Lower(lowering.Lower):
    def delvar(self, name: str) -> None:
        """Drop a variable; one that counts no references needs no dropping."""
        if self.context.data_model_manager[self.typeof(name)].contains_nrt_meminfo():
            super().delvar(name)

    def alloca_lltype(self, name: str, lltype: Any, datamodel: Any = None) -> Any:  # noqa: ARG002
        """Room for a variable; no debugger asks for its size."""
        return cgutils.alloca_once(self.builder, lltype, name=name, zfill=False)


@register_pass(mutates_CFG=True, analysis_only=False)
class LowerKernel(typed_passes.NativeLowering):
    """To machine code, with a door from Python."""

    _name = "lower_kernel"

    @property
    def lowering_class(self) -> type:
        return _Lower

    def run_pass(self, state: Any) -> bool:
        state.library = _library(state)
        return bool(super().run_pass(state))


@register_pass(mutates_CFG=True, analysis_only=False)
class LowerOpenInner(LoweringPass):
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
            lower = _Lower(context, library, described, state.func_ir, metadata=state.metadata)
            lower.lower()
        name = object()  # by which callers ask for it, where a kernel has its machine code
        context.insert_user_function(name, described, [library])
        state.reload_init.extend(library._reload_init)
        state["cr"] = _LowerResult(described, lower.call_helper, cfunc=name, env=lower.env)
        return True


@register_pass(mutates_CFG=True, analysis_only=False)
class LowerReadyInner(LowerOpenInner):
    """Optimised by itself, before it comes into its callers."""

    _name = "lower_ready_inner"
    ready = True


BEFORE: tuple[type, ...] = (
    untyped_passes.TranslateByteCode, untyped_passes.FixupArgs, _Blocks,
    untyped_passes.DeadBranchPrune, untyped_passes.GenericRewrites,
    untyped_passes.RewriteDynamicRaises, untyped_passes.InlineInlinables,
    _SingleAssignment, untyped_passes.DeadBranchPrune,
    typed_passes.NopythonTypeInference, _StripPhis, _DropVariables, typed_passes.AnnotateTypes,
)  # fmt: skip
AFTER: tuple[type, ...] = (typed_passes.NoPythonBackend,)

"""What kernels ask for all the time, in as few instructions as it takes.

On its way to one element the compiler lays down the whole description of the array in memory and
reads each part of it back, twice: four dozen instructions where eight do, all of which the
optimiser must take apart again. Of the larger of two numbers it makes a function by itself,
compiled anew for each pair of types. The machine code that comes of it in the end is the same.
"""

import operator
from collections.abc import Callable
from typing import Any

from llvmlite import ir
from numba.core import cgutils, types
from numba.core.typing.templates import signature
from numba.cpython.builtins import do_minmax
from numba.cpython.slicing import fix_index
from numba.np.arrayobj import load_item, store_item

_COMPARED_BY = {max: operator.gt, min: operator.lt}


def type_of_call(context: Any, function: Any, args: tuple[Any, ...]) -> Any:
    """Signature of a call that has its code here, or None."""
    if function is int and len(args) == 1:
        (number,) = args
        if isinstance(number, types.Float):
            return signature(types.intp, number)
        return signature(number, number) if isinstance(number, types.Integer) else None
    if function not in (max, min) or len(args) < 2:
        return None
    if not all(isinstance(one, types.Number) for one in args):
        return None
    common = context.unify_types(*args)
    return None if common is None else signature(common, *args)


def code_of(target: Any, function: Any, sig: Any) -> Callable[..., Any] | None:
    """What writes the code of a call with these types, or None.

    It is called with a builder, the values, and maybe a place in the source.
    """
    if function is operator.getitem and _is_element(*sig.args):
        array, index = sig.args

        def get(builder: Any, args: Any, loc: Any = None) -> Any:  # noqa: ARG001
            pointer = _pointer(target, builder, array, args[0], index, args[1])
            return load_item(target, builder, array, pointer)

        return get
    if function is operator.setitem and _is_element(*sig.args[:2]):
        array, index, given = sig.args

        def put(builder: Any, args: Any, loc: Any = None) -> None:  # noqa: ARG001
            pointer = _pointer(target, builder, array, args[0], index, args[1])
            value = target.cast(builder, args[2], given, array.dtype)
            store_item(target, builder, array, value, pointer)

        return put
    if type_of_call(target.typing_context, function, sig.args) is None:
        return None

    def number(builder: Any, args: Any, loc: Any = None) -> Any:  # noqa: ARG001
        if function is int:
            return target.cast(builder, args[0], sig.args[0], sig.return_type)
        return do_minmax(target, builder, sig.args, args, _COMPARED_BY[function])

    return number


def _is_element(array: Any, index: Any) -> bool:
    """Whether this is one number of an array, not a part that is an array too."""
    if type(array) is not types.Array or array.layout not in "CA":
        return False
    if not isinstance(array.dtype, types.Number | types.Boolean):
        return False
    along = _along(index)
    return len(along) == array.ndim and all(isinstance(one, types.Integer) for one in along)


def _along(index: Any) -> tuple[Any, ...]:
    """Types of the index along each side."""
    return tuple(index.types) if isinstance(index, types.BaseTuple) else (index,)  # type: ignore[attr-defined]


def _pointer(target: Any, builder: Any, array: Any, value: Any, index: Any, given: Any) -> Any:
    """Where the element stands; an index below nought counts from the end."""
    position = target.data_model_manager[array].get_field_position

    def part(name: str, *side: int) -> Any:
        return builder.extract_value(value, [position(name), *side])

    along = _along(index)
    values = cgutils.unpack_tuple(builder, given) if isinstance(index, types.BaseTuple) else [given]
    at = []
    for side, (kind, number) in enumerate(zip(along, values, strict=True)):
        wide = target.cast(builder, number, kind, types.intp if kind.signed else types.uintp)
        is_above = isinstance(wide, ir.Constant) and wide.constant >= 0
        if kind.signed and not is_above:
            wide = fix_index(builder, wide, part("shape", side))
        at.append(wide)
    if array.layout == "A":
        offsets = [builder.mul(part("strides", side), one) for side, one in enumerate(at)]
        return cgutils.pointer_add(builder, part("data"), _sum(builder, offsets))
    step, places = None, []
    for side in reversed(range(array.ndim)):
        places.append(at[side] if step is None else builder.mul(at[side], step))
        if side:
            length = part("shape", side)
            step = length if step is None else builder.mul(step, length)
    return builder.gep(part("data"), [_sum(builder, places[::-1])])


def _sum(builder: Any, numbers: list[Any]) -> Any:
    total, *rest = numbers
    for one in rest:
        total = builder.add(total, one)
    return total

"""Numbers or arrays in: how the formulas take them, and how they refuse what makes no sense."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
Floats = float | FloatArray


def array(value: Floats) -> FloatArray:
    """A float or an array, as an array of doubles that broadcasts."""
    return np.asarray(value, dtype=np.float64)


def refuse(bad: NDArray[np.bool_] | bool, problem: str) -> None:
    """Raise ``ValueError`` if any is bad, naming the first bad index of an array."""
    flags = np.asarray(bad)
    if not flags.any():
        return
    if flags.ndim == 0:
        raise ValueError(problem)
    index = tuple(int(i) for i in np.argwhere(flags)[0])
    raise ValueError(f"{problem} (first at index {', '.join(map(str, index))})")


def above_zero(**values: Floats) -> None:
    """Refuse values that are not above 0, by their argument name."""
    for name, value in values.items():
        if isinstance(value, float) and value > 0.0:
            continue
        flags = ~(array(value) > 0.0)
        if flags.any():
            refuse(flags, f"{name} must be above 0")


def not_below_zero(**values: Floats) -> None:
    """Refuse values below 0 (and what is no number), by their argument name."""
    for name, value in values.items():
        if isinstance(value, float) and value >= 0.0:
            continue
        flags = ~(array(value) >= 0.0)
        if flags.any():
            refuse(flags, f"{name} must not be below 0")

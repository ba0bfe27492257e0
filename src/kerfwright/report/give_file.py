"""The give of the nose on the grid that was asked for, for other programs: JSON and CSV."""

from typing import Any

import numpy as np

from kerfwright.machine import NoseGive

#: Movements and turns, and the forces and moments behind them, in the order of rows and columns.
WAYS = ("x", "y", "z", "turn_x", "turn_y", "turn_z")


def give_as_plain(give: NoseGive) -> dict[str, Any]:
    """Whole matrices and each part's share of the movement along X, Y, Z."""
    x, y, nose = give.at_mm
    return {
        "x_mm": x.tolist(),
        "y_mm": y.tolist(),
        "nose_mm": nose.tolist(),
        "ways": list(WAYS),
        "units": "mm/N, rad/N or mm/(N mm), rad/(N mm)",
        "six_by_six": give.compliance.tolist(),
        "shares": {name: share.tolist() for name, share in give.shares.items()},
    }


def give_rows(give: NoseGive) -> str:
    """CSV: a row for each place, X running slowest; the matrix's upper half, then the shares."""
    upper = np.triu_indices(len(WAYS))
    names = [f"{WAYS[i]}_for_{WAYS[j]}" for i, j in zip(*upper, strict=True)]
    shares = give.shares
    names += [f"{part} share {axis}" for part in shares for axis in "xyz"]
    places = np.stack(np.meshgrid(*give.at_mm, indexing="ij"), axis=-1)
    columns = [places, give.compliance[..., upper[0], upper[1]], *shares.values()]
    table = np.concatenate([one.reshape(-1, one.shape[-1]) for one in columns], axis=1)
    lines = [",".join(["x_mm", "y_mm", "nose_mm", *names])]
    lines += [",".join(f"{value:.9g}" for value in row) for row in table]
    return "\n".join(lines) + "\n"

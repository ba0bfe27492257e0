"""A gantry that stands still and a table that travels under it.

The gantry's uprights are bolted to the base; the table runs on wheels of its own and is pulled by
its drive. Reference point M as in ``gantry``; the table's is the middle between its wheels.
"""

import numpy as np

from kerfwright.machine.bed import thickness_mm
from kerfwright.machine.frame_parts import UP, Frame, along_only, lined_up, wheel_set
from kerfwright.machine.gantry import sides_of, work
from kerfwright.machine.model import FloatArray
from kerfwright.physics import frame


def standing_gantry(built: Frame, load: FloatArray) -> dict[str, FloatArray]:
    """Compliance of each part of a gantry whose feet are held, under loads on M.

    Parameters
    ----------
    built, load
        As for ``gantry.gantry_parts``.

    Returns
    -------
    dict of array (nb, 1, nz, k, k)
        First along the beam; where the table is makes no difference to it. [mm, rad]
    """
    side_parts, _ = sides_of(built)
    sides = [np.sum(list(parts.values()), axis=0) for parts in side_parts]  # (n, 6, 6) at M
    stiff = np.sum([np.linalg.inv(side) for side in sides], axis=0)
    load = load[..., None, :, :, :]
    moved = np.linalg.solve(
        stiff[..., None, :, :],
        np.broadcast_to(load, (*stiff.shape[:-2], *load.shape[-3:])),
    )
    out: dict[str, FloatArray] = {}
    for side, parts in zip(sides, side_parts, strict=True):
        inside = np.linalg.inv(side)[..., None, :, :] @ moved
        for name, part in parts.items():
            own = work(inside, part[..., None, :, :] @ inside)[..., None, :, :, :]
            out[name] = out[name] + own if name in out else own
    return out


def table_parts(built: Frame, kinds: int) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """What gives under the nose: the table's wheels and its drive.

    Parameters
    ----------
    built : Frame
        The frame.
    kinds : int
        3 for forces at the nose, 6 for forces and moments.

    Returns
    -------
    dict of array (nb, nt, nz, kinds, kinds) or fewer, dict of array (nb, nt, nz, kinds)
        First along the beam, then along the table's travel; load on the worst wheel. [mm, rad; N]
    """
    axis, arm = table_arms(built)
    wheels = wheel_set(built, built.moving)
    drive = built.drive_n_per_mm(axis)[..., None, :, None, None, None]
    give = frame.seen_from(lined_up(wheels.compliance(), arm.ndim + 1), arm)[..., :kinds, :kinds]
    pushed = np.swapaxes(frame.carried(arm), -1, -2)[..., :kinds]
    parts = {
        "table wheels": give,
        f"{axis.upper()} drive": along_only(built.moving, kinds) / drive,
    }
    return parts, {"table wheels": wheels.worst_wheel(pushed)}


def table_arms(built: Frame) -> tuple[str, FloatArray]:
    """The table's axis, and from the middle between its wheels to the nose. (nb, nt, nz, 3)"""
    axis, thick = "xy"[built.moving], thickness_mm(built)[..., None]
    down = (1.0 - built.heights) * built.number("axes.z.travel", 1)
    heights = built.number("table.nose_height", 1) - down
    beam_axis = "xy"[1 - built.moving]
    beside = (built.beside - 0.5) * built.number(f"axes.{beam_axis}.travel", 1)
    along = (built.onward - 0.5) * built.number(f"axes.{axis}.travel", 1)
    arm = (
        beside[..., :, None, None, None] * built.beam
        + along[..., None, :, None, None] * built.along
        + (heights + thick)[..., None, None, :, None] * UP
    )
    return axis, arm

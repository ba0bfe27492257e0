"""A gantry that stands still and a table that travels under it.

The gantry's uprights are bolted to the base; the table runs on wheels of its own and is pulled by
its drive. Reference point M as in ``gantry``; the table's is the middle between its wheels.
"""

import numpy as np

from kerfwright.machine.frame_parts import UNIT, UP, Frame, along_only, wheel_set
from kerfwright.machine.gantry import sides_of, work
from kerfwright.machine.model import FloatArray
from kerfwright.physics import frame


def standing_gantry(
    built: Frame, shares: FloatArray, nose_arm_mm: FloatArray
) -> dict[str, FloatArray]:
    """Compliance of each part of a gantry whose feet are held, at the nose.

    Parameters
    ----------
    built, shares, nose_arm_mm
        As for ``gantry.gantry_parts``.

    Returns
    -------
    dict of array (n, 1, nz, 3, 3)
        First along the beam; where the table is makes no difference to it. [mm/N]
    """
    return _under(built, shares, np.swapaxes(frame.carried(nose_arm_mm), -1, -2)[..., :3])


def standing_at_m(built: Frame, shares: FloatArray) -> dict[str, FloatArray]:
    """The same parts for any load on M itself: dict of array (n, 1, 6, 6)."""
    return {
        name: part[..., 0, :, :] for name, part in _under(built, shares, np.eye(6)[None]).items()
    }


def _under(built: Frame, shares: FloatArray, load: FloatArray) -> dict[str, FloatArray]:
    """``standing_gantry`` under loads on M, (nz, 6, k): dict of array (n, 1, nz, k, k)."""
    side_parts, _ = sides_of(built, shares)
    sides = [np.sum(list(parts.values()), axis=0) for parts in side_parts]  # (n, 6, 6) at M
    stiff = np.sum([np.linalg.inv(side) for side in sides], axis=0)
    moved = np.linalg.solve(stiff[:, None], np.broadcast_to(load, (len(stiff), *load.shape)))
    out: dict[str, FloatArray] = {}
    for side, parts in zip(sides, side_parts, strict=True):
        inside = np.linalg.inv(side)[:, None] @ moved
        for name, part in parts.items():
            own = work(inside, part[:, None] @ inside)[:, None]
            out[name] = out[name] + own if name in out else own
    return out


def table_parts(
    built: Frame, shares: FloatArray, heights_mm: FloatArray
) -> tuple[dict[str, FloatArray], FloatArray]:
    """What gives under the nose: the table's wheels and its drive.

    Parameters
    ----------
    built : Frame
        The frame.
    shares : array (n,)
        Places along both travels, 0 to 1.
    heights_mm : array (nz,)
        Of the nose above the table top. [mm]

    Returns
    -------
    dict of array (n, n, nz, 3, 3) or fewer, array (n, n, nz, 3)
        First along the beam, then along the table's travel; load on the worst wheel. [mm/N, N/N]
    """
    axis, numbers = "xy"[built.moving], built.numbers
    thick = numbers.get("table.core", 0.0) + 2.0 * numbers.get("table.skin", 12.0)
    beam_axis = "xy"[1 - built.moving]
    beside = (shares - 0.5) * built.number(f"axes.{beam_axis}.travel")
    along = (shares - 0.5) * built.number(f"axes.{axis}.travel")
    arm = (
        beside[:, None, None, None] * built.beam
        + along[None, :, None, None] * built.along
        + (heights_mm + thick)[None, None, :, None] * UP
    )
    wheels = wheel_set(built, built.moving)
    drive = built.drive_n_per_mm(axis)[None, :, None, None, None]
    give = frame.seen_from(wheels.compliance(), arm)[..., :3, :3]
    pushed = np.swapaxes(frame.carried(arm), -1, -2)[..., :3]
    parts = {
        "table wheels": give,
        f"{axis.upper()} drive": along_only(UNIT[built.moving]) / drive,
    }
    return parts, wheels.worst_wheel(pushed)

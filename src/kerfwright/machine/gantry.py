"""The gantry: two sides, wheels, cross bar and drives that act side by side.

Reference points: A and B, the two feet at rail height, A on the side of low X or Y; M, the middle
of the beam beside the cutter.
"""

import numpy as np

from kerfwright.machine.beam_section import BeamSection, beam_section
from kerfwright.machine.frame_parts import (
    UP,
    Frame,
    into,
    lined_up,
    on_diagonal,
    plate,
    row,
    wheel_set,
)
from kerfwright.machine.materials import modulus_mpa, shear_modulus_mpa
from kerfwright.machine.model import FloatArray
from kerfwright.physics import beams, frame

#: Movements of foot A, foot B and M among the eighteen.
_A, _B, _M = slice(0, 6), slice(6, 12), slice(12, 18)


def gantry_parts(
    built: Frame, load: FloatArray
) -> tuple[dict[str, FloatArray], dict[str, FloatArray]]:
    """Compliance of each part of the gantry under loads on M, and the load on the worst wheel.

    Parameters
    ----------
    built : Frame
        The frame.
    load : array (nz, 6, k)
        Forces and moments on M, k of them at each height. [N, N mm]

    Returns
    -------
    dict of array (nb, nt, nz, k, k), dict of array (nb, nt, nz, k)
        First along the beam, then along the gantry's travel. [mm, rad; N]

    Notes
    -----
    With f a unit load, the work of one part is q^T c q of the load q inside it; the parts' works
    add up to f^T C f. The same holds for two different loads, so each part gets a whole matrix.
    """
    side_parts, arms = sides_of(built)
    sides = [np.sum(list(parts.values()), axis=0) for parts in side_parts]  # (n, 6, 6) at M
    bar, bar_arm = _cross_bar(built), built.number("frame.beam.length", 1) * built.beam
    levers, springs = _drives(built)
    wheels = wheel_set(built, built.moving, 0.5)
    stiff = _assembled(sides, arms, bar, bar_arm, wheels.stiffness())
    pulls = np.einsum("...dm,di,dj->...mij", springs, levers, levers)
    moved = _moved(stiff + pulls[..., None, :, :, :], load)
    axes = moved.ndim
    held = lined_up(wheels.stiffness(), axes)
    feet = [held @ moved[..., foot, :] for foot in (_A, _B)]
    out: dict[str, FloatArray] = {
        "gantry wheels": np.sum(
            [work(moved[..., f, :], q) for f, q in zip((_A, _B), feet, strict=True)], axis=0
        )
    }
    pulled = np.einsum("di,...if->...df", levers, moved)
    out[f"{'XY'[built.moving]} drive"] = np.einsum(
        "...dm,...bmzdf,...bmzdg->...bmzfg", springs, pulled, pulled
    )
    if bar is not None:
        bent = moved[..., _B, :] - lined_up(frame.carried(bar_arm), axes) @ moved[..., _A, :]
        out["cross bar"] = work(bent, lined_up(np.asarray(np.linalg.inv(bar)), axes) @ bent)
    for foot, side, arm, parts in zip((_A, _B), sides, arms, side_parts, strict=True):
        stretch = moved[..., _M, :] - lined_up(frame.carried(arm), axes) @ moved[..., foot, :]
        inside = lined_up(np.asarray(np.linalg.inv(side)), axes) @ stretch
        for name, part in parts.items():
            own = work(inside, lined_up(part, axes) @ inside)
            out[name] = out[name] + own if name in out else own
    return out, {"gantry wheels": np.maximum(*(wheels.worst_wheel(foot) for foot in feet))}


def _assembled(
    sides: list[FloatArray],
    arms: list[FloatArray],
    bar: FloatArray | None,
    bar_arm: FloatArray,
    wheels: FloatArray,
) -> FloatArray:
    """Stiffness over the movements of A, B and M, without the drives. (n, 1, 18, 18)"""
    stiff = np.zeros((*arms[0].shape[:-1], 1, 18, 18))
    for foot, side, arm in zip((_A, _B), sides, arms, strict=True):
        index = np.r_[foot, _M]
        stiff[..., index[:, None], index] += frame.held_between(side, arm)[..., None, :, :]
        stiff[..., foot, foot] += lined_up(wheels, stiff.ndim)
    if bar is not None:
        stiff[..., 0:12, 0:12] += lined_up(frame.held_between(bar, bar_arm), stiff.ndim)
    return stiff


def _moved(stiff: FloatArray, load: FloatArray) -> FloatArray:
    """Movement of A, B and M under loads on M, (nz, 6, k). (n, n, nz, 18, k)"""
    many, kinds = load.shape[-3], load.shape[-1]
    whole = np.zeros((*load.shape[:-2], 18, kinds))
    whole[..., _M, :] = load
    columns = np.moveaxis(whole, -3, -2).reshape(*load.shape[:-3], 18, -1)
    columns = lined_up(columns, stiff.ndim)
    flat = np.linalg.solve(stiff, np.broadcast_to(columns, (*stiff.shape[:-1], columns.shape[-1])))
    flat = flat.reshape(*flat.shape[:-1], many, kinds)
    return np.asarray(np.moveaxis(flat, -2, -3), dtype=np.float64)


def sides_of(built: Frame) -> tuple[list[dict[str, FloatArray]], list[FloatArray]]:
    """What joins each foot to M, as compliance at M (nb, 6, 6), and the arms foot to M."""
    length = built.number("frame.beam.length", 1)
    travel = built.number("axes.y.travel" if built.moving == 0 else "axes.x.travel", 1)
    at = np.clip(0.5 * (length - travel) + built.beside * travel, 0.05 * length, 0.95 * length)
    height = built.number("frame.upright.height", 2)
    upright = _upright(built)
    grip = 0.5 * built.number("frame.beam.depth")  # bolts stand about this far from the middle
    give = 1.0 / built.number("frame.joint_stiffness")
    joint = on_diagonal(row(*[give] * 3, *[give / grip**2] * 3))
    upright, joint = upright[..., None, :, :], joint[..., None, :, :]
    sides, arms = [], []
    for way, reach in ((1.0, at), (-1.0, length - at)):
        across = way * reach[..., None] * built.beam
        arm = across + height * UP
        sides.append(
            {
                "beam": _beam_part(built, reach, way * built.beam),
                "uprights": frame.seen_from(upright, across),
                "gantry joints": frame.seen_from(joint, across) + frame.seen_from(joint, arm),
            }
        )
        arms.append(arm)
    return sides, arms


def _beam_part(built: Frame, reach_mm: FloatArray, direction: FloatArray) -> FloatArray:
    material = built.choices["frame.beam.material"]
    young, shear = modulus_mpa(material), shear_modulus_mpa(material)
    section = _section(built)
    one, two = section.second_mm4
    up, across = section.shear_share
    local = frame.bar_compliance(
        reach_mm,
        young * section.area_mm2,
        young * one,
        young * two,
        shear * section.torsion_mm4,
        across * shear * section.area_mm2,
        up * shear * section.area_mm2,
    )
    # It leans by how its outline was drawn, which is the same for every draw.
    axis = np.cos(section.lean_rad) * built.along + np.sin(section.lean_rad) * UP
    return into(local, direction, axis)


def _section(built: Frame) -> BeamSection:
    """The beam's section; its figures have an axis of length 1 for places along the beam."""
    keys = [key for key in built.numbers if key.startswith("frame.beam.")]
    columns = [built.number(key).reshape(-1).tolist() for key in keys]
    each = [
        beam_section(dict(zip(keys, one, strict=True)), built.choices)
        for one in zip(*columns, strict=True)
    ]
    figures = np.array(
        [[one.area_mm2, *one.second_mm4, *one.shear_share, one.torsion_mm4] for one in each]
    ).T[..., None]
    area, one, two, up, across, torsion = figures if built.many else figures[:, 0]
    return BeamSection(
        area_mm2=area, second_mm4=(one, two), lean_rad=each[0].lean_rad, shear_share=(up, across),
        torsion_mm4=torsion,
    )  # fmt: skip


def _upright(built: Frame) -> FloatArray:
    """At its top, the foot held."""
    return plate(
        built.choices["frame.upright.material"],
        built.number("frame.upright.height"),
        built.number("frame.upright.width"),
        built.number("frame.upright.thickness"),
        UP,
        built.beam,  # thin along the beam
    )


def _cross_bar(built: Frame) -> FloatArray | None:
    """Joins the feet at rail height: at B, with A held. None where there is none."""
    if "frame.cross_bar.width" not in built.numbers:
        return None
    return plate(
        built.choices["frame.cross_bar.material"],
        built.number("frame.beam.length"),
        built.number("frame.cross_bar.width"),
        built.number("frame.cross_bar.thickness"),
        built.beam,
        UP,
    )


def _drives(built: Frame) -> tuple[FloatArray, FloatArray]:
    """Levers on the movement of (A, B, M) and stiffness at the places: (nd, 18) and (nd, nm)."""
    axis = "xy"[built.moving]
    train = built.train_n_per_mm[axis]
    if built.count(f"axes.{axis}.motors") == 2:
        parts = [(1.0, 0.0), (0.0, 1.0)]
    else:
        place = built.choices["frame.drive_at"]
        parts = [{"middle": (0.5, 0.5), "low side": (1.0, 0.0), "high side": (0.0, 1.0)}[place]]
        if place == "middle":
            train = 1.0 / (1.0 / train + _bar_bend_mm_per_n(built)[..., None])
    levers = np.zeros((len(parts), 18))
    for drive, (low, high) in enumerate(parts):
        levers[drive, built.moving], levers[drive, 6 + built.moving] = low, high
    return levers, np.stack([train] * len(parts), axis=-2)


def _bar_bend_mm_per_n(built: Frame) -> FloatArray:
    """The cross bar bent by the screw that pulls in its middle, along the travel. [mm/N]"""
    width, thickness = (built.number(f"frame.cross_bar.{key}") for key in ("width", "thickness"))
    modulus = modulus_mpa(built.choices["frame.cross_bar.material"])
    second_moment = thickness * width**3 / 12.0
    length = built.number("frame.beam.length")
    return beams.supported_mid_mm(1.0, length, modulus, second_moment)


def work(moved: FloatArray, load: FloatArray) -> FloatArray:
    """Work matrix over the last axis (forces): m^T q."""
    result: FloatArray = np.swapaxes(moved, -1, -2) @ load
    return result

"""Findings on how the machine takes sudden changes: of speed at corners, of acceleration."""

from collections.abc import Sequence
from dataclasses import replace
from math import pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Finding, Remedy, Severity
from kerfwright.loads import compliance_at
from kerfwright.machine import AxisModel, MachineModel
from kerfwright.physics.inertia import N_PER_KG_MM_PER_S2, reflected_inertia_kg_mm2, swing_mm
from kerfwright.physics.steppers import largest_speed_jump_rad_per_s
from kerfwright.prove.again import more_s
from kerfwright.prove.facts import Facts, at_segment
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import Machines, estimate, exact
from kerfwright.prove.remedies import FEEDS, tried
from kerfwright.trajectory import Trajectory

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_AT_ONCE = 65_536  #: segments: what comes in between stays in the processor's cache

#: A slip is four full steps whatever the motor; a swing of less than this share of what the part
#: may be out is not told.
TOLD_SHARE = 0.3


def jumps(facts: Facts, machines: Machines) -> list[Finding]:
    """Motors that may slip where the controller lets their speed jump at a corner."""
    if facts.machine.controller.corner_rule != "axis speed step":
        return []
    path = facts.trajectory
    sharp = np.flatnonzero(path.blend_mm[1:-1] == 0.0)  # between this segment and the next
    speed = np.sqrt(path.speed2[path.node[1:-1][sharp]])
    out = []
    for number, axis in enumerate(facts.machine.axes):
        if not len(sharp):
            continue
        change = np.abs(path.along(sharp + 1, number) - path.along(sharp, number)) * speed
        most = int(np.argmax(change))
        at, jump = int(sharp[most]), float(change[most])
        before = float(speed[most] * abs(path.along(sharp[most : most + 1], number)[0]))
        follows = _follow_mm_per_s([one.axes[number] for one in machines.model], before)
        likelihood = float((follows < jump).mean())
        if jump == 0.0 or likelihood < CARE:
            continue
        able = estimate(float(_follow_mm_per_s([axis], before)[0]), follows, machines.rulers)
        name, few = axis.name.upper(), float(np.quantile(follows, 0.05))
        words = (
            f"{name} is asked to change its speed by {jump:.1f} mm/s at once in this corner, and"
            f" its motor follows {able.value:.1f} ({able.low:.1f} to {able.high:.1f} mm/s, nineteen"
            f" times in twenty); each slip is {4 * _full_step_mm(axis):.2f} mm"
        )
        path_of = f"controller.{axis.name}.speed_step"
        change_to = Change(path=path_of, old=f"{jump:.1f} mm/s", new=f"{few:.1f} mm/s")
        measure = (jump, able.value, "mm/s")
        found = at_segment(facts, at, "jump of speed", "caution", words, measure, (),
                           f"-{axis.name}", likelihood)  # fmt: skip
        steps = list(facts.machine.controller.corner_speed_step_mm_per_s)
        steps[number] = min(few, steps[number])
        controller = replace(
            facts.machine.controller, corner_speed_step_mm_per_s=(steps[0], steps[1], steps[2])
        )
        remedy = Remedy(
            words=f"Set the speed step of {name} in the controller to {few:.1f} mm/s or less",
            changes=(change_to,),
            tried=tried(
                found, "Then its motor is asked for", exact(few),
                float((follows < few).mean()),
            ),
            more_s=more_s(facts, machine=replace(facts.machine, controller=controller)),
        )  # fmt: skip
        out.append(replace(found, remedies=(remedy,)))
    return out


def _most_pulled(path: Trajectory, those: IntArray) -> list[tuple[int, float]]:
    """For each axis the one of some segments along which it is sped up or slowed most.

    And by how much [mm/s²], 0 where the speed never changes.
    """
    node = path.node[those + 1]
    least = np.minimum(path.speed2[node - 1], path.speed2[node])
    changes = least < path.cap2_of(those) * (1.0 - 1e-9)
    unit = np.abs(path.units(those))
    with np.errstate(divide="ignore"):
        along = np.where(changes, (path.limit_mm_per_s2 / unit).min(axis=1), 0.0)
    pull = along[:, None] * unit
    return [(int(those[at]), float(pull[at, axis])) for axis, at in enumerate(pull.argmax(axis=0))]


def swings(facts: Facts, machines: Machines) -> list[Finding]:
    """Swinging after each change of acceleration, where it shows on the part."""
    path = facts.trajectory
    cutting = np.zeros(len(path.move), np.bool_)
    cutting[facts.swept.segment[facts.cuts]] = True
    cut = np.flatnonzero(cutting)
    by_strip = [_most_pulled(path, cut[a : a + _AT_ONCE]) for a in range(0, len(cut), _AT_ONCE)]
    out = []
    for number, axis in enumerate(facts.machine.axes):
        at, a = max((most[number] for most in by_strip), key=lambda one: one[1], default=(0, 0.0))
        if a == 0.0:
            continue
        where = facts.on_board(path.point_mm[at + 1]) + np.array(facts.setup.board_at_mm)
        where[2] += facts.setup.slots[int(facts.tools.slot[at])].stick_out_mm
        peak, hertz = _swing(facts.machine, number, a, where)
        if peak < TOLD_SHARE * facts.setup.tolerance_mm:
            continue
        many = np.array([_swing(one, number, a, where)[0] for one in machines.model])
        told = estimate(peak, many, machines.rulers)
        severity: Severity = "note"
        words = (
            f"{axis.name.upper()} swings out by up to {told.value:.2f} mm ({told.low:.2f} to"
            f" {told.high:.2f} mm, nineteen times in twenty) after each start, stop and corner,"
            f" about {hertz:.0f} times a second, until it has died away"
        )
        measure = (peak, facts.setup.tolerance_mm, "mm")
        found = at_segment(facts, at, "swings", severity, words, measure, (), f"-{axis.name}")
        remedy = _gentler(facts, number, a, where, found)
        out.append(replace(found, value=told, remedies=(remedy,)))
    return out


def _gentler(facts: Facts, number: int, a: float, where: FloatArray, found: Finding) -> Remedy:
    """The largest acceleration with which the swing is not told."""
    axis = facts.machine.axes[number]
    name, now = axis.name, axis.acceleration_mm_per_s2
    for share in FEEDS:
        peak = _swing(facts.machine, number, share * a, where)[0]
        if peak >= TOLD_SHARE * facts.setup.tolerance_mm:
            continue
        new = f"{now * share:.0f} mm/s²"
        whole: dict[str, Any] = {name: replace(axis, acceleration_mm_per_s2=now * share)}
        return Remedy(
            words=f"Set the acceleration of {name.upper()} to {new} in the controller and in"
            " machine.toml",
            changes=(Change(path=f"{name}.acceleration", old=f"{now:.0f} mm/s²", new=new),),
            tried=tried(found, f"With {share * 100:.0f} % of it", exact(peak), None),
            more_s=more_s(facts, machine=replace(facts.machine, **whole)),
        )
    return Remedy(
        words=f"Brace what swings along {name.upper()}: with {FEEDS[-1] * 100:.0f} % of the"
        " acceleration it swings still too far",
        not_tried="how stiff it is then is to be measured anew: push it with a spring scale",
    )


def _follow_mm_per_s(axes: Sequence[AxisModel], speed_mm_per_s: float) -> FloatArray:
    """Largest change of speed at once that each axis' motors follow, at a speed. (axes,)"""
    inertia, mass, lead, motors, teeth = np.array(
        [[a.inertia_kg_mm2, a.mass_kg, a.lead_mm, a.motors, a.rotor_teeth] for a in axes]
    ).T
    whole = inertia + reflected_inertia_kg_mm2(mass, lead) / motors
    going = max(speed_mm_per_s, 1e-9)
    steady = np.array([float(axis.demand_nmm(0.0, going, 0.0)) for axis in axes])
    pull = np.array([max(float(axis.pull_nmm(speed_mm_per_s)), 1e-6) for axis in axes])
    turn = largest_speed_jump_rad_per_s(steady, pull, whole, teeth)
    return np.asarray(turn * lead / (2.0 * pi))


def _full_step_mm(axis: AxisModel) -> float:
    return axis.lead_mm / (4.0 * axis.rotor_teeth)


def _swing(
    machine: MachineModel, number: int, acceleration: float, nose_mm: FloatArray
) -> tuple[float, float]:
    """First peak [mm] and frequency [Hz] of an axis at a place of the nose."""
    axis = machine.axes[number]
    x, y, z = (np.array([value]) for value in nose_mm)
    give = float(compliance_at(machine, x, y, z)[0, number, number])
    if give <= 0.0:  # as good as rigid
        return 0.0, 0.0
    hertz = 1.0 / (2.0 * pi * np.sqrt(give * axis.mass_kg * N_PER_KG_MM_PER_S2))
    rise = acceleration / axis.jerk_mm_per_s3
    return float(swing_mm(acceleration, hertz, rise)), float(hertz)

"""The same machine with other settings of its controller."""

from collections.abc import Mapping
from dataclasses import replace
from math import isfinite

from kerfwright.basics import Known
from kerfwright.machine import AxisModel, CornerRule, MachineModel
from kerfwright.machine.defaults import table_default
from kerfwright.machine.drive import WHIP_SHARE

AXES = ("x", "y", "z")
TOLERANCE = "controller.path_tolerance"
AHEAD, PER_SECOND = "controller.lines_ahead", "controller.lines_per_second"
RULES: tuple[CornerRule, ...] = ("axis speed step", "path tolerance", "exact stop")


def paths_of(key: str, axes: str = "xyz") -> tuple[str, ...]:
    """Paths of a setting that each axis has."""
    return tuple(f"controller.{axis}.{key}" for axis in axes)


def setting(machine: MachineModel, path: str) -> Known | None:
    """What is known of a setting; the range of the table for a tolerance that nobody gave."""
    if path not in machine.known and path == TOLERANCE:
        return table_default(path)
    return machine.known.get(path)


def parameter_paths(rule: CornerRule) -> tuple[str, ...]:
    """The settings that a corner rule goes by."""
    if rule == "path tolerance":
        return (TOLERANCE,)
    return paths_of("speed_step") if rule == "axis speed step" else ()


def with_settings(
    machine: MachineModel, values: Mapping[str, float], rule: CornerRule | None = None
) -> MachineModel:
    """A machine with these values at these paths, and by this corner rule.

    Parameters
    ----------
    values : mapping
        By dotted path: ``controller.x.acceleration``, ``.rapid``, ``.jerk``, ``.speed_step``,
        ``controller.path_tolerance``, ``.lines_ahead``, ``.lines_per_second``. In inside units.
    """
    controller = machine.controller
    steps = tuple(
        values.get(path, step)
        for path, step in zip(
            paths_of("speed_step"), controller.corner_speed_step_mm_per_s, strict=True
        )
    )
    return replace(
        machine,
        x=_axis(machine.x, values),
        y=_axis(machine.y, values),
        z=_axis(machine.z, values),
        controller=replace(
            controller,
            corner_rule=rule or controller.corner_rule,
            corner_tolerance_mm=values.get(TOLERANCE, controller.corner_tolerance_mm),
            corner_speed_step_mm_per_s=(steps[0], steps[1], steps[2]),
            lines_ahead=values.get(AHEAD, controller.lines_ahead),
            lines_per_s=values.get(PER_SECOND, controller.lines_per_s),
        ),
    )


def _axis(axis: AxisModel, values: Mapping[str, float]) -> AxisModel:
    at = f"controller.{axis.name}"
    changed = replace(
        axis,
        acceleration_mm_per_s2=values.get(f"{at}.acceleration", axis.acceleration_mm_per_s2),
        jerk_mm_per_s3=values.get(f"{at}.jerk", axis.jerk_mm_per_s3),
    )
    rapid = values.get(f"{at}.rapid")
    if rapid is None or not isfinite(rapid):
        return changed
    # As the description does it; the motor's limit at the new acceleration is taken as the old.
    top = min(rapid, axis.motor_top_mm_per_s, WHIP_SHARE * axis.whip_mm_per_s)
    top = max(top, 0.05 * rapid)
    return replace(changed, set_rapid_mm_per_s=rapid, rapid_mm_per_s=top, top_speed_mm_per_s=top)

"""From machine.toml to ``MachineModel``, and the same machine with other numbers."""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import inf
from pathlib import Path
from typing import Literal, cast

import numpy as np

from kerfwright.basics import InputError, Kind, Known, Place
from kerfwright.formats import TomlFile, read_toml
from kerfwright.machine.drive import axis_model
from kerfwright.machine.entries import APART, AXES, LATER, OUTSIDES, number_at, words_at
from kerfwright.machine.filling import fill
from kerfwright.machine.geometry import geometry_of
from kerfwright.machine.guides import wheel_unloads_n
from kerfwright.machine.model import (
    AxisModel,
    Controller,
    CornerRule,
    Habits,
    MachineModel,
    Spindle,
)
from kerfwright.machine.read import Written, read_written
from kerfwright.machine.structure import PLACES, Nose, nose_compliances


@dataclass(frozen=True, slots=True, kw_only=True)
class _Description:
    """Everything that does not change from draw to draw."""

    name: str
    sha256: str
    known: Mapping[str, Known]
    choices: Mapping[str, str]
    dial_rev_per_s: tuple[float, ...]
    assumed: tuple[str, ...]
    corners_from: Kind
    middle: Mapping[str, float]  #: every value within what can be, in the order of drawing
    limits: tuple[tuple[str, Known, float, float], ...]  #: of those that are open

    def drawn(self, rng: np.random.Generator, many: int) -> tuple[MachineModel, ...]:
        """The machine with every value drawn from its spread, within what can be; many times."""
        return _models(self, [self._numbers(rng) for _ in range(many)])

    def _numbers(self, rng: np.random.Generator) -> dict[str, float]:
        apart = rng.spawn(1)[0]  # changes nothing that is drawn of ``rng``
        numbers = dict(self.middle)
        for path, known, least, most in self.limits:
            value = known.draw(apart if path in APART else rng)
            numbers[path] = min(max(value, least), most)
        return numbers


def load_machine(path: Path) -> MachineModel:
    """Read machine.toml.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    MachineModel
        With the middle of every range; ``drawn`` for the spread.

    Raises
    ------
    InputError, InputErrors
        With file, line, column and remedy for everything that cannot be read.
    """
    return parse(read_toml(path))


def parse(toml: TomlFile) -> MachineModel:
    """``load_machine`` of a file already read."""
    written = read_written(toml)
    written.problems.tell()  # what cannot be read would only lead to more errors
    filling = fill(written)
    written.problems.tell()
    limits = [_limits(path, filling.values[path]) for path in _drawn_in_order(filling.values)]
    description = _Description(
        name=written.texts.get("name", "unnamed machine"),
        sha256=hashlib.sha256(toml.text.encode()).hexdigest(),
        known=filling.values,
        choices=filling.choices,
        dial_rev_per_s=written.lists.get("spindle.dial", ()),
        assumed=filling.assumed_words(),
        corners_from=_corners_from(written),
        middle={path: min(max(known.value, low), high) for path, known, low, high in limits},
        limits=tuple(one for one in limits if one[1].u is not None or one[1].low is not None),
    )
    middle = {path: known.value for path, known in filling.values.items()}
    try:
        return _models(description, [middle])[0]
    except ValueError as error:  # a formula's refusal: numbers that fit one by one, not together
        raise InputError(
            Place(file=toml.file),
            f"describes a machine that cannot be: {error}",
            "look for a size or a unit that is far off",
        ) from error


def _corners_from(written: Written) -> Kind:
    path = "controller.corners"
    return written.origins.get(path, "estimated") if path in written.choices else "default"


def _drawn_in_order(paths: Iterable[str]) -> list[str]:
    """Outsides come late: nothing that is drawn rests on them, and so they change no other draw."""
    return sorted(paths, key=lambda path: (path in LATER, path in OUTSIDES, path))


def _limits(path: str, known: Known) -> tuple[str, Known, float, float]:
    entry = number_at(path)
    # A normal spread has tails; a value that must be above 0 keeps a twentieth of its middle.
    least = entry.least if entry.nought else max(entry.least, 0.05 * abs(known.value))
    if entry.least < 0.0:
        least = entry.least
    return path, known, least, entry.most


def _models(
    description: _Description, numbers: Sequence[Mapping[str, float]]
) -> tuple[MachineModel, ...]:
    choices = description.choices
    driven = [{axis: axis_model(axis, one, choices, PLACES) for axis in AXES} for one in numbers]
    trains = [{axis: train for axis, (_, train) in one.items()} for one in driven]
    return tuple(
        _model(description, own, {axis: model for axis, (model, _) in axes.items()}, nose)
        for own, axes, nose in zip(
            numbers, driven, nose_compliances(numbers, choices, trains), strict=True
        )
    )


def _model(
    description: _Description, numbers: Mapping[str, float], axes: Mapping[str, AxisModel],
    nose: Nose,
) -> MachineModel:  # fmt: skip
    choices = description.choices
    return MachineModel(
        name=description.name,
        sha256=description.sha256,
        x=axes["x"],
        y=axes["y"],
        z=axes["z"],
        spindle=_spindle(description, numbers),
        controller=_controller(description, numbers),
        table_mm=(numbers["table.width"], numbers["table.depth"]),
        table_at_mm=(numbers["table.left"], numbers["table.front"]),
        spoil_board_mm=numbers["table.spoil_board"],
        nose_height_mm=numbers["table.nose_height"],
        compliance_at_mm=nose.at_mm,
        compliance_mm_per_n=nose.compliance_mm_per_n,
        compliance_shares=nose.shares,
        pushed_scale=(*nose.pushed_scale.tolist(),),
        wheel_loads=nose.wheel_loads,
        wheel_unloads_n=wheel_unloads_n(numbers, choices),
        known=description.known,
        geometry=geometry_of(numbers),
        damping=numbers["frame.damping"],
        values=numbers,
        choices=choices,
        assumed=description.assumed + tuple(_slower_than_set(axes.values())),
        drawn=description.drawn,
    )


def _slower_than_set(axes: Iterable[AxisModel]) -> list[str]:
    words = []
    for axis in axes:
        if axis.rapid_mm_per_s < 0.999 * axis.set_rapid_mm_per_s:
            words.append(
                f"{words_at(f'controller.{axis.name}.rapid')}: set to "
                f"{axis.set_rapid_mm_per_s * 60.0:.0f} mm/min, which motor or screw cannot hold; "
                f"taken as {axis.rapid_mm_per_s * 60.0:.0f} mm/min"
            )
    return words


def _spindle(description: _Description, numbers: Mapping[str, float]) -> Spindle:
    if "spindle.power" in numbers:
        power = numbers["spindle.power"]
    else:
        power = (
            numbers["spindle.input_current"]
            * numbers["spindle.input_voltage"]
            * numbers["spindle.efficiency"]
        )
    return Spindle(
        kind=cast(
            Literal["variable frequency", "hand router"], description.choices["spindle.kind"]
        ),
        lowest_rev_per_s=numbers["spindle.lowest"],
        highest_rev_per_s=numbers["spindle.highest"],
        shaft_power_w=power,
        dial_rev_per_s=description.dial_rev_per_s,
        nut_diameter_mm=numbers["spindle.nut_diameter"],
        nut_height_mm=numbers["spindle.nut_height"],
        nose_diameter_mm=numbers["spindle.nose_diameter"],
        boot_diameter_mm=numbers.get("spindle.boot_diameter", 0.0),
        boot_below_nut_mm=numbers.get("spindle.boot_below_nut", 0.0),
    )


def _controller(description: _Description, numbers: Mapping[str, float]) -> Controller:
    choices = description.choices
    said = {key.removeprefix("controller."): word for key, word in choices.items()}
    return Controller(
        corner_rule=cast(CornerRule, said["corners"]),
        corner_tolerance_mm=numbers.get("controller.path_tolerance", 0.0),
        corner_speed_step_mm_per_s=(
            numbers["controller.x.speed_step"],
            numbers["controller.y.speed_step"],
            numbers["controller.z.speed_step"],
        ),
        cutter_change=said["cutter_change"],  # type: ignore[arg-type]  # one of the entry's options
        cutter_change_s=_change_s(choices, numbers),
        lines_ahead=numbers.get("controller.lines_ahead", inf),
        lines_per_s=numbers.get("controller.lines_per_second", inf),
        corner_rule_kind=description.corners_from,
        default_units=said.get("default_units"),  # type: ignore[arg-type]
        arc_centres=said["arc_centres"],  # type: ignore[arg-type]
        unknown_words=said["unknown_words"],  # type: ignore[arg-type]
        reads=_habits(said, numbers.get("controller.longest_line")),
    )


def _change_s(choices: Mapping[str, str], numbers: Mapping[str, float]) -> float:
    """Time of a whole cutter change, with what the person does at it. [s]"""
    if choices["controller.cutter_change"] == "ignores it":
        return 0.0
    whole = numbers["controller.cutter_change_time"]
    if choices["controller.cutter_change"] == "stops and Z is set again":
        whole += numbers["controller.set_z_time"]
    if choices["spindle.kind"] == "hand router":
        whole += numbers["controller.router_switch_time"]
    return whole


def _habits(said: Mapping[str, str], longest_line: float | None) -> Habits:
    def takes(key: str) -> bool:
        return said[key] in ("takes", "yes")

    return Habits(
        bare_coordinates=said["bare_coordinates"],  # type: ignore[arg-type]
        line_ends=said["line_ends"],  # type: ignore[arg-type]
        longest_line=None if longest_line is None else round(longest_line),
        slash_lines=said["slash_lines"],  # type: ignore[arg-type]
        lower_case=takes("lower_case"),
        blanks_in_numbers=takes("blanks_in_numbers"),
        semicolons=takes("semicolons"),
        late_numbers=takes("late_numbers"),
        missing_end=takes("missing_end"),
        byte_order_mark=takes("byte_order_mark"),
        knows_g70=takes("knows_g70"),
        knows_g90_1=takes("knows_g90_1"),
        knows_g64_p=takes("knows_g64_p"),
    )

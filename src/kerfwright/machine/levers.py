"""What a builder may turn to make a router better, with the stops of each."""

from dataclasses import dataclass

import numpy as np

from kerfwright.machine.answers import Change
from kerfwright.machine.entries import AXES
from kerfwright.machine.guides import BEARINGS
from kerfwright.machine.interview import UNKNOWN
from kerfwright.machine.model import MachineModel


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """One place of a lever: what it would be, and the changes of machine.toml that say so."""

    value: float  #: inside unit
    typed: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lever:
    """One thing to turn."""

    id: str
    path: str
    label: str
    help: str
    stops: tuple[Stop, ...]  #: rising


def levers(machine: MachineModel) -> tuple[Lever, ...]:
    """The levers that this machine has."""
    values, choices = machine.values, machine.choices
    rated = min(values[f"axes.{axis}.motor.rated_current"] for axis in AXES)
    amps = sorted({round(float(share) * rated, 1) for share in np.arange(0.4, 1.01, 0.1)})
    out = [
        _lever("current", "axes.*.driver.current", "current in the motors",
               "set on the drivers; never above the motor's label", amps, "A peak"),
        _lever("volts", "axes.*.driver.supply", "volts of the supply",
               "what drivers and motors allow is on their labels", (12, 24, 30, 36, 42, 48, 60),
               "V"),
    ]  # fmt: skip
    for axis in "xy":
        name = axis.upper()
        if machine.axes["xyz".index(axis)].drive == "screw":
            out.append(_lead(axis))
        elif machine.axes["xyz".index(axis)].drive == "belt":
            teeth = (12, 14, 16, 18, 20, 24, 28, 32, 40)
            out.append(_lever(f"teeth {axis}", f"axes.{axis}.belt.teeth", f"pulley of {name}",
                              "teeth; fewer move less in a turn", teeth, ""))  # fmt: skip
    if choices["rails.wheel"] not in BEARINGS:
        out.append(_lever("preload", "rails.preload", "preload of each wheel",
                          "how hard the wheels are pressed on",
                          (10, 20, 40, 60, 80, 100, 130, 160, 200), "N"))  # fmt: skip
    if "frame.beam.wall" in values:  # a section by outline or table has no sizes to turn
        out += [
            _lever("beam depth", "frame.beam.depth", "height of the beam",
                   "a taller bar twists and sags less", (40, 50, 60, 80, 100, 120, 150, 180), "mm"),
            _lever("beam width", "frame.beam.width", "beam from front to back",
                   "a deeper bar twists less", (20, 30, 40, 50, 60, 80, 100, 120), "mm"),
        ]  # fmt: skip
    moving = "y" if choices["frame.moves_along"] == "y" else "x"
    return (
        *out,
        _lever("stick-out", "frame.nose_below_beam", "nose below the beam",
               "how far it sticks out, Z right up",
               (20, 40, 60, 80, 100, 120, 140, 170, 200), "mm"),
        _lever("acceleration", f"controller.{moving}.acceleration",
               f"acceleration of {moving.upper()}", "as set in the controller",
               (100, 150, 200, 300, 400, 500, 700, 1000), "mm/s2"),
    )  # fmt: skip


def _lever(
    name: str, path: str, label: str, help_: str, values: tuple[float, ...] | list[float], unit: str
) -> Lever:
    stops = []
    for value in values:
        typed = f"{value:g} {unit}".strip()
        stops.append(
            Stop(value=float(value), typed=typed, changes=(Change(path=path, typed=typed),))
        )
    return Lever(id=name, path=path, label=label, help=help_, stops=tuple(stops))


def _lead(axis: str) -> Lever:
    """Another screw: its starts and size are no longer those that were written."""
    at = f"axes.{axis}.screw"
    stops = []
    for lead in (2.0, 3.0, 4.0, 5.0, 8.0, 10.0, 12.7, 16.0, 20.0):
        typed = f"{lead:g} mm"
        also = Change(path=f"{at}.starts", typed=UNKNOWN)
        stops.append(
            Stop(value=lead, typed=typed, changes=(Change(path=f"{at}.lead", typed=typed), also))
        )
    return Lever(
        id=f"lead {axis}",
        path=f"{at}.lead",
        label=f"lead of the {axis.upper()} screw",
        help="how far one turn goes; another screw",
        stops=tuple(stops),
    )

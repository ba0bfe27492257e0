"""The machine: its description, and the model that everyone else reads."""

from kerfwright.machine.build import load_machine, parse
from kerfwright.machine.model import AxisModel, Controller, CornerRule, MachineModel, Spindle

__all__ = [
    "AxisModel",
    "Controller",
    "CornerRule",
    "MachineModel",
    "Spindle",
    "load_machine",
    "parse",
]

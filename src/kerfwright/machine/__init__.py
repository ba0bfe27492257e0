"""The machine: its description, and the model that everyone else reads."""

from kerfwright.machine.build import load_machine, parse
from kerfwright.machine.defaults import amount_words
from kerfwright.machine.entries import words_at
from kerfwright.machine.geometry import Geometry
from kerfwright.machine.model import (
    AxisModel,
    Controller,
    CornerRule,
    Habits,
    MachineModel,
    Spindle,
)
from kerfwright.machine.results import (
    PUSH_N,
    AxisResults,
    Band,
    MachineResults,
    NoseResults,
    machine_results,
)
from kerfwright.machine.rulers import Rulers

__all__ = [
    "PUSH_N",
    "AxisModel",
    "AxisResults",
    "Band",
    "Controller",
    "Geometry",
    "Habits",
    "CornerRule",
    "MachineModel",
    "MachineResults",
    "NoseResults",
    "Rulers",
    "Spindle",
    "amount_words",
    "load_machine",
    "machine_results",
    "parse",
    "words_at",
]

"""The machine: its description, and the model that everyone else reads."""

from kerfwright.machine.answers import (
    EMPTY,
    AnswerError,
    Change,
    answered,
    asked,
    entry_of,
    is_asked,
    spread_out,
    typed_at,
)
from kerfwright.machine.build import load_machine, parse
from kerfwright.machine.defaults import amount_words
from kerfwright.machine.entries import Choice, dimension_at, words_at
from kerfwright.machine.geometry import Geometry
from kerfwright.machine.interview import QUESTIONS, UNKNOWN, Blank, Question
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
    "EMPTY",
    "PUSH_N",
    "QUESTIONS",
    "UNKNOWN",
    "AnswerError",
    "AxisModel",
    "AxisResults",
    "Band",
    "Blank",
    "Change",
    "Choice",
    "Controller",
    "Geometry",
    "Habits",
    "CornerRule",
    "MachineModel",
    "MachineResults",
    "NoseResults",
    "Question",
    "Rulers",
    "Spindle",
    "amount_words",
    "answered",
    "asked",
    "dimension_at",
    "entry_of",
    "is_asked",
    "load_machine",
    "machine_results",
    "parse",
    "spread_out",
    "typed_at",
    "words_at",
]

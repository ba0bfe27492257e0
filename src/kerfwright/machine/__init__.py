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
from kerfwright.machine.defaults import amount_words, exact
from kerfwright.machine.electrics import SupplyResults
from kerfwright.machine.entries import Choice, dimension_at, words_at
from kerfwright.machine.geometry import Geometry
from kerfwright.machine.give import NoseGive, nose_give
from kerfwright.machine.held_board import USUAL_MM, Held, HeldBoard, held_board
from kerfwright.machine.interview import QUESTIONS, UNKNOWN, Blank, Question
from kerfwright.machine.levers import Lever, Stop, levers
from kerfwright.machine.model import (
    AxisModel,
    Controller,
    CornerRule,
    Habits,
    MachineModel,
    Spindle,
)
from kerfwright.machine.modes import (
    FrameMode,
    NoseModes,
    frame_modes,
    nose_modes,
    set_off,
    swept_give,
)
from kerfwright.machine.results import (
    PUSH_N,
    AxisResults,
    Band,
    MachineResults,
    NoseResults,
    Swings,
    crowd_from,
    crowd_of,
    machine_results,
    results_of,
    thrust_n,
)
from kerfwright.machine.rulers import Rulers
from kerfwright.machine.worth import Buys, worth_trying

__all__ = [
    "EMPTY",
    "PUSH_N",
    "QUESTIONS",
    "UNKNOWN",
    "USUAL_MM",
    "AnswerError",
    "AxisModel",
    "AxisResults",
    "Band",
    "Blank",
    "Buys",
    "Change",
    "Choice",
    "Controller",
    "FrameMode",
    "Geometry",
    "Habits",
    "Held",
    "HeldBoard",
    "CornerRule",
    "Lever",
    "MachineModel",
    "MachineResults",
    "NoseGive",
    "NoseModes",
    "NoseResults",
    "Question",
    "Rulers",
    "Spindle",
    "Stop",
    "SupplyResults",
    "Swings",
    "amount_words",
    "answered",
    "asked",
    "crowd_from",
    "crowd_of",
    "dimension_at",
    "entry_of",
    "exact",
    "frame_modes",
    "held_board",
    "is_asked",
    "levers",
    "load_machine",
    "machine_results",
    "nose_give",
    "nose_modes",
    "parse",
    "results_of",
    "set_off",
    "spread_out",
    "swept_give",
    "thrust_n",
    "typed_at",
    "words_at",
    "worth_trying",
]

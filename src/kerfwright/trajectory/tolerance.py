"""How far corners may be rounded, move by move."""

import numpy as np
from numpy.typing import NDArray

from kerfwright.machine import MachineModel
from kerfwright.program import Program

FloatArray = NDArray[np.float64]


def path_tolerances_mm(program: Program, machine: MachineModel) -> FloatArray:
    """The tolerance in force at each move, (moves,): the machine's own, or that of G64 P. [mm]

    All 0 where the machine's corners do not go by a tolerance.
    """
    controller = machine.controller
    if controller.corner_rule != "path tolerance":
        return np.zeros(program.moves)
    own = controller.corner_tolerance_mm
    if not any(event.kind == "tolerance" for event in program.events):
        return np.broadcast_to(own, program.moves)  # one number, whatever the length
    starts, values = [0], [own]
    for event in program.events:
        if event.kind == "tolerance":
            starts.append(event.before_move)
            values.append(event.value if event.value >= 0.0 else own)
    holds = np.searchsorted(starts, np.arange(program.moves), side="right") - 1
    return np.array(values)[holds]


def largest_tolerance_mm(program: Program, machine: MachineModel) -> float:
    """The largest tolerance that holds at any move. [mm]"""
    return float(path_tolerances_mm(program, machine).max(initial=0.0))

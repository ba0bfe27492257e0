"""The time of one program as it is told, with what timed programs have to say to it."""

from collections.abc import Mapping
from dataclasses import dataclass

from kerfwright.basics import Estimate
from kerfwright.commission.fit import Fitted
from kerfwright.trajectory.sections import CutterTime, Section
from kerfwright.trajectory.time import Belief, ProgramTime

KEPT = 1.0 / 3.0  #: share of the motors' pull left in hand: common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class Prediction:
    """A program's time, by section and by cutter, and what it stands on."""

    program_file: str
    program_sha256: str
    lines: int
    moves: int
    machine: str
    machine_sha256: str
    timed: ProgramTime
    beliefs: tuple[Belief, ...]  #: what was open about the machine
    sections: tuple[Section, ...]
    cutters: tuple[CutterTime, ...]
    cutter_names: Mapping[int, str]  #: by slot, where the job gives them
    assumed: tuple[str, ...]
    #: the time if the controller asked of the motors all that they can follow with KEPT in hand [s]
    fastest_s: float
    fitted: Fitted | None = None
    before: Estimate | None = None  #: the time as it was before the timed programs were asked [s]

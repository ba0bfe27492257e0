"""From program and machine to motion: the path with its corners, speeds and times.

The proof runs a trajectory through the wood; a prediction of time needs nothing else.
"""

from kerfwright.trajectory.path import CHORD_MM, TooManyPieces
from kerfwright.trajectory.plan import StandsStill, fastest_s, plan
from kerfwright.trajectory.time import ProgramTime, program_time
from kerfwright.trajectory.trajectory import Trajectory

__all__ = [
    "CHORD_MM",
    "ProgramTime",
    "StandsStill",
    "TooManyPieces",
    "Trajectory",
    "fastest_s",
    "plan",
    "program_time",
]

"""What the person measured, turned into better knowledge of the machine.

``fit_times`` finds the corner rule and the accelerations that explain programs timed by the clock.
"""

from kerfwright.commission.fit import Fitted, FittedValue, Observed, RuleFit, fit_times
from kerfwright.commission.prediction import Prediction
from kerfwright.commission.timed import LEAST_PROGRAMS, TimedProgram, read_timed

__all__ = [
    "LEAST_PROGRAMS",
    "Fitted",
    "FittedValue",
    "Observed",
    "Prediction",
    "RuleFit",
    "TimedProgram",
    "fit_times",
    "read_timed",
]

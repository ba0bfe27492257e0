"""What the person measured, turned into better knowledge of the machine.

``fit_times`` finds the corner rule and the accelerations that explain programs timed by the clock;
``fit_band`` the speeds at which a motor swings, from runs that stalled or did not.
"""

from kerfwright.commission.fit import Fitted, FittedValue, Observed, RuleFit, fit_times
from kerfwright.commission.prediction import Prediction
from kerfwright.commission.stalls import StallRun, Stalls, read_stalls
from kerfwright.commission.swing_band import SwingBand, fit_band
from kerfwright.commission.timed import LEAST_PROGRAMS, TimedProgram, read_timed

__all__ = [
    "LEAST_PROGRAMS",
    "Fitted",
    "FittedValue",
    "Observed",
    "Prediction",
    "RuleFit",
    "StallRun",
    "Stalls",
    "SwingBand",
    "TimedProgram",
    "fit_band",
    "fit_times",
    "read_stalls",
    "read_timed",
]

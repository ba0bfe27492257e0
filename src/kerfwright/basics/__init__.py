"""What every room speaks of: units, places, errors, values with a spread, findings, progress."""

from kerfwright.basics.errors import InputError, InputErrors, KerfwrightError, Place
from kerfwright.basics.findings import Change, Finding, Remedy, Severity, Spot
from kerfwright.basics.known import Estimate, Kind, Known
from kerfwright.basics.progress import Progress, Stopped

__all__ = [
    "Change",
    "Estimate",
    "Finding",
    "InputError",
    "InputErrors",
    "KerfwrightError",
    "Kind",
    "Known",
    "Place",
    "Progress",
    "Remedy",
    "Severity",
    "Spot",
    "Stopped",
]

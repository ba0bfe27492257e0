"""The only conversion factors of the project. Inside, everything is mm, N, s, MPa, rad, kg.

``UNITS`` maps a unit as people write it to its dimension and its factor into the inside unit.
The inch, the pound and standard gravity are exact by definition (international yard and pound
agreement of 1959; ISO 80000-4:2006 for the standard acceleration of free fall).
"""

from math import pi
from typing import Final

INCH_MM: Final = 25.4
POUND_KG: Final = 0.45359237
GRAVITY_MM_PER_S2: Final = 9806.65
LBF_N: Final = POUND_KG * GRAVITY_MM_PER_S2 / 1000.0
MINUTE_S: Final = 60.0
HOUR_S: Final = 3600.0
DEGREE_RAD: Final = pi / 180.0

#: unit as written (lower case) -> (dimension, factor into the inside unit)
UNITS: Final[dict[str, tuple[str, float]]] = {
    "mm": ("length", 1.0),
    "um": ("length", 1e-3),
    "µm": ("length", 1e-3),
    "μm": ("length", 1e-3),
    "cm": ("length", 10.0),
    "m": ("length", 1000.0),
    "in": ("length", INCH_MM),
    "inch": ("length", INCH_MM),
    '"': ("length", INCH_MM),
    "ft": ("length", 12.0 * INCH_MM),
    "mm/s": ("speed", 1.0),
    "mm/min": ("speed", 1.0 / MINUTE_S),
    "m/min": ("speed", 1000.0 / MINUTE_S),
    "in/min": ("speed", INCH_MM / MINUTE_S),
    "in/s": ("speed", INCH_MM),
    "mm/s2": ("acceleration", 1.0),
    "mm/s²": ("acceleration", 1.0),
    "m/s2": ("acceleration", 1000.0),
    "m/s²": ("acceleration", 1000.0),
    "in/s2": ("acceleration", INCH_MM),
    "mm/s3": ("jerk", 1.0),
    "mm/s³": ("jerk", 1.0),
    "m/s3": ("jerk", 1000.0),
    "m/s³": ("jerk", 1000.0),
    "in/s3": ("jerk", INCH_MM),
    "s": ("time", 1.0),
    "ms": ("time", 1e-3),
    "min": ("time", MINUTE_S),
    "h": ("time", HOUR_S),
    "rad": ("angle", 1.0),
    "deg": ("angle", DEGREE_RAD),
    "degree": ("angle", DEGREE_RAD),
    "degrees": ("angle", DEGREE_RAD),
    "°": ("angle", DEGREE_RAD),
    "rev/min": ("turning", 1.0 / MINUTE_S),
    "rpm": ("turning", 1.0 / MINUTE_S),
    "rev/s": ("turning", 1.0),
    "n": ("force", 1.0),
    "kn": ("force", 1000.0),
    "lbf": ("force", LBF_N),
    "kgf": ("force", GRAVITY_MM_PER_S2 / 1000.0),
    "n mm": ("torque", 1.0),
    "n cm": ("torque", 10.0),
    "n m": ("torque", 1000.0),
    "nm": ("torque", 1000.0),
    "ncm": ("torque", 10.0),
    "kgf cm": ("torque", GRAVITY_MM_PER_S2 / 100.0),
    "ozf in": ("torque", LBF_N / 16.0 * INCH_MM),
    "lbf in": ("torque", LBF_N * INCH_MM),
    "n/mm": ("stiffness", 1.0),
    "n/um": ("stiffness", 1000.0),
    "n/µm": ("stiffness", 1000.0),
    "n/m": ("stiffness", 1e-3),
    "lbf/in": ("stiffness", LBF_N / INCH_MM),
    "mpa": ("stress", 1.0),
    "kpa": ("stress", 1e-3),
    "bar": ("stress", 0.1),
    "gpa": ("stress", 1000.0),
    "psi": ("stress", LBF_N / INCH_MM**2),
    "kg": ("mass", 1.0),
    "g": ("mass", 1e-3),
    "lb": ("mass", POUND_KG),
    "kg mm2": ("inertia", 1.0),
    "kg m2": ("inertia", 1e6),
    "kg cm2": ("inertia", 100.0),
    "g cm2": ("inertia", 0.1),
    "kg/m3": ("density", 1.0),
    "lb/ft3": ("density", POUND_KG / (12.0 * INCH_MM) ** 3 * 1e9),
    "w": ("power", 1.0),
    "kw": ("power", 1000.0),
    "hp": ("power", 550.0 * 12.0 * LBF_N * INCH_MM / 1000.0),
    "v": ("voltage", 1.0),
    "a": ("current", 1.0),
    "ma": ("current", 1e-3),
    "ohm": ("resistance", 1.0),
    "ω": ("resistance", 1.0),  # the ohm sign in lower case
    "mh": ("inductance", 1e-3),
    "h henry": ("inductance", 1.0),
    "degc": ("temperature", 1.0),
    "%": ("share", 0.01),
    "mm/m": ("slope", 1e-3),
    "um/m": ("slope", 1e-6),
    "µm/m": ("slope", 1e-6),
    "in/ft": ("slope", 1.0 / 12.0),
    "mrad": ("slope", 1e-3),
}

#: dimension -> the unit in which this project keeps it, as printed
INSIDE: Final[dict[str, str]] = {
    "length": "mm",
    "speed": "mm/s",
    "acceleration": "mm/s²",
    "jerk": "mm/s³",
    "time": "s",
    "angle": "rad",
    "turning": "rev/s",
    "force": "N",
    "torque": "N mm",
    "stiffness": "N/mm",
    "stress": "MPa",
    "mass": "kg",
    "inertia": "kg mm²",
    "density": "kg/m³",
    "power": "W",
    "voltage": "V",
    "current": "A",
    "resistance": "ohm",
    "inductance": "H",
    "temperature": "°C",
    "share": "",
    "slope": "mm/mm",
}

"""Cutters as they stand in the rack: shape, flutes, reach, and what they are made of."""

from kerfwright.cutter.chip import ChipRange, chip_range
from kerfwright.cutter.cutter import ANGLED, CORNERED, Cutter, CutterError, Shape
from kerfwright.cutter.defaults import with_stick_out
from kerfwright.cutter.rack import load_cutters
from kerfwright.cutter.read_cutter import MOST_SLOTS, in_limits, read_cutter, read_slot

__all__ = [
    "ANGLED",
    "CORNERED",
    "MOST_SLOTS",
    "ChipRange",
    "Cutter",
    "CutterError",
    "Shape",
    "chip_range",
    "in_limits",
    "load_cutters",
    "read_cutter",
    "read_slot",
    "with_stick_out",
]

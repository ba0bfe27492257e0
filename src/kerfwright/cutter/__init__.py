"""Cutters as they stand in the rack: shape, flutes, reach, and what they are made of."""

from kerfwright.cutter.cutter import Cutter, Shape

__all__ = ["Cutter", "Shape"]

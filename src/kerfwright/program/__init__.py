"""The standard language: text to columns that know their line and byte."""

from kerfwright.program.program import Arcs, Event, EventKind, MoveKind, PathMode, Program

__all__ = ["Arcs", "Event", "EventKind", "MoveKind", "PathMode", "Program"]

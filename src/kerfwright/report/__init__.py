"""Verdict files, words and pictures: reads results, computes nothing."""

from kerfwright.report.board_picture import draw_board
from kerfwright.report.loads_picture import draw_loads
from kerfwright.report.series_file import write_series
from kerfwright.report.solid_picture import draw_solid
from kerfwright.report.strip_picture import draw_strip
from kerfwright.report.verdict_file import VerdictFileError, verdict_as_plain, write_verdict
from kerfwright.report.words import describe

__all__ = [
    "VerdictFileError",
    "describe",
    "draw_board",
    "draw_loads",
    "draw_solid",
    "draw_strip",
    "verdict_as_plain",
    "write_series",
    "write_verdict",
]

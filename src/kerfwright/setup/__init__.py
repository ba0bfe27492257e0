"""The set-up of one job: the board on the table, zero, cutters in their slots."""

from kerfwright.setup.from_words import setup_from_words
from kerfwright.setup.job_file import NO_CUTTER, load_job
from kerfwright.setup.setup import Setup

__all__ = ["NO_CUTTER", "Setup", "load_job", "setup_from_words"]

"""A verdict as small as can be, for the shop log."""

import pytest

from kerfwright.basics import Estimate, Finding
from kerfwright.prove import Provenance, Totals, Verdict


def make_finding(severity="caution", **changes):
    values = {
        "id": "pull-z-1",
        "code": "pull left z",
        "severity": severity,
        "words": "the Z motor has little pull left",
        "value": Estimate(value=0.08, low=0.0, high=0.2),
        "limit": 0.1,
        "unit": "share",
        "likelihood": 0.6,
    }
    return Finding(**{**values, **changes})


def make_verdict(**changes):
    values = {
        "outcome": "care",
        "sentence": "Cut it with care.",
        "findings": (make_finding(),),
        "totals": Totals(
            lines=10,
            moves=9,
            time_s=6720.4,
            time_spread_s=(5700.0, 7512.0),
            cutting_time_s=5040.0,
            rapid_mm=18_300.0,
            cut_mm=96_500.0,
            removed_mm3=642_000.0,
            lowest_mm=(-3.0, -3.0, -18.2),
            highest_mm=(313.0, 313.0, 12.0),
        ),
        "margins": (),
        "ascut": None,
        "machine_assumed": (),
        "assumed": (),
        "not_checked": (),
        "provenance": Provenance(
            kerfwright="0.1.0",
            code_sha256="c" * 64,
            program_file="bat-box.nc",
            program_sha256="a" * 64,
            machine="Alder Lane router",
            machine_sha256="b" * 64,
            tables_sha256="d" * 64,
            cell_mm=0.25,
            cell_why="as asked for",
            threads=2,
        ),
    }
    return Verdict(**{**values, **changes})


@pytest.fixture
def verdict():
    return make_verdict()


@pytest.fixture
def finding():
    return make_finding

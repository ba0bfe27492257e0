"""Programs that count from the last place (G91): each rounded word adds its error to the next."""

import re
from dataclasses import replace
from math import erfc

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Change, Estimate, Finding, Remedy, Severity
from kerfwright.program import Program
from kerfwright.prove.facts import Facts, at_segment
from kerfwright.prove.likely import CARE
from kerfwright.prove.margins import exact
from kerfwright.prove.remedies import tried

FloatArray = NDArray[np.float64]

CODE = "rounding adds up"
#: Share of the tolerance from which it is told.
TOLD_SHARE = 0.25
_LEAST_MOVES = 20
_FEWEST = 2  #: decimals from which words are taken as rounded: with fewer they were meant so
_MODE = re.compile(rb"(?<![0-9A-Za-z.])[Gg]\s*9([01])(?![0-9.])")
#: What stands before the 91 of a G91: the letter, a blank, or the end of a remark.
_BEFORE_91 = np.frombuffer(b"Gg \t\r\n\v\f)", np.uint8)
_REMARK = re.compile(rb"\([^)\r\n]*\)|;[^\r\n]*")
_DECIMALS = re.compile(rb"[XYZxyz]\s*[-+]?\d*\.(\d+)")
_LOOKED_BYTES = 400_000
_AT_ONCE = 2**20  #: bytes searched in one go


def drift(facts: Facts, program: Program) -> list[Finding]:
    """The finding for the axis that drifts the most, if it matters."""
    spans = incremental_lines(program.text)
    if not spans:
        return []
    line = program.line.astype(np.int64)
    counted = np.zeros(len(line), np.bool_)
    for first, end in spans:
        counted |= (line >= first) & (line < end)
    if int(counted.sum()) < _LEAST_MOVES:
        return []
    decimals = _decimals(program)
    if decimals < _FEWEST:
        return []
    unit = 10.0**-decimals * (program.unit_mm or 1.0)
    way = np.diff(program.point_mm, axis=0)[counted]
    spread = np.array([rounding_u_mm(way[:, axis], unit) for axis in range(3)])
    axis = int(np.argmax(spread))
    u, tolerance = float(spread[axis]), facts.setup.tolerance_mm
    chance = erfc(tolerance / (u * np.sqrt(2.0))) if u > 0.0 else 0.0
    if 2.0 * u < TOLD_SHARE * tolerance:
        return []
    return [_finding(facts, counted, "XYZ"[axis], u, unit, chance)]


def incremental_lines(text: bytes) -> list[tuple[int, int]]:
    """Lines between G91 and G90: first, and one past the last, from 1."""
    if not _may_hold_g91(text):
        return []
    bare = _REMARK.sub(lambda found: b" " * len(found[0]), text)
    out: list[tuple[int, int]] = []
    begin = 0
    for found in _MODE.finditer(bare):
        line = bare.count(b"\n", 0, found.start()) + 1
        if found[1] == b"1" and not begin:
            begin = line
        elif found[1] == b"0" and begin:
            out.append((begin, line))
            begin = 0
    if begin:
        out.append((begin, bare.count(b"\n") + 2))
    return out


def _may_hold_g91(text: bytes) -> bool:
    """Whether a G91 may stand in it: most files hold none, and need not be gone through."""
    for begin in range(0, len(text), _AT_ONCE):
        letter = np.frombuffer(text[begin : begin + _AT_ONCE + 2], np.uint8)
        at = np.flatnonzero((letter[1:-1] == ord("9")) & (letter[2:] == ord("1")))
        if np.isin(letter[at], _BEFORE_91).any():
            return True
    return False


def rounding_u_mm(way_mm: FloatArray, unit_mm: float) -> float:
    """Standard uncertainty of a sum of rounded steps.

    Parameters
    ----------
    way_mm : (n,)
        The steps as written. Equal steps were rounded alike, so their errors add up in full;
        those of different steps only as the root of the sum of squares.
    unit_mm : float
        The last decimal. A step whose last decimal is 0 is taken as exact.

    Returns
    -------
    float
        unit / sqrt(12) times the root of the sum of squares of how often each occurs. [mm]
    """
    steps = np.rint(way_mm / unit_mm).astype(np.int64)
    _, count = np.unique(steps[steps % 10 != 0], return_counts=True)
    return float(unit_mm / np.sqrt(12.0) * np.sqrt((count.astype(np.float64) ** 2).sum()))


def _decimals(program: Program) -> int:
    found = _DECIMALS.findall(program.text[:_LOOKED_BYTES])
    return max((len(digits) for digits in found), default=0)


def _finding(
    facts: Facts,
    counted: NDArray[np.bool_],
    axis: str,
    u_mm: float,
    unit_mm: float,
    chance: float,
) -> Finding:
    many = int(counted.sum())
    last = int(np.flatnonzero(counted)[-1])
    segment = int(np.searchsorted(facts.trajectory.move, last, side="right")) - 1
    tolerance = facts.setup.tolerance_mm
    worst = 0.5 * many * unit_mm
    told = Estimate(
        value=min(2.0 * u_mm, worst), low=0.0, high=worst, coverage=1.0,
        mostly_from="rounding of the program's words",
    )  # fmt: skip
    words = (
        f"The program counts {many} moves each from the end of the last (G91) in steps of"
        f" {unit_mm:g} mm, so what is rounded off adds up: {axis} may be {told.value:.2f} mm off by"
        " this line (nineteen times in twenty not more), and it does not come back"
    )
    ten = max(int(np.ceil(np.log10(2.0 * u_mm / (0.05 * tolerance)))), 1)
    finer = f"{unit_mm / 10**ten:.9f}".rstrip("0")
    change = Change(path="decimals of X, Y and Z", old=f"{unit_mm:g} mm", new=f"{finer} mm")
    severity: Severity = "caution" if chance >= CARE else "note"
    measure = (told.value, tolerance, "mm")
    finding = at_segment(
        facts, max(segment, 0), CODE, severity, words, measure, (), likelihood=chance
    )
    finding = replace(finding, value=told)
    one, fine = 0.5 * unit_mm, told.value / 10.0**ten
    remedies = (
        Remedy(
            words="Have the program written with places from zero (G90) in place of steps",
            changes=(Change(path="G91", old="steps", new="G90, places"),),
            tried=tried(finding, f"Then only one rounding is left, {one:g} mm", exact(one), None),
            more_s=0.0,
        ),
        Remedy(
            words=f"Or have it written with {ten} more decimals",
            changes=(change,),
            tried=tried(finding, f"Then what adds up is {fine:.2g} mm", exact(fine), None),
            more_s=0.0,
        ),
    )
    return replace(finding, remedies=remedies)

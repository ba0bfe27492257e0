"""Which changes of a remedy can be made in a copy of the job, and in words why not the others.

A change names what it changes by the path of a value in its file, or in words of the program.
"""

import re
from typing import Literal

from kerfwright.basics import Change, Remedy

#: What a change is made in: a value of the job file ready to be written, a screw, a clamp that is
#: moved, a value of the machine's file, a feed or a speed of the program.
Kind = Literal["job", "screw", "clamp", "machine", "feed", "spindle"]

_JOB = re.compile(
    r"limits\.below_board|zero\.after_change|zero\.z|board\.at|slots\.\d+(?:\.stick_out)?"
)
_SCREW = re.compile(r'\["([^"]+)", "([^"]+)"\]')
_PLACE = re.compile(r"(-?\d+), (-?\d+) mm")
_CLAMP = re.compile(r"clamps\.(\d+)\.(?:at|on_table)")
_WAY = re.compile(r"(\d+(?:\.\d+)?) mm to the (left|right|front|back)")
_MACHINE = re.compile(
    r"(?:controller\.)?([xyz])\.(rapid|acceleration|speed_step)|spindle\.boot_below_nut"
)
_FEED = re.compile(r"feed on lines? (\d+)(?: to (\d+))?")
_SHARE = re.compile(r"× (\d*\.?\d+)")
_RATE = re.compile(r"(\d*\.?\d+) mm/min")
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_SPEED = re.compile(r"spindle|S on line (\d+)")
#: Words that begin the path of a change of the program, of the drawing.
_IN_PROGRAM = re.compile(r"(?:lines?|word on|depth on|feed|S on|Z on|decimals|spindle|G\d+)\b")
_IN_DRAWING = re.compile(r".* in the drawing")


def kind_of(change: Change) -> Kind | None:
    """What a change is made in; None where the page cannot make it."""
    path, new = change.path, change.new
    if _JOB.fullmatch(path):
        return None if new.endswith("in turn") else "job"  # several cutters are no cutter
    if path == "hold.screws":
        moved = _PLACE.fullmatch(change.old) and _PLACE.fullmatch(new)
        return "screw" if moved or _SCREW.fullmatch(new) else None
    if _CLAMP.fullmatch(path):
        return "clamp" if _WAY.fullmatch(new) else None
    if _MACHINE.fullmatch(path):
        return "machine"
    if _FEED.fullmatch(path):
        return None if feed_share(change) is None else "feed"
    numbers = _NUMBER.fullmatch(change.old) and _NUMBER.fullmatch(new)
    return "spindle" if numbers and _SPEED.fullmatch(path) else None


def feed_lines(change: Change) -> tuple[int, int]:
    """First and last line of a feed."""
    lines = _FEED.fullmatch(change.path)
    assert lines is not None
    return int(lines[1]), int(lines[2] or lines[1])


def feed_share(change: Change) -> float | None:
    """The share of the feed that is left; None where it is not told."""
    share = _SHARE.fullmatch(change.new)
    if share is not None:
        return float(share[1])
    old, new = _RATE.fullmatch(change.old), _RATE.fullmatch(change.new)
    return float(new[1]) / float(old[1]) if old and new and float(old[1]) > 0.0 else None


def speed_line(change: Change) -> int:
    """The line whose spindle speed is changed; 0: wherever it is stated."""
    line = _SPEED.fullmatch(change.path)
    assert line is not None
    return int(line[1] or 0)


def screw_at(change: Change) -> tuple[str, str]:
    """Where a screw goes, as typed: right of the left front corner, and back of it."""
    place = _SCREW.fullmatch(change.new)
    if place is not None:
        return place[1], place[2]
    place = _PLACE.fullmatch(change.new)
    assert place is not None
    return f"{place[1]} mm", f"{place[2]} mm"


def screw_from(change: Change) -> tuple[int, int] | None:
    """Where it is now, to the millimetre; None where it is one more screw."""
    place = _PLACE.fullmatch(change.old)
    return None if place is None else (int(place[1]), int(place[2]))


def clamp_moved(change: Change) -> tuple[int, float, float]:
    """Which clamp, counted from 0, and how far it goes along X and along Y. [mm]"""
    clamp, way = _CLAMP.fullmatch(change.path), _WAY.fullmatch(change.new)
    assert clamp is not None
    assert way is not None
    mm = float(way[1]) * (1.0 if way[2] in ("right", "back") else -1.0)
    along_x = way[2] in ("left", "right")
    return int(clamp[1]) - 1, mm if along_x else 0.0, 0.0 if along_x else mm


def machine_path(change: Change) -> str:
    """The path in machine.toml of a change of the machine."""
    found = _MACHINE.fullmatch(change.path)
    assert found is not None
    return f"controller.{found[1]}.{found[2]}" if found[1] else change.path


def why_not(remedy: Remedy) -> str:
    """Why the page does not try a remedy; empty where it does, or the remedy says it itself."""
    if remedy.changes and all(kind_of(one) is not None for one in remedy.changes):
        return ""
    if remedy.not_tried:
        return ""
    if not remedy.changes:
        return "Do it, and prove it again."
    paths = [one.path for one in remedy.changes]
    if any(map(_IN_DRAWING.fullmatch, paths)):
        return "Change the drawing and bring the new program."
    if any(map(_IN_PROGRAM.match, paths)):
        return "Change it in the software that wrote the program, and bring that again."
    return "Do it, type what is so now under “How it is set up”, and prove it again."

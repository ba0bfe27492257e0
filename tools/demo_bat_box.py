"""The demo's sheet of bat-box sides, with faults planted in the program and in its set-up.

Each fault is one that people make. ``planted.toml`` says which and where, and the demo shows that a
proof finds each of them at its line, and nothing else.
"""

from dataclasses import dataclass, field
from itertools import pairwise

from program_writer import Writer

BOARD = (300.0, 200.0, 12.0)
CUTTER_RADIUS, GROOVER = 3.0, 3.0
LEVELS = (-3.0, -6.0, -9.0, -12.2)
FEED, PLUNGE_FEED, SPEED = 2600, 300, 16000
GROOVE_DEPTH, GROOVE_FEED, GROOVE_SPEED = -1.0, 1500, 18000
CLEAR, HIGH = 5.0, 45.0
BRIDGE, BRIDGE_LONG = -9.0, 12.0
#: A side: flat at the foot, its roof edge sloping. Corners clockwise from the left front one.
SIDES = (
    ((24.0, 30.0), (24.0, 170.0), (134.0, 145.0), (134.0, 30.0)),
    ((166.0, 30.0), (166.0, 170.0), (276.0, 145.0), (276.0, 30.0)),
)


@dataclass
class Planted:
    """What was planted: code, severity, line and words of each."""

    faults: list[tuple[str, str, int, str]] = field(default_factory=list)

    def here(self, out, code, severity, words):
        """The line just written has the fault."""
        self.faults.append((code, severity, len(out.lines), words))


def bat_box_program() -> bytes:
    """The program, as bytes."""
    return _made()[0].text


def planted_text() -> bytes:
    """The list of what was planted, as a file."""
    lines = ['kerfwright = "planted 1"', "# Written by tools/make_demo.py."]
    for code, severity, line, words in sorted(_made()[1].faults, key=lambda one: one[2]):
        lines += ["", "[[fault]]", f'code = "{code}"', f'severity = "{severity}"',
                  f"line = {line}", f'words = "{words}"']  # fmt: skip
    return "".join(f"{line}\n" for line in lines).encode("ascii")


def _made():
    out, planted = Writer(), Planted()
    out.say("(SIDES OF A BAT BOX, ALDER LANE WORKSHOP - INVENTED, WITH FAULTS PLANTED IN IT)")
    out.say("(ZERO: LEFT FRONT TOP CORNER OF THE SHEET, 300 X 200 X 12 MM BIRCH PLY)")
    out.say("G21 G90 G17 G94 G40 G49 G54")
    out.take_cutter(1, "FLAT 6 MM", SPEED, HIGH)
    _side(out, planted, SIDES[0], deep_slip=False, feed_slip=True)
    _side(out, planted, SIDES[1], deep_slip=True, feed_slip=False)
    out.say(f"G0 Z{HIGH:g}")
    # The spindle was stopped for the change, and nobody starts it again.
    out.take_cutter(2, "FLAT 3 MM", GROOVE_SPEED, HIGH, starts=False)
    change = len(out.lines) - 1
    planted.faults.append(
        ("Z not set again", "stop", change, "a second cutter, and Z is not set again for it")
    )
    _grooves(out, planted)
    out.say(f"G0 Z{HIGH:g}")
    out.take_cutter(4, "DRILL 5 MM", 8000, HIGH)
    out.move("G0", x=79.0, y=120.0)
    out.move("G0", z=2.0)
    out.move("G1", z=-6.0, feed=PLUNGE_FEED)
    planted.here(out, "missing cutter", "stop", "a cutter that the set-up has in no slot")
    out.move("G0", z=HIGH)
    out.say("M5")
    out.say("M2")
    return out, planted


def _offset(corners):
    """The way of the cutter's middle round a side, clockwise, half a cutter outside. Closed."""
    out = []
    many = len(corners)
    for k in range(many):
        lines = []
        for a, b in ((corners[k - 1], corners[k]), (corners[k], corners[(k + 1) % many])):
            dx, dy = b[0] - a[0], b[1] - a[1]
            long = (dx * dx + dy * dy) ** 0.5
            nx, ny = -dy / long, dx / long  # to the left of the way: outside, going clockwise
            lines.append((nx, ny, nx * a[0] + ny * a[1] + CUTTER_RADIUS))
        (a, b, c), (d, e, f) = lines
        size = a * e - b * d
        out.append(((c * e - b * f) / size, (a * f - c * d) / size))
    return [*out, out[0]]


def _side(out, planted, corners, deep_slip, feed_slip):
    path = _offset(corners)
    out.move("G0", z=CLEAR)
    out.move("G0", x=path[0][0], y=path[0][1])
    out.move("G0", z=1.0)
    for number, level in enumerate(LEVELS):
        last = level == LEVELS[-1]
        out.move("G1", z=level, feed=PLUNGE_FEED)
        for leg, (a, b) in enumerate(pairwise(path)):
            feed = FEED
            if feed_slip and number == 1 and leg == 1:
                feed = FEED // 10  # a nought too few
            if last and deep_slip and leg == 0:
                out.move("G1", z=level - 3.0, feed=PLUNGE_FEED)
                planted.here(out, "table", "stop", "a slip in depth: 3 mm too deep")
            if last:
                _over_a_bridge(out, a, b, _depth(level, deep_slip and leg == 0))
            else:
                out.move("G1", x=b[0], y=b[1], feed=feed)
            if deep_slip and number == 0 and leg == 1:
                clamp = len(out.lines) + 1  # the next leg runs along the right side
                planted.faults.append(
                    ("clamp in the way", "stop", clamp, "a clamp where the path goes along")
                )
            if feed != FEED:
                planted.here(out, "chip too thin", "caution", "a slip in the feed: a tenth of it")
            if last and deep_slip and leg == 0:
                out.move("G1", z=level, feed=PLUNGE_FEED)
    out.move("G0", z=CLEAR)


def _depth(level, slipped):
    """Depth of a leg, with the slip or without."""
    return level - 3.0 if slipped else level


def _over_a_bridge(out, start, end, level):
    """One leg of the last pass, up over a bridge at its middle."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    long = (dx * dx + dy * dy) ** 0.5
    for at, z in ((-0.5, level), (-0.5, BRIDGE), (0.5, BRIDGE), (0.5, level)):
        share = 0.5 + at * BRIDGE_LONG / long
        out.move("G1", x=start[0] + share * dx, y=start[1] + share * dy, z=z, feed=FEED)
    out.move("G1", x=end[0], y=end[1], feed=FEED)


def _grooves(out, planted):
    """Grooves for the bats' feet across both sides."""
    first = True
    for left, right in ((40.0, 118.0), (182.0, 260.0)):
        for row in range(6):
            y = 50.0 + 14.0 * row
            ends = (left, right) if row % 2 == 0 else (right, left)
            fault = right == 260.0 and row == 3
            if not fault:
                out.move("G0", z=2.0)
            out.move("G0", x=ends[0], y=y)
            if fault:
                planted.here(out, "rapid through wood", "stop", "the lift before a rapid forgotten")
            out.move("G1", z=GROOVE_DEPTH, feed=PLUNGE_FEED)
            if first:
                planted.here(out, "spindle off", "stop", "the spindle is not started again")
                first = False
            out.move("G1", x=ends[1], feed=GROOVE_FEED)
    out.move("G0", z=CLEAR)

"""Write the cutting programs of the demo: the relief tray, the gear pair, the bat-box sides.

The tray is our own: a dish with a wavy floor and three leaves, from the formulas below; the others
stand in ``demo_gears`` and ``demo_bat_box``. The same bytes come out on every run. ``--check``
compares with the files that are there and writes nothing.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from demo_bat_box import bat_box_program, planted_text
from demo_gears import gear_program
from program_writer import Writer, number

JOBS = Path(__file__).resolve().parents[1] / "src/kerfwright/workshop/demo/jobs"

# The dish, in the frame of the board: left front top corner, Z up. [mm]
MIDDLE = (85.0, 60.0)
HALF_SIZE = (68.0, 44.0)
CORNER_RADIUS = 22.0
RIM_WIDTH = 18.0
FLOOR = -5.0
LEAVES = (  # middle x, y, direction [degrees], half length, half width
    (60.0, 66.0, 25.0, 27.0, 15.0),
    (98.0, 48.0, -40.0, 24.0, 13.0),
    (117.0, 74.0, 60.0, 18.0, 10.0),
)
LEAF_HEIGHT = 1.6

BOARD = (170.0, 120.0)
CELL = (0.25, 0.2)  # every place of a row falls on a point of the grid

FLAT_RADIUS, BALL_RADIUS = 3.0, 1.5
LEVELS = (-1.5, -3.0, -4.5, -6.0)
LEFT_FOR_FINISHING = 0.4
ROUGH_STEP, ROUGH_CHORD, ROUGH_FEED, ROUGH_SPEED = 2.4, 1.0, 2400, 16000
FINE_STEP, FINE_CHORD, FINE_FEED, FINE_SPEED = 0.4, 0.5, 1800, 18000
PLUNGE_FEED = 300
CLEAR, HIGH = 5.0, 15.0
RAMP = 15.0  # length of the slope by which the flat cutter enters


def tray_height(x, y):
    """Height of the tray's surface. [mm]

    Parameters
    ----------
    x, y : array
        Place on the board. [mm]

    Returns
    -------
    array
        0 outside the dish, below 0 inside; slope below 1 everywhere.
    """
    u, v = x - MIDDLE[0], y - MIDDLE[1]
    qx = np.abs(u) - HALF_SIZE[0] + CORNER_RADIUS
    qy = np.abs(v) - HALF_SIZE[1] + CORNER_RADIUS
    outside = np.hypot(np.maximum(qx, 0.0), np.maximum(qy, 0.0))
    inward = CORNER_RADIUS - outside - np.minimum(np.maximum(qx, qy), 0.0)
    t = np.clip(inward / RIM_WIDTH, 0.0, 1.0)
    waves = 0.4 * np.sin(2.0 * np.pi * (u + 5.0 * np.sin(2.0 * np.pi * v / 62.0)) / 33.0)
    floor = FLOOR + waves + sum(_leaf(x, y, *leaf) for leaf in LEAVES)
    return floor * t * t * (3.0 - 2.0 * t)


def _leaf(x, y, middle_x, middle_y, degrees, half_length, half_width):
    """One leaf, egg-shaped, with a midrib and side veins cut in; above the floor. [mm]"""
    angle = np.deg2rad(degrees)
    along = (x - middle_x) * np.cos(angle) + (y - middle_y) * np.sin(angle)
    across = (y - middle_y) * np.cos(angle) - (x - middle_x) * np.sin(angle)
    width = half_width * (1.0 - 0.3 * np.clip(along / half_length, -1.0, 1.0))
    inside = np.maximum(0.0, 1.0 - (along / half_length) ** 2 - (across / width) ** 2)
    midrib = 0.22 * np.exp(-((across / 1.3) ** 2))
    veins = 0.05 * np.cos(2.0 * np.pi * (along - 0.7 * np.abs(across)) / 7.0)
    return LEAF_HEIGHT * inside**2 * (0.95 - midrib + veins)


@dataclass(frozen=True)
class TipSurface:
    """Lowest heights of a cutter's tip that take nothing below a surface, on a fine grid."""

    height_mm: np.ndarray  #: (rows, columns), at CELL times the indices

    def at(self, x, y):
        """Height at any places inside the grid, straight between its points. [mm]"""
        column, row = np.asarray(x) / CELL[0], np.asarray(y) / CELL[1]
        i, j = np.floor(column + 1e-9).astype(int), np.floor(row + 1e-9).astype(int)
        u, v = column - i, row - j
        h = self.height_mm
        return (h[j, i] * (1 - u) + h[j, i + 1] * u) * (1 - v) + (
            h[j + 1, i] * (1 - u) + h[j + 1, i + 1] * u
        ) * v


def tip_surface(radius, ball, left) -> TipSurface:
    """Where the tip of a cutter may go over the tray.

    Parameters
    ----------
    radius : float
        Of the cutter. [mm]
    ball : bool
        Ball end; flat otherwise.
    left : float
        Wood left on everywhere. [mm]
    """
    x = np.arange(round(BOARD[0] / CELL[0]) + 1) * CELL[0]
    y = np.arange(round(BOARD[1] / CELL[1]) + 1) * CELL[1]
    surface = tray_height(*np.meshgrid(x, y))
    columns, rows = (int(radius / cell) for cell in CELL)
    padded = np.pad(surface, ((rows, rows), (columns, columns)))  # the board's top is at 0
    best = surface.copy()
    for j in range(-rows, rows + 1):
        for i in range(-columns, columns + 1):
            away = np.hypot(i * CELL[0], j * CELL[1])
            if away <= radius:
                rise = np.sqrt(radius**2 - away**2) - radius if ball else 0.0
                under = padded[rows + j :, columns + i :][: len(y), : len(x)]
                np.maximum(best, under + rise, out=best)
    return TipSurface(best + left)


def tray_program() -> bytes:
    """The program, as bytes."""
    out = Writer()
    out.say("(RELIEF TRAY, ALDER LANE WORKSHOP - INVENTED)")
    out.say("(ZERO: LEFT FRONT TOP CORNER OF THE BOARD, 170 X 120 X 18 MM HARD MAPLE)")
    out.say("G21 G90 G17 G94 G40 G49 G54")
    out.take_cutter(1, "FLAT 6 MM", ROUGH_SPEED, HIGH)
    surface = tip_surface(FLAT_RADIUS, ball=False, left=LEFT_FOR_FINISHING)
    for level, above in zip(LEVELS, (0.0, *LEVELS), strict=False):
        _rough(out, surface, level, above)
    out.say(f"G0 Z{number(HIGH)}")
    out.take_cutter(2, "BALL 3 MM", FINE_SPEED, HIGH)
    _finish(out)
    out.say(f"G0 Z{number(HIGH)}")
    out.say("M5")
    out.say("G0 X0 Y0")
    out.say("M2")
    return out.text


def _rows(step, chord):
    """Y of each row, and the X places along it, over the whole dish."""
    across = HALF_SIZE[1] - step / 2.0
    y = np.arange(MIDDLE[1] - across, MIDDLE[1] + across + 1e-9, step)
    x = np.arange(MIDDLE[0] - HALF_SIZE[0], MIDDLE[0] + HALF_SIZE[0] + 1e-9, chord)
    return y, x


def _rough(out, surface, level, above):
    """One terrace: rows along X wherever the cutter can reach below ``above``."""
    rows, x = _rows(ROUGH_STEP, ROUGH_CHORD)
    last = None
    for index, y in enumerate(rows):
        tip = surface.at(x, y)
        runs = list(_runs(tip < above - 0.05, at_least=4))
        for run in runs[:: -1 if index % 2 else 1]:
            path = [
                (float(px), float(y), max(level, float(pz)))
                for px, pz in zip(x[run], tip[run], strict=True)
            ]
            path = path[:: -1 if index % 2 else 1]
            if last is not None and np.hypot(last[0] - path[0][0], last[1] - y) < 12.0:
                _follow(out, _link(surface, last, path[0], level), ROUGH_FEED)
            else:
                _ramp_in(out, path, above)
            _follow(out, path, ROUGH_FEED)
            last = path[-1]
    if last is not None:
        out.move("G0", z=CLEAR)


def _runs(mask, at_least) -> Iterator[slice]:
    """Slices over which a row is true, short ones left out."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], mask.astype(np.int8), [0]))))
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        if end - start >= at_least:
            yield slice(int(start), int(end))


def _link(surface, start, end, level):
    """From one row to the next, over whatever of the surface stands between."""
    steps = max(2, int(np.ceil(np.hypot(end[0] - start[0], end[1] - start[1]) / 0.5)))
    t = np.arange(1, steps) / steps
    x = start[0] + t * (end[0] - start[0])
    y = start[1] + t * (end[1] - start[1])
    z = np.maximum(level, surface.at(x, y))
    return list(zip(x.tolist(), y.tolist(), z.tolist(), strict=True))


def _ramp_in(out, path, above):
    """Down a slope along the row, and back to its start, so that the cutter never drills."""
    out.move("G0", z=CLEAR)
    out.move("G0", x=path[0][0], y=path[0][1])
    out.move("G0", z=1.0)
    out.move("G1", z=max(above, path[0][2]) + 0.1, feed=PLUNGE_FEED)
    count = max(2, min(len(path) // 2, round(RAMP / ROUGH_CHORD)))
    share = np.linspace(0.0, 1.0, count)
    down = [
        (x, y, max(z, (1.0 - s) * (above + 0.1) + s * z))
        for (x, y, z), s in zip(path[:count], share, strict=True)
    ]
    _follow(out, down[1:], ROUGH_FEED // 2)
    _follow(out, path[count - 2 :: -1] if count > 1 else [], ROUGH_FEED)


def _follow(out, path, feed):
    """Feed along points; those on a straight level stretch are left out."""
    for index, (x, y, z) in enumerate(path):
        inner = 0 < index < len(path) - 1
        if inner and path[index - 1][1:] == path[index + 1][1:] == (y, z):
            continue
        out.move("G1", x=x, y=y, z=z, feed=feed)


def _finish(out):
    """Rows along X over the whole dish, to and fro, following the surface."""
    rows, x = _rows(FINE_STEP, FINE_CHORD)
    surface = tip_surface(BALL_RADIUS, ball=True, left=0.0)
    last = None
    for index, y in enumerate(rows):
        tip = surface.at(x, y)
        reach = np.flatnonzero(tip < -0.005)
        if reach.size < 2:
            continue
        run = slice(int(reach[0]), int(reach[-1]) + 1)
        path = [
            (px, float(y), pz) for px, pz in zip(x[run].tolist(), tip[run].tolist(), strict=True)
        ]
        path = path[:: -1 if index % 2 else 1]
        if last is None:
            out.move("G0", x=path[0][0], y=path[0][1])
            out.move("G0", z=1.0)
            out.move("G1", z=path[0][2], feed=PLUNGE_FEED)
        else:
            for px, py, pz in _link(surface, last, path[0], -np.inf):
                out.move("G1", x=px, y=py, z=pz, feed=FINE_FEED)
        for px, py, pz in path:
            out.move("G1", x=px, y=py, z=pz, feed=FINE_FEED)
        last = path[-1]


def everything() -> dict[Path, bytes]:
    """Each file of the demo that is made, and what it must hold."""
    return {
        JOBS / "relief-tray" / "program.nc": tray_program(),
        JOBS / "gear-pair" / "program.nc": gear_program(),
        JOBS / "bat-box-sides" / "program.nc": bat_box_program(),
        JOBS / "bat-box-sides" / "planted.toml": planted_text(),
    }


def main(arguments) -> int:
    """Write the files, or compare them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--check", action="store_true", help="compare, write nothing")
    check = parser.parse_args(arguments).check
    differs = 0
    for path, made in everything().items():
        name = f"{path.parent.name}/{path.name}"
        if check:
            same = path.is_file() and path.read_bytes() == made
            differs += not same
            print(f"{name}: {'as made' if same else 'differs: run tools/make_demo.py'}")
            continue
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(made)
        print(f"{name}: {len(made)} bytes, {made.count(10)} lines")
    return 1 if differs else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

"""Write a big relief program for tests and benchmarks: LINES lines, a 3 mm ball over 300 x 300 mm.

The surface is a sum of waves of our own, so that no two rows are alike. Run as
``python tools/make_relief.py LINES OUT``; tests and benchmarks import ``relief_program``.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

SIZE = 300.0  # side of the relief; the board is 310 mm, zero at its left front top corner
MARGIN = 5.0
BOARD = "310 x 310 x 30 mm hard maple"
SLOT = "1: ball 3 mm, 2 flutes"
LEAST_LINES, MOST_LINES = 100, 20_000_000
FEED, PLUNGE_FEED, SPEED = 1800, 300, 18000

_HEAD = (
    "(RELIEF FOR MEASURING, ALDER LANE WORKSHOP - INVENTED)",
    "G21 G90 G17 G94 G40 G49 G54",
    "T1 M6",
    f"S{SPEED} M3",
    "G0 Z5",
)
_TAIL = ("G0 Z5", "M5", "M2")


def relief_height(x, y):
    """Height of the tip over the board's top. [mm]

    Parameters
    ----------
    x, y : array
        Place, 0 to 300. [mm]

    Returns
    -------
    array
        From -4.1 to -0.9 mm, slope below 0.5.
    """
    return (
        -2.5
        + 0.8 * np.sin(2 * np.pi * x / 61.0) * np.cos(2 * np.pi * y / 47.0)
        + 0.5 * np.sin(2 * np.pi * (x + 1.7 * y) / 83.0)
        + 0.3 * np.sin(2 * np.pi * (0.6 * x - y) / 23.0)
    )


def relief_program(lines: int) -> bytes:
    """The program, in exactly so many lines.

    Parameters
    ----------
    lines : int
        From 100 to 20 million. 200 000 is a fine relief (rows 0.6 mm apart, chords 0.8 mm),
        a million a very fine one.

    Returns
    -------
    bytes
        Rows along X, to and fro, evenly over the square; the same bytes on every run.

    Raises
    ------
    ValueError
        If the number of lines is out of its range.
    """
    if not LEAST_LINES <= lines <= MOST_LINES:
        raise ValueError(f"{lines} lines is not from {LEAST_LINES} to {MOST_LINES}")
    points = lines - len(_HEAD) - len(_TAIL) - 1  # one line more: the rapid to the first point
    rows = max(2, round(np.sqrt(points / 0.75)))
    columns = -(-points // rows)
    x = np.linspace(0.0, SIZE, columns)
    chunks = ["\n".join(_HEAD), f"\nG0 X{MARGIN:g} Y{MARGIN:g}\n"]
    written = 0
    for row, y in enumerate(np.linspace(0.0, SIZE, rows)):
        along = x[:: -1 if row % 2 else 1][: points - written]
        if along.size == 0:
            break
        z = relief_height(along, y)
        words = [
            f"X{px:.3f}Z{pz:.3f}"
            for px, pz in zip((along + MARGIN).tolist(), z.tolist(), strict=True)
        ]
        words[0] = f"G1{words[0]}Y{y + MARGIN:.3f}"
        if row == 0:
            words[0] += f"F{PLUNGE_FEED}"
            words[1] += f"F{FEED}"
        chunks.append("\n".join(words) + "\n")
        written += along.size
    chunks.append("\n".join(_TAIL) + "\n")
    return "".join(chunks).encode("ascii")


def main(arguments) -> int:
    """Write the program to a file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("lines", type=int)
    parser.add_argument("out", type=Path)
    options = parser.parse_args(arguments)
    made = relief_program(options.lines)
    options.out.write_bytes(made)
    print(f"{options.out}: {len(made)} bytes; --stock '{BOARD}' --cutter '{SLOT}'")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))

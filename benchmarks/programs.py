"""The programs that the benchmarks read and plan, made anew on every run, always the same bytes."""

import numpy as np

from make_relief import FEED, MARGIN, PLUNGE_FEED, SIZE, SPEED, relief_height

_HEAD = ("(FOR MEASURING, ALDER LANE WORKSHOP - INVENTED)", "G21 G90 G17 G94", "T1 M6",
         f"S{SPEED} M3", "G0 Z5.000", "G0 X5.000 Y5.000", f"G1 Z-1.000 F{PLUNGE_FEED}",
         f"G1 X5.500 F{FEED}")  # fmt: skip
_TAIL = ("G0 Z5.000", "M5", "M2", "")


def plain_relief(lines: int) -> bytes:
    """So many lines, nearly all of the form ``G1 X120.500 Y33.250 Z-1.250``: 28 bytes each.

    The surface is that of ``tools/make_relief.py``, whose own lines are shorter: they leave out
    what is in force.
    """
    points = lines - len(_HEAD) - len(_TAIL) + 1
    rows = max(2, round(np.sqrt(points / 0.75)))
    columns = -(-points // rows)
    along = np.linspace(0.0, SIZE, columns)
    chunks = ["\n".join(_HEAD)]
    written = 0
    for row, y in enumerate(np.linspace(0.0, SIZE, rows)):
        x = along[:: -1 if row % 2 else 1][: points - written]
        z = relief_height(x, y)
        chunks += [
            f"G1 X{px:.3f} Y{y + MARGIN:.3f} Z{pz:.3f}"
            for px, pz in zip((x + MARGIN).tolist(), z.tolist(), strict=True)
        ]
        written += x.size
    return "\n".join([*chunks, *_TAIL]).encode("ascii")


def mixed_program(lines: int, seed: int = 3) -> bytes:
    """So many lines as different software writes them, CR LF at their ends.

    Of a hundred lines about: 45 words without a code, 15 with line numbers, 15 small letters
    without blanks, 15 arcs with I and J, 6 remarks of either kind, 2 that change between places and
    offsets, 2 feeds; and every 5000th line changes the units. Reads with the rules ``WORKSHOP``.
    """
    rng = np.random.default_rng(seed)
    pick = rng.uniform(0.0, 100.0, lines).tolist()
    x, y = (np.round(rng.uniform(0.0, 300.0, lines), 3) for _ in "xy")
    z = np.round(rng.uniform(-6.0, -0.5, lines), 3)
    radius = np.round(rng.uniform(1.0, 20.0, lines), 3)
    text = [*_HEAD[:-1], "G1 X5.5 F1800"]
    for number, (p, px, py, pz, r) in enumerate(
        zip(pick, x.tolist(), y.tolist(), z.tolist(), radius.tolist(), strict=True)
    ):
        if number % 5000 == 4999:
            text += ["G20", "G21 F1800"]
        elif p < 45.0:
            text.append(f"X{px} Y{py} Z{pz}")
        elif p < 60.0:
            text.append(f"N{number % 100_000} G1 X{px} Y{py}")
        elif p < 75.0:
            text.append(f"g1x{px}y{py}z{pz}")
        elif p < 90.0:  # a half circle, and G1 in force again
            text += [f"G1 X{px} Y{py}", f"G2 X{px + 2 * r:.3f} Y{py} I{r} J0", "G1 Z-1.5"]
        elif p < 93.0:
            text.append("(the next cut)")
        elif p < 96.0:
            text.append(f"X{px} ; go on")
        elif p < 98.0:
            text += ["G91 X0.25", "G90"]
        else:
            text.append(f"X{px} F{900 + number % 900}")
    return "\r\n".join([*text[: lines - len(_TAIL) + 1], "G1 Z1", *_TAIL[1:]]).encode("ascii")


def random_polyline(vertices: int, seed: int = 5) -> bytes:
    """So many straight cuts of 0.5 to 5 mm in any direction: a true corner at every vertex."""
    rng = np.random.default_rng(seed)
    step = rng.normal(size=(vertices, 3))
    step *= (rng.uniform(0.5, 5.0, vertices) / np.linalg.norm(step, axis=1))[:, None]
    # Folded back into 300 x 300 x 20 mm as if by mirrors, so that it stays in the travel.
    size = np.array([300.0, 300.0, 20.0])
    place = np.abs((np.cumsum(step, axis=0) + size) % (2 * size) - size) - [0.0, 0.0, 20.0]
    cuts = [f"X{x:.3f} Y{y:.3f} Z{z:.3f}" for x, y, z in place.tolist()]
    return "\n".join([*_HEAD, *cuts, *_TAIL]).encode("ascii")

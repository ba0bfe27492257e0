"""Wood taken step by step, with engagement and force, beside a plain kernel that does the same.

The plain kernel is what one would write first: one step after another over one array in rows, cell
by cell, the wood put straight into bins of angle, and a force from the bins. It counts cells by
their centres. Ratios are of CPU time in one run, so that a busy machine slows both.
"""

import time
from math import atan2, cos, pi, sin, sqrt

import numpy as np
from numba import njit

from kerfwright.cutter import Cutter
from kerfwright.jobs.worker import settle
from kerfwright.kernels import cutting
from kerfwright.kernels.engagement import BINS, ROWS
from kerfwright.kernels.profile import RADIUS
from kerfwright.kernels.tiles import BLOCK, TILE
from kerfwright.loads import axis_numbers
from kerfwright.prove.aside import ahead
from kerfwright.prove.removal import TAKEN_AHEAD, Remover, form_of
from kerfwright.prove.sweep import WINDOW
from kerfwright.stock import Board, Wood
from kerfwright.stock.field import Field
from make_relief import SIZE, relief_height
from measure import Bench
from planning import demo_machine
from programs import plain_relief

WOOD = Wood(name="maple", kind="solid", density_kg_per_m3=700.0, family="hardwood")
BOARD = Board(length_mm=1220.0, width_mm=610.0, thickness_mm=20.0, wood=WOOD)
BALL = Cutter(
    name="ball", shape="ball", diameter_mm=3.0, flutes=2, flute_length_mm=20.0,
    shank_diameter_mm=3.0, stick_out_mm=25.0,
)  # fmt: skip
AT_MM = (460.0, 155.0)  #: where the relief stands on the board
TERRACE_MM, LEFT_MM = 2.0, 0.5  #: the roughing before: its steps, and what it leaves at least
#: Steps; as ``make_steps`` has them, a group takes steps of 0.3 mm until it is 1 mm long.
GROUP = 4
CHIP, RUB, FEED_MM_PER_S = 43.0, 3.7, 30.0


@njit(nogil=True)
def plain_kernel(points, height, cell, radius, flutes_share, volume, bins, force):
    """One step after another, row by row, cell by cell. Returns how many cells were looked at.

    ``bins`` (2, BINS): wood and its greatest depth by angle. ``force`` (steps, 2) written.
    """
    rows, columns = height.shape
    looked = 0
    for i in range(points.shape[0] - 1):
        x0, y0, z0 = points[i, 0], points[i, 1], points[i, 2]
        dx, dy, dz = points[i + 1, 0] - x0, points[i + 1, 1] - y0, points[i + 1, 2] - z0
        length = sqrt(dx * dx + dy * dy)
        ux, uy, m = dx / length, dy / length, dz / length
        k = m / sqrt(1.0 + m * m)
        bins[:] = 0.0
        taken = 0.0
        low_y, high_y = min(y0, y0 + dy), max(y0, y0 + dy)
        for r in range(
            max(0, int((low_y - radius) / cell)), min(rows - 1, int((high_y + radius) / cell)) + 1
        ):
            y = (r + 0.5) * cell
            beside = max(max(low_y - y, y - high_y), 0.0)
            if beside >= radius:
                continue
            wide = sqrt(radius * radius - beside * beside)
            first = max(0, int((min(x0, x0 + dx) - wide) / cell))
            last = min(columns - 1, int((max(x0, x0 + dx) + wide) / cell))
            looked += last - first + 1
            for c in range(first, last + 1):
                x = (c + 0.5) * cell
                a = (x - x0) * ux + (y - y0) * uy
                b = (y - y0) * ux - (x - x0) * uy
                w2 = radius * radius - b * b
                if w2 <= 0.0:
                    continue
                s = min(max(a - k * sqrt(w2), 0.0), length)
                q = w2 - (a - s) * (a - s)
                if q <= 0.0:
                    continue
                depth = height[r, c] - (z0 + radius + m * s - sqrt(q))
                if depth > 0.0:
                    height[r, c] -= depth
                    taken += depth
                    angle = atan2(y - y0 - 0.5 * dy, x - x0 - 0.5 * dx)
                    at = min(int((angle + pi) * (BINS / (2.0 * pi))), BINS - 1)
                    bins[0, at] += depth
                    bins[1, at] = max(bins[1, at], depth)
        volume[i] = taken * cell * cell
        fx = fy = 0.0
        if taken > 0.0:
            for at in range(BINS):
                if bins[0, at] > 0.0:
                    angle = (at + 0.5) * (2.0 * pi / BINS) - pi
                    push = CHIP * flutes_share * bins[0, at] * cell * cell + RUB * bins[1, at]
                    fx -= sin(angle) * push
                    fy += cos(angle) * push
        force[i, 0], force[i, 1] = fx, fy
    return looked


def relief_points(steps):
    """The first of a million steps of 0.3 mm, in rows 0.3 mm apart: the tip on the board. (k, 3)"""
    along = np.arange(1000) * SIZE / 1000
    x, y = np.meshgrid(along, along)
    x[1::2] = x[1::2, ::-1]
    points = np.stack([x, y, relief_height(x, y)], axis=-1).reshape(-1, 3)
    return np.round(points[: steps + 1] + [*AT_MM, 0.0], 3)


def roughed(cell):
    """Heights of the board after roughing in terraces; cells in rows."""
    rows, columns = round(BOARD.width_mm / cell), round(BOARD.length_mm / cell)
    height = np.zeros((rows, columns), np.float32)
    inside = [slice(int(at / cell), int((at + SIZE) / cell) + 1) for at in (AT_MM[1], AT_MM[0])]
    y, x = ((np.arange(s.start, s.stop) + 0.5) * cell for s in inside)
    tip = relief_height(x[None, :] - AT_MM[0], y[:, None] - AT_MM[1])
    height[inside[0], inside[1]] = np.minimum(
        np.ceil((tip + LEFT_MM) / TERRACE_MM) * TERRACE_MM, 0.0
    )
    return height


def field_of(height, cell):
    """The same as a field; tiles that are whole stay untouched."""
    field = Field.of_board(BOARD, cell)
    rows, columns = field.tiles_y * TILE, field.tiles_x * TILE
    whole = np.zeros((rows, columns), np.float32)
    whole[: height.shape[0], : height.shape[1]] = height
    side = TILE // BLOCK
    by_tile = whole.reshape(field.tiles_y, side, BLOCK, field.tiles_x, side, BLOCK)
    by_tile = by_tile.transpose(0, 3, 1, 4, 2, 5).reshape(len(field.place), TILE * TILE)
    low = np.flatnonzero((by_tile < 0.0).any(axis=1))
    field = field.with_room(low)
    field.height_mm[:] = by_tile[low]
    field.top_mm[:] = by_tile[low].reshape(len(low), side * side, -1).max(axis=2)
    return field


class Sweeper:
    """The removal and the loads of a path, window by window, as ``prove.sweep`` does it.

    On one thread no window is taken while the loads of another are computed.
    """

    def __init__(self, field, threads):
        self.remover, self.threads = Remover(field, threads), threads
        self.axes, self.curves = axis_numbers(demo_machine())
        self.form = form_of(BALL)
        self.taking_s = self.loading_s = 0.0

    def run(self, points):
        """Cut it. Returns the volume of all steps [mm³] and the power of each group [W]."""
        cell_area, total, powers = self.remover.field.cell_mm**2, 0.0, []
        law = np.full((2, BINS), CHIP), np.full((2, BINS), RUB)

        def windows():
            at_s = 0.0
            for begin in range(0, len(points) - 1, WINDOW):
                clock = time.thread_time()
                some = points[begin : begin + WINDOW + 1]
                here = np.hstack([some[:-1], some[1:]])
                ends_s = (
                    at_s + np.linalg.norm(np.diff(some, axis=0), axis=1).cumsum() / FEED_MM_PER_S
                )
                time_s = np.stack([np.append(at_s, ends_s[:-1]), ends_s], axis=1)
                at_s = ends_s[-1]
                first = np.append(np.arange(0, len(here), GROUP), len(here))
                follows = np.arange(begin, begin + len(here)) > 0
                taken = self.remover.take(here, follows, begin, BALL, first)
                self.taking_s += time.thread_time() - clock
                yield time_s, here, first, taken

        parts = windows() if self.threads == 1 else ahead(windows(), TAKEN_AHEAD)
        for time_s, here, first, taken in parts:
            clock = time.thread_time()
            groups = len(first) - 1
            gathered = self.remover.room.of("gathered", (groups, ROWS, BINS))
            column = self.remover.room.of("column", (groups, cutting.COLUMNS))
            still = np.zeros((len(here), 3))

            def some(a, e, here=here, time_s=time_s, taken=taken, first=first, gathered=gathered,
                     column=column, still=still):  # fmt: skip
                cutting.group_loads(
                    a, e, first, here, time_s, still, still, 300.0,
                    taken.group_run, taken.in_lanes, taken.entry, taken.volume, taken.engagement,
                    cell_area, taken.lanes, self.form, 2, *law,
                    0.3, 0.7, 0.0, self.axes, self.curves, gathered, column, 0.0, 0.0, 0.0, 0.0,
                )  # fmt: skip

            self.remover.in_parts(groups, some)
            self.loading_s += time.thread_time() - clock
            total += float(taken.volume.sum(dtype=float)) * cell_area
            powers.append(column[:, cutting.POWER].copy())
        self.remover.close()
        return total, np.concatenate(powers)


def measure_removal(lines: int) -> Bench:
    """A finishing relief of so many steps, on two threads, beside the plain kernel on one."""
    bench = Bench(repeats=1, text=np.frombuffer(plain_relief(3000), np.uint8), memory=False)
    points = relief_points(lines)
    radius, count = form_of(BALL)[RADIUS], len(points) - 1
    settle()
    warm = relief_points(900)
    Sweeper(field_of(roughed(1.0), 1.0), 2).run(warm)
    for cell in (0.25, 0.1):
        stock = roughed(cell)
        volume, bins = np.empty(count), np.empty((2, BINS))
        force, height = np.empty((count, 2)), stock.copy()
        plain_kernel(warm[:9], stock[:99, :99].copy(), cell, radius, 0.01, volume, bins, force)
        looked = bench.take(
            f"plain, cells of {cell} mm",
            lambda h=height, c=cell, v=volume, b=bins, f=force: plain_kernel(
                points, h, c, radius, 0.01, v, b, f
            ),
            count, "steps",
        )  # fmt: skip
        plain = bench.figures[-1]
        sweeper = Sweeper(field_of(stock, cell), 2)
        total, _ = bench.take(
            f"ours on two threads, cells of {cell} mm", lambda s=sweeper: s.run(points), count,
            "steps",
        )  # fmt: skip
        ours = bench.figures[-1]
        one = Sweeper(field_of(stock, cell), 1)
        bench.take(f"ours on one thread, cells of {cell} mm", lambda s=one: s.run(points), count,
                   "steps")  # fmt: skip
        bench.tell(f"cells the plain kernel looks at, {cell} mm", looked / 1e6, "million")
        bench.tell(f"volume against the plain kernel, {cell} mm", total / volume.sum() - 1.0, "")
        bench.tell(f"ours over plain, CPU, {cell} mm", ours.cpu_s / plain.cpu_s, "")
        bench.tell(f"ours over plain, wall, {cell} mm", ours.wall_s / plain.wall_s, "")
        bench.tell(f"taking, on one thread, CPU, {cell} mm", one.taking_s, "s")
        bench.tell(f"loads, on one thread, CPU, {cell} mm", one.loading_s, "s")
    return bench

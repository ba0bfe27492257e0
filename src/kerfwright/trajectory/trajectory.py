"""How the machine runs a program: exact pieces in path and time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trajectory:
    """Straight segments with parabolic corners, and the speed and time at every piece's end.

    Positions in the program's frame. Node 0 is the start, nodes 2 i - 1 and 2 i the begin and end
    of the corner at vertex i, the last node the end.
    """

    point_mm: FloatArray  #: (n + 1, 3) vertices
    move: NDArray[np.int32]  #: (n,) the program's move of each segment
    unit: FloatArray  #: (n, 3)
    length_mm: FloatArray  #: (n,)
    blend_mm: FloatArray  #: (n + 1,) where the corner at each vertex begins and ends
    feed_mm_per_s: FloatArray  #: (n,) programmed speed; the rapid speed along rapids
    top_mm_per_s: FloatArray  #: (3,)
    limit_mm_per_s2: FloatArray  #: (3,)
    wait_s: FloatArray  #: (n + 1,) time stood still at each vertex
    speed2: FloatArray  #: (2 n,) [mm²/s²]
    node_s: FloatArray  #: (2 n,)
    after_s: float  #: waits after the last move

    @property
    def time_s(self) -> float:
        """From the first move to the end of the program."""
        return float(self.node_s[-1]) + self.after_s

    @property
    def move_start_s(self) -> FloatArray:
        """When each segment begins, at the middle of its corner. (n,) [s]"""
        begin = np.empty(len(self.move))
        begin[0] = self.node_s[0]
        begin[1:] = 0.5 * (self.node_s[1:-1:2] + self.wait_s[1:-1] + self.node_s[2::2])
        return begin

    @property
    def cap2(self) -> FloatArray:
        """Speed² that each segment may not pass under feed and axis limits. (n,) [mm²/s²]"""
        with np.errstate(divide="ignore"):
            by_axis = (self.top_mm_per_s / np.abs(self.unit)).min(axis=1)
        return np.asarray(np.minimum(self.feed_mm_per_s, by_axis) ** 2)

    def at_time(self, time_s: float) -> tuple[FloatArray, FloatArray]:
        """Position [mm] and velocity [mm/s], each (3,), at a time since the start."""
        t = float(np.clip(time_s, 0.0, self.node_s[-1]))
        after = int(np.searchsorted(self.node_s, t, side="right"))
        node = min(max(after - 1, 0), len(self.node_s) - 2)
        return self._on_line(node // 2, t) if node % 2 == 0 else self._on_corner(node // 2 + 1, t)

    def at_length(self, way_mm: float) -> FloatArray:
        """Position (3,) at a length along the segments, corners not rounded. [mm]"""
        ends = np.cumsum(self.length_mm)
        i = min(int(np.searchsorted(ends, way_mm)), len(ends) - 1)
        rest = float(np.clip(way_mm - (ends[i] - self.length_mm[i]), 0.0, self.length_mm[i]))
        return np.asarray(self.point_mm[i] + rest * self.unit[i])

    def _on_line(self, i: int, t: float) -> tuple[FloatArray, FloatArray]:
        with np.errstate(divide="ignore"):
            at = float((self.limit_mm_per_s2 / np.abs(self.unit[i])).min())
        straight = self.length_mm[i] - self.blend_mm[i] - self.blend_mm[i + 1]
        v0, v1 = np.sqrt(self.speed2[2 * i : 2 * i + 2])
        since, total = t - self.node_s[2 * i], self.node_s[2 * i + 1] - self.node_s[2 * i]
        peak2 = min(self.cap2[i], 0.5 * (v0 * v0 + v1 * v1) + at * straight)
        peak = float(np.sqrt(peak2))
        up, down = (peak - v0) / at, (peak - v1) / at
        if since <= up:
            way, v = v0 * since + 0.5 * at * since**2, v0 + at * since
        elif since >= total - down:
            rest = total - since
            way, v = straight - v1 * rest - 0.5 * at * rest**2, v1 + at * rest
        else:
            way, v = v0 * up + 0.5 * at * up**2 + peak * (since - up), peak
        where = self.point_mm[i] + (self.blend_mm[i] + way) * self.unit[i]
        return where, v * self.unit[i]

    def _on_corner(self, i: int, t: float) -> tuple[FloatArray, FloatArray]:
        p, q, d = self.unit[i - 1], self.unit[i], self.blend_mm[i]
        v0, v1 = np.sqrt(self.speed2[2 * i - 1 : 2 * i + 1])
        moving = self.node_s[2 * i] - self.node_s[2 * i - 1] - self.wait_s[i]
        since = min(t - self.node_s[2 * i - 1], moving)
        if d <= 0.0 or moving <= 0.0:
            return self.point_mm[i].copy(), np.zeros(3)
        u = (v1 - v0) / moving
        s = v0 * since + 0.5 * u * since**2
        where = self.point_mm[i] - d * p + s * p + s * s / (4 * d) * (q - p)
        return where, (v0 + u * since) * (p + s / (2 * d) * (q - p))

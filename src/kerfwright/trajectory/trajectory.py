"""How the machine runs a program: exact pieces in path and time."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Trajectory:
    """Straight segments with parabolic corners, and the speed and time at every piece's end.

    Positions in the program's frame. ``node[i]`` is the node where the corner at vertex i begins,
    ``node[i + 1] - 1`` the one where it ends and the straight part of segment i begins; between
    them a corner has one piece or several alike in length. Node 0 is the start, the last the end.
    """

    point_mm: FloatArray  #: (n + 1, 3) vertices
    move: NDArray[np.int32]  #: (n,) the program's move of each segment
    length_mm: FloatArray  #: (n,)
    blend_mm: FloatArray  #: (n + 1,) where the corner at each vertex begins and ends
    feed_mm_per_s: FloatArray  #: (n,) programmed speed; the rapid speed along rapids
    top_mm_per_s: FloatArray  #: (3,)
    limit_mm_per_s2: FloatArray  #: (3,)
    wait_s: FloatArray  #: (n + 1,) time stood still at each vertex
    node: NDArray[np.int32]  #: (n + 1,) first node of each vertex
    speed2: FloatArray  #: (node[n] + 1,) [mm²/s²]
    node_s: FloatArray  #: (node[n] + 1,)
    after_s: float  #: waits after the last move

    @property
    def time_s(self) -> float:
        """From the first move to the end of the program."""
        return float(self.node_s[-1]) + self.after_s

    @property
    def move_start_s(self) -> FloatArray:
        """When each segment begins, at the middle of its corner. (n,) [s]"""
        return self.starts_s(slice(0, len(self.move)))

    def starts_s(self, segments: slice) -> FloatArray:
        """The same of some segments in a row."""
        first, last = self.node[segments], self.node[segments.start + 1 : segments.stop + 1] - 1
        middle = first + (last - first) // 2
        halves = 0.5 * (self.node_s[first] + self.wait_s[segments] + self.node_s[last])
        begin = np.where(last - first > 1, self.node_s[middle], halves)
        if segments.start == 0:
            begin[:1] = self.node_s[0]
        return np.asarray(begin)

    def units(self, segments: slice | NDArray[np.integer]) -> FloatArray:
        """Directions of some segments. (k, 3)"""
        return np.stack([self.along(segments, axis) for axis in range(3)], axis=1)

    def along(self, segments: slice | NDArray[np.integer], axis: int) -> FloatArray:
        """The share of an axis in the directions of some segments. (k,)"""
        at = self.point_mm[:, axis]
        way = at[1:][segments] - at[:-1][segments]
        return np.multiply(way, 1.0 / self.length_mm[segments], out=way)

    def cap2_of(self, segments: slice | NDArray[np.integer]) -> FloatArray:
        """Speed² that some segments may not pass under feed and axis limits. (k,) [mm²/s²]"""
        top = self.feed_mm_per_s[segments].copy()
        with np.errstate(divide="ignore"):
            for axis, most in enumerate(self.top_mm_per_s):
                share = np.abs(self.along(segments, axis))
                np.minimum(top, np.divide(most, share, out=share), out=top)
        return np.square(top, out=top)

    def at_time(self, time_s: float) -> tuple[FloatArray, FloatArray]:
        """Position [mm] and velocity [mm/s], each (3,), at a time since the start."""
        t = float(np.clip(time_s, 0.0, self.node_s[-1]))
        after = int(np.searchsorted(self.node_s, t, side="right"))
        node = min(max(after - 1, 0), len(self.node_s) - 2)
        vertex = int(np.searchsorted(self.node, node, side="right")) - 1
        if node == self.node[vertex + 1] - 1:
            return self._on_line(vertex, t)
        return self._on_corner(vertex, node, t)

    def at_length(self, way_mm: float) -> FloatArray:
        """Position (3,) at a length along the segments, corners not rounded. [mm]"""
        ends = np.cumsum(self.length_mm)
        i = min(int(np.searchsorted(ends, way_mm)), len(ends) - 1)
        rest = float(np.clip(way_mm - (ends[i] - self.length_mm[i]), 0.0, self.length_mm[i]))
        return np.asarray(self.point_mm[i] + rest * self._unit(i))

    def _unit(self, i: int) -> FloatArray:
        return np.asarray(self.units(slice(i, i + 1))[0])

    def _on_line(self, i: int, t: float) -> tuple[FloatArray, FloatArray]:
        unit = self._unit(i)
        with np.errstate(divide="ignore"):
            at = float((self.limit_mm_per_s2 / np.abs(unit)).min())
        straight = self.length_mm[i] - self.blend_mm[i] - self.blend_mm[i + 1]
        begin, end = int(self.node[i + 1]) - 1, int(self.node[i + 1])
        v0, v1 = np.sqrt(self.speed2[begin : end + 1])
        peak2 = min(self.cap2_of(slice(i, i + 1))[0], 0.5 * (v0 * v0 + v1 * v1) + at * straight)
        peak = float(np.sqrt(peak2))
        up, down = (peak - v0) / at, (peak - v1) / at
        total = up + down + (straight - (2 * peak2 - v0 * v0 - v1 * v1) / (2 * at)) / peak
        taken = self.node_s[end] - self.node_s[begin]
        # Where jerk is limited the line takes longer: its time is stretched evenly.
        pace = float(total / taken)
        since = (t - self.node_s[begin]) * pace
        if since <= up:
            way, v = v0 * since + 0.5 * at * since**2, v0 + at * since
        elif since >= total - down:
            rest = total - since
            way, v = straight - v1 * rest - 0.5 * at * rest**2, v1 + at * rest
        else:
            way, v = v0 * up + 0.5 * at * up**2 + peak * (since - up), peak
        where = self.point_mm[i] + (self.blend_mm[i] + way) * unit
        return where, v * pace * unit

    def _on_corner(self, i: int, node: int, t: float) -> tuple[FloatArray, FloatArray]:
        p, q, d = self._unit(i - 1), self._unit(i), self.blend_mm[i]
        first, parts = int(self.node[i]), int(self.node[i + 1] - 1 - self.node[i])
        v0, v1 = np.sqrt(self.speed2[node : node + 2])
        moving = self.node_s[node + 1] - self.node_s[node]
        if d <= 0.0 or moving <= 0.0:
            return self.point_mm[i].copy(), np.zeros(3)
        part, since = 2.0 * d / parts, t - self.node_s[node]
        # With jerk limited it may take a little longer than at a steady change of speed.
        v0, v1 = (v * 2.0 * part / ((v0 + v1) * moving) for v in (v0, v1))
        u = (v1 - v0) / moving
        s = part * (node - first) + v0 * since + 0.5 * u * since**2
        where = self.point_mm[i] - d * p + s * p + s * s / (4 * d) * (q - p)
        return where, (v0 + u * since) * (p + s / (2 * d) * (q - p))

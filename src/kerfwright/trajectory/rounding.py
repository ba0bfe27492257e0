"""A planned pace with its changes of speed rounded off, for controllers that limit jerk."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.progress import Progress
from kerfwright.kernels.ramps import hold_ends, lay_spans
from kerfwright.trajectory.pace import Pace

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_RANGE = 50_000  #: spans in one kernel call
_LEAST_MM = 1e-12
_ALIKE = 1e-9  #: speeds² that differ by less than this share are one speed
_WORDS = "rounding off the changes of speed"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pieces:
    """Straight lines and parts of corners that have a length, in the order of travel. (k,)"""

    node: IntArray  #: where each begins
    way_mm: FloatArray
    begin2: FloatArray  #: speed² at the begin, the most, at the end [mm²/s²]
    most2: FloatArray
    end2: FloatArray
    rise_mm: FloatArray  #: along which it speeds up, keeps its speed, slows down
    steady_mm: FloatArray
    fall_mm: FloatArray
    jerk: FloatArray  #: [mm/s³]


def round_off(
    pace: Pace,
    speed2: FloatArray,
    node_s: FloatArray,
    wait_s: FloatArray,
    jerk_mm_per_s3: FloatArray,
    progress: Progress,
) -> tuple[FloatArray, FloatArray]:
    """Speed² and time at the nodes with a limit on each axis' jerk along the path.

    Parameters
    ----------
    speed2, node_s : (node[n] + 1,) as planned without that limit; the speeds are nowhere exceeded.
    wait_s : (n + 1,) time stood still at each vertex. [s]
    jerk_mm_per_s3 : (3,)

    Notes
    -----
    Each rise and fall is taken at its mean acceleration. What rounding a corner itself asks of the
    axes is left as it is: a parabola begins and ends with a jump of acceleration.
    """
    pieces = _pieces(pace, speed2, jerk_mm_per_s3)
    begin = _span_begins(pieces)
    many = len(begin)
    # Where a span begins among the nodes; the path's last node ends the last one.
    first = np.append(pieces.node[begin], pace.node[-1])
    way = np.add.reduceat(pieces.way_mm, begin)
    top2 = np.maximum.reduceat(pieces.most2, begin)
    slow2 = np.append(pieces.begin2[begin], pieces.end2[-1])
    rise = _mean(top2 - slow2[:-1], np.add.reduceat(pieces.rise_mm, begin))
    fall = _mean(top2 - slow2[1:], np.add.reduceat(pieces.fall_mm, begin))
    jerk = np.minimum.reduceat(pieces.jerk, begin)
    speed, top = np.sqrt(slow2), np.sqrt(top2)
    for a in reversed(range(0, many, _RANGE)):
        progress(_WORDS, 0.3 - 0.3 * a / many)
        hold_ends(a, min(many, a + _RANGE), way, rise, fall, jerk, True, speed)
    for a in range(0, many, _RANGE):
        progress(_WORDS, 0.3 + 0.3 * a / many)
        hold_ends(a, min(many, a + _RANGE), way, rise, fall, jerk, False, speed)
    length = np.zeros(len(speed2))
    length[pieces.node + 1] = pieces.way_mm
    along = np.cumsum(length)
    span_s, since_s, node_speed = np.empty(many), np.zeros(len(speed2)), np.empty(len(speed2))
    for a in range(0, many, _RANGE):
        progress(_WORDS, 0.6 + 0.4 * a / many)
        b = min(many, a + _RANGE)
        lay_spans(
            a, b, first, way, top, rise, fall, jerk, speed, along, span_s, since_s, node_speed
        )  # fmt: skip
    # What jerk costs is added to the planned time, in which the acceleration is not the mean one.
    stood = np.zeros(len(speed2))
    stood[pace.node[1:] - 1] = wait_s[:-1]  # a wait stands before the last node of its vertex
    stood = np.cumsum(stood)
    planned_s = np.diff((node_s - stood)[first])
    stretch = 1.0 + (planned_s - _evenly_s(way, top2, slow2, rise, fall)) / span_s
    since_s *= np.append(np.repeat(stretch, np.diff(first)), 1.0)
    ends = np.concatenate([[0.0], np.cumsum(span_s * stretch)])
    node_s = since_s + np.append(np.repeat(ends[:-1], np.diff(first)), ends[-1])
    node_speed[-1] = speed[-1]
    return np.asarray(node_speed**2), np.asarray(node_s + stood)


def _evenly_s(
    way_mm: FloatArray, top2: FloatArray, slow2: FloatArray, rise: FloatArray, fall: FloatArray
) -> FloatArray:
    """Time of each span at one acceleration up and one down, jerk not limited. (m,) [s]"""
    up, down = top2 - slow2[:-1], top2 - slow2[1:]
    top, begin, end = np.sqrt(top2), np.sqrt(slow2[:-1]), np.sqrt(slow2[1:])
    steady = np.maximum(way_mm - up / (2.0 * rise) - down / (2.0 * fall), 0.0)
    return np.asarray((top - begin) / rise + (top - end) / fall + steady / top)


def _mean(change2: FloatArray, way_mm: FloatArray) -> FloatArray:
    """Acceleration that changes speed² by so much along a way; 1 where nothing changes."""
    still = way_mm <= _LEAST_MM
    return np.where(still, 1.0, np.maximum(change2, 1e-12) / np.where(still, 1.0, 2.0 * way_mm))


def _pieces(pace: Pace, speed2: FloatArray, jerk_mm_per_s3: FloatArray) -> _Pieces:
    n = len(pace.length_mm)
    per_axis = np.abs(pace.unit)
    with np.errstate(divide="ignore"):
        cap2 = np.minimum(pace.feed_mm_per_s, (pace.top_mm_per_s / per_axis).min(axis=1)) ** 2
        along = (pace.limit_mm_per_s2[:, 0] / per_axis).min(axis=1)
        jerk_along = (jerk_mm_per_s3 / per_axis).min(axis=1)
    line = pace.node[1:] - 1
    parts = np.diff(pace.node) - 1
    way = np.zeros(len(speed2) - 1)
    jerk = np.empty(len(way))
    vertex = np.repeat(np.arange(n), parts)
    is_line = np.zeros(len(way), np.bool_)
    is_line[line] = True
    way[~is_line] = (2.0 * pace.blend_mm[:-1] / np.maximum(parts, 1))[vertex]
    jerk[~is_line] = np.minimum(jerk_along[vertex - 1], jerk_along[vertex])
    way[line] = np.maximum(pace.length_mm - pace.blend_mm[:-1] - pace.blend_mm[1:], 0.0)
    jerk[line] = jerk_along
    begin, end = speed2[:-1], speed2[1:]
    most = np.maximum(begin, end)
    peak = 0.5 * (begin + end)[line] + along * way[line]
    most[line] = np.maximum(np.minimum(cap2, peak), most[line])
    rises, falls = most - begin > _ALIKE * most, most - end > _ALIKE * most
    rise, fall = np.where(rises, way, 0.0), np.where(falls, way, 0.0)
    rise[line] = np.where(rises, most - begin, 0.0)[line] / (2.0 * along)
    fall[line] = np.where(falls, most - end, 0.0)[line] / (2.0 * along)
    steady = way - rise - fall
    steady[steady <= _ALIKE * way] = 0.0
    there = np.flatnonzero(way > _LEAST_MM)
    return _Pieces(
        node=there,
        way_mm=way[there],
        begin2=begin[there],
        most2=most[there],
        end2=end[there],
        rise_mm=rise[there],
        steady_mm=steady[there],
        fall_mm=fall[there],
        jerk=jerk[there],
    )


def _span_begins(pieces: _Pieces) -> IntArray:
    """Pieces with which a span begins: speed has been falling, or steady and now rises. (m,)"""
    rises, stays, falls = (way > 0.0 for way in (pieces.rise_mm, pieces.steady_mm, pieces.fall_mm))
    ends = np.where(falls, -1, np.where(stays, 0, 1))[:-1]
    begins = np.where(rises, 1, np.where(stays, 0, -1))[1:]
    slow = ((ends == -1) & (begins >= 0)) | ((ends == 0) & (begins == 1))
    return np.concatenate([[0], np.flatnonzero(slow) + 1])

"""The pace along a path of rounded corners: kernels in calls that can be stopped between."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics.progress import Progress
from kerfwright.kernels.motion import look_back, prepare, run_forward

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_RANGE = 200_000  #: segments in one kernel call, well under 0.2 s even where all corners are sharp
_WORDS = "planning the motion"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """A path with its corners, and the limits that its pace obeys. See ``kernels.motion``."""

    feed_mm_per_s: FloatArray  #: (n,)
    top_mm_per_s: FloatArray  #: (3,)
    limit_mm_per_s2: FloatArray  #: (3, bands)
    band_mm_per_s: FloatArray | None  #: (3,) width of the bands; None: one limit at any speed
    unit: FloatArray  #: (n, 3)
    length_mm: FloatArray  #: (n,)
    blend_mm: FloatArray  #: (n + 1,)
    node: NDArray[np.int32]  #: (n + 1,)

    @classmethod
    def along(
        cls,
        point_mm: FloatArray,
        corner_mm: FloatArray,
        feed_mm_per_s: FloatArray,
        top_mm_per_s: FloatArray,
        limit_mm_per_s2: FloatArray,
        band_mm_per_s: FloatArray | None,
        progress: Progress,
    ) -> "Pace":
        """Lay out the path through the vertices, which may be missed by ``corner_mm``."""
        n = len(feed_mm_per_s)
        unit, length, blend = np.empty((n, 3)), np.empty(n), np.empty(n + 1)
        node = np.empty(n + 1, np.int32)
        for a in range(0, n, _RANGE):
            progress(_WORDS, 0.3 * a / n)
            prepare(
                a, min(n, a + _RANGE), point_mm, corner_mm, feed_mm_per_s, top_mm_per_s,
                limit_mm_per_s2, unit, length, blend, node,
            )  # fmt: skip
        return cls(
            feed_mm_per_s=feed_mm_per_s,
            top_mm_per_s=top_mm_per_s,
            limit_mm_per_s2=limit_mm_per_s2,
            band_mm_per_s=band_mm_per_s,
            unit=unit,
            length_mm=length,
            blend_mm=blend,
            node=node,
        )

    def speeds_and_times(
        self,
        jump_mm_per_s: FloatArray,
        stop: NDArray[np.bool_],
        wait_s: FloatArray,
        seen2: FloatArray | None,
        progress: Progress,
    ) -> tuple[FloatArray, FloatArray]:
        """Speed² [mm²/s²] and time [s] at the nodes, both (node[n] + 1,)."""
        n = len(self.length_mm)
        speed2, node_s = np.empty(self.node[n] + 1), np.empty(self.node[n] + 1)
        limits = self.feed_mm_per_s, self.top_mm_per_s, self.limit_mm_per_s2, self.band_mm_per_s
        path = self.unit, self.length_mm, self.blend_mm, self.node
        for a in reversed(range(0, n, _RANGE)):
            progress(_WORDS, 0.6 - 0.3 * a / n)
            look_back(a, min(n, a + _RANGE), *limits, jump_mm_per_s, stop, seen2, *path, speed2)
        for a in range(0, n, _RANGE):
            progress(_WORDS, 0.6 + 0.4 * a / n)
            run_forward(a, min(n, a + _RANGE), *limits, wait_s, *path, speed2, node_s)
        return speed2, node_s

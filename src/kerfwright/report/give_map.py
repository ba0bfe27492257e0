"""How far the nose gives over the bed, and what the pointer is on, in words."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from kerfwright.basics import Estimate
from kerfwright.basics.units import INCH_MM, LBF_N
from kerfwright.machine import PUSH_N
from kerfwright.report.figures import amount, distance, estimate_words

FloatArray = NDArray[np.float64]

#: Of the nose above the table, lowest first.
HEIGHTS = ("Z down", "Z half way", "Z right up")
PUSH_WORDS = f"{PUSH_N:.0f} N ({PUSH_N / LBF_N:.0f} lbf)"
_TICKS = 5
#: A part that makes less of a movement than this is not told.
_TOLD = 0.03
#: The softest place gives less than this times the stiffest: even.
_EVEN = 1.02
#: Shares nearer to one of these than a twentieth are told so.
_SHARES = ((0.5, "half"), (1 / 3, "a third"), (0.25, "a quarter"), (0.2, "a fifth"))


@dataclass(frozen=True, slots=True, kw_only=True)
class GiveMap:
    """Movement of the nose, pushed with ``PUSH_N``, on a grid over the travel."""

    at_mm: tuple[FloatArray, FloatArray, FloatArray]
    give_mm: FloatArray  #: (nx, ny, nz, 3)
    low_mm: FloatArray
    high_mm: FloatArray
    shares: Mapping[str, FloatArray]  #: part -> (nx, ny, nz, 3)
    sag_mm: FloatArray  #: (nx, ny), of its own weight, 0 where it hangs least
    along: tuple[str, ...]


def share_words(share: float) -> str:
    """``half``, ``a third``, ``41 %``."""
    for near, words in _SHARES:
        if abs(share - near) < 0.02:
            return words
    return f"{100.0 * share:.0f} %"


def shares_words(shares: Mapping[str, float], told: float = 0.6) -> str:
    """The largest parts of a movement, until they make most of it."""
    words: list[str] = []
    sum_ = 0.0
    for name, share in sorted(shares.items(), key=lambda item: -item[1]):
        if sum_ >= told or len(words) == 3:
            break
        words.append(f"{share_words(share)} of it the {name}")
        sum_ += share
    return ", ".join([words[0], *(one.replace(" of it", "", 1) for one in words[1:])])


def give_words(give: GiveMap, x_mm: float, y_mm: float, height: int, along: int) -> list[str]:
    """What is at a place: where, how far it gives, what gives, how far it hangs.

    ``height`` counts in ``HEIGHTS``, ``along`` X, Y, Z. Between the grid's places it is straight.
    """
    at = _Place(give, x_mm, y_mm)
    one = Estimate(
        value=at.of(give.give_mm[:, :, height, along]),
        low=at.of(give.low_mm[:, :, height, along]),
        high=at.of(give.high_mm[:, :, height, along]),
    )
    shares = {name: at.of(part[:, :, height, along]) for name, part in give.shares.items()}
    words = [
        f"X {distance(at.x)}, Y {distance(at.y)}, {HEIGHTS[height]}",
        f"pushed along {give.along[along]} with {PUSH_WORDS} it gives {estimate_words(one, 'mm')}",
        shares_words(shares),
    ]
    sag = at.of(give.sag_mm)
    hangs = "hangs highest here" if sag < 5e-4 else f"hangs {amount(sag, 'mm')} below its highest"
    return [*words, f"by its own weight it {hangs}"]


def parts_there(
    give: GiveMap, x_mm: float, y_mm: float, height: int, along: int
) -> list[dict[str, Any]]:
    """The parts that make the movement at a place, largest first, the small ones left out."""
    at = _Place(give, x_mm, y_mm)
    shares = {name: at.of(part[:, :, height, along]) for name, part in give.shares.items()}
    return [
        {"part": name, "share": share, "words": f"{name}, {share_words(share)}"}
        for name, share in sorted(shares.items(), key=lambda item: -item[1])
        if share >= _TOLD
    ]


def give_as_plain(give: GiveMap) -> dict[str, Any]:
    """The map for the page: values by height and direction, rows along Y from the front."""
    x, y, _ = give.at_mm
    heights, along = range(len(HEIGHTS)), range(len(give.along))
    return {
        "x_mm": x.tolist(),
        "y_mm": y.tolist(),
        "heights": list(HEIGHTS),
        "along": list(give.along),
        "push_words": PUSH_WORDS,
        "give_mm": np.moveaxis(give.give_mm, (2, 3, 1, 0), (0, 1, 2, 3)).tolist(),
        "sag_mm": give.sag_mm.T.tolist(),
        "sag_legend": _legend(give.sag_mm),
        "legend": [[_legend(give.give_mm[:, :, h, a]) for a in along] for h in heights],
        "even": [[_even(give.give_mm[:, :, h, a]) for a in along] for h in heights],
        "sag_words": (
            f"By its own weight the nose hangs up to {amount(float(give.sag_mm.max()), 'mm')} "
            "lower in one place than in another."
        ),
    }


def _legend(view: FloatArray) -> list[dict[str, Any]]:
    """From the stiffest place of one view to its softest."""
    ends = np.linspace(float(view.min()), float(view.max()), _TICKS)
    return [
        {"at_mm": float(end), "words": f"{end:.3f} mm ({end / INCH_MM:.4f} in)"} for end in ends
    ]


def _even(view: FloatArray) -> str:
    """What there is to say of one view as a whole."""
    low, high = float(view.min()), float(view.max())
    if high < _EVEN * low:
        return "nearly the same all over the bed"
    return (
        f"gives {100.0 * (high / low - 1.0):.0f} % more in its softest place than in its stiffest"
    )


class _Place:
    """A place within the grid, straight between its points."""

    def __init__(self, give: GiveMap, x_mm: float, y_mm: float) -> None:
        x, y, _ = give.at_mm
        self.x = float(np.clip(x_mm, x[0], x[-1]))
        self.y = float(np.clip(y_mm, y[0], y[-1]))
        self._cells = x, y

    def of(self, values: FloatArray) -> float:
        x, y = self._cells
        columns = [np.interp(self.y, y, values[k]) for k in range(len(x))]
        return float(np.interp(self.x, x, columns))

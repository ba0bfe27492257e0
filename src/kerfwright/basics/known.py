"""Values that say how well they are known, and where they come from."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:  # a command must start at once: nothing here needs it to run
    import numpy as np

Kind = Literal["measured", "datasheet", "estimated", "default"]

#: Standard deviations on either side of the middle that hold 95 % of a normal distribution.
TWO_SIDED_95 = 1.959963984540054


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """A value, how far it may be off, how it was come by, and from where.

    Give ``u`` (standard uncertainty, normal) or ``low`` and ``high`` (all values between them
    equally likely), or neither for a value that is exact by definition or count.
    """

    value: float
    kind: Kind
    ref: str
    u: float | None = None
    low: float | None = None
    high: float | None = None

    def __post_init__(self) -> None:
        if (self.low is None) != (self.high is None):
            raise ValueError("a range needs both ends")
        if self.u is not None and self.low is not None:
            raise ValueError("give a standard uncertainty or a range, not both")
        if self.u is not None and not self.u >= 0.0:
            raise ValueError(f"a standard uncertainty of {self.u:g} is below 0")
        if self.low is not None and self.high is not None and not self.low <= self.high:
            raise ValueError(f"a range from {self.low:g} to {self.high:g} runs backwards")

    def interval(self) -> tuple[float, float]:
        """The ends between which the value lies nineteen times in twenty."""
        if self.u is not None:
            return self.value - TWO_SIDED_95 * self.u, self.value + TWO_SIDED_95 * self.u
        if self.low is not None and self.high is not None:
            cut = 0.025 * (self.high - self.low)
            return self.low + cut, self.high - cut
        return self.value, self.value

    def draw(self, rng: "np.random.Generator") -> float:
        """One value that it might be."""
        if self.u is not None:
            return float(rng.normal(self.value, self.u))
        if self.low is not None and self.high is not None:
            return float(rng.uniform(self.low, self.high))
        return self.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """A computed value with the ends that hold it with the stated probability."""

    value: float
    low: float
    high: float
    coverage: float = 0.95
    mostly_from: str = ""  #: the input whose spread rules this one, in shop words; "" if none does

"""How the machine stands before the first line of a program."""

from collections.abc import Mapping
from dataclasses import dataclass, field

Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class StartState:
    """Place, cutters, parameters and switches that a program finds when it starts.

    Lengths in mm; parameters that hold lengths are mm too, whatever units the program uses.
    """

    start_mm: Vector = (0.0, 0.0, 0.0)  #: in the frame of the set-up's zero
    inches: bool = False  #: units until the program says G20 or G21
    slots: int = 999  #: highest slot that T, D and H may name
    length_mm: Mapping[int, float] = field(default_factory=dict)  #: by slot, for G43
    diameter_mm: Mapping[int, float] = field(default_factory=dict)  #: by slot, for G41 and G42
    slot_in_spindle: int = 0
    parameters: Mapping[int, float] = field(default_factory=dict)  #: those that are not 0
    block_delete: bool = False  #: skip the lines that begin with a slash
    optional_stop: bool = False  #: stop at M1
    #: Where the set-up's zero stands in the machine's own coordinates, those of G53, G28, G30 and
    #: of the origins in parameters 5221 on. None: not known; the two are taken as one and told.
    zero_at_mm: Vector | None = None
    #: Where a probing move makes contact. None: never; "target": at its programmed end, told.
    probe_contact_mm: Vector | str | None = "target"

"""The engineer's term for a figure of the machine's card, and the page that gives its sources."""

_DRIVE, _FRAME = "docs/models/drive.md", "docs/models/frame.md"

_TERMS = {
    "one motor turn": ("lead", _DRIVE),
    "positions": ("full steps times microsteps", _DRIVE),
    "moves at all": ("static load against holding torque", _DRIVE),
    "least sure move": ("incremental torque of microsteps against static load", _DRIVE),
    "top speed": (
        "least of controller, pull-out torque at the set acceleration, 0.8 of critical speed",
        _DRIVE,
    ),
    "the motor alone": ("pull-out torque at the set acceleration", _DRIVE),
    "the screw whips": ("critical speed of the shaft with its end fixity", _DRIVE),
    "push at a crawl": ("thrust at pull-out, friction and preload drag paid", _DRIVE),
    "push at the top speed": ("thrust at pull-out at that speed", _DRIVE),
    "sudden change of speed": ("largest speed jump on the magnetic spring", _DRIVE),
    "one slip": ("one electrical turn, four full steps", _DRIVE),
    "swings on the motor": ("electromagnetic resonance of rotor and load", _DRIVE),
    "loses pull, swinging": ("mid-band resonance, fitted to stall tests", _DRIVE),
    "stiffness of the drive": ("axial stiffness of the drive train, parts in series", _DRIVE),
    "play at reversal": ("backlash", _DRIVE),
    "its nut opens": ("unloading force of the preloaded nut", _DRIVE),
    "holds, standing idle": ("holding torque at the idle current, through the drive", _DRIVE),
    "power cut": ("back-driving and self-locking", _DRIVE),
    "along X, in the middle": ("compliance at the spindle nose by direct stiffness", _FRAME),
    "along Y, in the middle": ("compliance at the spindle nose by direct stiffness", _FRAME),
    "along Z, in the middle": ("compliance at the spindle nose by direct stiffness", _FRAME),
    "wheels stay pressed": ("unloading force of preloaded contacts", _FRAME),
    "softest place": ("least stiffness over the travel", _FRAME),
}


def engineers_term(label: str) -> str:
    """``backlash (docs/models/drive.md)``; empty where the shop's word is the term."""
    term = _TERMS.get(label)
    return f"{term[0]} ({term[1]})" if term is not None else ""

"""What may stand in machine.toml: every section, key, dimension and limit, in one place."""

from collections.abc import Mapping
from dataclasses import dataclass
from math import inf
from typing import Final

AXES: Final = ("x", "y", "z")


@dataclass(frozen=True, slots=True)
class Number:
    """A value with a unit."""

    dimension: str  #: of ``formats.read_known``
    words: str  #: in the shop's words, for what was not known
    least: float = 0.0
    most: float = inf
    nought: bool = False  #: whether the least value itself is allowed
    count: bool = False  #: whole numbers only
    peak_or_rms: bool = False  #: a current that must say which
    quiet: bool = False  #: nothing is said when its range is taken: it is told where it counts


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few words; the first is taken when it is not known."""

    options: tuple[str, ...]
    words: str
    quiet: bool = False  #: nothing is said when the first is taken: it is told where it counts


@dataclass(frozen=True, slots=True)
class Text:
    """Free text."""

    words: str
    longest: int = 200  #: characters; more is refused


@dataclass(frozen=True, slots=True)
class Numbers:
    """A list of values with units, rising."""

    dimension: str
    words: str


Entry = Number | Choice | Text | Numbers


def _length(
    words: str, most: float = 20_000.0, *, nought: bool = False, least: float = 0.0
) -> Number:
    return Number("length", words, least, most, nought=nought)


def _body(words: str) -> Number:
    """A size that counts only where something stands in the way: it is told there."""
    return Number("length", words, 0.0, 500.0, quiet=True)


_AXIS: dict[str, Entry] = {
    "travel": _length("travel", 10_000.0),
    "drive": Choice(("screw", "belt", "rack"), "what drives it"),
    "motors": Number("number", "motors that drive it", 0.0, 2.0, count=True),
    "ratio": Number("number", "motor turns for one turn of screw, pulley or pinion", 0.0, 100.0),
    "moving_mass": Number("mass", "mass that moves", 0.0, 1000.0),
    "guide_friction": Number(
        "force", "force to push it along with the drive off", 0.0, 1e4, nought=True
    ),
    "bearing_drag": Number("torque", "torque to turn the bearings", 0.0, 1e5, nought=True),
    "other_inertia": Number(
        "inertia", "coupling, pulleys and whatever else turns", 0.0, 1e7, nought=True
    ),
    "bearing_stiffness": Number("stiffness", "thrust bearing with its mount", 0.0, 1e8),
}
_MOTOR: dict[str, Entry] = {
    "flange": _length("motor flange", 300.0),
    "holding_torque": Number("torque", "holding torque", 0.0, 1e6),
    "rated_current": Number("current", "rated current", 0.0, 100.0),
    "resistance": Number("resistance", "winding resistance", 0.0, 1e3),
    "inductance": Number("inductance", "winding inductance", 0.0, 1.0),
    "rotor_inertia": Number("inertia", "rotor inertia", 0.0, 1e6),
    "full_steps": Number("number", "full steps in one turn", 3.0, 1000.0, count=True),
    "pull_share": Number("number", "real pull against the computed", 0.0, 2.0),
    "swings_from": Number("turning", "speed at which it begins to swing", 0.0, 60.0),
    "swings_to": Number("turning", "speed at which it stops swinging", 0.0, 60.0),
    "swings_lose": Number("share", "pull lost where it swings most", 0.0, 1.0, nought=True),
    "swings_tried_to": Number("turning", "fastest that swinging was tried at", 0.0, 60.0),
}
_DRIVER: dict[str, Entry] = {
    "supply": Number("voltage", "supply voltage", 0.0, 1000.0),
    "current": Number("current", "current set on the driver", 0.0, 100.0, peak_or_rms=True),
    "microsteps": Number("number", "microsteps in one full step", 0.0, 1024.0, count=True),
    "idle": Number("share", "current left when it stands", 0.0, 1.0, nought=True),
}
_SCREW: dict[str, Entry] = {
    "form": Choice(("acme", "trapezoidal", "square", "ball"), "form of the thread"),
    "size": Text("size of the screw, as 1/2-10 or Tr12x3"),
    "diameter": _length("screw diameter", 200.0),
    "root_diameter": _length("core diameter of the screw", 200.0),
    "pitch": _length("thread to thread", 100.0),
    "starts": Number("number", "starts of the thread", 0.0, 20.0, count=True),
    "lead": _length("travel in one turn of the screw", 500.0),
    "friction": Number("number", "friction of nut on screw", 0.0, 1.0),
    "efficiency": Number("number", "efficiency of the ball screw", 0.5, 1.0),
    "material": Choice(("carbon steel", "stainless steel 18-8"), "material of the screw"),
    "ends": Choice(
        ("supported-supported", "fixed-free", "fixed-supported", "fixed-fixed"),
        "how the ends of the screw are held",
    ),
    "free_length": _length("longest length of screw without support"),
    "nut": Choice(("plain", "anti-backlash", "ball"), "kind of nut"),
    "nut_stiffness": Number("stiffness", "nut with its mount", 0.0, 1e8),
    "preload": Number("force", "preload of the nut", 0.0, 1e5, nought=True),
    "play": _length("play at reversal", 20.0, nought=True),
}
_BELT: dict[str, Entry] = {
    "arrangement": Choice(("loop", "open"), "how the belt runs"),
    "pitch": _length("belt pitch", 50.0),
    "teeth": Number("number", "pulley teeth", 5.0, 500.0, count=True),
    "width": _length("belt width", 500.0),
    "specific_stiffness": Number(
        "stiffness", "belt pull for each mm of width and unit strain", 0.0, 1e7
    ),
    "length": _length("from pulley to idler, or between the clamps"),
    "efficiency": Number("number", "efficiency of the belt", 0.5, 1.0),
    "play": _length("play at reversal", 20.0, nought=True),
}
_RACK: dict[str, Entry] = {
    "module": _length("module of the rack", 20.0),
    "teeth": Number("number", "pinion teeth", 5.0, 500.0, count=True),
    "mesh_stiffness": Number("stiffness", "pinion on rack", 0.0, 1e8),
    "efficiency": Number("number", "efficiency of the rack", 0.5, 1.0),
    "play": _length("play at reversal", 20.0, nought=True),
}
_METALS = ("aluminium 6061/6063", "carbon steel")
_SHEETS = (
    "medium-density fiberboard",
    "plywood",
    "aluminium 6061/6063",
    "carbon steel",
    "particleboard",
)
_FRAME: dict[str, Entry] = {
    "moves": Choice(("gantry", "table"), "what moves under or over the work", quiet=True),
    "moves_along": Choice(("x", "y"), "which way the gantry moves"),
    "drive_at": Choice(("middle", "low side", "high side"), "where one screw pulls the gantry"),
    "nose_below_beam": _length(
        "spindle nose below the middle of the beam, Z at its top", 2000.0, nought=True
    ),
    "nose_before_beam": _length(
        "spindle axis in front of the middle of the beam", 2000.0, nought=True
    ),
    "joint_stiffness": Number("stiffness", "each bolted joint of the gantry", 0.0, 1e8),
    "mount_stiffness": Number("stiffness", "spindle in its mount", 0.0, 1e8),
    "pushed_x": Number("stiffness", "nose pushed along X", 0.0, 1e8),
    "pushed_y": Number("stiffness", "nose pushed along Y", 0.0, 1e8),
    "pushed_z": Number("stiffness", "nose pushed along Z", 0.0, 1e8),
    "damping": Number(
        "number", "damping of its swings, as a share of critical", 0.0, 0.7, quiet=True
    ),
}
_SECTION: dict[str, Entry] = {
    "material": Choice(_METALS + ("plywood", "medium-density fiberboard"), "material of the beam"),
    "length": _length("beam from upright to upright", 10_000.0),
    "width": _length("beam, front to back", 1000.0),
    "depth": _length("beam, height", 1000.0),
    "wall": _length("wall of the beam", 500.0),
    "outline": Text("corners of the beam's outside, as 0,0 40,0 40,80 0,80 mm", 8000),
    "holes": Text("corners of the holes in the beam, a semicolon between holes", 16_000),
    "area": Number("area", "area of the beam's section", 0.0, 1e6),
    "second_moment_up": Number("second moment", "of the beam, bent up and down", 0.0, 1e11),
    "second_moment_forward": Number("second moment", "of the beam, bent to and fro", 0.0, 1e11),
    "torsion": Number("second moment", "torsion constant of the beam", 0.0, 1e11),
    "shear_share": Number("number", "share of the beam's area that carries shear", 0.0, 1.0),
}
_UPRIGHT: dict[str, Entry] = {
    "material": Choice(_SHEETS, "material of the uprights"),
    "thickness": _length("thickness of the uprights", 500.0),
    "width": _length("uprights, along the travel", 2000.0),
    "height": _length("from the gantry's wheels up to the middle of the beam", 2000.0),
}
_PLATE: dict[str, Entry] = {
    "material": Choice(
        ("aluminium 6061/6063", "carbon steel", "plywood", "medium-density fiberboard"),
        "material of the Z plate",
    ),
    "thickness": _length("thickness of the Z plate", 500.0),
    "width": _length("width of the Z plate", 1000.0),
    "clamped": _length("the spindle's mount on the Z plate, up and down", 500.0),
}
_CROSS_BAR: dict[str, Entry] = {
    "material": Choice(
        ("plywood", "medium-density fiberboard", "aluminium 6061/6063", "carbon steel"),
        "material of the cross bar that joins the gantry's feet",
    ),
    "width": _length("cross bar, along the travel", 1000.0),
    "thickness": _length("cross bar, height", 500.0),
}
_RAILS: dict[str, Entry] = {
    "wheel": Choice(
        ("steel V", "plastic V", "ball carriage", "round sleeve"), "what runs on the rails"
    ),
    "preload": Number("force", "preload of each wheel", 0.0, 1e4, nought=True),
    "contact_length": _length("touching length on each flank of a wheel", 50.0),
    "wheel_radius": _length("radius of a wheel", 200.0),
    "stud_stiffness": Number("stiffness", "one wheel on its stud, or one carriage", 0.0, 1e8),
    "bearing_length": _length("length over which a carriage or sleeve carries", 500.0),
    "bearing_width": _length("from row to row of a ball carriage", 200.0),
}
_RAILS_AXIS: dict[str, Entry] = {
    "wheels": Number("number", "wheels or carriages in all", 1.0, 64.0, count=True),
    "along": _length("wheel spacing along the rail", 5000.0),
    "across": _length("wheel spacing across the rail", 5000.0),
    "places": Text("where the wheels stand, along and across, as 70,45 -70,45 0,-45 mm", 2000),
    "bar_diameter": _length("bars on which it runs, hung between their ends", 200.0),
    "bar_length": _length("those bars from end to end"),
}
_TABLE: dict[str, Entry] = {
    "width": _length("table along X"),
    "depth": _length("table along Y"),
    "left": _length("left edge of the table, in machine X", least=-20_000.0),
    "front": _length("front edge of the table, in machine Y", least=-20_000.0),
    "spoil_board": _length("spoil board thickness", 500.0, nought=True),
    "nose_height": _length("spindle nose above the table with Z at its top", 2000.0),
    "material": Choice(_SHEETS, "material of the table"),
    "skin": _length("skin of the table", 500.0),
    "core": _length("height between the skins, 0 for a solid table", 500.0, nought=True),
    "ribs_apart": _length("from rib to rib in the table", 2000.0),
    "rib": _length("thickness of a rib", 200.0),
    "joints": Number(
        "number", "places where the table is fastened", 4.0, 40.0, nought=True, count=True
    ),
    "joint_stiffness": Number("stiffness", "each place where the table is fastened", 0.0, 1e8),
    "between_supports": _length("table between its supports"),
    "stiffness": Number("stiffness", "table pushed down in the middle", 0.0, 1e8),
}
_SPINDLE: dict[str, Entry] = {
    "kind": Choice(("variable frequency", "hand router"), "kind of spindle"),
    "power": Number("power", "shaft power", 0.0, 1e5),
    "lowest": Number("turning", "lowest speed", 0.0, 2000.0),
    "highest": Number("turning", "highest speed", 0.0, 2000.0),
    "dial": Numbers("turning", "speeds at dial 1, 2, 3 ..."),
    "input_current": Number("current", "amperes on the nameplate", 0.0, 100.0),
    "input_voltage": Number("voltage", "volts on the nameplate", 0.0, 1000.0),
    "efficiency": Number("number", "share of the input that reaches the shaft", 0.0, 1.0),
    "nut_diameter": _body("collet nut, across its widest"),
    "nut_height": _body("collet nut, from its lower face up to the spindle nose"),
    "nose_diameter": _body("spindle nose above the collet nut, across its widest"),
    "boot_diameter": _body("dust boot, across its stiff part"),
    "boot_below_nut": Number(
        "length", "stiff part of the dust boot below the collet nut", -300.0, 300.0, quiet=True
    ),
}


def _slope(words: str) -> Number:
    """So much over a length, either way; told where it counts."""
    return Number("slope", words, -0.1, 0.1, quiet=True)


def _bow(words: str) -> Number:
    return Number("length", words, -20.0, 20.0, quiet=True)


_GEOMETRY: dict[str, Entry] = {
    "square_xy": _slope("Y out of square to X: to the right, going back"),
    "diagonals": Text("a rectangle with its diagonals, as 600 x 400 mm: 721.4 and 720.8 mm"),
    "square_xz": _slope("Z out of square to X: to the right, going up"),
    "square_yz": _slope("Z out of square to Y: to the back, going up"),
    "scale_x": _slope("X goes farther than told"),
    "scale_y": _slope("Y goes farther than told"),
    "scale_z": _slope("Z goes farther than told"),
    "bow_x_back": _bow("X in the middle of its travel, to the back of a line between its ends"),
    "bow_x_up": _bow("X in the middle of its travel, above a line between its ends"),
    "bow_y_right": _bow("Y in the middle of its travel, to the right of a line between its ends"),
    "bow_y_up": _bow("Y in the middle of its travel, above a line between its ends"),
    "level_x": _slope("table rises under the cutter, going right"),
    "level_y": _slope("table rises under the cutter, going back"),
    "sag": _bow("table's middle below its edges"),
    "tram_x": _slope("spindle leans to the right, going up"),
    "tram_y": _slope("spindle leans to the back, going up"),
}
_TAKES = ("takes", "stops")
_YES_NO = ("yes", "no")
_CONTROLLER: dict[str, Entry] = {
    "corners": Choice(
        ("axis speed step", "exact stop", "path tolerance"), "what it does at corners"
    ),
    "path_tolerance": _length("how far corners may be rounded", 10.0),
    "lines_ahead": Number("number", "lines that it sees ahead", 0.0, 1e9, count=True),
    "lines_per_second": Number("number", "lines that it can take in a second", 0.0, 1e7),
    "default_units": Choice(("mm", "inch"), "units when a program does not say"),
    "arc_centres": Choice(("from start", "absolute"), "how arc centres are written"),
    "unknown_words": Choice(("stops", "skips"), "what it does with a word it does not know"),
    "bare_coordinates": Choice(
        ("stops", "feed", "rapid"), "coordinates before any motion code", quiet=True
    ),
    "lower_case": Choice(_TAKES, "small letters", quiet=True),
    "blanks_in_numbers": Choice(_TAKES, "blanks inside a number", quiet=True),
    "semicolons": Choice(_TAKES, "remarks behind a semicolon", quiet=True),
    "late_numbers": Choice(_TAKES, "N numbers behind other words", quiet=True),
    "missing_end": Choice(_TAKES, "a program without its end", quiet=True),
    "byte_order_mark": Choice(_TAKES, "a byte-order mark", quiet=True),
    "line_ends": Choice(("any", "LF", "CR LF", "CR"), "how lines end", quiet=True),
    "longest_line": Number("number", "characters in its longest line", 9.0, 1e5, count=True),
    "slash_lines": Choice(("run", "left out"), "lines that begin with a slash", quiet=True),
    "knows_g70": Choice(_YES_NO, "G70 and G71, inch and millimetre", quiet=True),
    "knows_g90_1": Choice(_YES_NO, "G90.1 and G91.1, meaning of arc centres", quiet=True),
    "knows_g64_p": Choice(_YES_NO, "P behind G64, a path tolerance", quiet=True),
    "usual_feed": Number("speed", "feed that is cut with most", 0.0, 1e4),
    "cutter_change": Choice(
        ("stops and Z is set again", "stops, length table", "ignores it"),
        "what it really does at a cutter change",
    ),
    "cutter_change_time": Number("time", "time for a cutter change", 0.0, 1e5, nought=True),
    "spindle_start_time": Number(
        "time", "time for the spindle to reach its speed", 0.0, 1e4, nought=True
    ),
    "set_z_time": Number("time", "time to set Z again", 0.0, 1e5, nought=True, quiet=True),
    "stop_time": Number(
        "time", "time at a program stop until you go on", 0.0, 1e5, nought=True, quiet=True
    ),
    "router_switch_time": Number(
        "time", "time to switch the hand router off and on", 0.0, 1e4, nought=True, quiet=True
    ),
}
_CONTROLLER_AXIS: dict[str, Entry] = {
    "rapid": Number("speed", "rapid speed set", 0.0, 1e4),
    "acceleration": Number("acceleration", "acceleration set", 0.0, 1e6),
    "jerk": Number("jerk", "how fast acceleration may rise and fall", 0.0, 1e9),
    "speed_step": Number("speed", "sudden change of speed allowed", 0.0, 1e3),
}


def _each_axis(
    prefix: str, entries: Mapping[str, Entry], suffix: str = ""
) -> dict[str, Mapping[str, Entry]]:
    return {f"{prefix}.{axis}{suffix}": entries for axis in AXES}


#: section -> its keys. "" is the head of the file. A note may stand in any.
SECTIONS: Final[dict[str, Mapping[str, Entry]]] = {
    "": {"name": Text("name of the machine")},
    **_each_axis("axes", _AXIS),
    **_each_axis("axes", _MOTOR, ".motor"),
    **_each_axis("axes", _DRIVER, ".driver"),
    **_each_axis("axes", _SCREW, ".screw"),
    **_each_axis("axes", _BELT, ".belt"),
    **_each_axis("axes", _RACK, ".rack"),
    "frame": _FRAME,
    "frame.beam": _SECTION,
    "frame.upright": _UPRIGHT,
    "frame.z_plate": _PLATE,
    "frame.cross_bar": _CROSS_BAR,
    "rails": _RAILS,
    **_each_axis("rails", _RAILS_AXIS),
    "table": _TABLE,
    "geometry": _GEOMETRY,
    "spindle": _SPINDLE,
    "controller": _CONTROLLER,
    **_each_axis("controller", _CONTROLLER_AXIS),
}

#: What of the spindle may stand in the way of something: it moves no figure.
OUTSIDES: Final = tuple(
    f"spindle.{key}"
    for key in ("nut_diameter", "nut_height", "nose_diameter", "boot_diameter", "boot_below_nut")
)
#: Keys of ``axes.x.motor``, in force where tests of the motor were made, and only there.
SWINGS: Final = ("swings_from", "swings_to", "swings_lose", "swings_tried_to")
#: What was added to the draws later: drawn last, so that it changes no other draw.
LATER: Final = (
    *(f"geometry.{key}" for key in _GEOMETRY),
    "frame.damping",
    "rails.bearing_length",
    "rails.bearing_width",
    "frame.beam.shear_share",
    "frame.beam.torsion",
    *(f"axes.{axis}.motor.{key}" for axis in AXES for key in SWINGS),
)
#: What was added later still: drawn from a stream of its own.
APART: Final = ("table.joints", "table.joint_stiffness", "frame.z_plate.clamped")


def entry_at(path: str) -> Entry:
    """The entry of a dotted path such as ``axes.x.screw.lead``."""
    section, _, key = path.rpartition(".")
    return SECTIONS[section][key]


def number_at(path: str) -> Number:
    """The entry of a path that holds a number."""
    entry = entry_at(path)
    if not isinstance(entry, Number):
        raise TypeError(f"{path} holds no number")
    return entry


def words_at(path: str) -> str:
    """A dotted path in the words of the shop: ``X, holding torque``."""
    parts = path.split(".")
    axis = next((part.upper() for part in parts if part in AXES), "")
    area = {"frame": "frame", "rails": "rails", "controller": "controller"}.get(parts[0], "")
    head = ", ".join(word for word in (axis, area) if word)
    words = entry_at(path).words
    return f"{head}: {words}" if head else words


def dimension_at(path: str) -> str:
    """What a path measures: a key of ``basics.units.INSIDE``, or ``number``."""
    return number_at(path).dimension

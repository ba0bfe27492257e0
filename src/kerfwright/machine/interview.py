"""The interview: what a router's builder is asked, in the words of the shop. Data only.

Asked in this order by the terminal and by the page. A blank whose path holds ``*`` is for X, Y and
Z: one answer for all, or three with strokes between, ``2.8 A / 2.8 A / 1.2 A``.
"""

from dataclasses import dataclass, replace

from kerfwright.basics import Kind
from kerfwright.machine.entries import AXES

UNKNOWN = "don't know"


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """One line to fill in."""

    path: str  #: the entry of machine.toml that it answers
    label: str
    example: str
    kind: Kind = "measured"
    ref: str = ""  #: how the answer is come by, written beside it
    unit: str = ""  #: taken when a bare number is typed, where no other unit could be meant
    only: tuple[str, tuple[str, ...]] | None = None  #: asked where this choice is one of these


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One thing to find out."""

    id: str
    ask: str
    how: str  #: how to find out with a rule and a minute
    picture: str  #: name of a drawing in the page
    minutes: float  #: what finding out takes, at the machine
    blanks: tuple[Blank, ...]


def _each(path: str, label: str, examples: tuple[str, ...], **rest: object) -> tuple[Blank, ...]:
    """A blank for each axis, or for the first of them that have an example."""
    return tuple(
        Blank(path=path.replace("*", axis), label=f"{axis.upper()}{label}", example=example, **rest)  # type: ignore[arg-type]
        for axis, example in zip(AXES, examples, strict=False)
    )


def _drives(**blanks: Blank) -> tuple[Blank, ...]:
    """For each axis the blanks of the drive that it has; ``screw_lead`` is for a screw."""
    return tuple(
        replace(
            blank,
            path=blank.path.replace("*", axis),
            label=f"{axis.upper()}{blank.label}",
            only=(f"axes.{axis}.drive", (name.partition("_")[0],)),
        )
        for axis in AXES
        for name, blank in blanks.items()
    )


_RULE, _LABEL, _DIAL = "by rule", "motor label", "by dial"

QUESTIONS: tuple[Question, ...] = (
    Question(
        id="moves",
        ask="What do you call your router, and what travels?",
        how="Stand in front of it: X goes to the right, Y to the back, Z up. Does the gantry "
        "travel over the work, or the table under it, and along which way?",
        picture="moves",
        minutes=1.0,
        blanks=(
            Blank(path="name", label="its name", example="the garage router"),
            Blank(path="frame.moves", label="what travels", example="gantry"),
            Blank(path="frame.moves_along", label="which way", example="y"),
        ),
    ),
    Question(
        id="travel",
        ask="How far can the spindle go?",
        how="Run it slowly from end to end, by hand if it can be pushed. Hold a rule beside it and "
        "read both ends.",
        picture="travel",
        minutes=4.0,
        blanks=_each("axes.*.travel", "", ("24 3/8 in", "410 mm", "95 mm"), ref=_RULE),
    ),
    Question(
        id="drive",
        ask="What drives each axis?",
        how="Look from the motor to the carriage: a threaded rod (screw), a toothed belt, or a "
        "pinion on a toothed bar (rack).",
        picture="drive",
        minutes=1.0,
        blanks=_each("axes.*.drive", "", ("belt", "belt", "screw"), ref="as seen"),
    ),
    Question(
        id="turn",
        ask="Turn it once: how far did it move?",
        how="Plug pulled. Mark the screw with a pencil, note where the carriage stands, turn the "
        "screw once, measure again. For a belt or a rack count the teeth of the small wheel.",
        picture="turn",
        minutes=3.0,
        blanks=_drives(
            screw_lead=Blank(path="axes.*.screw.lead", label=", one turn moves", example="1/2 in",
                             ref="one turn, by rule"),
            belt_teeth=Blank(path="axes.*.belt.teeth", label=", teeth of the pulley", example="20",
                             ref="counted"),
            belt_pitch=Blank(path="axes.*.belt.pitch", label=", belt from tooth to tooth",
                             example="2 mm", ref="print on the belt"),
            rack_teeth=Blank(path="axes.*.rack.teeth", label=", teeth of the pinion", example="20",
                             ref="counted"),
        ),
    ),
    Question(
        id="motor",
        ask="What does the label on the motors say?",
        how="Wipe it and read it with a lamp. No label: measure the side of its square face, and "
        "leave the rest as it is.",
        picture="motor",
        minutes=4.0,
        blanks=(
            Blank(path="axes.*.motor.flange", label="side of its face", example="57 mm",
                  ref=_RULE),
            Blank(path="axes.*.motor.rated_current", label="current of a phase", example="2.8 A",
                  kind="datasheet", ref=_LABEL, unit="A"),
            Blank(path="axes.*.motor.holding_torque", label="holding torque", example="1.9 N m",
                  kind="datasheet", ref=_LABEL),
            Blank(path="axes.*.motor.full_steps", label="full steps in a turn (1.8° is 200)",
                  example="200", kind="datasheet", ref=_LABEL),
        ),
    ),
    Question(
        id="driver",
        ask="How are the drivers set?",
        how="Small switches on each driver, with a table printed beside them. Say whether the "
        "table means peak or RMS.",
        picture="driver",
        minutes=3.0,
        blanks=(
            Blank(path="axes.*.driver.microsteps", label="microsteps in a full step", example="8",
                  kind="datasheet", ref="switches on the driver"),
            Blank(path="axes.*.driver.current", label="current set", example="2.7 A peak",
                  kind="datasheet", ref="switches on the driver"),
        ),
    ),
    Question(
        id="supply",
        ask="How many volts feed the drivers?",
        how="It is printed on the power supply, on the side that goes to the drivers. Read it; "
        "do not open it.",
        picture="supply",
        minutes=1.0,
        blanks=(
            Blank(path="axes.*.driver.supply", label="supply", example="36 V", kind="datasheet",
                  ref="power supply label", unit="V"),
        ),
    ),
    Question(
        id="carried",
        ask="What does it run on?",
        how="Steel wheels with a V groove, plastic wheels, carriages with balls on ground rails, "
        "or sleeves on round bars. If two fingers can turn a wheel while it stands, it is hardly "
        "pressed on.",
        picture="carried",
        minutes=2.0,
        blanks=(
            Blank(path="rails.wheel", label="runs on", example="steel V"),
            Blank(path="rails.preload", label="each wheel is pressed on with", example="30 to 90 N",
                  kind="estimated", ref="by feel",
                  only=("rails.wheel", ("steel V", "plastic V"))),
        ),
    ),
    Question(
        id="beam",
        ask="What is the beam made of, and how big is it?",
        how="The bar that the carriage hangs on. A caliper for the wall, a rule for the rest.",
        picture="beam",
        minutes=3.0,
        blanks=(
            Blank(path="frame.beam.material", label="made of", example="aluminium 6061/6063"),
            Blank(path="frame.beam.width", label="front to back", example="40 mm", ref=_RULE),
            Blank(path="frame.beam.depth", label="height", example="3 1/8 in", ref=_RULE),
            Blank(path="frame.beam.wall", label="wall (a solid bar: half its height)",
                  example="3 mm", ref="by caliper"),
        ),
    ),
    Question(
        id="spindle",
        ask="What turns the cutter?",
        how="Read its plate. The watts or amps of a hand router are what it takes from the socket, "
        "not what it gives; write amps and volts. Switched and turned up by hand: hand router. By "
        "the program, through a drive of its own: variable frequency.",
        picture="spindle",
        minutes=3.0,
        blanks=(
            Blank(path="spindle.kind", label="switched and driven", example="hand router"),
            Blank(path="spindle.input_current", label="amps on its plate", example="5 A",
                  kind="datasheet", ref="plate", unit="A",
                  only=("spindle.kind", ("hand router",))),
            Blank(path="spindle.input_voltage", label="volts on its plate", example="230 V",
                  kind="datasheet", ref="plate", unit="V",
                  only=("spindle.kind", ("hand router",))),
            Blank(path="spindle.power", label="power at the shaft", example="800 W",
                  kind="datasheet", ref="plate", unit="W",
                  only=("spindle.kind", ("variable frequency",))),
            Blank(path="spindle.lowest", label="slowest", example="10000 rev/min",
                  kind="datasheet", ref="plate", unit="rev/min"),
            Blank(path="spindle.highest", label="fastest", example="27000 rev/min",
                  kind="datasheet", ref="plate", unit="rev/min"),
        ),
    ),
    Question(
        id="table",
        ask="How big is the table, and how high above it does the nose end?",
        how="Rule along X and along Y. Then Z right up: from the table to the spindle's nose.",
        picture="table",
        minutes=4.0,
        blanks=(
            Blank(path="table.width", label="along X", example="27 in", ref=_RULE),
            Blank(path="table.depth", label="along Y", example="480 mm", ref=_RULE),
            Blank(path="table.nose_height", label="nose above it, Z right up",
                  example="112 ± 1 mm", ref=_RULE),
            Blank(path="table.spoil_board", label="spoil board", example="12 mm", ref=_RULE),
        ),
    ),
    Question(
        id="feed",
        ask="How fast do you run it?",
        how="The feed that you cut with most, and the rapid speed that is set for each axis.",
        picture="feed",
        minutes=1.0,
        blanks=(
            Blank(path="controller.usual_feed", label="usual feed", example="1500 mm/min",
                  kind="estimated", ref="as cut so far"),
            Blank(path="controller.*.rapid", label="rapid, X / Y / Z",
                  example="3000 mm/min / 3000 mm/min / 800 mm/min",
                  kind="datasheet", ref="as set"),
        ),
    ),
    Question(
        id="play",
        ask="How much play is there when it turns back?",
        how="Dial against the carriage. Push it lightly one way, read; push it the other way, "
        "read. The difference is the play.",
        picture="play",
        minutes=10.0,
        blanks=_drives(
            screw=Blank(path="axes.*.screw.play", label="", example="0.03 ± 0.02 mm", ref=_DIAL),
            belt=Blank(path="axes.*.belt.play", label="", example="0.03 ± 0.02 mm", ref=_DIAL),
            rack=Blank(path="axes.*.rack.play", label="", example="0.03 ± 0.02 mm", ref=_DIAL),
        ),
    ),
    Question(
        id="push",
        ask="Push the nose with a spring scale: how far does it give?",
        how="Unplug the spindle, and let the motors hold as they do while it cuts. Middle of the "
        "bed, Z down, dial against the nose. Pull with the scale and read both.",
        picture="push",
        minutes=15.0,
        blanks=_each("frame.pushed_*", "", ("0.20 ± 0.02 mm at 45 N", "0.006 in at 10 lbf"),
                     ref="spring scale and dial"),
    ),
)  # fmt: skip

BLANKS: dict[str, Blank] = {b.path: b for question in QUESTIONS for b in question.blanks}

"""Carries a program out line by line in the order of NISTIR 6556, 3.8, and lists what happens.

Places are mm in absolute coordinates. The listing has the entries of the vectors' conventions.
"""

from dataclasses import dataclass, field

from .lines import Fault, read_line, whole
from .shapes import INCH, Shapes


@dataclass
class Read:
    """The listing, the state at the end, or the first fault and what came before its line."""

    motions: list
    after: dict
    fault: Fault | None = None


@dataclass
class Machine:
    """All that one line hands to the next."""

    place: list
    parameters: dict
    lengths: dict
    diameters: dict
    spindle_slot: int
    slots: int = 12
    motion: int | None = None
    plane: int = 170
    absolute: bool = True
    inverse: bool = False
    unit: float = 1.0
    old_level: bool = True
    path: int = 640
    feed: float = 0.0
    speed: float = 0.0
    turning: str = "stop"
    mist: bool = False
    flood: bool = False
    overrides: bool = True
    selected: int = 0
    length: float = 0.0
    length_on: bool = False
    system: int = 1
    origin: list = field(default_factory=lambda: [0.0, 0.0, 0.0])
    g92: list = field(default_factory=lambda: [0.0, 0.0, 0.0])
    side: int = 0
    side_code: int = 400
    radius: float = 0.0
    outline: list | None = None  #: the programmed point; None until the entry move is done
    heading: float | None = None  #: of the motion that led to the place, rad
    cycle: dict = field(default_factory=dict)
    messages: list = field(default_factory=list)
    shown: tuple = ("stop", 0.0)


def read(text, setup=None):
    """Follow a whole program; ``setup`` as in the vectors."""
    setup = setup or {}
    machine = machine_of(setup)
    motions = []
    try:
        if machine.parameters.setdefault(5220, 1.0) not in range(1, 10):
            raise Fault("coordinate_system_index")
        choose(machine, int(machine.parameters[5220]))
        for number, line in _lines(text, machine):
            listed = []
            try:
                ended = one_line(machine, line, listed, setup)
            except Fault as fault:
                raise Fault(fault.kind, number) from None
            motions += [{**entry, "line": number} for entry in listed]
            if ended:
                break
    except Fault as fault:
        return Read(motions, {}, fault)
    return Read(motions, _after(machine))


def one_line(machine, text, listed, setup):
    """Carry out one line, adding to ``listed``; True when the program ends on it."""
    line = read_line(text, machine.parameters)
    if line.slash and setup.get("block_delete"):
        return False
    return _Block(machine, line, listed, setup).run()


def choose(machine, system):
    """3.2.1: an origin counts from when its system is chosen or G10 sets it."""
    first = 5221 + 20 * (system - 1)
    machine.system = system
    machine.origin = [machine.parameters.get(first + axis, 0.0) for axis in range(3)]


def machine_of(setup):
    """How the machine stands before the first line."""
    tools = {
        "1": {"diameter": 6.0, "length": 50.0},
        "2": {"diameter": 3.175, "length": 42.5},
        "3": {"diameter": 12.0, "length": 61.0},
        **setup.get("tools", {}),
    }
    slot = setup.get("tool_in_spindle", 1)
    return Machine(
        place=[float(value) for value in setup.get("start", (0, 0, 0))],
        parameters={int(index): float(v) for index, v in setup.get("params", {}).items()},
        lengths={int(one): tool["length"] for one, tool in tools.items()},
        diameters={int(one): tool["diameter"] for one, tool in tools.items()},
        spindle_slot=slot,
        selected=slot,
    )


def _lines(text, machine):
    """3.1: numbered lines up to the end of the useful text; who asks no more has met M2 or M30."""
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    begun = framed = False
    for number, line in enumerate(lines, 1):
        bare = line.strip(" \t")
        if bare == "%":
            if framed:
                return
            if begun:
                raise Fault("stray_percent", number)
            begun = framed = True
        elif bare:
            begun = True
            yield number, line
    raise Fault("percent_not_closed" if framed else "no_program_end")


def _after(machine):
    return {
        "params": {index: value for index, value in machine.parameters.items() if value},
        "messages": machine.messages,
        "place": list(machine.place),
        "gauge_z": machine.place[2] + machine.length,
        "modes": {
            "motion": "none" if machine.motion is None else _name(machine.motion),
            "plane": _name(machine.plane),
            "distance": "G90" if machine.absolute else "G91",
            "feed_mode": "G93" if machine.inverse else "G94",
            "units": "G21" if machine.unit == 1.0 else "G20",
            "crc": _name(machine.side_code),
            "length_offset": "G43" if machine.length_on else "G49",
            "retract": "G98" if machine.old_level else "G99",
            "coordinate_system": _SYSTEMS[machine.system - 1],
            "path": _name(machine.path),
            "override": "M48" if machine.overrides else "M49",
            "spindle": machine.turning,
            "coolant": _coolant(machine),
            "g92": list(machine.g92),
        },
    }


_SYSTEMS = ("G54", "G55", "G56", "G57", "G58", "G59", "G59.1", "G59.2", "G59.3")


def _name(code):
    return f"G{code // 10}" + (f".{code % 10}" if code % 10 else "")


def _coolant(machine):
    return "+".join(["mist"] * machine.mist + ["flood"] * machine.flood) or "off"


class _Block(Shapes):
    """One line being carried out."""

    def run(self):
        """The whole line; True when the program ends on it."""
        if any(letter in self.words for letter in "abc"):
            raise Fault("rotary_axis")
        self._who_takes_the_axes()
        self._comment()
        for index, value in self.line.settings:
            self.m.parameters[index] = value
        self._feed_speed_cutter()
        if 0 in self.codes and self.codes[0] == 40:
            self._add("dwell", seconds=self._not_negative("p"))
        self._modes()
        self._offsets()
        if self.moves:
            self._motion()
        elif self.codes.get(1) == 800:
            self.m.motion = 800
        if set(self.words) - self.used:
            raise Fault("word_unused")
        return self._stop()

    # -- what the line asks for

    def _who_takes_the_axes(self):
        one, zero = self.codes.get(1), self.codes.get(0)
        taker = zero in (100, 280, 300, 920)
        if taker and one not in (None, 800):
            raise Fault("axis_conflict")
        if (
            self.any_axis
            and not taker
            and (one == 800 or (one is None and self.m.motion in (None, 800)))
        ):
            raise Fault("g80_axis_words")
        self.moves = one not in (None, 800) or (one is None and self.any_axis and not taker)
        self.mode = self.m.motion if one is None else one
        if zero == 530:
            if self.mode not in (0, 10):
                raise Fault("g53_mode")
            if not self.any_axis:
                raise Fault("axis_missing")

    def _comment(self):
        comment = (self.line.comment or "").lstrip(" \t")
        head, comma, rest = comment.partition(",")
        if comma and "".join(head.split()).lower() == "msg":
            self.m.messages.append(rest.strip())

    # -- 3.8, steps 2 to 9

    def _feed_speed_cutter(self):
        m = self.m
        if 5 in self.codes and m.inverse != (self.codes[5] == 930):
            m.inverse, m.feed = self.codes[5] == 930, 0.0
        if "f" in self.words:
            m.feed = self._not_negative("f")
        if "s" in self.words:
            m.speed = self._not_negative("s")
        if "t" in self.words:
            m.selected = self._slot("t")
        if 6 in self.actions:
            self._turn("stop")
            m.spindle_slot = m.selected
            self._add("tool", slot=m.selected)
        # S and M3 to M5 of one line are one change of the spindle.
        self._turn({None: None, 3: "cw", 4: "ccw", 5: "stop"}[self.actions.get(7)])
        if 8 in self.actions:
            before, action = _coolant(m), self.actions[8]
            m.mist, m.flood = (
                (False, False) if action == 9 else (m.mist or action == 7, m.flood or action == 8)
            )
            if _coolant(m) != before:
                self._add("coolant", state=_coolant(m))
        if 9 in self.actions:
            m.overrides = self.actions[9] == 48

    # -- steps 11 to 18

    def _modes(self):
        m, codes = self.m, self.codes
        if 2 in codes:
            if m.side and codes[2] != m.plane:
                raise Fault("crc_plane")
            m.plane = codes[2]
        if 6 in codes:
            self._not_compensated()
            m.unit = INCH if codes[6] == 200 else 1.0
        if 7 in codes:
            self._compensation(codes[7])
        if 8 in codes:
            m.length_on = codes[8] == 430
            slot = self._slot("h") if m.length_on else 0
            length = m.lengths.get(slot, 0.0) if slot else 0.0
            # 2.1.2.10, 3.5.11: the numbers of the place change, the place does not.
            m.place[2] += m.length - length
            m.length = length
        if 12 in codes:
            self._not_compensated()
            system = 1 + [540, 550, 560, 570, 580, 590, 591, 592, 593].index(codes[12])
            m.parameters[5220] = float(system)
            choose(m, system)
        m.path = codes.get(13, m.path)
        if 3 in codes:
            m.absolute = codes[3] == 900
        if 10 in codes:
            m.old_level = codes[10] == 980

    def _compensation(self, code):
        m = self.m
        if code != 400:
            if m.side:
                raise Fault("crc_already_on")
            if m.plane != 170:
                raise Fault("crc_plane")
            slot = self._slot("d") if "d" in self.words else m.spindle_slot
            radius = (m.diameters.get(slot, 0.0) if slot else 0.0) / 2.0
            m.side = (1 if code == 410 else -1) * (-1 if radius < 0.0 else 1)
            m.radius, m.heading = abs(radius), None
        else:
            m.side = 0
        m.side_code, m.outline = code, None

    # -- step 19

    def _offsets(self):
        m, code = self.m, self.codes.get(0)
        if code in (280, 300):
            self._home(5161 if code == 280 else 5181)
        elif code == 100:
            if whole(self._word("l")) != 2:
                raise Fault("range")
            system = whole(self._word("p"))
            if not 1 <= system <= 9:
                raise Fault("range")
            for axis, value in self._named_axes():
                m.parameters[5221 + 20 * (system - 1) + axis] = value * m.unit
            if system == m.system:
                self._not_compensated()  # the clause is silent; docs/models/program.md states it
                choose(m, system)
        elif code in (920, 921, 922, 923):
            self._not_compensated()
            if code == 920:
                if not self.any_axis:
                    raise Fault("axis_missing")
                for axis, value in self._named_axes():
                    m.g92[axis] = m.place[axis] - self.m.origin[axis] - value * m.unit
            elif code == 923:
                m.g92 = [m.parameters.get(5211 + axis, 0.0) for axis in range(3)]
            else:
                m.g92 = [0.0, 0.0, 0.0]
            if code in (920, 921):
                m.parameters.update({5211 + axis: m.g92[axis] for axis in range(3)})

    def _home(self, first):
        self._not_compensated()
        if self.any_axis:
            self._straight("rapid", self._target())
        self._straight("rapid", [self.m.parameters.get(first + axis, 0.0) for axis in range(3)])

    # -- step 21

    def _stop(self):
        m, action = self.m, self.actions.get(4)
        if action in (0, 60) or (action == 1 and self.setup.get("optional_stop")):
            self._add("stop", kind={0: "program", 1: "optional", 60: "pallet"}[action])
        if action not in (2, 30):
            return False
        m.motion, m.plane, m.absolute, m.inverse = 10, 170, True, False
        m.side, m.side_code, m.overrides, m.turning = 0, 400, True, "stop"
        m.mist = m.flood = False
        m.g92 = [0.0, 0.0, 0.0]
        m.parameters[5220] = 1.0
        choose(m, 1)
        return True

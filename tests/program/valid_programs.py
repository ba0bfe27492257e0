"""Whole programs that are valid by NISTIR 6556, drawn by Hypothesis.

The second reader follows each line as it is written, so that arcs close, incremental steps start
where the cutter is, and absolute numbers are those of the origin in force. A line that it refuses
is left out. Nothing here knows the package.
"""

import copy
import math

from hypothesis import strategies as st

from .second_reader import follow
from .second_reader.shapes import PAIRS

_SLOT_OF_LETTER = {"x": 0, "y": 1, "z": 2}
_BLANKS = st.sampled_from(("", "", "", "", " ", " ", "\t", "  "))
_FINE = st.integers(-400, 400).map(lambda n: n / 4)
_PLACE = st.one_of(_FINE, st.integers(-99999, 99999).map(lambda n: n / 1000))
_LENGTH = st.integers(5, 400).map(lambda n: n / 10)
_TURN = st.integers(8, 160).map(math.radians)
_COMMENTS = ("(cut)", "( MSG, look )", "(m s g ,Go)", "(MSG)", "()", "(N5 G0 [x] ;%)", "(msg,)")
_ENDS = st.sampled_from(("\n", "\n", "\n", "\r\n", "\r", "\n\n", "\n \t\n"))
#: A cutter for each slot, one of them with a diameter below 0 (3.5.10).
TABLE = {
    str(slot): {"diameter": -1.5 if slot == 4 else 0.75 * slot, "length": 20.0 + 3.125 * slot}
    for slot in range(1, 13)
}


@st.composite
def programs(draw, most_lines=14):
    """The text of a program, the switches it is read with, and how many lines were refused."""
    setup = {
        "block_delete": draw(st.booleans()),
        "optional_stop": draw(st.booleans()),
        "tools": TABLE,
        "start": draw(st.sampled_from(((0, 0, 0), (7, -3, 9.5), (-20.25, 0.125, 60)))),
    }
    writer = _Writer(draw, setup)
    framed = draw(st.integers(0, 3)) == 0
    if framed:
        writer.text.append(draw(st.sampled_from(("%", " %\t", "\n%"))))
    for _ in range(draw(st.integers(1, most_lines))):
        draw(_WISHES)(writer)
    if framed and draw(st.booleans()):
        writer.text += [draw(st.sampled_from(("%", "\t% "))), "G99 ]]] what follows is not read"]
    else:
        writer.line([draw(st.sampled_from(("m2", "m30")))])
        writer.text.append(draw(st.sampled_from(("", "G0 X1E5 (", "%\n%"))))
    return "".join(line + draw(_ENDS) for line in writer.text), setup, writer.refused


class _Writer:
    """Writes lines and follows them."""

    def __init__(self, draw, setup):
        self.draw, self.setup = draw, setup
        self.machine = follow.machine_of(setup)
        self.machine.parameters[5220] = 1.0
        self.text, self.refused = [], 0

    def pick(self, *choices):
        return self.draw(st.sampled_from(choices))

    def chance(self, one_in):
        return self.draw(st.integers(1, one_in)) == one_in

    # -- numbers

    def number(self, value, digits=8, *, plain=False):
        """``value`` as the language may write it."""
        text = f"{value:.{digits}f}"
        if "." in text and not self.chance(6):
            text = text.rstrip("0").rstrip(".")
        text = "0" if text in ("-0", "") else text
        form = 0 if plain else self.draw(st.integers(0, 14))
        if form == 1 and not text.startswith("-"):
            text = "+" + text
        elif form == 2:
            text = text.replace("0.", ".", 1) if text.lstrip("-").startswith("0.") else text
        elif form == 3 and not text.startswith("-"):
            text = "00" + text
        elif form == 4 and "." not in text:
            text += "."
        elif form == 5:
            text = self.expression(float(text))
        elif form == 6 and self.machine.parameters:
            index = self.pick(*sorted(self.machine.parameters))
            shown = f"{value - self.machine.parameters[index]:.9f}"
            text = f"[#{self.pick(str(index), f'[{index}+0]', f'{index}.00001')} + {shown}]"
        return text

    def expression(self, value):
        whole = self.draw(st.integers(-9, 9))
        rest = f"{value - whole:.9f}"
        return self.pick(
            f"[{whole} + {rest}]",
            f"[{value:.8f} * 2**2 / 4.0]",
            f"[[{value:.8f}]]",
            f"[{value:.8f} - -{abs(whole)} - {abs(whole)}]",
            f"[{value:.8f} + [7 mod 4] - fix[3.9]]",
            f"[{value:.8f} + 0 * sin[{whole * 30}] + 1 - [2 or 0]]",
            f"[{value:.8f} + round[{whole}.4] - {whole}]",
            f"[{value:.8f} * exp[ln[1]] + 1 and 0 + {rest} + {whole}]",
            f"abs[{value:.8f}]" if value >= 0 else f"[0 - abs[{value:.8f}]]",
            f"sqrt[{value:.8f}**2]" if value >= 0 else f"[0-sqrt[{value:.8f}**2]]",
            f"[{value:.8f} + atan[1]/[1] - acos[0] / 2]",
        )

    def code(self, letter, number):
        """A G or M word or a slot, which may be off by less than the tolerance of 3.3.2.1."""
        text = f"{number:g}"
        form = self.draw(st.integers(0, 12))
        if form == 1:
            text = f"0{text}"
        elif form == 2 and "." not in text:
            text += self.pick(".0", ".", ".000004")
        elif form == 3:
            text = f"[{number:g}+0]"
        return letter + text

    def axis(self, letter, target):
        """The word that brings an axis to an absolute place, mm."""
        m = self.machine
        axis = _SLOT_OF_LETTER[letter]
        if m.absolute:
            start = m.origin[axis] + m.g92[axis]
        else:
            start = self.at()[axis]
        return letter + self.number((target - start) / m.unit)

    def at(self):
        """The programmed place."""
        m = self.machine
        return [*m.outline, m.place[2]] if m.side and m.outline else list(m.place)

    # -- lines

    def line(self, words, settings=()):
        """Write a line of these words in any order, if the second reader takes it."""
        pieces = list(self.draw(st.permutations(words))) if len(words) > 1 else list(words)
        for one in settings:
            pieces.insert(self.draw(st.integers(0, len(pieces))), one)
        while self.chance(8):
            pieces.insert(self.draw(st.integers(0, len(pieces))), self.pick(*_COMMENTS))
        head = "/" if self.chance(25) and not {"m2", "m30"} & set(words) else ""
        head += self.pick("", "", "", f"n{self.draw(st.integers(0, 99999))}", "N007")
        text = self.dress([head, *pieces] if head else pieces)
        if len(text) > 256:
            self.refused += 1
            return False
        trial = copy.deepcopy(self.machine)
        try:
            follow.one_line(trial, text, [], self.setup)
        except follow.Fault:
            self.refused += 1
            return False
        self.machine = trial
        self.text.append(text)
        return True

    def dress(self, pieces):
        """Blanks and letters of any size, where the language lets them mean nothing."""
        manner, gap = self.draw(st.integers(0, 11)), self.draw(_BLANKS)
        text = ""
        for number, piece in enumerate(pieces):
            if not piece.startswith("("):
                if manner < 4 or (manner < 7 and number % 2):
                    piece = piece.upper()
                if manner == 11:
                    piece = "".join(letter + self.draw(_BLANKS) for letter in piece)
            text += piece + gap
        return text

    def with_modes(self):
        """Modal words for the front of a motion; the machine is put into them already."""
        words = []
        for _ in range(self.draw(st.integers(0, 2))):
            words += self.draw(_MODES)(self)
        trial = copy.deepcopy(self.machine)
        try:
            follow.one_line(trial, " ".join(words), [], self.setup)
        except follow.Fault:
            return [], self.machine
        before, self.machine = self.machine, trial
        return words, before

    def moved(self, words, modes, before):
        """Write a motion together with the modal words that it was computed with."""
        self.machine = before
        unsure = {"g93", "g94", "g20", "g21"} & set(modes)
        if self.machine.feed == 0.0 or self.machine.inverse or unsure or self.chance(8):
            words = [*words, self.feed()]
        return self.line([*modes, *words])

    def feed(self):
        return "f" + self.number(self.draw(st.integers(1, 4000)) / 2)


# -- words of modes, each a list so that one wish may bring several


def _mode(*codes):
    return lambda writer: [writer.pick(*codes)]


_MODES = st.sampled_from(
    (
        _mode("g90", "g91"),
        _mode("g17", "g18", "g19"),
        _mode("g20", "g21", "g21"),
        _mode("g98", "g99"),
        _mode("g61", "g61.1", "g64"),
        _mode("g94", "g94", "g93"),
        _mode("g54", "g55", "g56", "g57", "g58", "g59", "g59.1", "g59.2", "g59.3"),
        _mode("m3", "m4", "m5"),
        _mode("m7", "m8", "m9"),
        _mode("m48", "m49"),
        lambda w: [w.code("t", w.draw(st.integers(0, 12))), "m6"],
        lambda w: [w.code("t", w.draw(st.integers(0, 12)))],
        lambda w: ["s" + w.number(w.pick(0, 500, 1234.5, 18000), 1)],
        lambda w: ["g49"] if w.chance(3) else ["g43", w.code("h", w.draw(st.integers(0, 12)))],
        lambda w: [w.pick("g40", "g92.1", "g92.2", "g92.3")],
        lambda w: ["g4", "p" + w.number(w.draw(st.integers(0, 90)) / 8)],
        lambda w: [w.pick("m0", "m1", "m60")],
    )
)


# -- wishes: each writes one line or a few


def _modes(writer):
    words = []
    for _ in range(writer.draw(st.integers(1, 3))):
        words += writer.draw(_MODES)(writer)
    writer.line(words)


def _settings(writer):
    """Parameters, some of them through others; used by ``number`` from then on."""
    made = []
    for _ in range(writer.draw(st.integers(1, 3))):
        index = writer.pick(1, 2, 3, 17, 500, 5161, 5162, 5163, 5181, 5183, 5222, 5241, 5399)
        name = writer.pick(f"#{index}", f"#[{index - 1}+1]", f"#{index}.00004")
        value = writer.draw(_PLACE)
        made.append(f"{name}={writer.number(value)}")
    words = [] if writer.chance(2) else [writer.pick("g90", "m8", "g64")]
    writer.line(words, made)


def _offsets(writer):
    axes = [letter for letter in "xyz" if writer.draw(st.booleans())] or ["x"]
    words = [letter + writer.number(writer.draw(_PLACE)) for letter in axes]
    kind = writer.pick("g92", "g10", "g10", "g28", "g30")
    if kind == "g10":
        words += ["l2", writer.code("p", writer.draw(st.integers(1, 9)))]
    elif kind in ("g28", "g30") and writer.chance(2):
        words = []
    writer.line([kind, *words])


def _straight(writer):
    """One to four straight moves; the later ones may leave out the code."""
    for count in range(writer.draw(st.integers(1, 4))):
        modes, before = writer.with_modes() if writer.chance(3) else ([], writer.machine)
        code = writer.pick("g0", "g1", "g1")
        at = writer.at()
        words = [
            writer.axis(letter, writer.draw(_PLACE) if writer.chance(2) else at[axis] + 5.5)
            for letter, axis in _SLOT_OF_LETTER.items()
            if writer.draw(st.booleans())
        ]
        words = words or [writer.axis("y", 12.25)]
        if before.motion in (0, 10) and count and writer.chance(2):
            code = None
        elif writer.chance(9):
            modes = [one for one in modes if one[:3] not in ("g92", "g4")]
            words = [writer.pick("g53"), *words]
        writer.moved([*([code] if code else []), *words], modes, before)


def _arc(writer):
    modes, before = writer.with_modes() if writer.chance(3) else ([], writer.machine)
    m = writer.machine
    a, b, normal = PAIRS[m.plane]
    turn = writer.pick(1, -1)
    start = writer.at()
    radius = writer.draw(_LENGTH)
    begin = math.radians(writer.draw(st.integers(0, 359)))
    sweep = math.radians(writer.draw(st.integers(5, 355)))
    centre = [start[a] - radius * math.cos(begin), start[b] - radius * math.sin(begin)]
    by_radius = writer.chance(3)
    if not by_radius and writer.chance(5):
        target = [start[a], start[b]]
    else:
        target = [
            centre[0] + radius * math.cos(begin + turn * sweep),
            centre[1] + radius * math.sin(begin + turn * sweep),
        ]
    words = [writer.axis("xyz"[a], target[0]), writer.axis("xyz"[b], target[1])]
    if by_radius:
        if abs(math.degrees(sweep) - 180.0) < 4.0:
            return
        words.append("r" + writer.number((radius if sweep < math.pi else -radius) / m.unit, 9))
    else:
        words.append("ijk"[a] + writer.number((centre[0] - start[a]) / m.unit))
        words.append("ijk"[b] + writer.number((centre[1] - start[b]) / m.unit))
    if writer.chance(3):
        words.append(writer.axis("xyz"[normal], start[normal] + writer.draw(_FINE)))
    code = "g3" if turn > 0 else "g2"
    if m.motion != (30 if turn > 0 else 20) or not writer.chance(3):
        words.append(code)
    writer.moved(words, modes, before)


def _outline(writer):
    """Compensation: an entry, then convex corners and tangents along lines and arcs, then G40."""
    if writer.machine.inverse or writer.machine.plane != 170 or writer.machine.feed == 0.0:
        writer.line(["g94", "g17", writer.feed()])
    side = writer.pick(1, -1)
    words = ["g41" if side > 0 else "g42"]
    slot = writer.pick(None, 0, 1, 2, 3, 4, 5)
    if slot is not None:
        words.append(writer.code("d", slot))
    else:
        slot = writer.machine.spindle_slot
    diameter = writer.machine.diameters.get(slot, 0.0)
    side, radius = side if diameter >= 0.0 else -side, abs(diameter) / 2.0
    entry = radius * 1.2 + writer.draw(_LENGTH)
    towards = math.radians(writer.draw(st.integers(0, 359)))
    start = [writer.draw(_FINE), writer.draw(_FINE)]
    if not writer.line(["g0", writer.axis("x", start[0]), writer.axis("y", start[1])]):
        return
    if not writer.line(words):
        return
    at = [start[0] + entry * math.cos(towards), start[1] + entry * math.sin(towards)]
    writer.line([writer.pick("g0", "g1"), writer.axis("x", at[0]), writer.axis("y", at[1])])
    heading = towards + side * math.asin(radius / entry)
    for _ in range(writer.draw(st.integers(1, 6))):
        if writer.draw(st.booleans()):
            heading -= side * writer.draw(_TURN)
        heading = _along_outline(writer, side, radius, heading)
        if writer.chance(6):
            writer.line([writer.pick("g90", "g91", "g64", "g43 h2", "g49", "m8")])
    if not writer.chance(8):
        writer.line(["g40"])


def _along_outline(writer, side, radius, heading):
    """One line or arc of an outline; the heading at its end."""
    at = writer.at()
    if writer.draw(st.booleans()):
        length = writer.draw(_LENGTH)
        to = [at[0] + length * math.cos(heading), at[1] + length * math.sin(heading)]
        words = [writer.pick("g1", "g1", "g0"), writer.axis("x", to[0]), writer.axis("y", to[1])]
    else:
        turn = writer.pick(1, -1)
        size = writer.draw(_LENGTH) + (1.3 * radius if turn == side else 0.0)
        sweep = math.radians(writer.draw(st.integers(10, 350)))
        offset = [-turn * size * math.sin(heading), turn * size * math.cos(heading)]
        heading += turn * sweep
        centre = [at[0] + offset[0], at[1] + offset[1]]
        to = [
            centre[0] + turn * size * math.sin(heading),
            centre[1] - turn * size * math.cos(heading),
        ]
        unit = writer.machine.unit
        words = ["g3" if turn > 0 else "g2", writer.axis("x", to[0]), writer.axis("y", to[1])]
        words += ["i" + writer.number(offset[0] / unit), "j" + writer.number(offset[1] / unit)]
    if writer.chance(5):
        words.append(writer.axis("z", writer.draw(_FINE)))
    writer.line(words)
    return heading


def _cycle(writer):
    """A run of holes: the first line with all words, the next ones with what changes."""
    code = writer.draw(st.integers(81, 89))
    head = ["g94", writer.feed(), "s900", writer.pick("m3", "m3", "m4") if code != 84 else "m3"]
    if code == 87:
        head.append("g17")
    if writer.machine.side:
        head.append("g40")
    writer.line(head)
    m = writer.machine
    deep = PAIRS[m.plane][2]
    letter = "xyz"[deep]
    for count in range(writer.draw(st.integers(1, 4))):
        m = writer.machine
        level = writer.draw(st.integers(-8, 40)) / 4
        depth = writer.draw(st.integers(1, 40)) / 4
        words = [
            one + writer.number(writer.draw(_FINE) / m.unit)
            for one in "xyz"
            if one != letter and writer.draw(st.booleans())
        ]
        if count == 0 or writer.chance(3) or not words:
            deeper = level - depth if m.absolute else -depth
            words.append(letter + writer.number(deeper / m.unit))
            words.append("r" + writer.number(level / m.unit))
        if code in (82, 86, 88, 89) and (count == 0 or writer.chance(4)):
            words.append("p" + writer.number(writer.draw(st.integers(0, 20)) / 8))
        if code == 83 and (count == 0 or writer.chance(4)):
            words.append("q" + writer.number(writer.draw(st.integers(3, 30)) / 8 / m.unit))
        if code == 87:
            words += [one + writer.number(writer.draw(st.integers(-9, 9)) / 8) for one in "ij"]
            words.append("k" + writer.number(depth / 2 / m.unit))
        if writer.chance(4):
            words.append(writer.code("l", writer.draw(st.integers(1, 3))))
        if count == 0 or writer.chance(3):
            words.append(writer.code("g", code))
        if writer.chance(4):
            words.append(writer.pick("g98", "g99"))
        writer.line(words)
        if writer.chance(5):
            writer.line([writer.pick("g90", "g91", "m8", "g4 p1", "m0", "g64")])
    writer.line([writer.pick("g80", "g80", "g0 z20", "g40")])


def _probe(writer):
    if writer.machine.inverse:
        writer.line(["g94", writer.feed()])
    writer.moved(["g38.2", writer.axis("z", writer.draw(_PLACE))], [], writer.machine)


def _remark(writer):
    writer.line([writer.pick(*_COMMENTS)])


_WISHES = st.sampled_from(
    (_modes, _modes, _settings, _offsets, _straight, _straight, _straight, _arc, _arc, _arc)
    + (_outline, _outline, _cycle, _cycle, _probe, _remark)
)

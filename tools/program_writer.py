"""Lines of a cutting program, each word written only where it changes."""

from dataclasses import dataclass, field


@dataclass
class Writer:
    """Lines of the program; a word is written only when it changes."""

    lines: list[str] = field(default_factory=list)
    at: dict[str, str] = field(default_factory=dict)

    def say(self, line):
        """A line as it is; what was in force before it may have changed."""
        self.lines.append(line)
        self.at.clear()

    def move(self, code, feed=None, **to):
        """A straight move to places in mm, with feed in mm/min."""
        pairs = [(letter.upper(), number(value)) for letter, value in to.items()]
        if all(self.at.get(letter) == text for letter, text in pairs):
            return  # there already: a feed alone waits for the next move
        if feed is not None:
            pairs.append(("F", str(feed)))
        words = [("G", code[1:]), *pairs]
        changed = [(letter, text) for letter, text in words if self.at.get(letter) != text]
        self.at.update(changed)
        self.lines.append(" ".join(letter + text for letter, text in changed))

    def take_cutter(self, slot, name, speed, high, starts=True):
        """Stop, change the cutter, start and lift; ``starts`` False forgets the start."""
        self.say("M5")
        self.say(f"(SLOT {slot}: {name})")
        self.say(f"T{slot} M6")
        if starts:
            self.say(f"S{speed} M3")
            self.say("G4 P3")
        self.say(f"G0 Z{number(high)}")

    @property
    def text(self):
        """The whole program."""
        return "".join(f"{line}\n" for line in self.lines).encode("ascii")


def number(value):
    """A length with three decimals at most."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text

"""Which test is worth doing next, and what it would buy: narrower figures."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.machine.answers import is_asked, spread_out
from kerfwright.machine.entries import number_at, words_at
from kerfwright.machine.interview import QUESTIONS
from kerfwright.machine.model import FloatArray, MachineModel
from kerfwright.machine.results import by_hand_mm, thrust_n, usable_step_mm

#: What a spring scale and a dial leave of a push: a twentieth for the scale, as much for the dial.
#: Common practice, no source.
_PUSHED_WITHIN = 0.1
#: A dial is read to that. [mm] Common practice, no source.
_DIAL_MM = 0.01
#: What else a rule, a scale or a spring scale finds.
_BY_HAND = ("length", "mass", "force")
#: A figure that is known to a tenth either way needs no test.
_GOOD_ENOUGH = 0.2
#: A test that does not narrow any figure by a tenth is not worth the walk.
_WORTH = 0.1
_ENDS = (2.5, 97.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Buys:
    """One test, and the figure that it narrows most."""

    question: str  #: id of the interview's question; empty for a value that it does not ask for
    words: str  #: what to find out
    minutes: float | None
    figure: str
    unit: str
    now: tuple[float, float]  #: nineteen times in twenty
    after: tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Figure:
    name: str
    unit: str
    of: Callable[[MachineModel], float]
    pushed: str = ""  #: the entry that measures it outright
    read_within: float = 0.0  #: what the reading itself leaves, either way


def _figures() -> list[_Figure]:
    out = []
    for index, axis in enumerate("xyz"):
        name = axis.upper()

        def thrust(m: MachineModel, index: int = index) -> float:
            return float(thrust_n(m.axes[index], 0.0))

        def at_top(m: MachineModel, index: int = index) -> float:
            return float(thrust_n(m.axes[index], m.axes[index].top_speed_mm_per_s))

        def step(m: MachineModel, index: int = index) -> float:
            return usable_step_mm(m.axes[index])

        def play(m: MachineModel, index: int = index) -> float:
            return m.axes[index].play_mm

        def give(m: MachineModel, index: int = index) -> float:
            return by_hand_mm(m, index)

        out += [
            _Figure(f"give at the nose along {name}", "mm", give, f"frame.pushed_{axis}"),
            _Figure(f"push of {name} at a crawl", "N", thrust),
            _Figure(f"push of {name} at its top speed", "N", at_top),
            _Figure(f"least sure move of {name}", "mm", step),
            _Figure(f"play of {name}", "mm", play, read_within=_DIAL_MM),
        ]
    return out


def worth_trying(
    machine: MachineModel, crowd: Sequence[MachineModel], most: int = 4
) -> tuple[Buys, ...]:
    """Tests that would narrow the figures of the card most, the best first.

    Notes
    -----
    The share of a figure's spread that goes with the values that a test finds is read from ranks
    over the draws (squared multiple correlation, corrected for its number of values); what is left
    of the spread is the root of the rest. A push that is tried leaves its own spread.
    """
    columns = _columns(machine, crowd)
    figures = _figures()
    rows = [np.array([figure.of(m) for m in crowd]) for figure in figures]
    found: list[tuple[float, Buys]] = []
    for question, words, minutes, paths in _tests(machine, columns):
        best, gain, whole = None, _WORTH, 0.0
        for figure, row in zip(figures, rows, strict=True):
            low, high = (float(end) for end in np.percentile(row, _ENDS))
            middle = figure.of(machine)
            if high - low <= _GOOD_ENOUGH * abs(middle):
                continue
            left = _left(row, figure, paths, columns, (high - low) / max(abs(middle), 1e-12))
            whole += 1.0 - left
            if 1.0 - left > gain:
                gain = 1.0 - left
                after = _after(middle, low, high, left, figure.read_within)
                best = Buys(question=question, words=words, minutes=minutes, figure=figure.name,
                            unit=figure.unit, now=(low, high), after=after)  # fmt: skip
        if best is not None:
            found.append((whole, best))
    return tuple(buys for _, buys in sorted(found, key=lambda item: -item[0])[:most])


def _after(
    middle: float, low: float, high: float, left: float, within: float
) -> tuple[float, float]:
    """The spread once the test is done, never wider than now nor narrower than its reading."""
    return (
        max(low, middle - max(left * (middle - low), within)),
        min(high, middle + max(left * (high - middle), within)),
    )


def _columns(machine: MachineModel, crowd: Sequence[MachineModel]) -> dict[str, FloatArray]:
    """Ranks of every value that is loose and was not measured."""
    out = {}
    for path, known in machine.known.items():
        if known.kind == "measured" or (known.u is None and known.low is None):
            continue
        column = np.array([m.values[path] for m in crowd])
        if np.ptp(column) > 0.0:
            out[path] = np.argsort(np.argsort(column)).astype(np.float64)
    return out


def _tests(
    machine: MachineModel, columns: Mapping[str, FloatArray]
) -> list[tuple[str, str, float | None, list[str]]]:
    """Id, words, minutes and paths: the interview's questions, then each value that they leave."""
    data = _nested(machine.choices)
    tests: list[tuple[str, str, float | None, list[str]]] = []
    asked: set[str] = set()
    for question in QUESTIONS:
        blanks = [b for b in question.blanks if is_asked(b, data)]
        paths = [p for b in blanks for p in spread_out(b.path)]
        asked.update(paths)
        loose = [p for p in paths if p in columns]
        if question.id == "push":
            loose = [p for p in paths if p not in machine.known]
        if loose:
            tests.append((question.id, question.ask, question.minutes, loose))
    others = [
        path
        for path in columns
        if path not in asked
        and number_at(path).dimension in _BY_HAND
        and not path.endswith("preload")  # no spring scale gets at it
    ]
    return tests + [("", words_at(p), None, [p]) for p in others]


def _nested(choices: Mapping[str, str]) -> dict[str, object]:
    """Dotted paths as the tables of a file."""
    out: dict[str, object] = {}
    for path, word in choices.items():
        holder = out
        *sections, key = path.split(".")
        for section in sections:
            holder = holder.setdefault(section, {})  # type: ignore[assignment]
        holder[key] = word
    return out


def _left(
    row: FloatArray,
    figure: _Figure,
    paths: Sequence[str],
    columns: Mapping[str, FloatArray],
    relative: float,
) -> float:
    """What a test leaves of a figure's spread, 0 to 1."""
    if figure.pushed in paths:
        return min(1.0, 2.0 * _PUSHED_WITHIN / relative)
    known = [columns[path] for path in paths if path in columns]
    if not known or len(row) <= len(known) + 2:
        return 1.0
    ranks = np.argsort(np.argsort(row)).astype(np.float64)
    ranks -= ranks.mean()
    inputs = np.stack([column - column.mean() for column in known], axis=1)
    fitted = inputs @ np.linalg.lstsq(inputs, ranks, rcond=None)[0]
    rest = float(((ranks - fitted) ** 2).sum() / (ranks**2).sum())
    corrected = rest * (len(row) - 1) / (len(row) - len(known) - 1)
    return float(np.sqrt(min(corrected, 1.0)))

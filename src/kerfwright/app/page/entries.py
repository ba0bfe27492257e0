"""What a person can set in a job, as rows of the page: typed text and what was understood."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from kerfwright.app.page import reading
from kerfwright.basics import Estimate, KerfwrightError, Known
from kerfwright.formats import QuantityError, read_known
from kerfwright.formats.quantity import read_size
from kerfwright.report.figures import amount, estimate_words
from kerfwright.setup import Setup
from kerfwright.setup.zero import UNSAID, methods
from kerfwright.workshop.folder import JobFolder, Workshop

UNKNOWN = "don't know"
AS_WRITTEN = "as written in job.toml"  #: a value that has no one line to type
_WOODS = (
    "hard maple", "soft maple", "white oak", "red oak", "beech", "ash", "walnut", "cherry",
    "birch", "alder", "pine", "spruce", "birch ply", "MDF",
)  # fmt: skip
#: Units in which what was understood is said; ``report.figures`` adds the other system's.
_UNITS = {"length": "mm", "density": "kg/m³", "share": "%", "stress": "MPa"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One entry of the job file."""

    path: str
    label: str
    help: str
    dimension: str = ""  #: of a quantity; empty for words
    kind: str = "text"
    choices: tuple[str, ...] = ()


_ROWS = (
    Row(path="note", label="Note", help="For people; changes nothing."),
    Row(
        path="board.size", label="Board",
        help="Along X (to the right), along Y (to the back), thick: 310 x 310 x 30 mm.",
    ),
    Row(
        path="board.thickness", label="Thickness, measured", dimension="length",
        help="With a caliper at the four corners; counts before the one in the size.",
    ),
    Row(path="board.wood", label="Wood", help="A shop name or a species.", choices=_WOODS),
    Row(
        path="board.grain", label="Grain", help="Which way the fibres run.",
        choices=("along X", "along Y", UNKNOWN),
    ),
    Row(
        path="board.moisture", label="Moisture", dimension="share",
        help="Water over dry mass, from a meter: 8 %.",
    ),
    Row(
        path="board.density", label="Density", dimension="density",
        help="Mass over length x width x thickness. Nothing narrows the forces more cheaply.",
    ),
    Row(
        path="board.at", label="Where it lies", choices=("middle", UNKNOWN),
        help="Left front corner of the board from that of the table: 120 mm, 80 mm.",
    ),
    Row(
        path="zero.x", label="Zero in X", choices=("left", "middle", "right"),
        help="Where the program's X0 is on the board; or a length from the left edge.",
    ),
    Row(
        path="zero.y", label="Zero in Y", choices=("front", "middle", "back"),
        help="Where the program's Y0 is on the board; or a length from the front edge.",
    ),
    Row(
        path="zero.z", label="Zero in Z", choices=("top", "table"),
        help="Where the program's Z0 is; or a height from the top, below 0 into the wood.",
    ),
    *(
        Row(
            path=f"zero.{axis}_by", label=f"Zero in {axis.upper()} set by",
            help="How it was set; or your own spread, ± 0.05 mm.",
            choices=(*(name for name in methods(axis) if name != UNSAID), UNSAID),
        )
        for axis in "xyz"
    ),
    Row(
        path="zero.after_change", label="Z after a cutter change",
        help="What you do with Z: no two cutters stick out alike.",
        choices=("set again", "kept"),
    ),
    Row(
        path="limits.below_board", label="Into the spoil board", dimension="length",
        help="How deep the job may cut below the board.",
    ),
    Row(
        path="limits.tolerance", label="Right means within", dimension="length",
        help="How far proud or shy still counts as right.",
    ),
    Row(
        path="hold.screws", label="Screws", kind="lines",
        help="One to a row, from the board's left front corner: 12 mm, 12 mm.",
    ),
    Row(
        path="hold.tape", label="Tape", choices=("whole",),
        help="Under the whole board; strips of it are written in job.toml.",
    ),
    Row(
        path="hold.vacuum", label="Vacuum", dimension="stress",
        help="What it presses with: 40 kPa.",
    ),
    Row(
        path="clamps", label="Clamps", kind="lines",
        help="One to a row: left at -25 mm, 45 mm size 40 x 30 mm height 18 mm",
    ),
)  # fmt: skip
ROWS = {row.path: row for row in _ROWS}


def entries_of(
    workshop: Workshop, job: JobFolder, setup: Setup | None, wanted: list[int]
) -> list[dict[str, Any]]:
    """Every entry of a job; ``wanted``: the slots that its program calls for."""
    data = reading.data_of(job.job_file)
    assumed = list(setup.assumed) if setup is not None else []
    rows = [_entry(row, data, setup, assumed) for row in _ROWS]
    before = next(k for k, row in enumerate(_ROWS) if row.path == "limits.below_board")
    return [*rows[:before], *_slots(workshop, data, wanted), *rows[before:]]


def row_at(path: str) -> Row | None:
    """The row of a path; None if there is none."""
    if path in ROWS:
        return ROWS[path]
    parts = path.split(".")
    if parts[0] == "slots" and len(parts) in (2, 3):
        number_or_first = parts[1] == "first" or (
            parts[1].isascii() and parts[1].isdigit() and 1 <= len(parts[1]) <= 3
        )
        if number_or_first and parts[2:] in ([], ["stick_out"]):
            return Row(path=path, label=f"Slot {parts[1]}", help="")
    return None


def _entry(
    row: Row, data: Mapping[str, Any], setup: Setup | None, assumed: list[str]
) -> dict[str, Any]:
    value = value_at(data, row.path)
    typed = typed_of(row, value)
    words = understood(row, value, setup)
    if not words and (not typed or typed == UNKNOWN):
        words = _taken(row, assumed)
    return _plain(row, typed, words, source_of(value))


def _plain(row: Row, typed: str, words: str, source: str) -> dict[str, Any]:
    return {
        "path": row.path,
        "label": row.label,
        "help": row.help,
        "kind": "choice" if row.choices else row.kind,
        "typed": typed,
        "words": words,
        "source": source,
        "choices": list(row.choices),
    }


def value_at(data: Any, path: str) -> Any:
    """What stands at a dotted path; None where nothing does."""
    for part in path.split("."):
        if not isinstance(data, Mapping) or part not in data:
            return None
        data = data[part]
    return data


def typed_of(row: Row, value: Any) -> str:
    """A value as the person would type it."""
    if value is None:
        return ""
    if row.path == "clamps":
        return "\n".join(_clamp_line(one) for one in value) if isinstance(value, list) else ""
    if isinstance(value, Mapping):
        value = value.get("is", value.get("cutter", ""))
    if isinstance(value, list):
        if any(isinstance(one, Mapping) for one in value):
            return AS_WRITTEN
        lines = [", ".join(map(str, one)) if isinstance(one, list) else str(one) for one in value]
        return ("\n" if row.kind == "lines" else ", ").join(lines)
    return str(value)


def _clamp_line(clamp: Mapping[str, Any]) -> str:
    parts = [str(clamp.get("name", clamp.get("clamp", "clamp")))]
    for key, word in (("at", "at"), ("on_table", "on table")):
        if isinstance(clamp.get(key), list):
            parts.append(f"{word} " + ", ".join(map(str, clamp[key])))
    for key in ("size", "height", "force"):
        said = clamp.get(key)
        said = said.get("is") if isinstance(said, Mapping) else said
        if said is not None:
            parts.append(f"{key} {said}")
    return " ".join(parts)


def source_of(value: Any) -> str:
    """Where a value comes from, as its table says."""
    if not isinstance(value, Mapping):
        return ""
    return ", ".join(str(value[key]) for key in ("from", "ref") if value.get(key))[:300]


def understood(row: Row, value: Any, setup: Setup | None) -> str:
    """What was made of an entry, in inch and metric, with its spread."""
    if value is None:
        return ""
    if row.path == "board.size":
        return _size_words(value)
    if row.path == "board.wood" and setup is not None:
        return _wood_words(setup)
    if row.path.startswith("zero.") and row.path[5:] in ("x", "y", "z") and setup is not None:
        known = setup.known.get(row.path)
        return "" if known is None else known_words(known, "mm")
    if not row.dimension:
        return ""
    try:
        known = read_known(value, row.dimension, "job file")
    except QuantityError:
        return ""
    if known is None:
        return ""
    return known_words(known, _UNITS[row.dimension], 100.0 if row.dimension == "share" else 1.0)


def known_words(known: Known, unit: str, factor: float = 1.0) -> str:
    """A value with its spread."""
    low, high = known.interval()
    return estimate_words(
        Estimate(value=factor * known.value, low=factor * low, high=factor * high), unit
    )


def _size_words(value: Any) -> str:
    said = value.get("is") if isinstance(value, Mapping) else value
    try:
        sizes, _ = read_size(str(said))
    except QuantityError:
        return ""
    return " × ".join(amount(mm, "mm") for mm in sizes)


def _wood_words(setup: Setup) -> str:
    wood = setup.board.wood
    known = wood.known.get("density_kg_per_m3")
    density = "" if known is None else ": " + known_words(known, "kg/m³")
    return f"{wood.name}{density}"


def _taken(row: Row, assumed: list[str]) -> str:
    """What is taken where nothing is said: the set-up's own words."""
    keys = {
        "board.thickness": "thickness", "board.wood": "wood", "board.grain": "grain",
        "board.moisture": "moisture", "board.density": "density", "board.at": "the board lies",
        "zero.x": "zero in X at", "zero.y": "zero in Y at", "zero.z": "zero in Z at",
        "zero.x_by": "zero in X within", "zero.y_by": "zero in Y within",
        "zero.z_by": "zero in Z within", "limits.tolerance": "right means",
    }  # fmt: skip
    start = keys.get(row.path)
    if start is None:
        return "0 mm" if row.path == "limits.below_board" else ""
    found = next((words for words in assumed if words.lower().startswith(start.lower())), "")
    return f"taken: {found}" if found else ""


def _slots(workshop: Workshop, data: Mapping[str, Any], wanted: list[int]) -> list[dict[str, Any]]:
    try:
        rack = reading.rack(workshop)
    except KerfwrightError:
        rack = {}
    said = data.get("slots", {})
    said = said if isinstance(said, Mapping) else {}
    numbers = {int(key) for key in said if str(key).isascii() and str(key).isdigit()}
    numbers |= set(wanted) or (set() if numbers else {1})
    out = []
    for number in sorted(numbers)[:50]:
        value = said.get(str(number))
        row = Row(
            path=f"slots.{number}", label=f"Cutter in slot {number}", choices=tuple(rack),
            help="A cutter of your rack, as cutters.toml names it.",
        )  # fmt: skip
        typed = typed_of(row, value)
        cutter = rack.get(typed)
        words = ""
        if cutter is not None:
            words = (
                f"{amount(cutter.diameter_mm, 'mm')} across, {cutter.flutes} flutes, sticks out "
                f"{amount(cutter.stick_out_mm, 'mm')}"
            )
        elif number in wanted:
            words = "the program calls for it"
        out.append(_plain(row, typed, words, ""))
        out.append(_stick_out(number, value))
    names = tuple(str(number) for number in sorted(numbers))
    first = Row(
        path="slots.first", label="In the spindle at the start", choices=names,
        help="The slot whose cutter is in the spindle when the program begins.",
    )  # fmt: skip
    return [*out, _plain(first, typed_of(first, said.get("first")), "", "")]


def _stick_out(number: int, value: Any) -> dict[str, Any]:
    said = value.get("stick_out") if isinstance(value, Mapping) else None
    row = Row(
        path=f"slots.{number}.stick_out", label=f"Sticks out, slot {number}", dimension="length",
        help="From the collet nut to the tip, where the job holds it otherwise than the rack.",
    )  # fmt: skip
    return _plain(row, typed_of(row, said), understood(row, said, None), source_of(said))

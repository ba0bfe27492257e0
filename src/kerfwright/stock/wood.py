"""From the name of a wood to its density, as far as a name can tell."""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from math import hypot
from typing import Literal, cast

import numpy as np

from kerfwright.basics import KerfwrightError, Known
from kerfwright.physics.wood import wood_density_kg_per_m3
from kerfwright.stock.board import Wood, WoodKind
from kerfwright.tables import read_table

#: Moisture of wood kept indoors, when nothing is said. Common practice, no source.
DEFAULT_MOISTURE_PERCENT = 8.0
DEFAULT_MOISTURE_RANGE_PERCENT = (6.0, 12.0)
#: Coefficient of variation of specific gravity within a species: Wood Handbook FPL-GTR-190,
#: Table 5-6, read in a public transcription.
GRAVITY_VARIATION = 0.10
UNKNOWN_NAMES = ("don't know", "dont know", "don’t know", "unknown", "?", "")

_HANDBOOK = "Wood Handbook FPL-GTR-190, specific gravity (R2) and equation 4-14 (R2)"
_ALL = "don't know"


class WoodError(KerfwrightError):
    """A wood that is in no table. ``problem`` and ``remedy`` are for the reader of the file."""

    def __init__(self, problem: str, remedy: str) -> None:
        self.problem, self.remedy = problem, remedy
        super().__init__(problem, remedy)

    def __str__(self) -> str:
        return f"{self.problem}\n  remedy: {self.remedy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """What a name stands for."""

    members: tuple[str, ...]
    kind: WoodKind
    family: Literal["hardwood", "softwood", "panel"]
    remark: str = ""


def find_wood(name: str, moisture_percent: float | None = None) -> Wood:
    """The wood of a name, with its density at a moisture content.

    Parameters
    ----------
    name : str
        A shop name (``hard maple``, ``birch ply``), a name of the species table in either order
        (``sugar maple``, ``Maple, sugar``), or ``don't know``.
    moisture_percent : float or None
        Water over oven-dry mass; None when it is not known. Panels do not use it. [%]

    Returns
    -------
    Wood
        ``known["density_kg_per_m3"]`` holds the spread: within a species 10 % (coefficient of
        variation), and between the species that a loose name may mean.

    Raises
    ------
    WoodError
        If the name is in no table, or the moisture is out of its range.
    """
    if moisture_percent is not None and not 0.0 <= moisture_percent <= 200.0:
        raise WoodError(
            f"a moisture of {moisture_percent:g} % is not between 0 and 200 %",
            "write what a moisture meter reads, or leave it out",
        )
    key = _plain(name)
    if key in UNKNOWN_NAMES:
        key = _ALL
    entry = _entries().get(key)
    if entry is None:
        raise _unknown(name, key)
    if entry.kind == "solid" and entry.members[0] in _species():
        known = _solid_density(key, entry, moisture_percent)
    else:
        known = _panel_density(entry)
    return Wood(
        name="wood not named" if key == _ALL else key,
        kind=entry.kind,
        density_kg_per_m3=known.value,
        family=entry.family,
        known={"density_kg_per_m3": known},
    )


def wood_names() -> tuple[str, ...]:
    """Every name that ``find_wood`` knows, in order."""
    return tuple(sorted(_entries()))


def members_of(name: str) -> tuple[str, ...]:
    """The species, or panels, that a wood's name may mean."""
    entry = _entries().get(_plain(name)) or _entries()[_ALL]
    return entry.members


def _solid_density(key: str, entry: _Entry, moisture_percent: float | None) -> Known:
    rows = [_species()[member] for member in entry.members]
    gravity = np.array([row[0] for row in rows])
    shrinkage = np.array([row[1] for row in rows])
    moisture = DEFAULT_MOISTURE_PERCENT if moisture_percent is None else moisture_percent
    density = wood_density_kg_per_m3(gravity, moisture, shrinkage)
    about = f"; {entry.remark}" if entry.remark else ""
    if key == _ALL:
        low, high = (float(x) for x in np.percentile(density, (2.5, 97.5)))
        return Known(
            value=0.5 * (low + high),
            kind="default",
            ref=f"19 of 20 species in the table of {len(rows)}: {_HANDBOOK}{about}",
            low=low,
            high=high,
        )
    mean = float(density.mean())
    spread = hypot(GRAVITY_VARIATION * mean, float(density.std()))
    if moisture_percent is None:
        ends = wood_density_kg_per_m3(
            gravity.mean(), np.array(DEFAULT_MOISTURE_RANGE_PERCENT), float("nan")
        )
        spread = hypot(spread, float(ends[1] - ends[0]) / np.sqrt(12.0))
    meaning = "; ".join(entry.members) if len(rows) <= 6 else f"{len(rows)} species"
    return Known(
        value=mean,
        kind="estimated",
        ref=f"{meaning} at {moisture:g} % moisture: {_HANDBOOK}, spread Table 5-6 (R2){about}",
        u=float(spread),
    )


def _panel_density(entry: _Entry) -> Known:
    table = _panels()
    ends = [table[member] for member in entry.members]
    low, high = min(end[0] for end in ends), max(end[1] for end in ends)
    middle = 0.5 * (low + high)
    about = f"; {entry.remark}" if entry.remark else ""
    return Known(
        value=middle,
        kind="estimated",
        ref="table of panels, taken at least a tenth either way (between sheets: common "
        f"practice, no source){about}",
        low=min(low, 0.9 * middle),
        high=max(high, 1.1 * middle),
    )


def _unknown(name: str, key: str) -> WoodError:
    near = get_close_matches(key, _entries(), n=4, cutoff=0.6)
    word = key.split(" ")[-1]
    near += [known for known in wood_names() if word in known.split(" ") and known not in near]
    like = f"near it are {', '.join(near[:6])}; or write" if near else "write"
    return WoodError(f'no wood here is called "{name.strip()[:60]}"', f'{like} "don\'t know"')


def _plain(name: str) -> str:
    """A name as the tables are searched: lower case, one blank, ``ply`` written out."""
    words = re.sub(r"[\s_-]+", " ", name[:200].strip().lower()).split(" ")
    return " ".join("plywood" if word == "ply" else word for word in words if word != "solid")


@cache
def _species() -> dict[str, tuple[float, float]]:
    """Species -> (specific gravity at 12 %, volume shrinkage [%] or NaN)."""
    return {
        row["species"]: (float(row["SG_12"]), float(row["shrink_V_pct"] or "nan"))
        for row in read_table("species")
        if row["SG_12"]
    }


@cache
def _panels() -> dict[str, tuple[float, float]]:
    """Panel -> lowest and highest density. [kg/m3]"""
    return {
        row["material"]: (float(row["density_min"]), float(row["density_max"]))
        for row in read_table("panels")
        if row["density_min"]
    }


@cache
def _entries() -> dict[str, _Entry]:
    groups = {row["species"]: row["group"] for row in read_table("species") if row["SG_12"]}
    entries: dict[str, _Entry] = {}
    for species, group in groups.items():
        soft = group == "softwood" or species.startswith(("Pine,", "Spruce,"))
        entry = _Entry(members=(species,), kind="solid", family="softwood" if soft else "hardwood")
        family, _, own = species.partition(", ")
        whole = own if own.endswith(family.lower()) else f"{own} {family}".strip()
        for name in (species, whole):
            entries[_plain(name)] = entry
    for row in read_table("wood_names"):
        entries[row["shop_name"]] = _Entry(
            members=_members(row["members"], groups),
            kind=cast(WoodKind, row["kind"]),
            family=cast(Literal["hardwood", "softwood", "panel"], row["family"]),
            remark=row["remark"],
        )
    return entries


def _members(text: str, groups: dict[str, str]) -> tuple[str, ...]:
    if text == "*":
        return tuple(groups)
    if text.startswith("*"):
        return tuple(species for species, group in groups.items() if group == text[1:])
    if text.endswith("*"):
        return tuple(panel for panel in _panels() if panel.startswith(text[:-1]))
    return tuple(text.split(";"))

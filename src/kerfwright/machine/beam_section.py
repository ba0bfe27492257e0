"""The beam's section: a tube or bar by its sizes, by its outline, or as a maker's table has it."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from kerfwright.basics import Known
from kerfwright.formats import QuantityError
from kerfwright.machine.materials import poisson
from kerfwright.machine.model import FloatArray
from kerfwright.machine.points import read_points
from kerfwright.machine.taken import Filling
from kerfwright.physics import beams, sections
from kerfwright.physics.domain import Floats
from kerfwright.physics.sections import MOST_CORNERS

_AT = "frame.beam"
#: What a maker's table says of a section; all of it is needed.
_TABLE = ("area", "second_moment_up", "second_moment_forward", "torsion")


@dataclass(frozen=True, slots=True, kw_only=True)
class BeamSection:
    """Bent about axis 1, which leans up from the way to the back, and axis 2 across it."""

    area_mm2: Floats
    second_mm4: tuple[Floats, Floats]  #: about axis 1 and axis 2
    lean_rad: float
    shear_share: tuple[Floats, Floats]  #: of the area, bent about axis 1 and axis 2
    torsion_mm4: Floats


def beam_section(numbers: Mapping[str, float], choices: Mapping[str, str]) -> BeamSection:
    """The section of a description made whole."""
    word = choices.get(f"{_AT}.section")
    if word is not None:  # from the outline
        area, one, two, lean, share, other = (float(number) for number in word.split())
        return BeamSection(
            area_mm2=area, second_mm4=(one, two), lean_rad=lean, shear_share=(share, other),
            torsion_mm4=numbers[f"{_AT}.torsion"],
        )  # fmt: skip
    if f"{_AT}.area" in numbers:
        area, up, forward, torsion = (numbers[f"{_AT}.{key}"] for key in _TABLE)
        share = numbers[f"{_AT}.shear_share"]
        return BeamSection(
            area_mm2=area, second_mm4=(up, forward), lean_rad=0.0, shear_share=(share, share),
            torsion_mm4=torsion,
        )  # fmt: skip
    return _tube(numbers, poisson(choices[f"{_AT}.material"]))


def _tube(numbers: Mapping[str, float], ratio: float) -> BeamSection:
    width, depth = numbers[f"{_AT}.width"], numbers[f"{_AT}.depth"]
    thin = min(width, depth)
    wall = min(numbers[f"{_AT}.wall"], 0.499 * thin)
    if wall > 0.25 * thin:  # thick: thin walls no longer hold, take the solid bar
        twist = float(sections.rectangle_bar_torsion_mm4(max(width, depth), thin))
        up = across = float(beams.rectangle_shear_share(ratio))
    else:
        twist = float(sections.rectangle_tube_torsion_mm4(width, depth, wall))
        up = float(sections.rectangle_tube_shear_share(width, depth, wall, ratio))
        across = float(sections.rectangle_tube_shear_share(depth, width, wall, ratio))
    return BeamSection(
        area_mm2=float(sections.rectangle_tube_area_mm2(width, depth, wall)),
        second_mm4=(
            float(sections.rectangle_tube_second_moment_mm4(width, depth, wall)),
            float(sections.rectangle_tube_second_moment_mm4(depth, width, wall)),
        ),
        lean_rad=0.0,
        shear_share=(up, across),
        torsion_mm4=numbers.get(f"{_AT}.torsion", twist),
    )


def fill_section(filling: Filling) -> None:
    """Width, depth, and what the section needs beside them."""
    written = filling.written
    if f"{_AT}.outline" in written.texts:
        _fill_outline(filling)
    elif f"{_AT}.holes" in written.texts:
        written.error(f"{_AT}.holes", "stand without an outline", "write outline as well")
    elif any(f"{_AT}.{key}" in written.values for key in _TABLE[:3]):
        _fill_table(filling)
    else:
        filling.value(f"{_AT}.wall")
        if f"{_AT}.torsion" in written.values:
            filling.value(f"{_AT}.torsion")
    for key in ("width", "depth"):
        filling.value(f"{_AT}.{key}")


def _fill_table(filling: Filling) -> None:
    written = filling.written
    missing = [key for key in _TABLE if f"{_AT}.{key}" not in written.values]
    if missing:
        there = next(key for key in _TABLE if key not in missing)
        written.error(
            f"{_AT}.{there}",
            f"a section as the maker's table has it needs {' and '.join(missing)} too",
            "look them up; or give width, depth and wall, or the outline",
        )
        return
    if f"{_AT}.wall" in written.values:
        _twice(filling, "wall", "the maker's table says")
        return
    for key in (*_TABLE, "shear_share"):
        filling.value(f"{_AT}.{key}")


def _twice(filling: Filling, key: str, who: str) -> None:
    filling.written.error(f"{_AT}.{key}", f"says again what {who}", "leave one of the two out")


def _fill_outline(filling: Filling) -> None:
    written, path = filling.written, _AT.split(".")
    for key in ("width", "depth", "wall", *_TABLE[:3]):
        if f"{_AT}.{key}" in written.values:
            _twice(filling, key, "the outline says")
            return
    text, holes_text = (written.texts.get(f"{_AT}.{key}", "") for key in ("outline", "holes"))
    outline = written.problems.reading(
        [*path, "outline"], lambda: read_points(text, "outline's corners", 3, MOST_CORNERS)
    )
    holes = written.problems.reading([*path, "holes"], lambda: _holes(holes_text))
    if outline is None or holes is None:
        return
    found = written.problems.reading([*path, "outline"], lambda: _solved(outline, holes))
    if found is None:
        return
    area, greatest, least, lean, share, other, low, high = found
    filling.choices[f"{_AT}.section"] = " ".join(
        f"{number:.9g}" for number in (area, greatest, least, lean, share, other)
    )
    ref = "from the outline"
    for key, size in zip(("width", "depth"), np.ptp(outline, axis=0), strict=True):
        known = Known(value=float(size), kind="estimated", ref=ref)
        written.values[f"{_AT}.{key}"] = known
    middle = 0.5 * (low + high)
    bounds = Known(value=middle, low=low, high=high, kind="estimated",
                   ref=f"{ref}: bounds from stress and from warping")  # fmt: skip
    written.values.setdefault(f"{_AT}.torsion", bounds)
    filling.value(f"{_AT}.torsion")


def _holes(text: str) -> FloatArray:
    """Numbered corners, (m, 3); the unit stands behind the last hole."""
    if not text.strip():
        return np.empty((0, 3))
    unit = text.split()[-1]
    parts = text[: text.rindex(unit)].split(";")
    rings = [
        read_points(f"{part.strip()} {unit}", f"corners of hole {number}", 3, MOST_CORNERS)
        for number, part in enumerate(parts, 1)
    ]
    return np.concatenate([np.insert(ring, 0, k, axis=1) for k, ring in enumerate(rings)])


def _solved(outline: FloatArray, holes: FloatArray) -> tuple[float, ...]:
    try:
        return _solved_once(outline.tobytes(), holes.tobytes())
    except ValueError as error:
        raise QuantityError(
            f"encloses no section: {error}", "draw it on squared paper and read the corners again"
        ) from error


@lru_cache(maxsize=8)
def _solved_once(outline: bytes, holes: bytes) -> tuple[float, ...]:
    """Kept, for the page reads a description at every stroke."""
    # It loads large libraries, and few machines have such a beam.
    from kerfwright.physics.outlines import outline_section, outline_shear, outline_torsion_mm4

    whole = (
        np.frombuffer(outline).reshape(-1, 2),
        np.frombuffer(holes).reshape(-1, 3) if holes else None,
    )
    area, _, _, *bending = outline_section(*whole)
    return tuple(
        float(one) for one in (area, *bending, *outline_shear(*whole), *outline_torsion_mm4(*whole))
    )

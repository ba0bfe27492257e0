"""The table of grooves in docs/models/removal.md, figure by figure."""

from itertools import product
from math import cos, pi, sin
from pathlib import Path

import pytest

from .test_shapes import BULL, COVE, DRILL, ROUND_OVER, STEPPED, TAPER, along, cut, section_and_ends
from .test_undercut import DISCS, DOVETAIL, T_SLOT

TOOLS = {
    "bull nose 6 mm, corner 1 mm": BULL,
    "tapered ball 6 mm, tip radius 0.5 mm, 20°": TAPER,
    "drill 5 mm": DRILL,
    "convex profile 8 mm": COVE,
    "profile with steps 8 mm": STEPPED,
    "round-over, corner 3 mm, guide 2 mm": ROUND_OVER,
    "dovetail 12 mm, 14°": DOVETAIL,
    "T-slot 10 mm, neck 4 mm": T_SLOT,
    "two discs on a neck": DISCS,
}
#: Where a groove begins: between cells, in the middle of them, and elsewhere.
PLACES = (
    (15.0, 15.0), (15.125, 15.125), (15.05, 15.05), (15.125, 15.05), (15.03, 14.07), (15.06, 15.19),
)  # fmt: skip
ASLANT, SQUARE = (0.37, 1.2), (0.0, pi / 4, pi / 2)
LENGTH_MM, PLUNGE_MM = 30.0, 5.0
#: What the columns of figures are: side of the cells, and headings, or none for straight down.
COLUMNS = tuple(product((0.25, 0.1), (ASLANT, SQUARE, None)))


def rows():
    """Cutter, depth and figures of each row."""
    page = Path(__file__).parents[2] / "docs" / "models" / "removal.md"
    name = ""
    for line in page.read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        if len(cells) != 2 + len(COLUMNS) or not cells[1].endswith(" mm"):
            continue
        name = cells[0] or name
        depth = cells[1].removesuffix(" mm")
        yield pytest.param(TOOLS[name], float(depth), cells[2:], id=f"{name}, {depth} mm deep")


ROWS = list(rows())


def test_every_shape_has_its_rows():
    assert {row.values[0].name for row in ROWS} == {tool.name for tool in TOOLS.values()}
    assert len(ROWS) == 17


@pytest.mark.parametrize(("tool", "depth", "figures"), ROWS)
def test_the_table_tells_the_worst(tool, depth, figures):
    for (cell_mm, headings), told in zip(COLUMNS, figures, strict=True):
        if told:
            found = straight_down(tool, cell_mm)
            if headings is not None:
                found = grooves(tool, depth, headings, cell_mm)
            # Never better than it is, but for the digits that are printed; nor twice as bad.
            assert 0.5 * float(told) < max(found) < 1.06 * float(told), (cell_mm, headings)


def grooves(tool, depth, headings, cell_mm):
    """How far the volumes of grooves are from the exact one, as shares of it."""
    section, ends = section_and_ends(tool, depth)
    for (x, y), heading in product(PLACES, headings):
        x1, y1 = x + LENGTH_MM * cos(heading), y + LENGTH_MM * sin(heading)
        _, volume = cut(along([[x, y, -depth], [x1, y1, -depth]]), tool, cell_mm)
        yield abs(volume / (section * LENGTH_MM + ends) - 1.0)


def straight_down(tool, cell_mm):
    """The same of plunges."""
    _, ends = section_and_ends(tool, PLUNGE_MM)
    for x, y in PLACES:
        _, volume = cut(along([[x, y, 1.0], [x, y, -PLUNGE_MM]]), tool, cell_mm)
        yield abs(volume / ends - 1.0)

"""Sizes of what is cut out, kerfs and cusps: in words, and as labels on the board's picture."""

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from kerfwright.basics import Estimate
from kerfwright.basics.units import INCH_MM
from kerfwright.prove import AsCut, Cusp, CutOut, Dimension, Kerf
from kerfwright.report import paper
from kerfwright.report.figures import amount, estimate_words, spot_words
from kerfwright.setup.wanted import DEPTH

if TYPE_CHECKING:
    from matplotlib.axes import Axes

MOST_PARTS = 8
#: Parts smaller than this many pixels across get no label.
_LEAST_PX = 34.0
_LABEL_SIZE = 8.0


def part_name(part: CutOut) -> str:
    """``part 3``, ``piece in part 1's hole``, ``rest of the board``."""
    if part.inside:
        return f"part {part.number} (in part {part.inside})"
    return f"part {part.number}" if part.number else "rest of the board"


def parts_pairs(ascut: AsCut) -> Iterator[tuple[str, str]]:
    """Name and words of each size."""
    shown = [part for part in ascut.parts if part.dimensions]
    for part in shown[:MOST_PARTS]:
        for number, size in enumerate(part.dimensions):
            name = f"{part_name(part)}, {size.name}" if number == 0 else f"  {size.name}"
            yield name, size_words(size, ascut.tolerance_mm)
    if len(shown) > MOST_PARTS:
        yield "other parts", f"{len(shown) - MOST_PARTS}, in the verdict file"


def wanted_pairs(ascut: AsCut) -> Iterator[tuple[str, str]]:
    """Name and words of each size that the job asks for."""
    for one in ascut.wanted:
        where = f"part {one.part}" if one.part else "rest of the board"
        if one.dimension == DEPTH:
            where = f"at {one.spot.x_mm:.0f}, {one.spot.y_mm:.0f} mm on the board"
        ends = f"{one.low_mm:.2f} to {one.high_mm:.2f} mm"
        ends += f" ({one.low_mm / INCH_MM:.3f} to {one.high_mm / INCH_MM:.3f} in)"
        words = (
            f"{_plainly(one.size)}; right from {ends} ({where}, {one.dimension});"
            f" out {_in_100(one.likelihood)}"
        )
        if one.later is not None and one.later_likelihood is not None:
            words += f"; later in the house {_plainly(one.later)}, out"
            words += f" {_in_100(one.later_likelihood)}"
        yield one.name, words


def _in_100(share: float) -> str:
    return f"about {100 * share:.0f} times in 100"


def size_words(size: Dimension, tolerance_mm: float) -> str:
    """A size as it will be, against the program, and what sets it apart."""
    told = size.size
    words = (
        f"{told.value:.2f} mm, {told.low:.2f} to {told.high:.2f}"
        f" ({told.value / INCH_MM:.3f} in, {told.low / INCH_MM:.3f} to {told.high / INCH_MM:.3f})"
    ).replace("-", "−")
    if told.mostly_from:
        words += f", mostly from {told.mostly_from}"
    words += f"; programmed {size.programmed_mm:.2f} mm"
    shares = size.shares
    parts = {"set-up": shares.set_up, "machine": shares.machine, "cut": shares.cut}
    by = [
        f"{name} {_signed(share.mm)} ± {share.unsure_mm:.2f}"
        for name, share in parts.items()
        if max(abs(share.mm), share.unsure_mm) >= 0.005
    ]
    if by:
        words += f" ({', '.join(by)} mm)"
    if size.likelihood >= 0.05:
        words += (
            f"; beyond {amount(tolerance_mm, 'mm')} about {100 * size.likelihood:.0f} times in 100"
        )
    return words


def _signed(value_mm: float) -> str:
    return f"{round(value_mm, 2) + 0.0:+.2f}".replace("-", "−")


def cutter_pairs(ascut: AsCut) -> Iterator[tuple[str, str]]:
    """Kerfs and cusps of each cutter."""
    for kerf in ascut.kerfs:
        yield f"kerf of cutter {kerf.slot}", _kerf_words(kerf)
    for cusp in ascut.cusps:
        yield f"{cusp.kind}s of cutter {cusp.slot}", _cusp_words(cusp)


def _kerf_words(kerf: Kerf) -> str:
    width = estimate_words(kerf.width, "mm")
    if not kerf.per_z:
        return f"{width}; {kerf.cutter} is {amount(kerf.meant_mm, 'mm')}"
    return (
        f"{width} at the top of the board, {amount(kerf.meant_mm, 'mm')} meant; {kerf.per_z:.2f} mm"
        " wider for each mm that Z is low"
    )


def _cusp_words(cusp: Cusp) -> str:
    return (
        f"at worst {estimate_words(cusp.height, 'mm')}, passes {amount(cusp.spacing_mm, 'mm')}"
        f" apart, line {cusp.line}; {spot_words(cusp.spot)}; half of them below"
        f" {amount(cusp.typical_mm, 'mm')}"
    )


def parts_facts(ascut: AsCut) -> list[str]:
    """A few short lines for the picture's list."""
    out = []
    for part in ascut.parts[:4]:
        overall = [size for size in part.dimensions if size.name.startswith("across")]
        if part.number and not part.inside and overall:
            told = "; ".join(f"{size.name} {_plainly(size.size)}" for size in overall)
            out.append(f"Part {part.number}, {told}")
    out += [f"Kerf of cutter {kerf.slot}: {_plainly(kerf.width)}" for kerf in ascut.kerfs[:2]]
    for cusp in ascut.cusps[:2]:
        out.append(
            f"{cusp.kind.capitalize()}s of cutter {cusp.slot}: up to {_plainly(cusp.height)}"
        )
    return out


def _plainly(told: Estimate) -> str:
    """A figure with its ends, in both units, as fine as calipers show it."""
    if abs(told.value) < 1.0:
        return estimate_words(replace(told, mostly_from=""), "mm")
    value, low, high = told.value, told.low, told.high
    words = f"{value:.2f} mm, {low:.2f} to {high:.2f}"
    value, low, high = (one / INCH_MM for one in (value, low, high))
    return f"{words} ({value:.3f} in, {low:.3f} to {high:.3f})"


def label_parts(axes: "Axes", ascut: AsCut, px_per_mm: float) -> None:
    """The number of each part, with its sizes where there is room."""
    for part in ascut.parts:
        overall = [size.size.value for size in part.dimensions if size.name.startswith("across")]
        if not part.number or len(overall) != 2:
            continue
        wide_px, high_px = (value * px_per_mm for value in overall)
        if min(wide_px, high_px) < _LEAST_PX:
            continue
        words = f"part {part.number}"
        if wide_px > 110.0 and not part.inside:
            words += f"\n{overall[0]:.2f} × {overall[1]:.2f} mm"
            words += f"\n{overall[0] / INCH_MM:.3f} × {overall[1] / INCH_MM:.3f} in"
        axes.text(
            part.middle.x_mm, part.middle.y_mm, words, ha="center", va="center",
            fontsize=_LABEL_SIZE, color=paper.PENCIL, zorder=6.2, parse_math=False,
            bbox={"fc": paper.FRESH, "ec": "none", "pad": 1.0, "alpha": 0.85},
        )  # fmt: skip

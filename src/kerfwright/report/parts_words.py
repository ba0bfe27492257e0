"""Sizes of what is cut out, kerfs and cusps: in words, and as labels on the board's picture."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from kerfwright.basics import Estimate
from kerfwright.basics.units import INCH_MM
from kerfwright.prove import AsCut, Cusp, CutOut, Dimension, Kerf
from kerfwright.report import paper
from kerfwright.report.figures import amount, estimate_words, spot_words

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
        words = (
            f"{_from_to(one.size)}; right from {one.low_mm:.2f} to {one.high_mm:.2f} mm"
            f" ({where}, {one.dimension}); out {_in_100(one.likelihood)}"
        )
        if one.later is not None and one.later_likelihood is not None:
            words += f"; later in the house {_from_to(one.later)}, out"
            words += f" {_in_100(one.later_likelihood)}"
        yield one.name, words


def _from_to(size: Estimate) -> str:
    return f"{size.value:.2f} mm, {size.low:.2f} to {size.high:.2f}"


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
            told = ", ".join(
                f"{size.size.value:.2f} {size.name} ({size.size.low:.2f} to {size.size.high:.2f})"
                for size in overall
            )
            out.append(f"Part {part.number}: {told} mm")
    for kerf in ascut.kerfs[:2]:
        out.append(
            f"Kerf of cutter {kerf.slot}: {kerf.width.value:.2f} ({kerf.width.low:.2f} to"
            f" {kerf.width.high:.2f}) mm"
        )
    for cusp in ascut.cusps[:2]:
        out.append(
            f"{cusp.kind.capitalize()}s of cutter {cusp.slot}: up to {cusp.height.value:.3f}"
            f" ({cusp.height.low:.3f} to {cusp.height.high:.3f}) mm"
        )
    return out


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
            words += f"\n{overall[0]:.2f} × {overall[1]:.2f}"
        axes.text(
            part.middle.x_mm, part.middle.y_mm, words, ha="center", va="center",
            fontsize=_LABEL_SIZE, color=paper.PENCIL, zorder=6.2, parse_math=False,
            bbox={"fc": paper.FRESH, "ec": "none", "pad": 1.0, "alpha": 0.85},
        )  # fmt: skip

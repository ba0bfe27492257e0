"""The look that every picture shares: paper, pencil, wood, and pins with a number in them."""

import textwrap
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from io import BytesIO
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from kerfwright.basics import Finding
from kerfwright.basics.units import INCH_MM
from kerfwright.formats import write_bytes
from kerfwright.report.figures import clean

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

#: Pictures are made for a page this wide. [pixels, inches at DPI]
WIDTH_PX = 1200
DPI = 100

PAPER = "#f7f4ec"
FRESH = "#fffdf7"  #: paper nobody has written on: what is right
PENCIL = "#33312e"
FAINT = "#8b857a"
RULE = "#d9d3c4"
WOOD = "#e3cfa4"
WOOD_GRAIN = "#d3bb8a"
HOLE = "#7f776a"
STOP = "#7c1d12"

# Blue against burnt orange stays apart in every common kind of colour blindness; lightness falls
# with the size of the error, so that a grey print still shows how much.
PROUD = ("#c9dcec", "#8db6d8", "#4a86b8", "#1d5489")
SHY = ("#f8d3bd", "#eda27a", "#cf6a35", "#8e3a10")

_LOOK: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 10.0,
    "text.color": PENCIL,
    "text.parse_math": False,
    "axes.edgecolor": PENCIL,
    "axes.labelcolor": PENCIL,
    "axes.linewidth": 0.8,
    "axes.facecolor": FRESH,
    "figure.facecolor": PAPER,
    "xtick.color": PENCIL,
    "ytick.color": PENCIL,
    "xtick.labelsize": 8.5,
    "ytick.labelsize": 8.5,
    "xtick.direction": "out",
    "ytick.direction": "out",
    "svg.fonttype": "path",
    "svg.hashsalt": "kerfwright",
    "path.simplify": True,
}
HEADING = "DejaVu Serif"


@contextmanager
def on_paper() -> Iterator[None]:
    """Everything drawn inside has the shared look; a glyph that no font has is left out."""
    import matplotlib as mpl

    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()  # the person's own settings must not change our pictures
        settings: Any = mpl.rcParams
        settings.update(_LOOK)
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        yield


def sheet(height_px: float) -> "Figure":
    """An empty page of the usual width."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH_PX / DPI, ceil(height_px) / DPI), dpi=DPI)
    FigureCanvasAgg(figure)
    return figure


def inches(mm: Any) -> Any:
    """Of millimetres, for a second scale along an axis."""
    return mm / INCH_MM


def millimetres(inch: Any) -> Any:
    """Of inches: the inverse of ``inches``."""
    return inch * INCH_MM


def axes_px(figure: "Figure", left: float, top: float, width: float, height: float) -> "Axes":
    """Axes placed in pixels from the page's upper left corner."""
    page = figure.get_figheight() * DPI
    # On whole pixels, or thin frames would be smeared over two.
    left, top, width, height = (round(length) for length in (left, top, width, height))
    return figure.add_axes(
        (left / WIDTH_PX, 1.0 - (top + height) / page, width / WIDTH_PX, height / page)
    )


def write_px(
    figure: "Figure", left: float, top: float, text: str, *, size: float = 10.0, **look: Any
) -> None:
    """Text placed in pixels from the page's upper left corner; ``top`` is its upper edge."""
    page = figure.get_figheight() * DPI
    look = {"va": "top", "ha": "left", "parse_math": False, **look}
    figure.text(left / WIDTH_PX, 1.0 - top / page, text, fontsize=size, **look)


def wrapped(text: str, width_px: float, size: float, most: int = 6) -> list[str]:
    """Lines of text that fit a width, by the mean width of a letter of the shared fonts."""
    letters = max(int(width_px / (0.53 * size * DPI / 72.0)), 8)
    lines = textwrap.wrap(
        clean(text), letters, break_on_hyphens=False, max_lines=most, placeholder=" ..."
    )
    return lines or [""]


def line_px(size: float) -> float:
    """Height of one line of text. [pixels]"""
    return 1.35 * size * DPI / 72.0


def title(figure: "Figure", left: float, top: float, sentence: str, width_px: float) -> None:
    """The answer in a sentence, as the heading of a picture."""
    for index, line in enumerate(title_lines(sentence, width_px)):
        write_px(
            figure,
            left,
            top + index * line_px(15.0),
            line,
            size=15.0,
            family=HEADING,
            weight="bold",
        )


def title_lines(sentence: str, width_px: float) -> list[str]:
    """The heading as it will be broken into lines; three at most."""
    return wrapped(sentence, width_px * 0.9, 15.0, most=3)  # the bold serif runs wider


def pin(axes: "Axes", at: tuple[float, float], number: int, severity: str, **look: Any) -> None:
    """A numbered pencil pin: filled for a stop, ringed for a caution, thin for a note."""
    fill, ring, ink, weight = {
        "stop": (STOP, STOP, FRESH, 1.4),
        "caution": (FRESH, PENCIL, PENCIL, 1.8),
    }.get(severity, (PAPER, FAINT, PENCIL, 1.0))
    axes.annotate(
        str(number),
        at,
        ha="center",
        va="center",
        fontsize=9.0 if number < 10 else 7.5,
        color=ink,
        weight="bold",
        zorder=9,
        annotation_clip=False,
        bbox={
            "boxstyle": "circle,pad=0.28" if number < 10 else "circle,pad=0.22",
            "facecolor": fill,
            "edgecolor": ring,
            "linewidth": weight,
        },
        **look,
    )


def apart(
    points: Sequence[tuple[float, float]], distance: float, low: float, high: tuple[float, float]
) -> list[tuple[float, float]]:
    """Places for pins near ``points`` that do not cover one another.

    All in one unit; places stay between ``low`` and ``high``. Pins are put one after the other:
    each at its point if that is free, else at the first free place on rings around it.
    """
    placed: list[tuple[float, float]] = []
    for x, y in points:
        spots = [(x, y)] + [
            (x + ring * distance * np.cos(turn), y + ring * distance * np.sin(turn))
            for ring in (1.05, 2.1, 3.15)
            for turn in np.arange(8.0 * ring // 1) * (2.0 * np.pi / (8.0 * ring // 1)) + 0.6
        ]
        inside = [s for s in spots if low <= s[0] <= high[0] and low <= s[1] <= high[1]]
        free = (
            s for s in inside if all(np.hypot(s[0] - p[0], s[1] - p[1]) >= distance for p in placed)
        )
        placed.append(next(free, (x, y)))
    return [(float(x), float(y)) for x, y in placed]


def numbered(findings: Sequence[Finding]) -> list[tuple[int, Finding]]:
    """Findings with the numbers that they have in every report, from 1."""
    return list(enumerate(findings, start=1))


def save(figure: "Figure", path: Path) -> None:
    """Write the page as ``.png`` or ``.svg``: whole or not at all, and the same bytes each time."""
    kind = path.suffix.lower().lstrip(".")
    nothing: dict[str, dict[str, Any]] = {
        "png": {"Software": None},
        "svg": {"Date": None, "Creator": None, "Format": None, "Type": None},
    }
    if kind not in nothing:
        raise ValueError(f"a picture is written as .png or .svg, not {path.suffix!r}")
    page = BytesIO()
    # Packed a tenth less tightly in half the time.
    how: dict[str, Any] = {"pil_kwargs": {"compress_level": 4}} if kind == "png" else {}
    figure.savefig(page, format=kind, dpi=DPI, metadata=nothing[kind], **how)
    write_bytes(path, page.getvalue())

"""Colours, lines and type of every figure and page, in one place; nothing else in show/ names a colour."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import Any

import matplotlib
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter, NullFormatter

SERIES = ("#2f6fbf", "#c0602a", "#2a8c6e", "#a0559b", "#7b7a22", "#3d8aa3", "#b3475f", "#6d7480")
"""One colour a setup, in order. Each stands at least 3:1 off both page colours, so that light and dark share them."""

DASHES: tuple[Any, ...] = ("-", (0, (6, 2)), (0, (2, 1.5)), (0, (7, 2, 1.5, 2)))
"""Line patterns: colour never tells two lines apart alone."""

MARKERS = ("o", "s", "^", "D", "v", "P", "X", "h")

PARTS = {
    "boss": "#b9c4cc",
    "stud": "#8797a6",
    "insert": "#d6c06a",
    "nut": "#a2a08a",
    "washer": "#c9b98f",
    "gasket": "#8fb3a4",
    "spring": "#c99a76",
    "layer 1": "#c4cfd2",
    "layer 2": "#aebfc9",
}
"""Fill of drawn parts by kind; layers alternate."""

COOL_TO_WARM = LinearSegmentedColormap.from_list(
    "push and pull",
    ["#0f3d66", "#3f7fae", "#a9c9d9", "#efeee9", "#f2c98c", "#d9803a", "#8f2f1d"],
)
"""Compression cool, none pale, tension warm."""

COLD_TO_HOT = LinearSegmentedColormap.from_list(
    "cold to hot",
    ["#1c2b4a", "#3d4f86", "#7a6fa6", "#b9809a", "#de9a78", "#f0c47e", "#faeec4"],
)
"""Temperature: dark cold to pale hot, so that it reads without colour and is not taken for stress."""

TICK_SIZE = 8.0
"""points, of the texts at ticks."""
MARGIN_STEPS = (0.0, 0.25, 0.5, 0.75, 0.9, 1.0)
MARGIN_BELOW = ("#eef3f3", "#d7e7e5", "#b5d4d0", "#8fbdb9", "#e6d37a")
MARGIN_ABOVE = "#b5402b"
"""Cells below the limit from pale to green to yellow near it; at and above it one strong colour."""
CELL_INK, CELL_INK_ABOVE = "#16202a", "#ffffff"
CELL_BLANK, CELL_UNKNOWN, CELL_HATCH = "#f6f6f4", "#e9e6ee", "#8b7fa3"


@dataclass(frozen=True)
class Page:
    """Colours of one mode of a page: paper, ink, weaker ink, faint lines, and the three verdicts."""

    paper: str
    ink: str
    weak: str
    faint: str
    panel: str
    accent: str
    good: str
    bad: str
    open: str


LIGHT = Page("#fdfdfb", "#1d2730", "#56626d", "#d3d9dc", "#f1f3f2", "#285f9e", "#1f6f54", "#a33521", "#6a5790")
DARK = Page("#14191e", "#e6e9ea", "#a3aeb6", "#39434b", "#1c2329", "#7fb2e6", "#69c2a0", "#f08a70", "#b9a6de")

_NAMED_IN_PAGES = ("ink", "weak", "faint", "paper", "accent", "bad")


def drawing(page: Page = LIGHT) -> AbstractContextManager[None]:
    """Return a context in which figures are drawn and saved: our type and lines, the same bytes each time.

    A dollar sign is a dollar sign: names that users write are never read as formulas.
    """
    return matplotlib.rc_context(
        {
            "font.family": ["DejaVu Sans"],
            "font.size": 9.0,
            "axes.titlesize": 10.0,
            "axes.titleweight": "bold",
            "axes.titlelocation": "left",
            "axes.labelsize": 9.0,
            "xtick.labelsize": TICK_SIZE,
            "ytick.labelsize": 8.0,
            "legend.fontsize": 8.0,
            "legend.frameon": False,
            "axes.spines.top": False,
            "axes.spines.right": False,
            "axes.edgecolor": page.weak,
            "axes.labelcolor": page.ink,
            "axes.titlecolor": page.ink,
            "text.color": page.ink,
            "xtick.color": page.weak,
            "ytick.color": page.weak,
            "xtick.labelcolor": page.ink,
            "ytick.labelcolor": page.ink,
            "axes.facecolor": "none",
            "figure.facecolor": page.paper,
            "savefig.facecolor": page.paper,
            "axes.grid": False,
            "grid.color": page.faint,
            "grid.linewidth": 0.6,
            "lines.linewidth": 1.7,
            "hatch.linewidth": 0.7,
            "text.parse_math": False,
            "text.usetex": False,
            "text.hinting": "none",
            "axes.unicode_minus": True,
            "svg.fonttype": "path",
            "svg.hashsalt": "studwell",
            "path.simplify": True,
        }
    )


def new_axes() -> Axes:
    """Return an axes on a figure of its own, for a caller that gave none."""
    return Figure(layout="constrained").add_subplot()


def series_style(place: int) -> Mapping[str, Any]:
    """Return line keywords of the setup at a place: colour, pattern and marker, distinct for the first 32."""
    return {
        "color": SERIES[place % len(SERIES)],
        "linestyle": DASHES[(place + place // len(SERIES)) % len(DASHES)],
        "marker": MARKERS[place % len(MARKERS)],
        "markersize": 4.5,
    }


def part_colour(kind: str, place: int = 0) -> str:
    """Return the fill of a part: boss, stud, nut, washer, gasket, spring, or a layer by its place in the stack."""
    return PARTS.get(kind, PARTS["layer 1" if place % 2 == 0 else "layer 2"])


def wrapped(text: str, width: int = 24, lines: int | None = None) -> str:
    """Return a name broken into lines of at most so many characters, words kept whole where they fit.

    lines : the most lines; what does not fit is left off, marked by an ellipsis (None: as many as it takes)
    """
    return "\n".join(textwrap.wrap(text, width, max_lines=lines, placeholder=" \u2026")) or text


def page_variables(page: Page) -> str:
    """Return the CSS variables of one mode: --paper, --ink, ..."""
    return "".join(f"--{name}:{getattr(page, name)};" for name in Page.__dataclass_fields__)


def with_page_colours(svg: str, page: Page = LIGHT) -> str:
    """Return an SVG whose page colours follow the page that it lies in (CSS variables), data colours kept."""
    for name in _NAMED_IN_PAGES:
        colour = getattr(page, name)
        svg = svg.replace(f": {colour}", f": var(--{name}, {colour})")
    return svg


def plain_log_ticks(axis: Axis) -> None:
    """Label the decades of a log axis with plain numbers: figures here set no formulas, so that 10^-1 would show its source."""
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axis.set_minor_formatter(NullFormatter())

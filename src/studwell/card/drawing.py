"""A line drawing in millimetres of paper: areas, lines and words, their extents, and the SVG of both renderers."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache
from html import escape
from math import cos, pi, sin
from pathlib import Path

import matplotlib
from matplotlib.ft2font import FT2Font, LoadFlags

from studwell.show import theme

POINT = 25.4 / 72.0
"""mm in a point of type."""

ASCENT, DESCENT = 0.76, 0.24
"""Of a line of type, as shares of its size."""

FILLS = ("paper", "ink", "none", "hatch", "hatch back", "cross")
Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Area:
    """A closed outline. fill: one of FILLS; weight: mm of its line, 0 for none."""

    points: Points
    fill: str = "paper"
    weight: float = 0.25


@dataclass(frozen=True)
class Line:
    """An open line. weight in mm."""

    points: Points
    weight: float = 0.18
    dashed: bool = False


@dataclass(frozen=True)
class Words:
    """A line of type. x, y: of its anchor on the base line, mm; size in pt; anchor: "start", "middle" or "end"."""

    text: str
    x: float
    y: float
    size: float = 6.5
    anchor: str = "start"
    bold: bool = False

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Extent (left, top, right, bottom), mm."""
        width = text_width(self.text, self.size, self.bold)
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * width
        high = self.size * POINT
        return left, self.y - ASCENT * high, left + width, self.y + DESCENT * high


Shape = Area | Line | Words


@dataclass(frozen=True)
class Drawing:
    """A drawing. name: for ids; title, told: for those who do not see it; note: printed under it; width, height: mm."""

    name: str
    title: str
    told: str
    note: str
    width: float
    height: float
    shapes: tuple[Shape, ...]

    @property
    def words(self) -> tuple[Words, ...]:
        """Its lines of type."""
        return tuple(shape for shape in self.shapes if isinstance(shape, Words))


@cache
def _font(bold: bool) -> FT2Font:
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    font = FT2Font(str(font_folder() / name))
    font.set_size(100.0, 72)
    return font


def font_folder() -> Path:
    """Return the folder of the DejaVu fonts that come with matplotlib."""
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf"


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Return the width of a line of DejaVu Sans, mm; size in pt."""
    return _advance(text, bold) * size * POINT


@lru_cache(4096)
def _advance(text: str, bold: bool) -> float:
    """Width of a line over the size of its type."""
    return sum(_letter(each, bold) for each in text)


@lru_cache(4096)
def has_letter(letter: str) -> bool:
    """Return whether DejaVu Sans has a picture of a letter, upright or bold."""
    return any(_font(bold).get_char_index(ord(letter)) for bold in (False, True))


@lru_cache(4096)
def _letter(letter: str, bold: bool) -> float:
    font = _font(bold)
    code = ord(letter)
    if not font.get_char_index(code):  # a browser sets it in another font, or as a box: room for either
        return 1.0
    return float(font.load_char(code, flags=LoadFlags.NO_HINTING).linearHoriAdvance) / 65536.0 / 100.0


def arrow(tip: tuple[float, float], towards: tuple[float, float], length: float = 1.5) -> Area:
    """Return a filled arrow head at `tip` whose line comes from `towards`."""
    dx, dy = towards[0] - tip[0], towards[1] - tip[1]
    size = (dx * dx + dy * dy) ** 0.5 or 1.0
    ux, uy = dx / size, dy / size
    back = (tip[0] + length * ux, tip[1] + length * uy)
    half = 0.22 * length
    return Area(
        (tip, (back[0] - half * uy, back[1] + half * ux), (back[0] + half * uy, back[1] - half * ux)), "ink", 0.0
    )


def svg(drawing: Drawing, page: bool = False) -> str:
    """Return a drawing as an SVG element; page: with the colours of the HTML page that it lies in."""
    name = drawing.name
    ink, paper, weak = theme.LIGHT.ink, theme.LIGHT.paper, theme.LIGHT.weak
    if not page:
        ink, paper, weak = "#000000", "#ffffff", "#333333"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-labelledby="{name}-title {name}-told" '
        f'viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}" width="{_n(drawing.width)}mm" '
        f'height="{_n(drawing.height)}mm">',
        f'<title id="{name}-title">{escape(drawing.title)}</title><desc id="{name}-told">{escape(drawing.told)}</desc>',
        "<defs>",
        _pattern(f"{name}-hatch", "rotate(45)", weak, 2.0),
        _pattern(f"{name}-back", "rotate(-45)", weak, 2.0),
        _pattern(f"{name}-cross", "rotate(45)", weak, 1.0, cross=True),
        "</defs>",
    ]
    for shape in drawing.shapes:
        parts.append(_element(shape, name, ink, paper))
    parts.append("</svg>")
    text = "\n".join(parts)
    return theme.with_page_colours(text) if page else text


def _pattern(name: str, turned: str, colour: str, pitch: float, cross: bool = False) -> str:
    lines = f'<path d="M0 0V{_n(pitch)}" style="stroke: {colour}; stroke-width: 0.28"/>'
    if cross:
        lines += f'<path d="M0 0H{_n(pitch)}" style="stroke: {colour}; stroke-width: 0.28"/>'
    return (
        f'<pattern id="{name}" patternUnits="userSpaceOnUse" width="{_n(pitch)}" height="{_n(pitch)}" '
        f'patternTransform="{turned}">{lines}</pattern>'
    )


def _element(shape: Shape, name: str, ink: str, paper: str) -> str:
    if isinstance(shape, Words):
        weight = "; font-weight: bold" if shape.bold else ""
        return (
            f'<text x="{_n(shape.x)}" y="{_n(shape.y)}" text-anchor="{shape.anchor}" style="fill: {ink}; '
            f"font-family: 'DejaVu Sans', Verdana, sans-serif; font-size: {_n(shape.size * POINT)}px{weight}\">"
            f"{escape(shape.text)}</text>"
        )
    path = "M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in shape.points)
    if isinstance(shape, Line):
        dashes = "; stroke-dasharray: 1.6 0.8" if shape.dashed else ""
        return f'<path d="{path}" style="fill: none; stroke: {ink}; stroke-width: {_n(shape.weight)}{dashes}"/>'
    outline = (
        f"stroke: {ink}; stroke-width: {_n(shape.weight)}; stroke-linejoin: round" if shape.weight else "stroke: none"
    )
    below = ""
    if shape.fill in ("paper", "ink", "none"):
        fill = {"paper": paper, "ink": ink, "none": "none"}[shape.fill]
    else:
        below = f'<path d="{path}Z" style="fill: {paper}; stroke: none"/>'
        fill = f"url(#{name}-{ {'hatch': 'hatch', 'hatch back': 'back', 'cross': 'cross'}[shape.fill] })"
    return f'{below}<path d="{path}Z" style="fill: {fill}; {outline}"/>'


def _n(value: float) -> str:
    """A number of a drawing, to a thousandth of a millimetre."""
    return f"{value:.3f}".rstrip("0").rstrip(".") or "0"


def overlapping(drawing: Drawing, room: float = 0.0) -> list[tuple[str, str]]:
    """Return pairs of words of a drawing whose extents overlap, each grown by `room` mm."""
    found = []
    words = drawing.words
    for i, first in enumerate(words):
        for second in words[i + 1 :]:
            a, b = first.box, second.box
            if min(a[2], b[2]) - max(a[0], b[0]) > -room and min(a[3], b[3]) - max(a[1], b[1]) > -room:
                found.append((first.text, second.text))
    return found


def outside(drawing: Drawing) -> list[str]:
    """Return the words of a drawing that reach beyond its edges."""
    return [
        words.text
        for words in drawing.words
        if words.box[0] < 0.0 or words.box[1] < 0.0 or words.box[2] > drawing.width or words.box[3] > drawing.height
    ]


def wrapped(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Return a text in lines of DejaVu Sans no wider than `width` mm, broken at spaces where that is possible."""
    lines: list[str] = []
    current = ""
    for word in text.replace("\N{ZERO WIDTH SPACE}", " ").split():
        trial = f"{current} {word}".strip()
        if current and text_width(trial, size, bold) > width:
            lines.append(current)
            current = word
        else:
            current = trial
    return [*lines, current] if current or not lines else lines


def circle(x: float, y: float, radius: float, count: int = 48) -> Points:
    """Return a circle as a polygon."""
    return tuple((x + radius * cos(2 * pi * i / count), y + radius * sin(2 * pi * i / count)) for i in range(count))

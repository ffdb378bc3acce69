"""Words that leave themselves out where an axes, as it is drawn, has no room for them: numbers in cells, names, ticks."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backend_bases import RendererBase
from matplotlib.text import Annotation, Text
from matplotlib.ticker import FixedLocator, FuncFormatter
from matplotlib.transforms import Bbox

from studwell.show import theme

LINE = 1.2
"""Height of a line over the size of its type."""
LETTER, GAP = 0.62, 0.9
"""Width of a tick's letter and of the room between two ticks, over the size of its type."""
TIGHT = 0.8
"""Share of a line's height that slanting names may keep: less, and they overprint."""


class CellText(Text):
    """A text in the middle of a cell of data size (width, height), left out where it is larger than the cell."""

    def __init__(self, *arguments: Any, cell: tuple[float, float] = (1.0, 1.0), **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.cell = cell

    def fits(self, renderer: RendererBase | None = None) -> bool:
        """Whether the cell, as large as it is now, holds the text."""
        if self.axes is None:
            return True
        corners = self.axes.transData.transform([(0.0, 0.0), self.cell])
        width, height = np.abs(corners[1] - corners[0])
        box = self.get_window_extent(renderer)
        return bool(box.width <= width and box.height <= 1.15 * height)  # the box has room above digits

    def draw(self, renderer: RendererBase, *arguments: Any, **options: Any) -> None:
        """Draw it if it fits."""
        if self.fits(renderer):
            super().draw(renderer, *arguments, **options)


class RowName(Annotation):
    """A slanting name in a row of them, `row`, from left to right: left out where it would lie on the one before."""

    def __init__(self, *arguments: Any, row: list[RowName], **options: Any) -> None:
        super().__init__(*arguments, **options)
        self.row = row
        row.append(self)

    def fits(self) -> bool:
        """Whether it stands clear of the last name before it that is shown."""
        if self.axes is None:
            return True
        shown, end = False, -math.inf
        for name in self.row:
            start = float(name.xyann[0]) * self.axes.bbox.width
            shown = start >= end
            if shown:
                line = LINE * float(name.get_fontsize()) / math.sin(math.radians(name.get_rotation()))
                end = start + TIGHT * line * points_to_pixels(self.axes) * (1 + name.get_text().count("\n"))
            if name is self:
                break
        return shown

    def draw(self, renderer: RendererBase) -> None:
        """Draw it if it fits."""
        if self.fits():
            super().draw(renderer)

    def get_tightbbox(self, renderer: RendererBase | None = None) -> Bbox | None:
        """Return its box for the layout of the figure, none if it is left out."""
        return super().get_tightbbox(renderer) if self.fits() else None


class RoomyTicks(FixedLocator):
    """Ticks at rising places, those left out whose text would lie on that of the one before.

    needs : (size of the type, text) -> what a text takes along the axis, in points
    """

    def __init__(self, places: Sequence[float], texts: Sequence[str], needs: Callable[[float, str], float]) -> None:
        super().__init__(list(places))
        self.places, self.texts, self.needs = [float(place) for place in places], list(texts), needs

    def __call__(self) -> list[float]:
        axis: Any = self.axis
        low, high = axis.get_view_interval()
        scale = axis.axes.bbox.width / max(abs(high - low), 1e-12)
        size = axis.majorTicks[0].label1.get_fontsize() if axis.majorTicks else theme.TICK_SIZE
        kept: list[float] = []
        end = -math.inf
        for place, text in zip(self.places, self.texts, strict=True):
            need = self.needs(size, text) * points_to_pixels(axis.axes)
            if scale * place - 0.5 * need >= end:
                kept.append(place)
                end = scale * place + 0.5 * need
        return kept


def set_roomy_ticks(
    ax: Axes, places: Sequence[float], texts: Sequence[str], needs: Callable[[float, str], float] | None = None
) -> None:
    """Mark the x axis at rising places with texts, as many as it has room for whenever it is drawn.

    needs : as of RoomyTicks; None: texts that lie
    """
    known = dict(zip(map(float, places), texts, strict=True))
    ax.xaxis.set_major_locator(
        RoomyTicks(places, texts, needs or (lambda size, text: size * (LETTER * len(text) + GAP)))
    )
    ax.xaxis.set_major_formatter(FuncFormatter(lambda value, _: known.get(float(value), "")))


def points_to_pixels(ax: Any) -> float:
    """Return how many pixels of an axes' figure are one point."""
    figure = ax.figure
    assert figure is not None
    return float(figure.dpi) / 72.0


def width_in_points(ax: Axes) -> float:
    """Return how wide an axes is now, in points; a layout that is still to be made may leave it less."""
    return float(ax.bbox.width) / points_to_pixels(ax)

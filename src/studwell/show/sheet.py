"""One composed figure with its words, as SVG and PNG of the same bytes each time."""

from __future__ import annotations

import io
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property

from matplotlib.figure import Figure

from studwell.show import theme

DOTS = 140
"""Dots per inch of PNG pictures and of the coloured areas inside SVG ones."""


@contextmanager
def quiet_drawing() -> Iterator[None]:
    """Our drawing context, in which a letter that the type lacks is drawn as a box and nothing is said of it."""
    with theme.drawing(), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"Glyph \d+ .*missing from font", category=UserWarning)
        yield


@dataclass(frozen=True)
class Sheet:
    """One composed figure. name: of its files; title, caption: for a page; told: what it shows, in words alone.

    other : draws the same in the other system of units; None: nothing in it has a unit that changes
    """

    name: str
    title: str
    caption: str
    told: str
    figure: Figure = field(repr=False)
    other: Callable[[], Sheet] | None = field(default=None, repr=False, compare=False)

    @cached_property
    def svg(self) -> str:
        """The figure as SVG text, without a date."""
        text = io.StringIO()
        with quiet_drawing():
            self._settle()
            self.figure.savefig(text, format="svg", dpi=DOTS, metadata={"Date": None, "Creator": None})
        return text.getvalue()

    @cached_property
    def png(self) -> bytes:
        """The figure as a PNG picture, without a date."""
        picture = io.BytesIO()
        with quiet_drawing():
            self._settle()
            self.figure.savefig(
                picture, format="png", dpi=DOTS, metadata={"Software": None}, pil_kwargs={"compress_level": 4}
            )
        return picture.getvalue()

    def _settle(self) -> None:
        """Lay the figure out once, so that both files have the same places and the second costs no layout."""
        if self.figure.get_layout_engine() is not None:
            self.figure.set_dpi(DOTS)  # text is measured as it will be drawn
            self.figure.draw_without_rendering()
            self.figure.set_layout_engine("none")
            for ax in self.figure.axes:  # the layout's own rounding noise must not reach the bytes
                places = [round(value, 4) for value in ax.get_position(original=True).bounds]
                ax.set_position((places[0], places[1], places[2], places[3]))


def drawn_in_both(draw: Callable[[str], Sheet], units: str) -> Sheet:
    """Return what `draw(units)` returns, "metric" or "inch"; its other drawing is made when a page asks for it."""
    other = "inch" if units == "metric" else "metric"

    def redrawn() -> Sheet:
        with theme.drawing():
            return draw(other)

    return replace(draw(units), other=redrawn)

"""Figures of a comparison: ranking, margins, histories of some setups together, and the sheets of its report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from studwell.api.drawing import known_name, on_axes, part_of, solved, state_of, told_by
from studwell.errors import StudwellError, Unknown
from studwell.study.results import Comparison

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

NAMES_BELOW = 34.0
"""points below an axes, past its ticks and its name, where the names of its lines stand, so that they hide nothing."""


class ComparisonFigures:
    """Figures of `record`; arguments alike in all:

    setups : names of those to draw, None: all;  ax: axes to draw on, None: a new pyplot figure; nothing is resized or saved
    units  : "metric" or "inch", None: the case's own
    raises UnknownName : no such setup, quantity, moment or sheet;  Unknown : the result cannot give the figure, and why
    """

    record: Comparison

    def plot_ranking(self, setups: Sequence[str] | str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw the largest known damage margin of each setup against the limit, best ranked on top."""
        from studwell.show.ranking import plot_ranking

        shown = part_of(self.record, setups, None)
        with on_axes(ax, (8.0, 1.4 + 0.5 * rows_of(shown))) as place:
            return plot_ranking(shown, ax=place)

    def plot_margins(self, setups: Sequence[str] | str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw all margins of all setups as a map: load over capacity, the governing one framed, unknown ones hatched."""
        from studwell.show.margin_map import plot_margins

        shown = part_of(self.record, setups, None)
        with on_axes(ax, (10.4, 2.2 + 0.48 * rows_of(shown))) as place:
            return plot_margins(shown, ax=place)

    def plot_cycle(
        self,
        quantity: str = "clamp",
        setups: Sequence[str] | str | None = None,
        *,
        ax: Axes | None = None,
        units: str | None = None,
    ) -> Axes:
        """Draw a quantity over seating, tightening and heat: clamp, tip_force, thread_load, stud_tension, nut_thread_load,
        tip_gap, floor_stress, pocket_pressure.
        """
        return draw_cycle(part_of(self.record, setups, units), quantity, ax)

    def plot_clamp_left(
        self, setups: Sequence[str] | str | None = None, *, ax: Axes | None = None, units: str | None = None
    ) -> Axes:
        """Draw the least clamp of a cycle against the number of cycles, of setups that live through many."""
        return draw_clamp_left(part_of(self.record, setups, units), ax)

    def plot_sections(
        self,
        setups: Sequence[str] | None = None,
        quantity: str = "first_principal",
        moment: str | int = "worst",
        *,
        ax: Axes | None = None,
        units: str | None = None,
        bar: bool = True,
    ) -> Axes:
        """Draw a field on the sections of two setups, one on each side of the axis; quantities and moments as in
        SetupView.plot_section. setups: two names; None: a bottomed setup beside the backed-off one most like it.
        """
        from studwell.show.field_view import field_view
        from studwell.show.section_quantity import SECTION_QUANTITIES, plot_section_quantity
        from studwell.show.stress import side_by_side

        known_name("quantity", quantity, SECTION_QUANTITIES)
        shown = part_of(self.record, None, units)
        if setups is None:
            pair = side_by_side(shown.results)
        elif isinstance(setups, str) or len(setups) != 2:
            raise StudwellError(
                f"setups = {setups!r}; allowed: two names, one for each side of the axis", slug="wrong-kind"
            )
        else:
            pair = tuple(solved(self.record, name) for name in setups)
        views = [field_view(result, state_of(result, moment)) for result in pair]
        with on_axes(ax, (6.4, 7.6)) as place:
            return plot_section_quantity(views, quantity, ax=place, units=shown.case.units, bar=bar)

    def sheets(self) -> dict[str, Figure]:
        """Return the composed figures of the report by name, each a matplotlib Figure with several axes, sized for a page."""
        from studwell.show.figures import sheets_of

        return {sheet.name: sheet.figure for sheet in sheets_of(self.record)}


def rows_of(shown: Comparison) -> int:
    """Return how many setups a comparison lists."""
    return len(shown.results) + len(shown.failed)


def draw_cycle(shown: Comparison, quantity: str, ax: Axes | None) -> Axes:
    """Draw a quantity of some setups over their history. raises UnknownName; Unknown : none of them has it."""
    from studwell.show.history import CYCLE_QUANTITIES, name_phases, plot_cycle

    drawn = CYCLE_QUANTITIES[known_name("quantity", quantity, CYCLE_QUANTITIES)]
    if all(drawn.values(result) is None for result in shown.results):
        outcome = shown.results[0].outcomes.get(f"{quantity}_max")
        raise Unknown(f"no {drawn.words} to draw: {'it is not known' if outcome is None else outcome.reason}")
    with on_axes(ax, (9.4, 3.8 + 0.2 * len(shown.results))) as place:
        plot_cycle(shown, quantity, ax=place)
        name_phases(shown, place)
        told_below(place)
        return place


def draw_clamp_left(shown: Comparison, ax: Axes | None) -> Axes:
    """Draw the clamp that many cycles leave. raises Unknown : every setup lives through one."""
    from studwell.show.cycles import plot_clamp_left

    if all(result.cycles is None for result in shown.results):
        raise Unknown("the case runs through one cycle only; [history] cycles gives more")
    with on_axes(ax, (7.6, 3.8 + 0.2 * len(shown.results))) as place:
        plot_clamp_left(shown, ax=place)
        told_below(place)
        return place


def told_below(ax: Axes) -> None:
    """Put the legend of an axes below it, clear of its ticks and its name however small it is."""
    from matplotlib.transforms import ScaledTranslation

    figure = ax.figure
    assert figure is not None
    below = ax.transAxes + ScaledTranslation(0.0, -NAMES_BELOW / 72.0, figure.dpi_scale_trans)
    told_by(
        ax,
        loc="upper center",
        bbox_to_anchor=(0.5, 0.0),
        bbox_transform=below,
        borderaxespad=0.0,
        ncols=1,
        handlelength=3.2,
    )

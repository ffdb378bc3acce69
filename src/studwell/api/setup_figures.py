"""Figures of one solved setup; each draws on the axes given, or on a new pyplot figure, and returns the axes."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from studwell.api.drawing import in_system, known_name, on_axes, state_of, system_of, told_by
from studwell.case import Case
from studwell.errors import Unknown
from studwell.strength.crack_said import FLAW
from studwell.strength.flaws import FlawView
from studwell.study.heat_numbers import GIVEN_HEAT
from studwell.study.results import Comparison, SetupResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from studwell.show.field_view import FieldView


TALL, WIDE, SQUARE, PLAIN = (5.4, 7.6), (9.2, 9.2), (5.6, 5.2), (7.0, 4.8)
"""inches, of new figures."""


class SetupFigures:
    """Figures of `record`, in the units of `case` unless `units` says "metric" or "inch".

    ax     : axes to draw on; None: a new pyplot figure. Nothing is resized or saved
    moment : "assembled", "hottest", "coldest", "worst" (of the governing damage margin), "worst floor"
             or "end"; an outcome such as "floor_stress_max"; or a state's number
    raises Unknown : the setup cannot give the figure, with the reason;  UnknownName : no such quantity, moment or thread
    """

    record: SetupResult
    case: Case | None

    def plot_section(
        self,
        moment: str | int = "worst",
        quantity: str = "first_principal",
        *,
        ax: Axes | None = None,
        units: str | None = None,
        scale: float | None = None,
        bar: bool = True,
    ) -> Axes:
        """Draw a field on the deformed section: first_principal, von_mises, radial_, hoop_, axial_ or shear_stress,
        temperature, movement.

        scale : how many times displacements are enlarged; bar : put a colour bar beside the axes
        """
        from studwell.show.section_quantity import plot_section_quantity

        with self._field(moment, quantity, ax, TALL) as (views, place):
            return plot_section_quantity(views, quantity, ax=place, scale=scale, units=self._system(units), bar=bar)

    def plot_floor(
        self,
        moment: str | int = "floor_stress_max",
        quantity: str = "first_principal",
        *,
        ax: Axes | None = None,
        units: str | None = None,
        scale: float | None = None,
        bar: bool = True,
    ) -> Axes:
        """Draw a field as in `plot_section` at the hole's floor and its fillet, enlarged."""
        from studwell.show.section_quantity import plot_floor_quantity

        with self._field(moment, quantity, ax) as (views, place):
            return plot_floor_quantity(views, quantity, ax=place, scale=scale, units=self._system(units), bar=bar)

    @contextmanager
    def _field(
        self, moment: str | int, quantity: str, ax: Axes | None, size: tuple[float, float] = PLAIN
    ) -> Iterator[tuple[list[FieldView], Axes]]:
        """Give the setup's fields at a moment and the axes to draw one of them on; arguments as of `plot_section`."""
        from studwell.show.field_view import field_view
        from studwell.show.section_quantity import SECTION_QUANTITIES

        known_name("quantity", quantity, SECTION_QUANTITIES)
        index = state_of(self.record, moment)
        with on_axes(ax, size) as place:
            yield [field_view(self.record, index)], place

    def plot_cycle(self, quantity: str = "clamp", *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw a quantity over seating, tightening and heat: clamp, tip_force, thread_load, stud_tension, nut_thread_load,
        tip_gap, floor_stress, pocket_pressure.
        """
        from studwell.api.comparison_figures import draw_cycle

        return draw_cycle(self._alone(units), quantity, ax)

    def plot_clamp_left(self, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw the least clamp of a cycle against the number of cycles, where the setup lives through many."""
        from studwell.api.comparison_figures import draw_clamp_left

        return draw_clamp_left(self._alone(units), ax)

    def plot_mesh(self, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw the section: parts named and dimensioned on the left of the axis, element edges on the right."""
        from studwell.show.mesh_drawing import plot_mesh

        system = self._system(units)
        with on_axes(ax, WIDE) as place:
            return plot_mesh(self.record.built, ax=place, units=system)

    def plot_floor_mesh(self, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw the mesh at the hole's floor and its fillet."""
        from studwell.show.mesh_drawing import plot_floor_mesh

        system = self._system(units)
        with on_axes(ax, SQUARE) as place:
            return plot_floor_mesh(self.record.built, ax=place, units=system)

    def plot_threads(self, thread: str = "boss thread", *, ax: Axes | None = None) -> Axes:
        """Draw what share of a thread's load each pitch carries: "boss thread", "insert thread" or "nut thread"; in %."""
        from studwell.show.threads import plot_pitch_shares, strips_of

        strips = {strip.name: strip for strip in strips_of(self.record)}
        strip = strips[known_name("thread", thread, strips)]
        if strip.pitches is None:
            raise Unknown(f"{self.record.name}: what each pitch of the {thread} carries is not known: {strip.reason}")
        with on_axes(ax) as place:
            plot_pitch_shares(self.record, strip, ax=place)
            told_by(place)
            return place

    def plot_crack(self, place: str | None = None, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw the stress intensity of a ring crack over its depth, between threshold and toughness where these are known.

        place : where it starts, in the words of `crack_places`; None: where it is pulled open most
        """
        from studwell.show.crack_life import plot_intensity

        system, view = self._system(units), self._crack(place)
        with on_axes(ax) as axes:
            return plot_intensity(self.record, view, ax=axes, units=system)

    def plot_crack_life(self, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw the depth of a crack over the histories that it has borne, of the crack that is at its end first."""
        from studwell.show.crack_life import plot_life, views_with_life

        system, views = self._system(units), views_with_life(self.record)
        if not views:
            raise Unknown(f"{self.record.name}: no life of a crack is known: {self._no_crack('repeated')}")
        view = min(views, key=lambda each: float(each.life.left[0]))  # type: ignore[union-attr]
        with on_axes(ax) as axes:
            plot_life(view, axes, system, view.history.place)
            axes.set_title(f"{self.record.name}: {view.history.place}")
            return axes

    @property
    def crack_places(self) -> tuple[str, ...]:
        """Where ring cracks were solved, in words; empty where none was."""
        return tuple(view.history.place for view in self._cracks())

    def plot_temperature(self, *, ax: Axes | None = None, units: str | None = None) -> Axes:
        """Draw the temperatures of boss, layers, stud and nut over the last cycle of solved heat."""
        from studwell.show.heat import plot_temperatures

        system = self._system(units)
        self._needs_heat()
        with on_axes(ax) as place:
            plot_temperatures(self.record, ax=place, units=system)
            told_by(place)
            return place

    def plot_stud_above_boss(self, *, ax: Axes | None = None) -> Axes:
        """Draw how much hotter the stud's tip and the middle of its thread are than the boss over the last cycle, K."""
        from studwell.show.heat import plot_differences

        self._needs_heat()
        with on_axes(ax) as place:
            plot_differences([self.record], ax=place)
            told_by(place)
            return place

    def _needs_heat(self) -> None:
        if self.record.heat is None:
            raise Unknown(f"{self.record.name}: {GIVEN_HEAT}")

    def _cracks(self) -> list[FlawView]:
        flaws = self.record.verdict.cracks.flaws
        return [view for view in flaws if view.history.curve is not None and view.history.body == "boss"]

    def _crack(self, place: str | None) -> FlawView:
        views = self._cracks()
        if not views:
            raise Unknown(f"{self.record.name}: no stress intensity of a ring crack is known: {self._no_crack('once')}")
        if place is None:
            return max(views, key=lambda view: float(view.largest.max()))
        named = {view.history.place: view for view in views}
        return named[known_name("crack", place, named)]

    def _no_crack(self, way: str) -> str:
        """Why the view of a starting flaw knows nothing, in its own words."""
        said = [each.reason for each in getattr(self.record.verdict.cracks, way) if each.view == FLAW]
        return next((reason for reason in said if reason), "no crack was put into its boss")

    def _system(self, units: str | None) -> str:
        return system_of(units, "metric" if self.case is None else self.case.units)

    def _alone(self, units: str | None) -> Comparison:
        """This setup as a comparison of one, with its place among the case's setups, which rules its colour."""
        setup = self.record.setup
        case = Case("", setup.name, "", "metric", (setup,)) if self.case is None else self.case
        return Comparison(in_system(case, units), (self.record,), (), 1.0, 0.0)

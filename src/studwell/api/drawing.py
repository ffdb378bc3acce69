"""What every figure of the public face shares: the axes to draw on, our type, the units, names checked before drawing."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from numbers import Integral
from typing import TYPE_CHECKING, Any

from studwell.case import Case
from studwell.errors import StudwellError, Unknown, UnknownName
from studwell.strength.moments import MOMENTS, named_moments
from studwell.study.results import Comparison, SetupResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SYSTEMS = ("metric", "inch")


@contextmanager
def on_axes(ax: Axes | None, size: tuple[float, float] = (7.0, 4.8)) -> Iterator[Axes]:
    """Give the axes to draw on: the user's own, or one on a new pyplot figure; names are never read as formulas.

    size : inches, of a new figure; the user's own is never resized
    raises StudwellError : `ax` is no axes of matplotlib with straight x and y
    """
    from matplotlib.axes import Axes as PlainAxes
    from matplotlib.text import Text

    from studwell.show import theme

    if ax is not None and not isinstance(ax, PlainAxes):
        raise StudwellError(f"ax is a {type(ax).__name__}; allowed: one axes of matplotlib, or None", slug="wrong-kind")
    if ax is not None and ax.name != "rectilinear":  # every figure places its words and shares by straight x and y
        raise StudwellError(
            f"ax has the projection {ax.name}; allowed: axes with straight x and y, as plt.subplots() makes",
            slug="wrong-kind",
        )
    with theme.drawing():
        if ax is None:
            from matplotlib import pyplot

            ax = pyplot.figure(figsize=size, layout="constrained").add_subplot()
        yield ax
        for text in ax.findobj(Text):  # those that were there before us would read a dollar sign as a formula
            text.set_parse_math(False)


def told_by(ax: Axes, **options: Any) -> None:
    """Put a legend where lines or bars of an axes have names."""
    handles, _ = ax.get_legend_handles_labels()
    if handles:
        ax.legend(**options)


def system_of(units: str | None, default: str) -> str:
    """Return "metric" or "inch": what is asked, else the case's. Raises StudwellError: another word."""
    if units is None:
        return default
    if units not in SYSTEMS:
        raise StudwellError(f'units = "{units}"; allowed: {", ".join(SYSTEMS)}, or None for the case\'s own')
    return units


def known_name(what: str, name: object, known: Iterable[str]) -> str:
    """Return a name if it is one of those known. Raises UnknownName."""
    names = tuple(known)
    if not isinstance(name, str) or name not in names:
        raise UnknownName(what, name, names)
    return name


def in_system(case: Case, units: str | None) -> Case:
    """Return a case with the units in which it is to be shown."""
    return replace(case, units=system_of(units, case.units))


def solved(comparison: Comparison, name: str) -> SetupResult:
    """Return a solved setup. Raises UnknownName; Unknown: it could not be solved."""
    for failed in comparison.failed:
        if failed.name == name:
            raise Unknown(f"{name}: the setup could not be solved: {failed.reason}")
    known_name("solved setup", name, [result.name for result in comparison.results])
    return comparison[name]


def part_of(comparison: Comparison, setups: Sequence[str] | str | None, units: str | None) -> Comparison:
    """Return a comparison of some of its setups, ranked as before, in units to be shown.

    raises UnknownName;  Unknown : a setup that could not be solved, or nothing is solved
    """
    shown = replace(comparison, case=in_system(comparison.case, units))
    if setups is not None:
        wanted = {solved(comparison, name).name for name in ((setups,) if isinstance(setups, str) else setups)}
        shown = replace(shown, results=tuple(r for r in shown.results if r.name in wanted), failed=())
    if not shown.results:
        raise Unknown("no setup is solved, so that there is nothing to draw")
    return shown


def state_of(result: SetupResult, moment: str | int) -> int:
    """Return the place in a setup's timeline of a moment: one of MOMENTS, an outcome with a moment, or the place itself.

    raises UnknownName;  Unknown : the outcome has no moment here;  StudwellError : no such place, or True or False
    """
    count = len(result.timeline.states)
    if isinstance(moment, bool):  # which Python takes for the numbers 0 and 1
        raise StudwellError(
            f"moment = {moment}; allowed: {', '.join(MOMENTS)}, an outcome's name, or a state's number",
            slug="wrong-kind",
        )
    if isinstance(moment, Integral):
        if not -count <= moment < count:
            raise StudwellError(
                f"moment = {moment}: the history has {count} states, 0 to {count - 1}", slug="out-of-range"
            )
        return int(moment) % count
    if not isinstance(moment, str):
        raise UnknownName("moment", moment, (*MOMENTS, f"0 to {count - 1}"))
    if moment in MOMENTS:
        return named_moments(result.timeline, result.history.temperatures, result.outcomes, result.verdict)[moment]
    timed = [name for name, outcome in result.outcomes.items() if outcome.index is not None]
    if moment in result.outcomes and moment not in timed:
        raise Unknown(f"{result.name}: {moment} has no moment here: {result.outcomes[moment].reason}")
    index = result.outcomes[known_name("moment", moment, (*MOMENTS, *timed))].index
    assert index is not None
    return index


def without_letter(ax: Axes) -> None:
    """Take the letter of a panel of a sheet off a title, for a figure that stands alone."""
    ax.set_title(re.sub(r"^[a-z]  ", "", ax.get_title(loc="left")), loc="left")

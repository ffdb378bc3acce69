"""The review of the back-off rule as one figure fit for a paper: what turns do, why, how many are needed, where it flips."""

from __future__ import annotations

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from studwell.review.beside import SEAT_MODES
from studwell.review.codes import Flips
from studwell.review.mechanisms import COLD, HOTTER, LIQUID, MECHANISMS, STACK, STEADY, WEDGE, governing_quantity
from studwell.review.run import Review
from studwell.review.sweep import BEARS, Row
from studwell.show import theme
from studwell.show.both_units import in_units
from studwell.show.sheet import Sheet, drawn_in_both
from studwell.units import as_text, in_unit, label

SHORT = {
    WEDGE: "wedge",
    STEADY: "steady heat",
    HOTTER: "stud hotter",
    COLD: "cold soak",
    LIQUID: "liquid",
    STACK: "stack",
}


def review_sheet(review: Review) -> Sheet:
    """Return the figure of a review."""
    return drawn_in_both(lambda units: _sheet(in_units(review, units)), review.case.units)


def _sheet(review: Review) -> Sheet:
    figure = Figure(figsize=(10.2, 10.6), layout="constrained")
    axes = figure.subplots(3, 2)
    plot_tip_force(review, axes[0, 0])
    plot_margins(review, axes[0, 1])
    plot_shares(review, axes[1, 0])
    plot_budget(review, axes[1, 1])
    for key, ax in (("floor thickness", axes[2, 0]), ("seating torque", axes[2, 1])):
        plot_flips(review, key, ax)
    told = review.verdict.text
    return Sheet(
        "review",
        "The back-off rule reviewed",
        f"{review.case.title}, {review.setup.name}. Tip force (of the seat where no tip bears) and elastic margins "
        "over the turns back from the driven seat, thin what is crushed or yields and breaks nothing; shares "
        "of the mechanisms (Shapley) in what turning back relieves and in what is added to the driven stud; "
        "the smallest back-off with its budget beside the rule; margins over floor thickness and "
        "seating torque, with the values at which the verdict changes.",
        told,
        figure,
    )


def _torques(review: Review) -> list[float]:
    return sorted({row.torque for row in review.rows if row.family == "torque"})


def plot_tip_force(review: Review, ax: Axes) -> None:
    """Draw the largest tip force in use over the angle turned back, one line a seating torque.

    Where no tip ever bears (a run-out carries the drive): the force on tip and seat when seated.
    """
    units = review.case.units
    rows = [r for r in review.rows if r.family == "torque" and r.tip_run is not None]
    bears = any((r.tip_run or 0.0) > BEARS for r in rows)

    def force(row: Row) -> float:
        return (row.tip_run if bears else row.wedge) or 0.0

    shown = 3.0
    for place, torque in enumerate(_torques(review)):
        mine = [r for r in rows if r.torque == torque]
        relieved = [r.turns for r in mine if force(r) <= BEARS]
        shown = max(shown, 2.0 * 360.0 * min(relieved, default=0.0))
        ax.plot(
            [360.0 * r.turns for r in mine],
            [in_unit(force(r), "force", units) for r in mine],
            label=as_text(torque, "torque", units, 3),
            **theme.series_style(place),
        )
    ax.set_xlim(0.0, shown)
    ax.set_ylim(bottom=0.0)
    ax.set_xlabel("turned back from the driven seat, degrees")
    if not rows:
        ax.text(0.5, 0.5, "not solved", transform=ax.transAxes, ha="center")
    if bears or not rows:
        ax.set_title("a  Tip force over the angle turned back")
        ax.set_ylabel(f"largest tip force in use, {label('force', units)}")
    else:
        ax.set_title("a  Seat force: the tip never bears in use")
        ax.set_ylabel(f"force on tip and seat when seated, {label('force', units)}")
    if rows:
        ax.legend(title="seating torque")


BELOW_LEGEND = 0.74
"""Share of an axes' height to which lines across it rise where a legend stands above them."""

NEAR_SEAT = 0.1
"""Turns up to which the margins are drawn on a wide scale: the wedge goes within the first hundredths of a turn."""


def plot_margins(review: Review, ax: Axes) -> None:
    """Draw the largest margin of the boss over the turns back, the first tenth of a turn stretched, one line a seating torque.

    Thin and broken: what is crushed or yields and breaks nothing, driven with the case's own torque.
    """
    for place, torque in enumerate(_torques(review)):
        rows = [r for r in review.rows if r.family == "torque" and r.torque == torque and r.worst is not None]
        name = as_text(torque, "torque", review.case.units, 3)
        ax.plot([r.turns for r in rows], [r.worst or 0.0 for r in rows], label=name, **theme.series_style(place))
    mine = [r for r in review.rows if r.family == "torque" and r.torque == review.drive.torque and r.worst is not None]
    for mode, dashes in zip(SEAT_MODES, ((1, 1), (3, 1, 1, 1), (5, 1)), strict=True):
        values = [dict(row.beside).get(mode) for row in mine]
        if any(value for value in values):
            ax.plot(
                [r.turns for r in mine], [float("nan") if value is None else value for value in values],
                color=theme.LIGHT.weak, linewidth=1.1, linestyle=(0, dashes),
                label=f"{mode}, {as_text(review.drive.torque, 'torque', review.case.units, 3)}",
            )  # fmt: skip
    least, rule, most = (review.inputs[key].value for key in ("rule_least", "rule", "rule_most"))
    ax.axvspan(least, most, color=theme.LIGHT.faint, alpha=0.6, linewidth=0, label="the rule")
    ax.axvline(rule, color=theme.LIGHT.weak, linewidth=1.0)
    _limit(ax)
    ax.set_xscale("symlog", linthresh=NEAR_SEAT, linscale=1.5)
    ax.set_xlim(0.0, max(1.0, most))
    ticks = [0.0, 0.02, 0.04, 0.06, 0.08, 0.1, 0.2, 0.5, 1.0]
    ax.set_xticks(ticks, [f"{tick:g}" for tick in ticks])
    ax.set_xticks([], minor=True)
    ax.set_xlabel(f"turned back, turns (scale stretched below {NEAR_SEAT:g})")
    ax.set_ylabel("largest margin of the boss, elastic")
    ax.set_title("b  What breaks the boss; thin: crushed, yields")
    _clear_legend(ax)


def _limit(ax: Axes) -> None:
    ax.axhline(1.0, color=theme.LIGHT.bad, linewidth=1.0, linestyle=(0, (4, 2)), label="limit")
    ax.set_ylim(bottom=0.0)


def _clear_legend(ax: Axes) -> None:
    """A legend on the page's own colour, so that lines which pass under it do not strike its words through."""
    ax.legend(frameon=True, facecolor=theme.LIGHT.paper, edgecolor="none", framealpha=1.0, borderaxespad=0.3)


def plot_shares(review: Review, ax: Axes) -> None:
    """Draw each mechanism's shares of what governs the driven stud, floor stress or thread load, at the telling instants.

    Solid: its share of what turning back relieves. In outline: its share of all that is added to the driven stud.
    """
    height = 0.8 / max(len(review.apart), 1)
    units, quantity = review.case.units, "thread load"
    if all("floor stress" in apart.shares for apart in review.apart) and review.driven is not None:
        quantity = governing_quantity(review.driven)
    kind = "pressure" if quantity == "floor stress" else "force"

    def shown(value: float) -> float:
        return in_unit(value, kind, units)

    for place, apart in enumerate(review.apart):
        driven, relieved = apart.shares[quantity], apart.relieved.get(quantity)
        rows = [k + height * (place - 0.5 * (len(review.apart) - 1)) for k in range(len(MECHANISMS))]
        colour, mark = theme.SERIES[place], ("", "///")[place % 2]
        told = "relief not known"
        if relieved is not None:
            told = f"{as_text(relieved.total, kind, units, 3)} relieved"
            ax.barh(
                rows, [shown(relieved.share[name]) for name in MECHANISMS], height=0.5 * height, color=colour,
                hatch=mark, edgecolor=theme.LIGHT.paper, linewidth=0.0,
                label=f"{apart.when}: {told}, {as_text(driven.total, kind, units, 3)} added",
            )  # fmt: skip
        ax.barh(
            rows, [shown(driven.share[name]) for name in MECHANISMS], height=0.86 * height, facecolor="none",
            edgecolor=colour, linewidth=0.9,
            label=None if relieved is not None else f"{apart.when}: {as_text(driven.total, kind, units, 3)} added, {told}",
        )  # fmt: skip
    ax.plot([0.0, 0.0], [-0.7, len(MECHANISMS) - 0.4], color=theme.LIGHT.weak, linewidth=0.8)
    ax.set_yticks(range(len(MECHANISMS)), [SHORT[name] for name in MECHANISMS])
    ax.set_ylim(len(MECHANISMS) - 0.2 + 0.42 * len(review.apart), -0.7)  # room for the legend below the bars
    ax.set_xlabel(f"{quantity}, {label(kind, units)}; solid: relieved, outline: added when driven")
    ax.set_title(f"c  Why: shares of the {quantity} that is relieved")
    if review.apart:
        ax.legend(loc="lower center")


def plot_budget(review: Review, ax: Axes) -> None:
    """Draw what the smallest back-off is made of, beside what the rule gives, as travel from the driven seat."""
    need, units = review.need, review.case.units
    ax.set_title("d  How much is needed, from the driven seat")
    ax.set_xlabel(f"turned back, {label('length', units)} of thread travel")
    if need is None:
        ax.text(0.5, 0.5, "not known", transform=ax.transAxes, ha="center")
        return
    seat = need.seat + need.wind_up * need.pitch
    rows = [("wedge and twist of the drive", seat), ("heat", need.heat)]
    rows += [(item.name, item.mm) for item in need.items if item.mm is not None]
    rows += [
        ("need", seat + need.heat),
        ("need, root of squares", seat + need.likely),
        ("need, worst", seat + need.worst),
    ]
    names = ("rule, least", "rule", "rule, most")
    rows += [(name, turns * need.pitch) for name, turns in zip(names, need.rule, strict=True)]
    places = 4 if units == "metric" else 5  # as in the table
    for k, (_, mm) in enumerate(rows):
        ours = k >= len(rows) - 3
        total = not ours and k >= len(rows) - 6
        colour = theme.SERIES[2] if ours else theme.SERIES[1] if total else theme.SERIES[0]
        value = in_unit(mm, "length", units)
        ax.barh(k, value, color=colour, height=0.72)
        ax.annotate(
            f"{value:.{places}f}" if value > 1e-9 else "0",
            (value, k),
            (3, 0),
            textcoords="offset points",
            va="center",
            fontsize=7,
        )
    ax.set_yticks(range(len(rows)), [name for name, _ in rows])
    ax.margins(x=0.14)
    ax.invert_yaxis()


CROWDED = 0.08
"""Share of what was tried between two lines below which the word between them is written once."""


def plot_flips(review: Review, quantity: str, ax: Axes) -> None:
    """Draw the margins driven and turned back along a quantity, with the values at which the word changes."""
    units = review.case.units
    letter = "e" if quantity == "floor thickness" else "f"
    each: Flips | None = next((one for one in review.flips if one.quantity == quantity), None)
    ax.set_title(f"{letter}  Where the verdict changes: {quantity}")
    if each is None:
        ax.text(0.5, 0.5, "not solved", transform=ax.transAxes, ha="center")
        return
    kind = "length" if each.unit == "mm" else "torque"
    known = [one for one in each.tried if one.driven is not None and one.turned_back is not None]
    x = [in_unit(one.value, kind, units) for one in known]
    ax.plot(x, [one.driven or 0.0 for one in known], label="driven hard", **theme.series_style(1))
    ax.plot(x, [one.turned_back or 0.0 for one in known], label="turned back by the rule", **theme.series_style(2))
    last: tuple[float, str] | None = None
    for value, below, above in each.flips:
        at = in_unit(value, kind, units)
        near = last is not None and x and at - last[0] < CROWDED * (x[-1] - x[0]) and last[1] == below
        last = (at, above)
        ax.axvline(at, ymax=BELOW_LEGEND, color=theme.LIGHT.weak, linewidth=0.9)
        sides = ((below, -2, "right"), (above, 2, "left"))  # each word on its own side of the line
        for word, side, align in sides[1:] if near else sides:
            ax.annotate(
                word, (at, 0.02), (side, 2), xycoords=("data", "axes fraction"), textcoords="offset points",
                rotation=90, fontsize=7, ha=align, va="bottom",
            )  # fmt: skip
    if each.now is not None:
        ax.plot(
            [in_unit(each.now, kind, units)],
            [0.0],
            marker="^",
            color=theme.LIGHT.ink,
            clip_on=False,
            linestyle="",
            label="now",
        )
    _limit(ax)
    ax.set_xlabel(f"{quantity}, {label(kind, units)}")
    ax.set_ylabel("largest margin of the boss, elastic")
    _clear_legend(ax)

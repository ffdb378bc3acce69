"""The review of the back-off rule as plain rows of text in the case's units, for screen and page alike."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rich.table import Table

from studwell.review.beside import FLOOR_YIELD, SEAT_MODES
from studwell.review.codes import CODE_WORDS, Flips
from studwell.review.measurements import Measurement
from studwell.review.mechanisms import MECHANISMS, Apart
from studwell.review.run import Review
from studwell.review.trials import BOSS_MODES
from studwell.show.heat_content import Rows
from studwell.strength.timeline import at_instant
from studwell.study.finding import margin_words
from studwell.units import as_text, in_unit, label, number_text

UNKNOWN = "unknown"


def review_tables(review: Review) -> tuple[Rows, ...]:
    """Return all tables of a review but the sweep, in the order in which they are read."""
    units = review.case.units
    mechanisms = (mechanism_rows(each, k == review.stated, units) for k, each in enumerate(review.apart))
    tables = [margin_rows(review), *mechanisms]
    if review.apart:
        tables.append(relieved_rows(review.apart[review.stated], review.back.turns, units))
        tables += [each for each in [interaction_rows(review.apart, units)] if each.rows]
    if review.need is not None:
        tables.append(budget_rows(review))
    tables.append(view_rows(review))
    if review.flips:
        tables.append(flip_rows(review))
    return (*tables, measurement_rows(review))


def screen_tables(review: Review) -> tuple[Table, ...]:
    """Return the tables for the screen."""
    found = []
    for rows in review_tables(review):
        table = Table(title=rows.caption, title_justify="left")
        for head in rows.heads:
            table.add_column(head, overflow="fold")
        for row in rows.rows:
            table.add_row(*row)
        found.append(table)
    return tuple(found)


KIND_OF_QUANTITY = {"floor stress": "pressure", "thread load": "force", "crack driving force": "toughness"}
"""What mechanisms are told of -> its kind of quantity."""


def _margin(value: float | None) -> str:
    text = UNKNOWN if value is None else number_text(_tidy(value), 3)
    return margin_words(value) if text == "1" else text  # what is not the limit must not read like it


BESIDE = {FLOOR_YIELD: "floor yield, averaged stress over yield strength"}


def margin_rows(review: Review) -> Rows:
    """Return what driving and turning back do, side by side."""
    units = review.case.units
    pair = (review.driven, review.back, *(review.own_pair or ()))
    liquid = review.liquid.contents
    modes = [mode for mode in BOSS_MODES if any(trial.margins[mode] != 0.0 for trial in pair)]
    beside = [mode for mode in SEAT_MODES if any(trial.beside[mode] != 0.0 for trial in pair)]
    rows = [
        ("wedge force when seated", *(as_text(t.wedge, "force", units) for t in pair)),
        ("largest tip force while in use", *(as_text(t.tip_run, "force", units) for t in pair)),
        ("smallest gap under the tip", *(as_text(_tidy(t.gap_min), "length", units) for t in pair)),
        (
            "largest floor stress",
            *(UNKNOWN if t.corner is None else as_text(t.corner, "pressure", units) for t in pair),
        ),
        ("largest thread load", *(as_text(t.thread, "force", units) for t in pair)),
        ("engaged thread", *(as_text(t.engaged, "length", units) for t in pair)),
        ("hold: torque down the stud over what holds it", *(_margin(t.hold) for t in pair)),
        *((f"margin, {mode}", *(_margin(t.margins[mode]) for t in pair)) for mode in modes),
        *((f"breaks nothing: {BESIDE.get(mode, mode)}", *(_margin(t.beside[mode]) for t in pair)) for mode in beside),
    ]
    if review.own_pair is not None:
        rows.insert(6, ("largest pressure under the tip", *(as_text(t.pressure, "pressure", units) for t in pair)))
    with_liquid = (f"driven hard, {liquid}", f"turned back, {liquid}") if review.own_pair is not None else ()
    return Rows(
        f"{review.setup.name}: driven with {as_text(review.drive.torque, 'torque', units)} and left, and turned back by "
        f"{review.back.turns:g} turn from there (margins: load over capacity, 1 is the limit)",
        ("What", "driven hard", "turned back", *with_liquid),
        tuple(rows),
    )


def _tidy(length: float) -> float:
    return 0.0 if abs(length) < 1e-9 else length


def mechanism_rows(apart: Apart, stated: bool, units: str = "metric") -> Rows:
    """Return the mechanisms apart at one instant."""

    def shown(quantity: str, value: float) -> str:
        return _in_quantity(quantity, value, units)

    heads = ["Mechanism"]
    for quantity in apart.shares:
        heads += [f"{quantity}, {label(KIND_OF_QUANTITY[quantity], units)}: alone", "last in", "share"]
    rows = []
    for name in MECHANISMS:
        cells = [name if apart.amplitudes[name] else f"{name} (not there)"]
        for quantity, found in apart.shares.items():
            cells += [shown(quantity, each[name]) for each in (found.alone, found.last, found.share)]
        rows.append(tuple(cells))
    total, rest = ["all together (without any, with all)"], ["interactions: total less the sum of each alone"]
    for quantity, found in apart.shares.items():
        total += [shown(quantity, value) for value in (found.nothing, found.everything, found.total)]
        rest += ["", "", shown(quantity, found.total - sum(found.alone.values()))]
    rows += [tuple(total), tuple(rest)]
    unknown = "".join(f"; {name} unknown: {reason}" for name, reason in apart.reasons.items())
    return Rows(
        f"Mechanisms apart {at_instant(apart.when)}{', the instant that the verdict tells' if stated else ''}: boss "
        f"{as_text(apart.boss, 'temperature', units, 4)}, stud {_difference(apart.above, units, '+')}, stack "
        f"{_difference(apart.stack, units, '+')} against it; "
        f"crack driving force of a {as_text(apart.flaw, 'length', units)} ring flaw{unknown}",
        tuple(heads),
        tuple(rows),
    )


def _in_quantity(quantity: str, value: float, units: str) -> str:
    return number_text(in_unit(value, KIND_OF_QUANTITY[quantity], units), 3)


def _difference(kelvin: float, units: str, sign: str = "") -> str:
    """A difference of temperatures: in K, in inch units in steps of degF."""
    value, unit = (kelvin, "K") if units == "metric" else (1.8 * kelvin, "degF")
    return f"{value:{sign}.3g} {unit}"


def _in_steps(note: str, units: str) -> str:
    """A note with its differences of temperature in the steps of the unit shown."""
    return re.sub(r"(\d[\d.]*) K\b", lambda found: _difference(float(found[1]), units), note)


def relieved_rows(apart: Apart, turns: float, units: str) -> Rows:
    """Return what turning back relieves at an instant, by mechanisms."""
    heads = ["Mechanism", *(f"{name}, {label(KIND_OF_QUANTITY[name], units)}" for name in apart.relieved)]
    names = [name for name in MECHANISMS if apart.amplitudes[name]]
    rows = [
        (name, *(_in_quantity(q, found.share[name], units) for q, found in apart.relieved.items())) for name in names
    ]
    rows.append(("all that is relieved", *(_in_quantity(q, found.total, units) for q, found in apart.relieved.items())))
    return Rows(
        f"What turning back by {turns:g} turn relieves {at_instant(apart.when)}: as driven less as turned back "
        "(Shapley's shares)",
        tuple(heads),
        tuple(rows),
    )


def interaction_rows(several: Sequence[Apart], units: str) -> Rows:
    """Return the largest interactions of pairs, those that are there; what is below a thousandth of the total is left out."""
    rows = []
    for apart in several:
        for quantity, found in apart.shares.items():
            least = 1e-3 * max(abs(found.total), 1e-9)
            pairs = sorted(found.pairs.items(), key=lambda pair: -abs(pair[1]))[:3]
            rows += [
                (
                    f"{quantity}, {label(KIND_OF_QUANTITY[quantity], units)}",
                    apart.when,
                    f"{a} with {b}",
                    _in_quantity(quantity, value, units),
                )
                for (a, b), value in pairs
                if abs(value) > least
            ]
    return Rows(
        "Interactions of pairs of mechanisms", ("Quantity", "When", "Pair", "beyond each by itself"), tuple(rows)
    )


def budget_rows(review: Review) -> Rows:
    """Return the budget of the smallest back-off."""
    need, units = review.need, review.case.units
    assert need is not None

    def line(
        name: str, lift: float, note: str, source: str = "this model", status: str = "computed", driven: bool = False
    ):
        turns = need.turns(lift, driven)
        travel = in_unit(turns * need.pitch, "length", units)
        return (name, f"{travel:.{places}f}", f"{turns:.4f}", f"{360 * turns:.2f}", note, source, status)

    places = 4 if units == "metric" else 5
    rows = [line("heat: the tip just stays free", need.heat, "beyond first contact, whole history")]
    for item in need.items:
        if item.mm is None:
            rows.append((item.name, UNKNOWN, UNKNOWN, UNKNOWN, _in_steps(item.note, units), item.source, item.status))
        else:
            rows.append(line(item.name, item.mm, _in_steps(item.note, units), item.source, item.status))
    rows += [
        line("need by root of squares", need.likely, "from first contact"),
        line("need at the worst", need.worst, "from first contact"),
        line(
            "need from the driven seat",
            need.heat,
            f"{as_text(need.seat, 'length', units)} of wedge and the drive's twist first",
            driven=True,
        ),
        line("the same by root of squares", need.likely, "from the driven seat", driven=True),
        line("the same at the worst", need.worst, "from the driven seat", driven=True),
    ]
    words = ("the rule at the least", "the rule", "the rule at the most")
    for name, turns, key in zip(words, need.rule, ("rule_least", "rule", "rule_most"), strict=True):
        given = review.inputs[key]
        leaves = f"leaves {as_text(need.lift(turns, driven=True), 'length', units)} from the driven seat"
        rows.append(line(name, turns * need.pitch, leaves, given.source, given.status))
    return Rows(
        f"Smallest back-off and its budget: the rule is {need.word}",
        ("Item", label("length", units), "turns", "degrees", "Note", "Source", "Status"),
        tuple(rows),
    )


def rule_rows(review: Review) -> Rows:
    """Return what the review takes for granted of the rule, of feel and of scatter, with sources."""
    kinds = {"mm": "length", "turn": "turn", "degC": "temperature"}

    def shown(value: float, unit: str) -> str:
        if unit == "K":
            return _difference(value, review.case.units)
        return as_text(value, kinds[unit], review.case.units) if unit in kinds else number_text(value)

    rows = tuple(
        (key.replace("_", " "), shown(each.value, each.unit), each.status, each.source)
        for key, each in review.inputs.items()
    )
    return Rows("What the review takes for granted", ("Input", "Value", "Status", "Source"), rows)


def view_rows(review: Review) -> Rows:
    """Return the views side by side."""
    views = (*review.views, *(each for each in (review.own_pocket, review.other) if each is not None))
    rows = tuple(
        (view.name, _margin(view.driven), _margin(view.turned_back), view.mode or "-", view.code, view.note)
        for view in views
    )
    return Rows(
        f"Largest margin of the boss by several views; confidence {review.verdict.confidence}: {review.verdict.why}",
        ("View", "driven", "turned back", "governs when driven", "word", "Note"),
        rows,
    )


def flip_rows(review: Review) -> Rows:
    """Return where the word changes."""
    rows = []
    for each in review.flips:
        tried = ", ".join(f"{_value(each, one.value, review.case.units)} {one.code}" for one in each.tried)
        where = "; ".join(
            f"{_value(each, value, review.case.units)}: '{below}' below, '{above}' above"
            for value, below, above in each.flips
        )
        rows.append(
            (
                each.quantity,
                "-" if each.now is None else _value(each, each.now, review.case.units),
                where or "nowhere in what was tried",
                "-" if each.within is None else f"+-{_value(each, each.within, review.case.units, True)}",
                tried,
            )
        )
    words = "; ".join(f"{code}: {text}" for code, text in CODE_WORDS.items())
    return Rows(
        f"Where the word changes, by elastic margins ({words})",
        ("Along", "now", "changes at", "within", "tried"),
        tuple(rows),
    )


def _value(each: Flips, value: float, units: str, difference: bool = False) -> str:
    if each.unit == "1":
        return number_text(value, 3)
    if each.unit == "degC" and difference:
        return _difference(value, units)
    kind = {"mm": "length", "N mm": "torque", "degC": "temperature"}[each.unit]
    return as_text(value, kind, units, 3)


def measurement_rows(review: Review) -> Rows:
    """Return what would change our mind."""

    def shown(value: float | None, kind: str) -> str:
        if value is None:
            return UNKNOWN
        return as_text(_tidy(value), kind, review.case.units, 3) if kind else number_text(value, 3)

    def refuted(each: Measurement) -> str:
        low = "" if each.refuting_low is None else f"below {shown(each.refuting_low, each.kind)} or "
        return f"{low}{each.refuted_by} {shown(each.refuting, each.kind)}"

    rows = tuple(
        (
            each.name,
            each.how,
            f"{each.quantity}: {shown(each.predicted, each.kind)}",
            "-" if each.refuting is None else refuted(each),
            each.note,
        )
        for each in review.measurements
    )
    return Rows("What would change our mind", ("Measurement", "How", "Predicted", "Refuted if", "Why"), rows)

"""The review of the back-off rule as plain rows of text in the case's units, for screen and page alike."""

from __future__ import annotations

from rich.table import Table

from studwell.review.codes import CODE_WORDS, Flips
from studwell.review.mechanisms import MECHANISMS, Apart
from studwell.review.run import Review
from studwell.review.trials import BOSS_MODES
from studwell.show.heat_content import Rows
from studwell.units import as_text, in_unit, label, number_text

UNKNOWN = "unknown"


def review_tables(review: Review) -> tuple[Rows, ...]:
    """Return all tables of a review but the sweep, in the order in which they are read."""
    units = review.case.units
    mechanisms = (mechanism_rows(each, k == review.stated, units) for k, each in enumerate(review.apart))
    tables = [margin_rows(review), *mechanisms]
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
    return UNKNOWN if value is None else number_text(_tidy(value), 3)


def margin_rows(review: Review) -> Rows:
    """Return what driving and turning back do, side by side."""
    units = review.case.units
    pair = (review.driven, review.back)
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
        *((f"margin, {mode}", *(_margin(t.margins[mode]) for t in pair)) for mode in BOSS_MODES),
    ]
    return Rows(
        f"{review.setup.name}: driven with {as_text(review.drive.torque, 'torque', units)} and left, and turned back by "
        f"{review.back.turns:g} turn from there (margins: load over capacity, 1 is the limit)",
        ("What", "driven hard", "turned back"),
        tuple(rows),
    )


def _tidy(length: float) -> float:
    return 0.0 if abs(length) < 1e-9 else length


def mechanism_rows(apart: Apart, stated: bool, units: str = "metric") -> Rows:
    """Return the mechanisms apart at one instant."""

    def shown(quantity: str, value: float) -> str:
        return number_text(in_unit(value, KIND_OF_QUANTITY[quantity], units), 3)

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
    for quantity, found in apart.shares.items():
        pairs = sorted(found.pairs.items(), key=lambda pair: -abs(pair[1]))[:3]
        for (a, b), value in pairs:
            if abs(value) > 1e-9 * max(abs(found.total), 1.0):
                cells = [f"interaction on {quantity}: {a} with {b}"]
                for other in apart.shares:
                    cells += ["", "", shown(quantity, value) if other == quantity else ""]
                rows.append(tuple(cells))
    unknown = "".join(f"; {name} unknown: {reason}" for name, reason in apart.reasons.items())
    return Rows(
        f"Mechanisms apart at {apart.when}{', the instant that the verdict tells' if stated else ''}: boss "
        f"{as_text(apart.boss, 'temperature', units, 4)}, stud {apart.above:+.3g} K, stack {apart.stack:+.3g} K against it; "
        f"crack driving force of a {as_text(apart.flaw, 'length', units)} ring flaw{unknown}",
        tuple(heads),
        tuple(rows),
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
            rows.append((item.name, UNKNOWN, UNKNOWN, UNKNOWN, item.note, item.source, item.status))
        else:
            rows.append(line(item.name, item.mm, item.note, item.source, item.status))
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
    kinds = {"mm": "length", "turn": "turn", "degC": "temperature", "K": "temperature_difference"}

    def shown(value: float, unit: str) -> str:
        return as_text(value, kinds[unit], review.case.units) if unit in kinds else number_text(value)

    rows = tuple(
        (key.replace("_", " "), shown(each.value, each.unit), each.status, each.source)
        for key, each in review.inputs.items()
    )
    return Rows("What the review takes for granted", ("Input", "Value", "Status", "Source"), rows)


def view_rows(review: Review) -> Rows:
    """Return the views side by side."""
    views = (*review.views, *(() if review.other is None else (review.other,)))
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
    return Rows(f"Where the word changes ({words})", ("Along", "now", "changes at", "within", "tried"), tuple(rows))


def _value(each: Flips, value: float, units: str, difference: bool = False) -> str:
    if each.unit == "1":
        return number_text(value, 3)
    if each.unit == "degC" and difference:
        return as_text(value, "temperature_difference", units, 3)
    kind = {"mm": "length", "N mm": "torque", "degC": "temperature"}[each.unit]
    return as_text(value, kind, units, 3)


def measurement_rows(review: Review) -> Rows:
    """Return what would change our mind."""

    def shown(value: float | None, kind: str) -> str:
        if value is None:
            return UNKNOWN
        return as_text(_tidy(value), kind, review.case.units, 3) if kind else number_text(value, 3)

    rows = tuple(
        (
            each.name,
            each.how,
            f"{each.quantity}: {shown(each.predicted, each.kind)}",
            "-" if each.refuting is None else f"{each.refuted_by} {shown(each.refuting, each.kind)}",
            each.note,
        )
        for each in review.measurements
    )
    return Rows("What would change our mind", ("Measurement", "How", "Predicted", "Refuted if", "Why"), rows)

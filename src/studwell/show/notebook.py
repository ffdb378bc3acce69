"""Results as a notebook shows them: small HTML tables that take the notebook's own colours, light or dark."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from studwell.choose.objectives import OBJECTIVES
from studwell.choose.study import Choice
from studwell.odds.probability import Probability
from studwell.odds.study import Odds
from studwell.review.run import Review
from studwell.show import theme
from studwell.show.both_units import in_system
from studwell.show.choice import objective_texts
from studwell.show.odds_words import probability_interval, seen_text
from studwell.show.review_content import margin_rows
from studwell.show.table import margin_text, value_text, verdict_word
from studwell.strength.margins import Margin
from studwell.study.results import Comparison, SetupResult
from studwell.units import label

MARK = {"safe": theme.SERIES[2], "fails": theme.SERIES[6], "unknown": theme.SERIES[3], "not solved": theme.SERIES[7]}
"""Colour of the mark beside a verdict's word; each stands at least 3:1 off a light and a dark page."""

TABLE = "border-collapse:collapse;color:inherit;background:transparent;font-variant-numeric:tabular-nums"
CELL = "padding:.2em .7em;border-bottom:1px solid rgba(128,128,128,.45);vertical-align:top;color:inherit"
NOTE = "color:inherit;opacity:.85;margin:.3em 0;max-width:62em"

Cell = str | tuple[str, str]
"""Text, or a text with the colour of its mark."""


def table_html(
    title: str, heads: Sequence[str], rows: Iterable[Sequence[Cell]], notes: Iterable[str] = (), left: int = 1
) -> str:
    """Return a table as HTML, every text escaped; columns before `left` are texts, all others are set to the right."""

    def cell(tag: str, place: int, content: Cell) -> str:
        text, mark = content if isinstance(content, tuple) else (content, "")
        align = "left" if place < left else "right"
        edge = f";border-left:.35em solid {mark};padding-left:.5em" if mark else ""
        scope = ' scope="col"' if tag == "th" else ""
        return f'<{tag}{scope} style="{CELL};text-align:{align}{edge}">{escape(text)}</{tag}>'

    head = "".join(cell("th", place, text) for place, text in enumerate(heads))
    body = "".join(
        f"<tr>{''.join(cell('td', place, one) for place, one in enumerate(row))}</tr>" for row in rows
    )  # fmt: skip
    said = "".join(f'<p style="{NOTE}">{escape(note)}</p>' for note in notes)
    return (
        f'<div><table style="{TABLE}"><caption style="text-align:left;font-weight:bold;color:inherit;caption-side:top">'
        f"{escape(title)}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>{said}</div>"
    )


def comparison_html(comparison: Comparison) -> str:
    """Return the ranked table of a comparison: verdict in a word, governing margin, clamp, tip force, thread load."""
    units = comparison.case.units
    force, stress = label("force", units), label("pressure", units)
    shown = ("clamp_min", "clamp_max", "tip_force_max", "thread_load_max")
    rows: list[Sequence[Cell]] = []
    for rank, result in enumerate(comparison.results, start=1):
        word = verdict_word(result)
        rows.append(
            (
                str(rank),
                result.name,
                (word, MARK[word]),
                result.verdict.governing or "-",
                _governing(result),
                *(value_text(result.value(name), "force", units) for name in shown),
                value_text(result.value("floor_stress_max"), "pressure", units),
            )
        )
    for failed in comparison.failed:
        rows.append(("-", failed.name, ("not solved", MARK["not solved"]), in_system(failed.reason, units), *["-"] * 6))
    heads = (
        "rank", "setup", "verdict", "governing mode", "margin", f"clamp least, {force}", f"clamp most, {force}",
        f"tip force most, {force}", f"thread load most, {force}", f"floor stress, {stress}",
    )  # fmt: skip
    notes = ["Margin: load over capacity, 1 is the limit."]
    if any(result.verdict.safe is None for result in comparison.results):
        notes.append("Unknown: nothing known fails, but some modes are not known.")
    if comparison.stopped:
        notes.append("It was stopped; setups that were not reached are listed as not solved.")
    return table_html(comparison.case.title, heads, rows, notes, left=4)


def setup_html(result: SetupResult, units: str) -> str:
    """Return one setup's margins, the governing one first, what is unknown with its reason."""
    word, governing = verdict_word(result), result.verdict.governing
    margins = [margin for margin in result.verdict.margins.values() if margin.applies]
    ordered = sorted(
        margins, key=lambda m: (m.mode != governing, m.kind != "damage", m.value is None, -(m.value or 0.0))
    )
    rows: list[Sequence[Cell]] = [
        (margin.mode, margin.kind, in_system(margin.reason or margin.when, units), _marked(margin))
        for margin in ordered
    ]
    clamp = " to ".join(value_text(result.value(name), "force", units) for name in ("clamp_min", "clamp_max"))
    told = (
        f"Clamp {clamp} {label('force', units)}, tip force at most "
        f"{value_text(result.value('tip_force_max'), 'force', units)} {label('force', units)}."
    )
    return table_html(f"{result.name}: {word}", ("mode", "kind", "when or why", "margin"), rows, [told], left=3)


def review_html(review: Review) -> str:
    """Return the verdict of a review with what driving and turning back do, side by side."""
    table = margin_rows(review)
    title = f"{review.case.title}: the back-off rule, in {review.setup.name}"
    return table_html(title, table.heads, table.rows, [review.verdict.text, *review.notes], left=1)


def odds_html(odds: Odds) -> str:
    """Return the probability of each mode that fails in some sample, with its interval."""
    rows: list[Sequence[Cell]] = []
    for item in odds.setups:
        rows.append((item.setup.name, "any damage mode", *_chance(item.any_damage)))
        for mode, found in sorted(item.probabilities.items(), key=lambda pair: -pair[1].value):
            if found.value > 0.0:
                kind = "" if mode in item.damage else " (function)"
                rows.append(("", mode + kind, *_chance(found)))
    rows += [(name, f"not sampled: {reason}", "-", "-") for name, reason in odds.failed]
    notes = [
        f"{odds.samples} samples of each setup, seed {odds.seed}. Probabilities hold for the spreads of the case alone."
    ]
    return table_html(odds.case.title, ("setup", "mode", "probability", "95 % interval"), rows, notes, left=2)


def choice_html(choice: Choice) -> str:
    """Return the compromises of a choice, the recommended first, and why it is recommended."""
    rows: list[Sequence[Cell]] = []
    for row in choice.shown:
        settings = choice.rows.settings(row)
        text = choice.rows.where(row)[0].combination.text
        rows.append(
            (
                (f"{text} (recommended)", MARK["safe"]) if row == choice.recommended else text,
                settings.get("torque", "-"),
                settings.get("back_off") or settings.get("seating_torque") or "-",
                *objective_texts(choice.rows.margins[row]),
            )
        )
    heads = ("parts", "torque", "seating torque or turns", *OBJECTIVES)
    return table_html(f"{choice.case.title}: compromises within [bounds]", heads, rows, choice.reasons)


def _governing(result: SetupResult) -> str:
    governing = result.verdict.governing
    return "-" if governing is None else margin_text(result.verdict.margins[governing])


def _marked(margin: Margin) -> Cell:
    text = margin_text(margin)
    if margin.unknown:
        return text, MARK["unknown"]
    return (text, MARK["fails"]) if margin.fails else text


def _chance(found: Probability) -> tuple[str, str]:
    return seen_text(found), probability_interval(found)

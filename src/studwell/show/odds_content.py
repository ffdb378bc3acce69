"""What the page of odds says, as plain rows of text: probabilities, what rules, outcomes, spreads and checks."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.case.records import Case
from studwell.case.spread_keys import SpreadKey, spread_keys
from studwell.case.spread_record import Distribution
from studwell.odds.explained import BEYOND
from studwell.odds.limits import MODES
from studwell.odds.probability import Probability
from studwell.odds.study import Odds, SetupOdds
from studwell.odds.tally import LARGEST
from studwell.show.heat_content import Rows
from studwell.show.odds_words import (
    GOVERNS,
    NOISE,
    kind_of,
    odds_headline,
    probability_interval,
    probability_text,
    ranked_odds,
    samples_text,
    seen_text,
    told_apart,
    told_of,
)
from studwell.show.page_content import quantity_text
from studwell.store.odds_record import DRAWN, MODEL, UNIT_OF_OUTCOME, quantiles
from studwell.units import as_text, number_text

__all__ = [
    "bound_text",
    "drawn_rows",
    "evidence",
    "kind_of",
    "left_out_of_damage",
    "odds_headline",
    "outcomes",
    "probabilities",
    "probability_interval",
    "probability_text",
    "ranked_odds",
    "ranking",
    "ruling",
    "samples_text",
    "setup_odds_rows",
    "spread_rows",
]


@dataclass(frozen=True)
class OddsRows:
    """One setup: place, name and what it says in a sentence; its tables in the order in which they are read."""

    rank: str
    name: str
    told: str
    tables: tuple[Rows, ...]


def ranking(odds: Odds) -> Rows:
    """Return the table of setups, the one that fails least often first, and whether it can be told from the others."""
    units = odds.case.units
    ranked, rows = ranked_odds(odds), []
    for rank, item in enumerate(ranked, start=1):
        governs = item.governing
        count = 0 if governs is None else item.tally.governs[governs]
        rules = ", ".join(item.narrows[governs][0]) if governs is not None and governs in item.narrows else ""
        apart = "-" if rank == 1 else "yes" if told_apart(odds, ranked[0], item) else "no"
        rows.append(
            (
                f"{rank}. {item.setup.name}",
                seen_text(item.any_damage),
                probability_interval(item.any_damage),
                apart,
                "" if item.staying is None else seen_text(item.staying),
                "none known" if governs is None else f"{governs}, {100 * count / max(item.tally.samples, 1):.0f} %",
                rules or "not looked for",
                _middle(item, "clamp_min", units),
                _middle(item, "tip_force_max", units),
            )
        )
    rows += [(name, "not sampled", "", "", "", "", "", "", reason) for name, reason in odds.failed]
    return Rows(
        "Setups, the one that fails least often first: share of samples in which some damage mode reaches its limit. It holds "
        "for the spreads that the case states, no others; modes that are not known are not in it. Where it is not told from "
        "the first, the order may be chance",
        (
            "Rank and setup",
            "Fails in",
            "95 % interval",
            "Told from the first",
            "If the stud stays put",
            "Governs most samples",
            "What rules that most",
            "Least clamp, middle 95 %",
            "Largest tip force, middle 95 %",
        ),
        tuple(rows),
    )


def _middle(item: SetupOdds, outcome: str, units: str) -> str:
    if outcome not in item.tally.low:
        return "unknown"
    unit = UNIT_OF_OUTCOME.get(outcome, "N")
    ends = [quantity_text(each[outcome], unit, units, 3) for each in (item.tally.low, item.tally.high)]
    return " to ".join(dict.fromkeys(ends))


def setup_odds_rows(odds: Odds) -> tuple[OddsRows, ...]:
    """Return every sampled setup's tables, the one that fails least often first."""
    units = odds.case.units
    return tuple(
        OddsRows(
            str(rank),
            item.setup.name,
            f"{told_of(item)[0].upper()}{told_of(item)[1:]}.",
            tuple(
                table
                for table in (probabilities(item), unjudged(item), ruling(item), outcomes(item, units), evidence(item))
                if table.rows
            ),
        )
        for rank, item in enumerate(ranked_odds(odds), start=1)
    )


def probabilities(item: SetupOdds) -> Rows:
    """Return the table of modes with a probability, any damage mode first, then the most likely."""
    rows = [_whole("any damage mode", item.any_damage)]
    if item.staying is not None:
        rows.append(_whole("any damage mode where the stud does not follow the nut", item.staying))
    for mode, found in sorted(item.probabilities.items(), key=lambda pair: -pair[1].value):
        governs = item.tally.governs.get(mode, 0) / max(item.tally.samples, 1)
        rows.append(
            (
                mode,
                kind_of(item, mode),
                seen_text(found),
                probability_interval(found),
                f"{100 * governs:.0f} %" if governs else "",
                ", ".join(item.narrows[mode][0]) if mode in item.narrows else "",
                found.method,
            )
        )
    return Rows(
        f"How likely each mode is. {GOVERNS}",
        ("Mode", "Kind", "Probability", "95 % interval", "Governs", "What rules it most", "How it was found"),
        tuple(rows),
    )


def _whole(name: str, found: Probability) -> tuple[str, ...]:
    return name, "damage", seen_text(found), probability_interval(found), "", "", found.method


def left_out_of_damage(item: SetupOdds) -> dict[str, str]:
    """Return the damage modes that are not in `any_damage`, each with the reason in a few words."""
    found = {mode: "not known" for mode in item.unknown if mode not in item.probabilities}
    # a setup that is solved sample by sample has no margins of its own to tell unknown from absent
    found |= {m: "without a value in any sample" for m in item.damage if m not in item.probabilities}
    for mode in (*item.probabilities, *item.reasons):
        if mode in MODES or mode in found or kind_of(item, mode) != "damage":
            continue
        if mode in item.probabilities:
            found[mode] = f"judged by {samples_text(item.probabilities[mode].judged, 'checked ')} alone"
        elif item.reasons[mode].startswith(BEYOND):
            found[mode] = "judged by checked samples alone, and there are none"
    return found


def bound_text(item: SetupOdds, mode: str) -> str:
    """Return the upper bound of a mode that no sample fails, with its reason where few samples judge it."""
    found = item.probabilities[mode]
    text = f"below {probability_text(found.high)}"
    if item.checks is not None and mode in item.checks.judged_alone:
        return f"{text}: only {samples_text(found.judged, 'checked ')} judged"
    unknown = 1.0 - found.judged / max(item.tally.samples - item.tally.no_solution, 1)
    return f"{text}: not known in {probability_text(unknown)} of the samples" if unknown > 0.0 else text


def unjudged(item: SetupOdds) -> Rows:
    """Return the modes without a probability, each with its reason."""
    rows = ((mode, reason) for mode, reason in item.reasons.items() if mode not in item.probabilities)
    return Rows("Modes without a probability, and why", ("Mode", "Why"), tuple(rows))


def ruling(item: SetupOdds) -> Rows:
    """Return the shares of the governing margin's variance that the inputs rule; no rows where none were looked for."""
    caption = f"Share of the variance of the governing margin that each input rules, with its standard error. {NOISE}"
    heads = ("Input", "Alone (first order)", "With its part in others (total)")
    if item.indices is None or item.governing is None or item.governing not in item.quantities:
        return Rows(caption, heads, ())
    at, found = item.quantities.index(item.governing), item.indices
    order = sorted(range(len(item.groups)), key=lambda k: -found.total[k, at])
    rows = (
        (
            " with ".join(item.groups[k]),
            f"{found.first[k, at]:.2f} +- {found.error_first[k, at]:.2f}",
            f"{found.total[k, at]:.2f} +- {found.error_total[k, at]:.2f}",
        )
        for k in order
    )
    return Rows(caption.replace("the governing margin", f"the margin of {item.governing}"), heads, tuple(rows))


def outcomes(item: SetupOdds, units: str) -> Rows:
    """Return mean and middle 95 % of the samples' outcomes."""
    rows = []
    for name, mean in item.tally.mean.items():
        unit = UNIT_OF_OUTCOME.get(name, "N")
        values = (mean, item.tally.low[name], item.tally.high[name])
        rows.append((name.replace("_", " "), *(quantity_text(value, unit, units) for value in values)))
    return Rows("Outcomes over all samples", ("Outcome", "Mean", "2.5 % lie below", "2.5 % lie above"), tuple(rows))


def evidence(item: SetupOdds) -> Rows:
    """Return how far a setup's samples can be trusted."""
    rows = [
        ("samples", str(item.tally.samples)),
        ("solved one by one", str(item.tally.alone) + (f" ({item.why_alone})" if item.why_alone else "")),
        ("without a solution", str(item.tally.no_solution)),
    ]
    spread = [f"{100 * float(share):g} % below {value:g}" for share, value in _quantiles(item) if value is not None]
    rows.append(("largest damage margin", "; ".join(spread) or "not known"))
    if item.checks is not None:
        rows.append(("samples solved again with every step of the history", str(item.checks.samples)))
        rows += [(f"largest difference then, {name}", f"{v:.2g}") for name, v in item.checks.difference.items() if v]
        rows.append(("judgements that then change sides", str(sum(item.checks.flipped.values()))))
    rows += [("dimensions", item.sections_words)] if any(item.sections) else []
    rows += [(f"interpolation over dimensions, at {each.where}", each.told) for each in item.errors]
    rows += [("inputs without a value here", ", ".join(item.left_out))] if item.left_out else []
    rows += [("notice", text) for text in item.notices]
    rows.append(("fingerprint of all rows (SHA-256)", item.rows.digest()))
    return Rows("How far its samples can be trusted", ("Evidence", "Value"), tuple(rows))


def _quantiles(item: SetupOdds) -> list[tuple[str, float | None]]:
    return list(quantiles(item.tally.histogram[LARGEST]).items())


def spread_rows(case: Case) -> tuple[Rows, ...]:
    """Return what the case spreads, and what it correlates."""
    spread = case.spread
    if spread is None:
        return ()
    keys = spread_keys(case)
    inputs = tuple((name, _distribution(each, keys[name], case.units)) for name, each in spread.inputs)
    tables = [Rows("What was spread", ("Input", "Distribution"), inputs)]
    if spread.correlations:
        pairs = tuple((f"{one} and {other}", number_text(value, 3)) for one, other, value in spread.correlations)
        tables.append(Rows("Correlations of the normal variables behind two inputs", ("Inputs", "Correlation"), pairs))
    return tuple(tables)


def _distribution(found: Distribution, key: SpreadKey, units: str) -> str:
    def text(value: float) -> str:
        return number_text(value, 4) if key.kind == "number" else as_text(value, key.kind, units, 4)

    if found.kind == "data":
        return (
            f"{len(found.values)} values, each as likely, from {text(min(found.values))} to {text(max(found.values))}"
        )
    words = [found.kind]
    if found.kind in ("normal", "lognormal"):
        words.append("mean: the setup's own" if found.mean is None else f"mean {text(found.mean)}")
    if found.sd is not None:
        words.append(f"standard deviation {text(found.sd)}")
    if found.kind == "triangular":
        words.append("mode: the setup's own" if found.mode is None else f"mode {text(found.mode)}")
    words += [
        f"{word} {text(end)}" for word, end in (("not below", found.low), ("not above", found.high)) if end is not None
    ]
    return ", ".join(words)


def drawn_rows(odds: Odds) -> tuple[tuple[str, str], ...]:
    """Return (what, value) of how samples were drawn and solved."""
    return (
        ("samples of each setup; seed", f"{odds.samples}; {odds.seed}"),
        ("drawn", DRAWN),
        ("solved", MODEL),
    )

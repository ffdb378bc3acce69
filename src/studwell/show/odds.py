"""The odds of a case on screen, as figures and in their folder."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from rich.table import Table

from studwell.case.spread_keys import spread_keys
from studwell.odds.study import Odds, SetupOdds
from studwell.odds.tally import BINS, LARGEST
from studwell.odds.thread_models import ThreadBand
from studwell.show import theme
from studwell.show.both_units import in_units
from studwell.show.odds_content import bound_text, left_out_of_damage
from studwell.show.odds_page import odds_page
from studwell.show.odds_words import (
    GOVERNS,
    kind_of,
    probability_interval,
    probability_text,
    samples_text,
    seen_text,
)
from studwell.show.sheet import Sheet
from studwell.store.odds_record import MODEL, odds_record, write_samples
from studwell.store.summary import slug
from studwell.store.writing import staged, write_bytes, write_json, write_text
from studwell.study.finding import setups_words
from studwell.units import as_text

__all__ = ["odds_lines", "odds_sheets", "odds_table", "probability_interval", "probability_text", "write_odds"]

CAPTION = (
    "Probability of each mode with its 95 % interval: round dots for damage, square ones for a function that is spoilt; an "
    "open mark with an arrow where no sample fails: the probability lies below it. Below it how the largest damage margin "
    "is spread over the samples (1 is the limit) and, where it was looked for, which input rules the margin that governs "
    f"most. Samples: {MODEL}."
)

STAYING = "any if stud stays"
"""Row of the probability of damage among the studs that do not follow the nut."""

LEAST_SHOWN = 1e-7
"""Probability at which the axis of the figure begins; what is below lies on it."""


def odds_table(odds: Odds) -> Table:
    """Return the table: one row a setup and mode that fails in some sample, most likely first."""
    loose = any(item.staying is not None for item in odds.setups)
    staying = f'"{STAYING}": the first row, of studs that do not follow the nut. ' if loose else ""
    table = Table(
        title=f"{odds.case.title}: {samples_text(odds.samples)} of each setup, seed {odds.seed}",
        title_justify="left",
        caption="Interval: 95 %, Clopper-Pearson as of independent samples; Sobol points fill the space more evenly. "
        f"{GOVERNS} {staying}Samples: {MODEL}. Probabilities hold for the spreads that the case states, no others.",
        caption_justify="left",
    )
    table.add_column("setup", overflow="fold", min_width=16)
    table.add_column("mode", overflow="fold")
    table.add_column("probability", justify="right")
    table.add_column("95 % interval", justify="right")
    table.add_column("governs", justify="right")
    table.add_column("rules most", overflow="fold")
    table.add_column("how", overflow="fold")
    for item in odds.setups:
        table.add_row(
            item.setup.name,
            "any damage mode",
            seen_text(item.any_damage),
            probability_interval(item.any_damage),
            "",
            "",
            _counted_words(item.any_damage.method, left_out_of_damage(item)),
        )
        if item.staying is not None:
            stays = item.staying
            table.add_row(
                "", STAYING, seen_text(stays), probability_interval(stays), "", "",
                stays.method,
            )  # fmt: skip
        for mode, found in sorted(item.probabilities.items(), key=lambda pair: -pair[1].value):
            if found.value <= 0.0 and item.tally.governs.get(mode, 0) == 0:
                continue
            governs = item.tally.governs.get(mode, 0) / max(item.tally.samples, 1)
            rules = ", ".join(item.narrows[mode][0]) if mode in item.narrows else ""
            table.add_row(
                "", mode, seen_text(found), probability_interval(found),
                f"{100 * governs:.0f} %" if governs else "", rules, found.method,
            )  # fmt: skip
        table.add_section()
    return table


def _counted_words(method: str, missing: Mapping[str, str]) -> str:
    """How the probability of any damage was found, and what is not in it."""
    unknown = ", ".join(mode for mode, why in missing.items() if why == "not known")
    other = ", ".join(mode for mode, why in missing.items() if why != "not known")
    parts = [f"not known, not in it: {unknown}" if unknown else "", f"nor in it: {other}" if other else ""]
    text = "; ".join([method, *filter(None, parts)])
    return text if unknown else text.replace("nor in it", "not in it")


def _missing_lines(odds: Odds) -> list[str]:
    """What any damage mode leaves out, once for setups that leave out the same."""
    told: dict[str, list[str]] = {}
    for item in odds.setups:
        by_reason: dict[str, list[str]] = {}
        for mode, why in left_out_of_damage(item).items():
            by_reason.setdefault(why, []).append(mode)
        if by_reason:
            words = "; ".join(f"{', '.join(modes)} ({why})" for why, modes in by_reason.items())
            told.setdefault(words, []).append(item.setup.name)
    return [
        f"{setups_words(names, len(odds.setups))}: any damage mode leaves out {words}; the report says why"
        for words, names in told.items()
    ]


def odds_lines(odds: Odds) -> list[str]:
    """Return what else must be said, a line each."""
    lines = _missing_lines(odds)
    keys = spread_keys(odds.case)
    for item in odds.setups:
        name = item.setup.name
        quiet = [m for m, p in item.probabilities.items() if p.value <= 0.0 and not item.tally.governs.get(m, 0)]
        if quiet:
            told = ", ".join(f"{m} ({bound_text(item, m)})" for m in quiet)
            lines.append(f"{name}: no failure seen by {told}")
        if item.governing is not None and item.governing in item.narrows:
            inputs, share = item.narrows[item.governing]
            lines.append(
                f"{name}: measuring {', '.join(inputs)} would narrow {item.governing} most, its standard deviation by "
                f"{100 * share:.0f} %"
            )
        for each in item.wanted:
            if each.now.value <= each.wanted:
                now = f"is at {probability_text(each.now.value)}" if each.now.failed else "fails in no sample"
                lines.append(f"{name}: {each.mode} {now}, within the {probability_text(each.wanted)} wanted")
                continue
            for change in each.changes:
                kind = keys[change.key].kind if change.key in keys else "number"
                ends = list(change.words or (as_text(v, kind, digits=3) for v in (change.before, change.after)))
                worse = ", ".join(f"{mode} to {probability_text(value)}" for mode, value in change.worse)
                lines.append(
                    f"{name}: {change.key} from {ends[0]} to {ends[1]} brings {each.mode} from "
                    f"{probability_text(each.now.value)} to {seen_text(change.probability)}"
                    + (f", but raises {worse}" if worse else "")
                )
            if not each.changes:
                lines.append(
                    f"{name}: no change tried of {', '.join(each.tried) or 'any lever'} brings {each.mode} to "
                    f"{probability_text(each.wanted)}"
                )
            if each.note:
                lines.append(f"{name}: {each.note}")
        if item.tally.alone or item.tally.no_solution:
            why = f" ({item.why_alone})" if item.why_alone else ""
            lines.append(
                f"{name}: {samples_text(item.tally.alone)} solved one by one{why}, {item.tally.no_solution} without a solution"
            )
        if item.checks is not None and item.checks.difference:
            worst = max(item.checks.difference, key=lambda each: item.checks.difference[each])  # type: ignore[union-attr]
            other = sum(item.checks.flipped.values())
            lines.append(
                f"{name}: {samples_text(item.checks.samples)} solved again with every step of the history: largest difference "
                f"{item.checks.difference[worst]:.2g}, in {worst}; {other} judgements change sides; {item.checks.alone} solved "
                "alone throughout" + (f", apart by at most {item.checks.apart:.1g}" if item.checks.apart >= 0.0 else "")
            )
        if item.band is not None:
            lines.append(f"{name}: {_band_words(item.band)}")
        if any(item.sections):
            lines.append(f"{name}: {item.sections_words}")
        lines += [f"{name}: {each}" for each in _interpolation(item)]
        lines += [f"{name}: {notice}" for notice in item.notices]
    for name, reason in odds.failed:
        lines.append(f"{name}: not sampled: {reason}")
    return lines


def _interpolation(item: SetupOdds) -> list[str]:
    """How far interpolation is off where it is worst between sections, and beyond them; the report has every place."""
    inside = [each for each in item.errors if not each.far]
    known = [each for each in inside if each.off is not None]
    shown = [max(known, key=lambda each: each.largest[1])] if known else []
    words = f"worst of {len(known)} places between sections, " if len(known) > 1 else ""
    lines = [f"interpolated at {each.where}: {words}{each.told}" for each in shown]
    beside = [each for each in item.errors if each.far or each.off is None]
    return lines + [f"interpolated at {each.where}: {each.told}" for each in beside]


def _band_words(band: ThreadBand) -> str:
    """How far the probabilities go with the other model of the threads, and what it cost."""
    told = ", ".join(
        f"{mode} {probability_text(own)} to {probability_text(other)}"
        for mode, (own, other) in sorted(band.values.items(), key=lambda pair: -abs(pair[1][1] - pair[1][0]))
        if max(own, other) >= LEAST_SHOWN and abs(other - own) > 0.005 * max(own, other)
    )
    return (
        f"threads by the model {band.other} instead of {band.own} ({samples_text(band.paired)} by both, {band.seconds:.1f} s): "
        + (told or "no probability changes")
        + (f"; {band.note}" if band.note else "")
    )


def plot_probabilities(item: SetupOdds, *, ax: Axes | None = None) -> Axes:
    """Draw each mode's probability with its interval on a logarithmic axis."""
    ax = theme.new_axes() if ax is None else ax
    modes = sorted(item.probabilities, key=lambda m: (item.probabilities[m].value, item.probabilities[m].high))
    ends = [p.low if p.value > 0.0 else 0.1 * p.high for p in item.probabilities.values()]
    least = max(LEAST_SHOWN, 10.0 ** np.floor(np.log10(max(min(ends, default=0.1), LEAST_SHOWN))))
    ax.set_xscale("log")
    theme.plain_log_ticks(ax.xaxis)
    ax.set_xlim(least, 1.3)
    for place, mode in enumerate(modes):
        found = item.probabilities[mode]
        damage = kind_of(item, mode) == "damage"
        colour = theme.LIGHT.bad if damage else theme.LIGHT.accent
        shape, high = "o" if damage else "s", max(found.high, least)
        if found.value > 0.0:
            line = [max(found.low, least), high]
            ax.plot(line, [place, place], color=colour, lw=3.0, alpha=0.45, solid_capstyle="butt")
            ax.plot([max(found.value, least)], [place], shape, color=colour, ms=5)
            continue
        # an upper bound alone: nothing says where below it the probability lies
        arrow = {"arrowstyle": "->", "color": theme.LIGHT.weak, "lw": 0.9, "shrinkA": 3.0}
        ax.annotate("", (max(0.5 * high, least), place), (high, place), arrowprops=arrow)
        ax.plot([high], [place], shape, mfc=theme.LIGHT.paper, mec=theme.LIGHT.weak, ms=4.5)
        words = f"none seen: {bound_text(item, mode)}"
        ax.annotate(
            words, (max(0.5 * high, least), place), (-4, 0), textcoords="offset points", ha="right", va="center",
            fontsize=7, color=theme.LIGHT.weak,
        )  # fmt: skip
    ax.set_yticks(range(len(modes)), [m if kind_of(item, m) == "damage" else f"{m} (function)" for m in modes])
    ax.set_xlabel(
        "probability of failure, with its 95 % interval (open mark and arrow: no failure seen, the probability is lower)"
    )
    ax.grid(axis="x")
    ax.set_axisbelow(True)
    return ax


def plot_largest_margin(item: SetupOdds, *, ax: Axes | None = None) -> Axes:
    """Draw the distribution of the largest damage margin, and its limit."""
    ax = theme.new_axes() if ax is None else ax
    counts = item.tally.histogram[LARGEST].astype(float)
    inside, edges = counts[:-1].reshape(-1, 4).sum(axis=1), BINS[:-1][::4]
    total = max(counts.sum(), 1.0)
    ax.stairs(inside / total, edges, fill=True, color=theme.LIGHT.accent, alpha=0.5)
    twin = ax.twinx()
    twin.plot(BINS[1:-1], np.cumsum(counts[:-1]) / total, color=theme.LIGHT.ink, lw=1.2)
    twin.set_ylim(0.0, 1.02)
    twin.set_ylabel("share of samples below (line)")
    ax.axvline(1.0, color=theme.LIGHT.bad, lw=1.4)
    used = np.flatnonzero(counts[:-1])
    low, high = (BINS[used[0]], BINS[used[-1] + 1]) if len(used) else (0.0, 3.0)
    ax.set_xlim(min(0.9, float(low)) - 0.05, max(1.1, float(high)) + 0.05)
    ax.set_xlabel("largest damage margin; 1 is the limit")
    ax.set_ylabel("share of samples a bin")
    return ax


def plot_sensitivity(item: SetupOdds, quantity: str, *, ax: Axes | None = None) -> Axes:
    """Draw first-order and total shares of a quantity's variance. Raises ValueError: none were found."""
    if item.indices is None:
        raise ValueError("no sensitivities were asked for")
    ax = theme.new_axes() if ax is None else ax
    at = item.quantities.index(quantity)
    names = [theme.wrapped(" with ".join(group), 30) for group in item.groups]
    order = np.argsort(item.indices.total[:, at])
    first, total = np.maximum(item.indices.first[order, at], 0.0), item.indices.total[order, at]
    y = np.arange(len(order))
    ax.barh(y + 0.2, total, 0.36, color=theme.LIGHT.faint, label="with its part in others (total)",
            xerr=item.indices.error_total[order, at], error_kw={"lw": 0.8})  # fmt: skip
    ax.barh(y - 0.2, first, 0.36, color=theme.LIGHT.accent, label="alone (first order)",
            xerr=item.indices.error_first[order, at], error_kw={"lw": 0.8})  # fmt: skip
    ax.set_yticks(y, [names[i] for i in order])
    ax.set_xlabel(f"share of the variance of the margin: {quantity}")
    ax.set_xlim(left=0.0)
    ax.legend(loc="lower right")
    return ax


def odds_sheets(odds: Odds) -> tuple[tuple[str, Sheet], ...]:
    """Return one figure a setup: probabilities, the governing margin, what rules it; with the setup's name."""
    found = []
    for item in odds.setups:
        ruled = item.governing if item.indices is not None and item.governing in item.quantities else None
        with theme.drawing():
            figure = Figure(figsize=(9.2, 9.4 if ruled else 6.8), layout="constrained")
            axes = figure.subplots(3 if ruled else 2, 1, height_ratios=[1.5, 1, 1] if ruled else [1.5, 1])
            plot_probabilities(item, ax=axes[0])
            axes[0].set_title(item.setup.name)
            plot_largest_margin(item, ax=axes[1])
            if ruled:
                plot_sensitivity(item, ruled, ax=axes[2])
        told = "; ".join(f"{mode} {probability_text(p.value)}" for mode, p in item.probabilities.items())
        sheet = Sheet(f"odds-{slug(item.setup.name)}", f"Odds: {item.setup.name}", CAPTION, told, figure)
        found.append((item.setup.name, sheet))
    return tuple(found)


def write_odds(odds: Odds, directory: Path, *, json_file: Path | None = None, units: str | None = None) -> Path:
    """Write summary.json, report.html, figures, samples as CSV, and run.json into a folder; returns it.

    units : "metric" or "inch", shown at first in the report; None: the case's
    raises CannotWrite
    """
    record = odds_record(odds)
    with staged(directory) as folder:
        write_json(json_file or folder / "summary.json", record)
        files = []
        for item in odds.setups:
            files += [
                each.name
                for each in write_samples(item.rows, odds.case, folder / f"samples-{slug(item.setup.name)}.csv")
            ]
        sheets = odds_sheets(odds)
        write_text(
            folder / "report.html",
            odds_page(in_units(odds, units or odds.case.units), odds_lines(odds), sheets, record["inputs_sha256"]),
        )
        for _, sheet in sheets:
            write_bytes(folder / "figures" / f"{sheet.name}.png", sheet.png)
            write_text(folder / "figures" / f"{sheet.name}.svg", sheet.svg)
        write_json(
            folder / "run.json",
            {
                "seconds": round(odds.seconds, 3),
                "stopped": odds.stopped,
                "samples_files": files,
                "setups": [
                    {
                        "name": item.setup.name, "seconds": round(item.seconds, 3),
                        "solving_seconds": round(item.solving_seconds, 3), "rows": str(item.rows.path),
                    }
                    for item in odds.setups
                ],
            },
        )  # fmt: skip
    return directory

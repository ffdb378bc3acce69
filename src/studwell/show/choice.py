"""A choice on screen, as a figure and in its folder."""

from __future__ import annotations

import math
import sys
from datetime import UTC, datetime
from pathlib import Path
from platform import platform
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from rich.table import Table

from studwell.case.fingerprint import inputs_sha256
from studwell.choose.candidates import UNHELD
from studwell.choose.chance_words import per_cent
from studwell.choose.objectives import OBJECTIVES, damage_columns, objectives, worst
from studwell.choose.reasons import standing
from studwell.choose.search import ABSENT, OUTCOMES
from studwell.choose.study import Choice
from studwell.odds.study import SetupOdds
from studwell.show import theme
from studwell.show.odds_content import left_out_of_damage, probability_interval, probability_text
from studwell.show.sheet import Sheet
from studwell.store.choice_record import choice_record, compromises_csv, setup_text
from studwell.store.writing import staged, write_bytes, write_json, write_text
from studwell.strength.verdict import mode_names
from studwell.units import in_unit, label, number_text

FRAME = 1.6
"""Margin at which the figure ends; what lies beyond is counted."""


def choice_table(choice: Choice) -> Table:
    """Return the table of compromises: the recommended first, then some that differ most from it and each other."""
    units, rows = choice.case.units, choice.rows
    table = Table(
        title=f"{choice.case.title}: compromises within [bounds]",
        title_justify="left",
        caption=f"Margins (load over capacity) of the search's mesh, the smaller the better; * is recommended. {len(rows)} "
        f"setups solved, {len(choice.front)} of them beaten by none: as good in all of {', '.join(OBJECTIVES)} and in what "
        f"ranks before, and better in one.{_odds_caption(choice)}",
        caption_justify="left",
    )
    table.add_column("")
    table.add_column("parts", overflow="fold", min_width=16)
    table.add_column("torque", justify="right")
    table.add_column("seating\nor turns", justify="right")
    table.add_column("governing\nmode", overflow="fold")
    table.add_column("margin", justify="right")
    for name in OBJECTIVES:
        table.add_column(name.replace(" ", "\n"), justify="right")
    table.add_column(f"clamp\nleast\n{label('force', units)}", justify="right")
    if choice.chances is not None:
        table.add_column("some\ndamage\n(95 %)", justify="right")
    for row in choice.shown:
        settings = rows.settings(row)
        here = standing(rows.margins[row])
        least = float(rows.outcomes[row][OUTCOMES.index("clamp_min")])
        table.add_row(
            "*" if row == choice.recommended else "",
            rows.where(row)[0].combination.text,
            settings.get("torque", "-"),
            settings.get("back_off") or settings.get("seating_torque") or "-",
            here.mode or "-",
            _short(here.value),
            *objective_texts(rows.margins[row]),
            number_text(float(in_unit(least, "force", units)), 3),
            *([] if choice.chances is None else [_odds_cell(choice, row)]),
        )
    return table


def _odds_cell(choice: Choice, row: int) -> str:
    """How likely a row fails, its interval under it; "-" where that is not known."""
    assert choice.chances is not None
    chance = choice.chances.rows.get(row)
    if chance is None:
        return "-"
    found = chance.probability
    low, high = (number_text(100.0 * value, 2) for value in (found.low, found.high))
    return f"{per_cent(found.value)}\n({low}-{high})"


def _odds_caption(choice: Choice) -> str:
    """What the column of odds holds."""
    if choice.chances is None:
        return ""
    return (
        f" Some damage: probability by [spread] that a damage margin reaches its limit, {choice.chances.samples} draws."
    )


def objective_texts(margins: np.ndarray) -> list[str]:
    """Return each objective of margins (modes,) as a table shows it: "-" where the setup has no such part."""
    names, values = mode_names(), objectives(margins[None])[0]
    texts = []
    for modes, value in zip(OBJECTIVES.values(), values, strict=True):
        own = margins[[names.index(mode) for mode in modes]]
        texts.append("-" if np.all(own == ABSENT) else "unknown" if np.isnan(own).any() else _short(float(value)))
    return texts


def choice_lines(choice: Choice) -> list[str]:
    """Return what is to be said under the table: reasons, full solution, odds, the text to paste."""
    result, rows = choice.result, choice.rows
    governing = result.verdict.governing
    full = "-" if governing is None else f"{governing} {_short(result.verdict.margins[governing].value or 0.0)}"
    lines = [f"- {reason}" for reason in choice.reasons]
    lines.append(f"- solved in full: governing {full}{_search_error(choice)}")
    band = result.band.get("clamp_min")
    if band is not None:
        system = choice.case.units
        low, high = (number_text(float(in_unit(value, "force", system)), 3) for value in band)
        lines.append(
            f"- least clamp {low} to {high} {label('force', system)} over the thread models {', '.join(result.band_models)}"
        )
    if choice.odds is not None:
        any_damage = choice.odds.any_damage
        lines.append(
            f"- by the case's [spread] some damage margin reaches its limit with probability "
            f"{probability_text(any_damage.value)} ({probability_interval(any_damage)}){_not_in(choice.odds)}; "
            f"{choice.odds_note}"
        )
    else:
        lines.append(f"- odds: {choice.odds_note}")
    left = rows.asked - len(rows) - rows.misfits - rows.unsolved
    lines.append(
        f"- of {rows.asked} settings that the search could try, {len(rows)} were solved, {rows.misfits} do not go together, "
        f"{rows.unsolved} have no solution, and {left} were not needed: tried already, or the best was found before"
    )
    loose = {text: why for text, why in choice.refused.items() if why.startswith(UNHELD)}
    misfits = {text: why for text, why in choice.refused.items() if text not in loose}
    if misfits:
        lines.append(f"- {len(misfits)} combinations do not go together, such as {_first(misfits)}")
    if loose:
        lines.append(f"- {len(loose)} combinations were left out, such as {_first(loose)}")
    if not choice.complete:
        lines.append("- the search was stopped: this is the best of what it had solved")
    return [*lines, "", "to paste into the case file:", "", setup_text(choice.name, choice.overrides).rstrip()]


def _not_in(odds: SetupOdds) -> str:
    """The damage modes that a probability of any damage leaves out."""
    missing = left_out_of_damage(odds)
    return f", without {', '.join(missing)} (not known or not judged)" if missing else ""


def _search_error(choice: Choice) -> str:
    """How far the search's mesh is off, where the full solution has another, in words after what governs."""
    if choice.refinement == choice.search_refinement:
        return ""
    most = "by less than 0.01" if choice.search_error < 0.005 else f"by at most {choice.search_error:.2f}"
    return f"; margins differ from the search's coarse mesh {most}"


def _first(refused: dict[str, str]) -> str:
    text, why = next(iter(refused.items()))
    return f"{text}: {why}"


def _short(value: float) -> str:
    if math.isinf(value):
        return "unbounded" if value > 0 else "-"
    return f"{value:.2f}"


def plot_choice(choice: Choice, *, ax: Axes | None = None) -> Axes:
    """Draw the trade between keeping the clamp (leak) and sparing the parts (largest other damage margin).

    One point a solved setup, colour and form by washers: small where another beats it, hollow where a damage mode is unknown;
    the recommended ringed. The legend says so; the axes end where the points do, at FRAME at most.
    """
    ax = theme.new_axes() if ax is None else ax
    rows = choice.rows
    names = mode_names()
    leak = np.nan_to_num(rows.margins[:, names.index("leak")], nan=np.inf)
    others = rows.margins.copy()
    others[:, names.index("leak")] = ABSENT
    other = worst(others, "damage")
    inside = (leak <= FRAME) & (other <= FRAME)
    kept = np.isin(np.arange(len(rows)), choice.front)
    washers = [c.combination.washer.text if c.combination.washer else "washers as they are" for c in rows.candidates]
    kinds = list(dict.fromkeys(washers))
    kind = np.array([kinds.index(washers[number]) for number in rows.candidate])
    known = ~np.isnan(rows.margins[:, damage_columns()]).any(axis=1)
    for place, text in enumerate(kinds):
        style = theme.series_style(place)
        look = {"linestyle": "none", "marker": style["marker"], "color": style["color"]}
        own = inside & (kind == place)
        for some, size, fill in (
            (own & ~kept, 2.5, "none"),
            (own & kept & ~known, 6.0, "none"),
            (own & kept & known, 6.0, style["color"]),
        ):
            ax.plot(leak[some], other[some], markersize=size, markerfacecolor=fill, label="_", **look)
        ax.plot([], [], markersize=6.0, label=theme.wrapped(text, 34), **look)
    best = choice.recommended
    ax.plot(
        leak[best], other[best], linestyle="none", marker="o", markersize=14, markerfacecolor="none", markeredgewidth=2.0,
        color=theme.LIGHT.ink, label=choice.name,
    )  # fmt: skip
    for line in (ax.axvline, ax.axhline):
        line(1.0, color=theme.LIGHT.bad, lw=1.0, ls="--")
    dot: dict[str, Any] = {"linestyle": "none", "marker": "o", "color": theme.LIGHT.weak}
    for has, size, fill, text in (
        (inside & kept & known, 6.0, theme.LIGHT.weak, "filled: no other is better in all objectives"),
        (inside & kept & ~known, 6.0, "none", "open: no other is better in all, but some damage mode of it is unknown"),
        (inside & ~kept, 2.5, "none", "small: another is better in all objectives"),
    ):
        if has.any():
            ax.plot([], [], markersize=size, markerfacecolor=fill, label=theme.wrapped(text, 34), **dot)
    ax.plot([], [], color=theme.LIGHT.bad, lw=1.0, ls="--", label="limit of a margin")
    ax.set_xlim(*_span(leak[inside]))
    ax.set_ylim(*_span(other[inside]))
    ax.set_xlabel("leak margin: needed clamp over least clamp")
    ax.set_ylabel("largest other known damage margin")
    ax.set_title("Keeping the clamp against sparing the parts: lower left is better")
    beyond = int((~inside).sum())
    if beyond:  # told in the legend, where it covers no point and no axis
        text = f"not drawn: {beyond} of {len(rows)} setups, beyond {FRAME:g} in one of the two"
        ax.plot([], [], linestyle="none", label=theme.wrapped(text, 34))
    ax.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0))
    return ax


def _span(values: np.ndarray) -> tuple[float, float]:
    """Ends of an axis: what is there with some room, and the limit, 1, where it is near."""
    if not len(values):
        return 0.0, FRAME
    low, high = float(values.min()), float(values.max())
    high = max(high, 1.0) if high > 0.7 else high
    room = 0.06 * max(high - low, 0.1)
    return max(0.0, low - room), high + room


def choice_sheet(choice: Choice) -> Sheet:
    """Return the figure of a choice with its words."""
    with theme.drawing():
        figure = Figure(figsize=(9.6, 5.4), layout="constrained")
        plot_choice(choice, ax=figure.add_subplot())
    here = standing(choice.rows.margins[choice.recommended])
    return Sheet(
        "compromises",
        "Clamp against wear of the parts",
        "Each point is a solved setup: small where another beats it in the objectives, hollow where a damage mode of it "
        "is unknown. Beyond a dashed line a margin is at its limit.",
        f"{len(choice.rows)} setups; recommended: {choice.rows.where(choice.recommended)[0].combination.text}, {here.text}.",
        figure,
    )


def write_choice(choice: Choice, directory: Path, json_file: Path | None = None) -> Path:
    """Write summary.json, compromises.csv, recommended.toml, the figure and run.json into a folder; returns it.

    raises CannotWrite
    """
    directory = Path(directory)
    sheet = choice_sheet(choice)
    with staged(directory) as folder:
        write_json(folder / "summary.json" if json_file is None else json_file, choice_record(choice))
        write_text(folder / "compromises.csv", compromises_csv(choice))
        write_text(folder / "recommended.toml", setup_text(choice.name, choice.overrides))
        write_bytes(folder / "figures" / "compromises.png", sheet.png)
        write_text(folder / "figures" / "compromises.svg", sheet.svg)
        write_json(
            folder / "run.json",
            {
                "case_file": choice.case.file,
                "inputs_sha256": inputs_sha256(choice.case),
                "finished": datetime.now(UTC).isoformat(timespec="seconds"),
                "seconds": round(choice.seconds, 3),
                "setups_solved": len(choice.rows),
                "python": sys.version.split()[0],
                "platform": platform(),
                "versions": choice.versions,
            },
        )
    return directory

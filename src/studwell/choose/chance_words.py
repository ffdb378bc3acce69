"""What the odds of a few setups say of the recommended one, in words."""

from __future__ import annotations

from studwell.case.records import Case
from studwell.choose.chances import Chance, Chances
from studwell.choose.reasons import standing
from studwell.choose.search import Rows
from studwell.units import number_text


def per_cent(value: float) -> str:
    """Return a probability in per cent, two digits."""
    return f"{number_text(100.0 * value, 2)} %"


def chance_text(chance: Chance, interval: bool = True) -> str:
    """Return a probability of failure with its interval."""
    found = chance.probability
    return (
        f"{per_cent(found.value)} ({per_cent(found.low)} to {per_cent(found.high)})"
        if interval
        else per_cent(found.value)
    )


def setting_text(rows: Rows, row: int, beside: int | None = None) -> str:
    """Return a row's settings in a few words, with its parts where they are not those of another row."""
    words = list(rows.settings(row).values())
    parts = rows.where(row)[0].combination.text
    if beside is not None and rows.candidate[row] != rows.candidate[beside]:
        words.append(parts)
    return ", ".join(words) or parts


def by_odds(rows: Rows, best: int, recommended: int, found: Chances) -> str:
    """Say which row margins alone would recommend, and why it is another one."""
    here, there = standing(rows.margins[recommended]), standing(rows.margins[best])
    text = (
        f"margins alone would take {setting_text(rows, best, recommended)} ({there.beside(here)}), but by the case's [spread] "
        f"that fails with probability {chance_text(found.rows[best])}, "
    )
    if found.rows[recommended].less_likely(found.rows[best]):
        text += f"this one with {chance_text(found.rows[recommended])}: more than chance over the same {found.samples} draws"
    else:
        text += (
            f"more often than others of the table, which is not so of this one ({chance_text(found.rows[recommended])})"
        )
    return f"{text}; it costs a largest damage margin of {here.value:.2f} ({here.mode}) instead of {there.value:.2f}"


def others_by_odds(case: Case, rows: Rows, recommended: int, found: Chances | None) -> list[str]:
    """Return the odds of the case's own setups, which setups fail less often than the recommended one, and what moved."""
    if found is None:
        return []
    told = []
    if found.own:
        listed = "; ".join(f'"{name}" {chance_text(chance)}' for name, chance in found.own.items())
        told.append(
            f"odds of the case's own setups, of {found.samples} draws on the search's mesh, as those of the table: {listed}"
        )
    missing = [setup.name for setup in case.setups if setup.name not in found.own]
    if missing:
        told.append(f"no odds of {', '.join(map(repr, missing))}: not to be drawn or solved with this [spread]")
    if recommended not in found.rows:
        told.append(
            "warning: the recommended setup could not be drawn or solved with this [spread]: odds had no part in it"
        )
        return told
    own = found.rows[recommended]
    better = [f'the case\'s own "{name}"' for name, each in found.own.items() if each.less_likely(own)]
    better += [setting_text(rows, row, recommended) for row, each in found.rows.items() if each.less_likely(own)]
    if better:
        told.append(
            f"warning: {'; '.join(better)} {'fails' if len(better) == 1 else 'fail'} distinguishably less often than the "
            f"recommended setup ({chance_text(own)}): [bounds] does not reach it, or it ranks behind by unknown or lost modes"
        )
    if found.moved:
        told.append(
            f"what [spread] states of {' and '.join(found.moved)} was moved along with the setting: the same scatter about it"
        )
    return told

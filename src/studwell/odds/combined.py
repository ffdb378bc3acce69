"""The probability that any damage mode fails, from what was counted and searched, never below one of its own modes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from studwell.odds.probability import Probability, counted
from studwell.odds.tally import Tally
from studwell.units import number_text

ANY, STAYING = "any damage mode", "damage while the stud stays put"
"""Searched for beside the modes: the largest known damage margin, of all samples and of those with hold below 1."""


def counted_in_part(failed: int, judged: int, solved: int) -> Probability:
    """Return the share that fails of the samples in which that is known.

    The interval reaches from none to all of the others failing too. raises ValueError : as `counted`
    """
    return _either_way(counted(failed, judged), failed, solved - judged, solved)


def _either_way(found: Probability, failed: int, left: int, solved: int) -> Probability:
    """Return a probability whose interval takes samples that are not known, `left` of them, as failing and as not."""
    if left <= 0:
        return found
    share = number_text(100.0 * left / solved, 2)
    return replace(
        found,
        low=min(found.value, counted(failed, solved).low) if found.method == "counted" else found.low,
        high=max(found.high, counted(failed + left, solved).high),
        method=f"{found.method} where it is known: not in {share} % of the samples; the interval takes them either way",
    )


def any_damage(
    summed: Tally, found: Mapping[str, Probability], damage: Sequence[str], searched: Probability | None = None
) -> Probability:
    """Return that some known damage mode of the samples' model fails, with an interval.

    found : mode -> its own probability, counted or searched;  searched: by subset simulation of the largest margin of all
    """
    solved = max(summed.samples - summed.no_solution, 1)
    left = min(summed.undecided, solved - 1)
    whole = searched or counted(summed.any_failed, solved - left)
    return _not_below(
        _either_way(whole, summed.any_failed, left, solved), {mode: found[mode] for mode in damage if mode in found}
    )


def _not_below(whole: Probability, parts: Mapping[str, Probability]) -> Probability:
    """Return a probability that is at least that of each of its parts: estimates of their own differ by chance."""
    if not parts:
        return whole
    mode = max(parts, key=lambda each: parts[each].value)
    raised = replace(
        whole,
        value=max(whole.value, parts[mode].value),
        low=max(whole.low, max(each.low for each in parts.values())),
        high=max(whole.high, parts[mode].high),
    )
    if raised.value == whole.value:
        return raised
    return replace(raised, method=f"{whole.method}; at least its largest mode, {mode}")


def while_staying(summed: Tally, whole: Probability, searched: Probability | None = None) -> Probability | None:
    """Return the probability of damage in samples whose stud does not follow the nut; None where none follows, or all do.

    whole : of all samples, as if every stud stayed put;  searched: of damage together with a stud that stays put
    """
    held = summed.staying
    if not summed.follows or held.samples - held.undecided < 1:
        return None
    if searched is None or not searched.value:
        return counted_in_part(held.any_failed, held.samples - held.undecided, held.samples)
    share = held.samples / (held.samples + summed.follows)
    value, low, high = (min(1.0, min(a, b) / share) for a, b in zip(_three(searched), _three(whole), strict=True))
    return Probability(value, low, high, held.any_failed, held.samples, searched.method)


def _three(found: Probability) -> tuple[float, float, float]:
    return found.value, found.low, found.high

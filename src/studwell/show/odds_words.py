"""What the odds of a case say in sentences: probabilities, which setup fails least often, and what cannot be told apart."""

from __future__ import annotations

import math
from collections.abc import Sequence

from studwell.odds.limits import MODES
from studwell.odds.probability import Probability
from studwell.odds.study import Odds, SetupOdds
from studwell.units import count_text

OFTEN = 0.05
"""Share of the samples from which on the verdict names a mode beside damage. Our own choice: one in twenty."""

MOST_NEEDED = 10_000_000
"""Samples above which no number is told that would tell setups apart. Our own choice."""

FUNCTION_BEYOND = ("seat crushing", "insert turning")
"""Function modes that only checked samples are judged by."""

GOVERNS = (
    "Governs: share of the samples in which this damage mode has the largest margin of all, failing or not: what would give "
    "first."
)
NOISE = (
    "Both shares are estimates: one a little below 0, or a first order above its total, is sampling noise of the size of its "
    "error, and means none."
)


def probability_text(value: float) -> str:
    """Return a probability in per cent, whatever its size: three digits, two below a hundredth of a per cent."""
    share = 100.0 * value
    if share == 0.0 or share >= 0.01:
        return f"{share:.3g} %"
    if share < 1e-7:
        return f"{share:.1e} %"
    return f"{share:.{1 - math.floor(math.log10(share))}f} %"


def probability_interval(found: Probability) -> str:
    """Return a probability's interval."""
    return f"{probability_text(found.low)} to {probability_text(found.high)}"


def seen_text(found: Probability) -> str:
    """Return a probability, "none seen" where no sample fails."""
    return probability_text(found.value) if found.value > 0.0 else "none seen"


def with_interval(found: Probability) -> str:
    """Return a probability and its interval, an upper bound alone where no sample fails."""
    if found.value > 0.0:
        return f"{probability_text(found.value)} ({probability_interval(found)})"
    return f"none seen (below {probability_text(found.high)})"


def damage_text(item: SetupOdds) -> str:
    """Return how likely some damage mode fails, its interval, and in how many samples that is not known."""
    unknown = item.tally.undecided / max(item.tally.samples, 1)
    text = with_interval(item.any_damage)
    return f"{text[:-1]}; not known in {probability_text(unknown)} of its samples)" if unknown else text


def samples_text(count: int, kind: str = "") -> str:
    """Return a number of samples in words; kind: such as "checked "."""
    return f"{count} {kind}sample{'' if count == 1 else 's'}"


def listed(words: Sequence[str]) -> str:
    """Return words as people list them."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


def kind_of(item: SetupOdds, mode: str) -> str:
    """Return "damage" or "function". Modes beyond the samples' own, cracks and fatigue, do damage but for FUNCTION_BEYOND."""
    beyond = mode not in MODES and mode not in FUNCTION_BEYOND
    return "damage" if mode in item.damage or beyond else "function"


def ranked_odds(odds: Odds) -> list[SetupOdds]:
    """Return the sampled setups, the one that fails least often first."""
    return sorted(odds.setups, key=lambda item: item.any_damage.value)


def told_apart(odds: Odds, one: SetupOdds, other: SetupOdds) -> bool:
    """Return whether two setups can be told apart; False if they were not compared."""
    pair = odds.pair(_place(odds, one), _place(odds, other))
    return pair is not None and pair.apart


def _place(odds: Odds, item: SetupOdds) -> int:
    return next(place for place, each in enumerate(odds.setups) if each is item)


def odds_headline(odds: Odds) -> str:
    """Return what the odds say in a few sentences: damage first, then what else often fails."""
    return " ".join(odds_verdict(odds))


def odds_verdict(odds: Odds) -> tuple[str, ...]:
    """Return the same in paragraphs: which setup damage spares, what else often fails, what was not sampled."""
    ranked = ranked_odds(odds)
    if not ranked:
        return (f"None of the {len(odds.failed)} setups could be sampled.",)
    failed = (f"Not sampled: {', '.join(name for name, _ in odds.failed)}.",) if odds.failed else ()
    return (_ranked_words(odds, ranked), *_beside(ranked), *failed)


def _ranked_words(odds: Odds, ranked: Sequence[SetupOdds]) -> str:
    """Which setup fails least often and which most, or that they cannot be told apart."""
    best = [item for item in ranked if item is ranked[0] or not told_apart(odds, ranked[0], item)]
    if len(ranked) == 1:
        text = f"{ranked[0].setup.name}: {told_of(ranked[0])}."
    elif len(best) == 1:
        text = f"Of {len(ranked)} setups the one that fails least often by damage is {best[0].setup.name}: {told_of(best[0])}."
    else:
        which = f"{len(best)} of {len(ranked)} setups" if len(best) < len(ranked) else f"The {len(best)} setups"
        fewest = ", and fail less often by damage than the others" if len(best) < len(ranked) else ""
        figures = "; ".join(f"{item.setup.name} {damage_text(item)}" for item in best)
        text = (
            f"{which} cannot be told apart with {samples_text(min(item.tally.samples for item in best))} each{fewest}. Damage "
            f"by some mode: {figures}. {_needed(odds, best)}"
        )
    worst = [item for item in ranked if item is ranked[-1] or not told_apart(odds, ranked[-1], item)]
    worst = [item for item in worst if not any(item is each for each in best)]
    if worst:
        figures = "; ".join(f"{item.setup.name}: {told_of(item)}" for item in worst)
        text += f" Most often fail{'s' if len(worst) == 1 else ', not to be told apart,'} {figures}."
    return text


def _needed(odds: Odds, items: Sequence[SetupOdds]) -> str:
    """How many samples would tell the first of some setups from the last, and what their samples say."""
    first, last = items[0], items[-1]
    pair = odds.pair(_place(odds, first), _place(odds, last))
    if pair is None:
        return "They were not compared."
    ends = (first.setup.name, last.setup.name)
    alone = (pair.first_alone, pair.second_alone)
    if pair.first == _place(odds, last):
        alone = alone[::-1]
    seen = (
        f"By the same draws {alone[0]} fail in {ends[0]} alone, {alone[1]} in {ends[1]} alone and {pair.both} in both"
        if any((*alone, pair.both))
        else "No sample fails in either"
        if len(items) == 2
        else f"No sample fails in {ends[0]} or {ends[1]}"
    )
    unknown = max(item.tally.undecided / max(item.tally.samples, 1) for item in (first, last))
    if pair.needed is None and unknown:
        return f"{seen}: how many samples would tell them apart cannot be said, since in some damage is not known."
    if pair.needed is None:
        return f"{seen}: how many samples would tell them apart cannot be said."
    if pair.needed > MOST_NEEDED:
        return f"{seen}; more than {count_text(MOST_NEEDED)} samples would be needed to tell them apart: too many to matter."
    between = "them" if len(items) == 2 else f"{ends[0]} from {ends[1]}"
    return (
        f"{seen}; about {count_text(pair.needed)} samples would be needed to tell {between} apart, if they differ as much as "
        "it seems."
    )


def told_of(item: SetupOdds) -> str:
    """Return how likely damage is in a setup, and what would give first, without a full stop."""
    found = item.any_damage
    if found.value > 0.0:
        text = f"some damage mode fails in {damage_text(item)}"
    else:
        text = f"no damage mode fails in any of {samples_text(found.judged)} (below {probability_text(found.high)})"
        if item.tally.undecided:
            text = f"{text[:-1]}; not known in {item.tally.undecided} more)"
    hold = item.probabilities.get("hold")
    if hold is not None and hold.value >= OFTEN:
        text = f"{text}, as if its stud stayed put, which it does not in {probability_text(hold.value)} (hold)"
    if item.governing is None:
        return text
    share = item.tally.governs[item.governing] / max(item.tally.samples, 1)
    return f"{text}; {item.governing} has the largest margin in {100.0 * share:.0f} % of its samples"


def _beside(ranked: Sequence[SetupOdds]) -> list[str]:
    """What often fails and is not in any damage mode: functions, and cracks that checked samples alone are judged by."""
    found: dict[str, list[tuple[SetupOdds, Probability]]] = {}
    for item in ranked:
        for mode, one in item.probabilities.items():
            if one.value >= OFTEN and mode not in item.damage:
                found.setdefault(mode, []).append((item, one))
    told = [
        f"{mode}{', judged in checked samples alone,' if mode not in MODES else ''} "
        f"({'; '.join(f'{item.setup.name} {probability_text(one.value)}' for item, one in each)})"
        for mode, each in found.items()
    ]
    lines = [f"Not counted as damage here, but often at its limit: {listed(told)}."] if told else []
    return lines + ([hold_words([item for item, _ in found["hold"]])] if "hold" in found else [])


def hold_words(items: Sequence[SetupOdds]) -> str:
    """Say what the damage of setups is worth whose stud follows the nut in many samples."""
    wedge = any(item.setup.seating.mode == "bottomed" for item in items)
    turned = any(item.setup.seating.mode != "bottomed" for item in items)
    what = listed([*(["a back-off is turned away"] if turned else []), *(["a wedge grows"] if wedge else [])])
    stays = [
        f"{item.setup.name} {with_interval(each)}, and of all its studs {_between(item, each.value)}, whatever the others do"
        for item in items
        if (each := item.staying) is not None
    ]
    text = (
        f"Where hold fails the stud follows the nut: {what}, and what that does is not in any figure here; the other modes are "
        "judged as if the stud stayed put."
    )
    return f"{text} Damage by some mode among the studs that do stay: {'; '.join(stays)}." if stays else text


def _between(item: SetupOdds, share: float) -> str:
    """From where to where damage may lie if nothing is known of studs that follow the nut; share: of those that stay."""
    held, follows = item.tally.staying.samples, item.tally.follows
    least = share * held / (held + follows)
    return f"{probability_text(least)} to {probability_text(least + follows / (held + follows))}"

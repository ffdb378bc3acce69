"""What springs do in each setup: springs or plain washers at this torque, and edges that nothing holds."""

from __future__ import annotations

from studwell.joint.interfaces import spring_flat_load
from studwell.section.spring_edges import spring_edges
from studwell.study.finding import Finding, margin_words
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text


def spring_findings(comparison: Comparison) -> list[Finding]:
    """Return whether each setup's springs work as springs, and which of their edges hang over what they stand on."""
    units = comparison.case.units
    result = []
    for item in comparison.results:
        if not item.setup.springs:
            continue
        spring = item.setup.springs[0]
        flat = spring_flat_load(spring)
        share = item.value("washer_flat_share_max") or 0.0
        after = item.value("clamp_assembled") or 0.0
        swing = _swing(item)
        plain = _same_seating_plain(comparison, item)
        compared = f" (plain washer: {number_text(100 * _swing(plain), 2)} %)" if plain is not None else ""
        count = f"{spring.parallel} in parallel, {spring.series} in series"
        if after >= flat:
            result.append(
                Finding(
                    "spring",
                    f"{item.name}: the spring is no spring at this torque: {spring.name} ({count}) is flat at "
                    f"{as_text(flat, 'force', units, 3)} and the clamp is {as_text(after, 'force', units, 3)}. "
                    f"Heat still raises the clamp by {number_text(100 * swing, 2)} %{compared}.",
                )
            )
        elif share >= 1.0:
            result.append(
                Finding(
                    "spring",
                    f"{item.name}: a spring when cold, flat when hot: the worst force is {margin_words(share)} of "
                    f"the flat load {as_text(flat, 'force', units, 3)}.",
                )
            )
        else:
            result.append(
                Finding(
                    "spring",
                    f"{item.name}: a working spring: the worst force is {margin_words(share)} of the flat load "
                    f"{as_text(flat, 'force', units, 3)}; heat raises the clamp by {number_text(100 * swing, 2)} %"
                    f"{compared}.",
                )
            )
    return result + _edges(comparison)


def _edges(comparison: Comparison) -> list[Finding]:
    """Which edges of springs are not held, what that does, and what would hold them."""
    told: dict[str, list[str]] = {}
    for item in comparison.results:
        for group in spring_edges(item.setup):
            if group.text:
                text = f"the figures take the spring {group.spring.name} as held on both edges, but {group.text}."
                told.setdefault(text, []).append(item.name)
    return [Finding("spring", f"{'; '.join(names)}: {text}") for text, names in told.items()]


def _swing(item: SetupResult) -> float:
    low, high = item.value("clamp_assembled"), item.value("clamp_max")
    if not low or high is None:
        return 0.0
    return high / low - 1.0


def _same_seating_plain(comparison: Comparison, item: SetupResult) -> SetupResult | None:
    for other in comparison.results:
        if (
            other.setup.seating == item.setup.seating
            and not other.setup.springs
            and other.setup.nut == item.setup.nut
            and other.setup.tightening == item.setup.tightening
        ):
            return other
    return None

"""What data would make the unknown margins of cracking of a comparison known, in words."""

from __future__ import annotations

from collections.abc import Sequence

from studwell.strength.crack import CRACK_MODES, ONCE, REPEATED
from studwell.study.finding import setups_words
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text

CHANCE = ("weibull_modulus", "weibull_strength", "weibull_volume")
"""Keys of the weakest link, which only a failure_probability asks."""


def missing_words(comparison: Comparison) -> str:
    """Return the margins of cracking that are not known, of which setups, and the data that they lack; "" for none."""
    open_ = {
        mode: [r for r in comparison.results if mode in r.verdict.margins and r.verdict.margins[mode].unknown]
        for mode in CRACK_MODES
    }
    told: dict[str, list[str]] = {}
    for mode, items in open_.items():
        if items:
            told.setdefault(setups_words([item.name for item in items], len(comparison.results)), []).append(mode)
    if not told:
        return ""
    named = [f"for {setups}: {' and '.join(modes)}" for setups, modes in told.items()]
    text = f"Not known {'; '.join(named)}."
    lacking = list(dict.fromkeys([*_once_lacks(open_[ONCE]), *_repeated_lacks(open_[REPEATED])]))
    asked = [*open_[ONCE], *open_[REPEATED]]
    if lacking:
        names = sorted({item.setup.boss.material.name for item in asked})
        text += (
            f" Of {', '.join(names)} there is no {', no '.join(lacking)}: [material] takes them where you have them."
        )
    text += _too_weak(open_[REPEATED], comparison.case.units, len(comparison.results))
    if not any(item.setup.crack is not None and item.setup.crack.cycles for item in comparison.results):
        text += " [crack] cycles says how often the history comes back."
    return text


def _once_lacks(items: Sequence[SetupResult]) -> list[str]:
    lacking = ["fracture_toughness"] if any(i.setup.boss.material.fracture_toughness is None for i in items) else []
    by_chance = [i for i in items if i.setup.crack is not None and i.setup.crack.failure_probability is not None]
    return lacking + [
        key for key in CHANCE if any(getattr(item.setup.boss.material, key) is None for item in by_chance)
    ]


def _repeated_lacks(items: Sequence[SetupResult]) -> list[str]:
    """The keys that repeated heat lacks; law of growth and Walker's exponent count for a flaw only."""
    lacking = []
    for key in ("fatigue_strength", "threshold"):
        if any(getattr(item.setup.boss.material, key) is None for item in items):
            lacking.append(key)
    flawed = [item for item in items if item.setup.crack is not None and item.setup.crack.flaw is not None]
    if any(item.setup.boss.material.growth_coefficient is None for item in flawed):
        lacking.append("law of growth")
    measured = [item for item in flawed if item.setup.boss.material.threshold is not None]
    if any(item.setup.boss.material.growth_ratio is None for item in measured):
        lacking.append("growth_ratio, at which the threshold was measured")
    elsewhere = [
        (view.ratio, item.setup.boss.material)
        for item in measured
        for view in item.verdict.cracks.flaws
        if view.history.body == "boss" and view.ratio is not None and (view.ratio_problem or view.life_problem)
    ]
    beyond = [(ratio, material) for ratio, material in elsewhere if material.growth_ratio is not None]
    if beyond:
        ratio, material = max(beyond, key=lambda pair: pair[0])
        lacking.append(
            f"walker_exponent, which carries threshold and growth from a stress ratio of {material.growth_ratio:g} to the "
            f"{ratio:.2f} here"
        )
    return lacking


def _too_weak(items: Sequence[SetupResult], units: str, known: int) -> str:
    """That a known fatigue strength is too small for the multiaxial cycle to pass, and what would do."""
    over = [
        (view.needed, item)
        for item in items
        for view in item.verdict.cracks.fatigue
        if view.body == "boss" and view.ratio is not None and view.ratio >= 1.0
    ]
    if not over:
        return ""
    names = list(dict.fromkeys(item.name for _, item in over))
    text = f" The multiaxial cycle of {setups_words(names, known)} is an upper bound above 1, no proof of failure"
    needs = [_would_do(need, item) for need, item in over]
    possible = [need for need in needs if need is not None]
    if len(possible) < len(needs):
        return f"{text}; no fatigue_strength below the tensile strength would make it safe, only less load."
    return f"{text}; a fatigue_strength of {as_text(float(round(max(possible))), 'pressure', units, 3)} would make it safe."


def _would_do(need: float | None, item: SetupResult) -> float | None:
    """A fatigue strength that is needed, MPa, if a metal of this tensile strength can have it."""
    ultimate = item.setup.boss.material.ultimate_strength
    return None if need is None or (ultimate is not None and need >= float(ultimate.at(20.0))) else need

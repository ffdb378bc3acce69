"""What the views of cracking say of a comparison, in words: where they disagree, what is missing, how long a flaw lives."""

from __future__ import annotations

import math

from studwell.strength.crack import CRACK_MODES, ONCE, REPEATED, Said
from studwell.strength.flaws import FlawView
from studwell.study.finding import Finding, margin_words
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text


def crack_findings(comparison: Comparison) -> list[Finding]:
    """Return what is to say of cracks, in the case's units: of the setup nearest to cracking, of flaws, of the stud."""
    units = comparison.case.units
    if not comparison.results:
        return []
    found = []
    worst = max(comparison.results, key=lambda item: item.verdict.cracks.once[0].value or 0.0)
    found.append(Finding("crack", _views(worst)))
    found += [Finding("crack", text) for item in comparison.results for text in _flaw(item, units)]
    missing = _missing(comparison)
    if missing:
        found.append(Finding("caution", missing))
    return found


def _views(item: SetupResult) -> str:
    views = item.verdict.cracks
    parts = []
    for mode, said in ((ONCE, views.once), (REPEATED, views.repeated)):
        told = ", ".join(f"{_number(each)} by {each.view}" for each in said)
        apart = views.disagreement[mode]
        far = "" if apart is None else f" (known views a factor of {number_text(apart, 2)} apart)"
        parts.append(f"{mode} {told}{far}: {views.trust[mode]}")
    return f"{item.name}, the setup nearest to cracking at once: {'; '.join(parts)}."


def _number(said: Said) -> str:
    return margin_words(said.value)


def _flaw(item: SetupResult, units: str) -> list[str]:
    """Of the flaw that lives shortest, or of the one that asks most where no life is known."""
    crack = item.setup.crack
    if crack is None or crack.flaw is None:
        return []
    seen = [view for view in item.verdict.cracks.flaws if view.intensity is not None and view.history.body == "boss"]
    if not seen:
        return []
    lives = [view for view in seen if view.life is not None and view.life.histories is not None]
    size = as_text(crack.flaw, "length", units, 3)
    if lives:
        view = min(lives, key=_span)
        assert view.life is not None and view.life.histories is not None
        span = view.life.histories
        if math.isinf(span):
            return [
                (
                    f"{item.name}: a flaw of {size} does not grow at any place that was followed; nearest to it is the "
                    f"{view.history.place}."
                )
            ]
        end = as_text(view.life.end, "length", units, 3)
        how = "where it breaks" if view.life.breaks else "as far as its stress intensity is known"
        return [
            f"{item.name}: a flaw of {size} grows in {number_text(span, 3)} histories to {end}, {how}, at the "
            f"{view.history.place}."
        ]
    view = max(seen, key=lambda each: each.swing or 0.0)
    most, swing = (as_text(value or 0.0, "toughness", units, 3) for value in (view.intensity, view.swing))
    return [
        f"{item.name}: a flaw of {size} sees at most {most} and a range of {swing} at the {view.history.place}; a threshold "
        "above that range would keep it from growing."
    ]


def _span(view: FlawView) -> float:
    return math.inf if view.life is None or view.life.histories is None else view.life.histories


def _missing(comparison: Comparison) -> str:
    """What data would make the unknown margins of cracking known, over all setups."""
    names = sorted({item.setup.boss.material.name for item in comparison.results})
    materials = {item.setup.boss.material for item in comparison.results}
    lacking = [
        words
        for key, words in (
            ("fracture_toughness", "fracture_toughness"),
            ("fatigue_strength", "fatigue_strength"),
            ("threshold", "threshold"),
            ("growth_coefficient", "law of growth"),
            ("weibull_strength", "weibull_strength and weibull_volume"),
        )
        if any(getattr(material, key) is None for material in materials)
    ]
    open_ = [
        mode
        for mode in CRACK_MODES
        if any(item.verdict.margins[mode].unknown for item in comparison.results if mode in item.verdict.margins)
    ]
    if not open_:
        return ""
    text = f"Not known for every setup: {', '.join(open_)}."
    if lacking:
        text += (
            f" Of {', '.join(names)} there is no {', no '.join(lacking)}: [material] takes them where you have them."
        )
    if not any(item.setup.crack is not None and item.setup.crack.cycles for item in comparison.results):
        text += " [crack] cycles says how often the history comes back."
    return text

"""What the views of cracking say of a comparison, in words: where they disagree, what is missing, how long a flaw lives."""

from __future__ import annotations

import math

from studwell.strength.crack import CRACK_MODES, ONCE, REPEATED
from studwell.strength.crack_said import Said
from studwell.strength.flaws import FlawView
from studwell.study.finding import Finding, margin_words, setups_words
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
    """Of the flaw that lives shortest, and of the places where it is not known whether it grows."""
    crack = item.setup.crack
    if crack is None or crack.flaw is None:
        return []
    seen = [view for view in item.verdict.cracks.flaws if view.history.body == "boss"]
    if not seen:
        return []
    size = as_text(crack.flaw, "length", units, 3)
    broken = [view for view in seen if view.once is not None and view.once >= 1.0]
    if broken:
        view = max(broken, key=lambda each: each.once or 0.0)
        how = "the metal below it shears off" if view.by_ligament or view.intensity is None else "it runs"
        return [f"{item.name}: a flaw of {size} breaks at once at the {view.history.place}: {how}."]
    growing = [view for view in seen if _grows(view)]
    still = [view for view in seen if _still(view)]
    open_ = [view for view in seen if not any(view is each for each in (*growing, *still))]
    unknown = f" Whether it grows is not known at {_places(open_)}: {_why(open_)}." if open_ else ""
    if growing:
        view = min(growing, key=_span)
        assert view.life is not None
        end, span = as_text(view.life.end, "length", units, 3), number_text(_span(view), 3)
        how = "where it breaks" if view.life.breaks else "as far as it was followed"
        if view.life_problem:
            span = f"at most {span}"
        text = f"{item.name}: a flaw of {size} grows in {span} histories to {end}, {how}, at the {view.history.place}"
        return [f"{text}{_of_others(growing, still)}.{unknown}"]
    if still and not open_:
        nearest = max(still, key=lambda each: each.repeated or 0.0)
        return [
            f"{item.name}: a flaw of {size} does not grow at any place that was followed; nearest to it is the "
            f"{nearest.history.place}."
        ]
    if still:
        return [f"{item.name}: a flaw of {size} does not grow at {_places(still)}.{unknown}"]
    known = [view for view in seen if view.intensity is not None]
    if not known:
        return [f"{item.name}: a flaw of {size}:{unknown}"]
    view = max(known, key=lambda each: each.swing or 0.0)
    most, swing = (as_text(value or 0.0, "toughness", units, 3) for value in (view.intensity, view.swing))
    told = ""
    if view.repeated is None:
        told = "; a threshold above that range would keep it from growing"
    return [
        f"{item.name}: a flaw of {size} sees at most {most} and a range of {swing}, at a stress ratio of "
        f"{number_text(view.ratio or 0.0, 2)}, at the {view.history.place}{told}.{unknown if view.repeated is not None else ''}"
    ]


def _grows(view: FlawView) -> bool:
    return view.life is not None and view.life.histories is not None and not math.isinf(view.life.histories)


def _still(view: FlawView) -> bool:
    """True if it is known that the flaw does not grow here: range below a threshold that holds."""
    return view.repeated is not None and view.repeated < 1.0 and not view.ratio_problem


def _of_others(growing: list[FlawView], still: list[FlawView]) -> str:
    told = []
    if len(growing) > 1:
        told.append(f"slower at {len(growing) - 1} other{'s' if len(growing) > 2 else ''}")
    if still:
        told.append(f"not at {len(still)} place{'s' if len(still) > 1 else ''} followed")
    return f" ({', '.join(told)})" if told else ""


MOST_NAMED = 2
"""Places that are named; of more than that their number is told."""


def _places(views: list[FlawView]) -> str:
    if len(views) > MOST_NAMED:
        return f"{len(views)} places that were followed"
    return " and ".join(f"the {view.history.place}" for view in views)


def _why(views: list[FlawView]) -> str:
    """The reason at the place that asks most: of the largest stress ratio."""
    view = max(views, key=lambda each: each.ratio or 0.0)
    return next(
        (told for told in (view.ratio_problem, view.repeated_reason, view.life_reason) if told), "no reason is told"
    ).rstrip(".")


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
    if any(material.threshold is not None and material.growth_ratio is None for material in materials):
        lacking.append("growth_ratio, at which the threshold was measured")
    of = {
        mode: [r.name for r in comparison.results if mode in r.verdict.margins and r.verdict.margins[mode].unknown]
        for mode in CRACK_MODES
    }
    open_ = [f"{mode} of {setups_words(names, len(comparison.results))}" for mode, names in of.items() if names]
    if not open_:
        return ""
    text = f"Not known: {', '.join(open_)}."
    if lacking:
        text += (
            f" Of {', '.join(names)} there is no {', no '.join(lacking)}: [material] takes them where you have them."
        )
    if not any(item.setup.crack is not None and item.setup.crack.cycles for item in comparison.results):
        text += " [crack] cycles says how often the history comes back."
    return text

"""What the views of cracking say of a comparison, in words: where they disagree, what is missing, how long a flaw lives."""

from __future__ import annotations

import math

from studwell.strength.crack import ONCE, REPEATED
from studwell.strength.crack_said import Said
from studwell.strength.flaws import FlawView
from studwell.study.crack_missing import missing_words
from studwell.study.finding import Finding, margin_words
from studwell.study.results import Comparison, SetupResult
from studwell.units import as_text, number_text


def crack_findings(comparison: Comparison) -> list[Finding]:
    """Return what is to say of cracks, in the case's units: of the setup nearest to cracking, of flaws, of the stud."""
    units = comparison.case.units
    if not comparison.results:
        return []
    found = []
    found.append(Finding("crack", _nearest(comparison)))
    found += [Finding("crack", text) for item in comparison.results for text in _flaw(item, units)]
    missing = missing_words(comparison)
    if missing:
        found.append(Finding("caution", missing))
    return found


def _nearest(comparison: Comparison) -> str:
    """The views of the setup whose margin of cracking at once is the largest; where none is known, of the most loaded."""
    results = comparison.results
    margins = [(item.verdict.margins[ONCE].value, item) for item in results]
    known = [(value, item) for value, item in margins if value is not None]
    if known:
        worst = max(known, key=lambda pair: pair[0])[1]
        among = "" if len(known) == len(results) else ", of those where it is known"
        return f"{worst.name}, the setup nearest to cracking at once{among}: {_views(worst)}."
    loaded = max(results, key=lambda item: item.value("floor_stress_max") or 0.0)
    stress = loaded.value("floor_stress_max")
    if len(results) == 1:
        return f"{loaded.name}: {_views(loaded)}."
    of = f"{loaded.name}"
    if stress is not None:
        of += f", whose floor is stressed most ({as_text(stress, 'pressure', comparison.case.units, 3)} averaged)"
    return f"Which setup is nearest to cracking at once is not known. {of}: {_views(loaded)}."


def _views(item: SetupResult) -> str:
    views = item.verdict.cracks
    parts = []
    for mode, said in ((ONCE, views.once), (REPEATED, views.repeated)):
        told = ", ".join(f"{_number(each)} by {each.view}" for each in said)
        apart = views.disagreement[mode]
        far = "" if apart is None else f" (known views a factor of {number_text(apart, 2)} apart)"
        parts.append(f"{mode} {told}{far}: {views.trust[mode]}")
    return "; ".join(parts)


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
    stopping = [view for view in seen if _stops(view)]
    open_ = [view for view in seen if not any(view is each for each in (*growing, *still, *stopping))]
    unknown = f" Whether it grows is not known at {_places(open_)}: {_why(open_)}." if open_ else ""
    if stopping:
        unknown = f" It grows but stops{_stopping_words(stopping, units)}.{unknown}"
    if growing:
        view = min(growing, key=_span)
        assert view.life is not None
        end, span = as_text(view.life.end, "length", units, 3), number_text(_span(view), 3)
        how = "where it breaks" if view.life.breaks else "as far as it was followed"
        if view.life_problem:
            span = f"at most {span}"
        text = f"{item.name}: a flaw of {size} grows in {span} histories to {end}, {how}, at the {view.history.place}"
        return [f"{text}{_of_others(growing, still)}.{unknown}"]
    if still and not open_ and not stopping:
        nearest = max(still, key=lambda each: each.repeated or 0.0)
        return [
            f"{item.name}: a flaw of {size} does not grow at any place that was followed; nearest to it is the "
            f"{nearest.history.place}."
        ]
    if still:
        return [f"{item.name}: a flaw of {size} does not grow at {_places(still)}.{unknown}"]
    known = [view for view in seen if view.intensity is not None]
    if stopping or not known:
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


def _stops(view: FlawView) -> bool:
    """True if it is known that the flaw grows and then stops: above the threshold at first, further on below it."""
    life = view.life
    if life is None or life.arrested is None or view.life_problem:
        return False
    return view.repeated is not None and view.repeated >= 1.0


def _stopping_words(views: list[FlawView], units: str) -> str:
    """Where and how deep, of the crack that stops deepest."""
    view = max(views, key=_arrested)
    more = f" (and at {len(views) - 1} more, less deep)" if len(views) > 1 else ""
    return (
        f" at {as_text(_arrested(view), 'length', units, 3)} at the {view.history.place}{more}: its range is below the "
        "threshold there"
    )


def _arrested(view: FlawView) -> float:
    return 0.0 if view.life is None or view.life.arrested is None else view.life.arrested


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

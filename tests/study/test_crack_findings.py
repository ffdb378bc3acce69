from dataclasses import replace

import numpy as np
import pytest

from studwell.parts.growth import GrowthLife
from studwell.strength.crack import ONCE
from studwell.strength.flaws import CrackHistory, FlawView
from studwell.study.crack_findings import crack_findings


def texts(comparison, kind):
    return [finding.text for finding in crack_findings(comparison) if finding.kind == kind]


def test_the_setup_nearest_to_cracking_is_told_by_all_views(comparison):
    said = texts(comparison, "crack")[0]
    worst = max(comparison.results, key=lambda item: item.verdict.margins[ONCE].value or 0.0)
    assert said.startswith(worst.name)
    for view in ("critical distance", "fracture mechanics", "weakest link", "multiaxial cycle"):
        assert view in said
    assert "trust" in said


def with_once(item, value):
    margin = replace(item.verdict.margins[ONCE], value=value)
    return replace(item, verdict=replace(item.verdict, margins=item.verdict.margins | {ONCE: margin}))


def test_the_setup_nearest_to_cracking_is_that_of_the_largest_margin_whatever_view_it_is_from(comparison):
    last = comparison.results[-1]
    results = (*(with_once(item, 0.5) for item in comparison.results[:-1]), with_once(last, 1.5))
    assert texts(replace(comparison, results=results), "crack")[0].startswith(f"{last.name}, the setup nearest")


def test_where_no_margin_is_known_no_setup_is_called_nearest_and_the_most_loaded_is_named_as_such(comparison):
    unknown = replace(comparison, results=tuple(with_once(item, None) for item in comparison.results))
    loaded = max(comparison.results, key=lambda item: item.value("floor_stress_max"))
    said = texts(unknown, "crack")[0]
    assert said.startswith("Which setup is nearest to cracking at once is not known.")
    assert f"{loaded.name}, whose floor is stressed most" in said and "the setup nearest" not in said


def test_missing_data_are_named_once_with_where_to_put_them(comparison):
    (said,) = texts(comparison, "caution")
    assert "boss crack (repeated)" in said and "no threshold" in said and "[material]" in said
    assert "[crack] cycles" in said
    assert "no fracture_toughness" not in said  # that of the demo's alloy is known
    assert "weibull" not in said  # no probability is asked for, and repeated heat has none


def test_a_flaw_is_told_with_its_life_or_what_it_would_need(cracked):
    said = texts(cracked, "crack")
    known, unknown = ([text for text in said[1:] if text.startswith(name)] for name in ("bottomed", "backed off"))
    assert len(known) == len(unknown) == 1
    assert "histories" in known[0] or "does not grow" in known[0]
    assert "a threshold above that range would keep it from growing" in unknown[0]


STOPS = "stops"


def crack(place, life=None, **known):
    """One crack of the boss as its view says: grows where life is a number, stands still where it is inf."""
    sizes = np.array([0.1, 1.0])
    history = CrackHistory(place, "boss", 5.0, "made up", sizes, np.ones((2, 2)))
    ended = None if life is None else GrowthLife(life, 2.5, False, None, "", sizes, np.zeros(2))
    if life == STOPS:
        ended = GrowthLife(np.inf, 2.5, False, 1.94, "stops growing at 1.94 mm", sizes, np.full(2, np.inf))
    return FlawView(history, sizes, sizes, 1.0, 9.0, 4.0, 0, 0.5, life=ended, ratio=0.5, **known)


STILL, GROWS, UNKNOWN = {"repeated": 0.8}, {"repeated": 1.2}, {"repeated_reason": "threshold of the alloy is not known"}
ELSEWHERE = {"ratio_problem": "measured at 0.1"}
NOWHERE = "does not grow at any place that was followed"


@pytest.mark.parametrize(
    ("flaws", "said", "not_said"),
    [
        ([("floor", np.inf, STILL), ("mouth", np.inf, STILL)], [NOWHERE], []),
        (
            [("floor", np.inf, STILL), ("mouth", None, UNKNOWN)],
            ["not grow at the floor", "not known at the mouth"],
            [NOWHERE],
        ),
        (
            [("floor", np.inf, STILL), ("mouth", 900.0, GROWS)],
            ["in 900 histories", "at the mouth", "not at 1 place"],
            [NOWHERE],
        ),
        (
            [("floor", 900.0, GROWS), ("mouth", None, UNKNOWN)],
            ["grows in 900", "not known at the mouth: thresh"],
            [NOWHERE],
        ),
        ([("floor", 900.0, GROWS | {"life_problem": "measured at 0.1"})], ["grows in at most 900"], []),
        ([("floor", np.inf, STILL | ELSEWHERE)], ["not known at the floor: measured at 0.1"], ["does not grow"]),
        ([("floor", STOPS, GROWS)], ["It grows but stops at 1.94 mm at the floor"], ["not known", NOWHERE]),
        (
            [("floor", 900.0, GROWS), ("mouth", STOPS, GROWS)],
            ["grows in 900 histories", "It grows but stops at 1.94 mm at the mouth"],
            ["not known"],
        ),
        ([("floor", STOPS, GROWS | {"life_problem": "measured at 0.1"})], ["not known at the floor"], ["but stops"]),
        ([("floor", None, UNKNOWN)], ["sees at most", "a threshold above that range"], ["does not grow"]),
    ],
)
def test_the_sentence_of_a_flaw_follows_from_every_places_state(cracked, flaws, said, not_said):
    item = cracked["bottomed, plain"]
    views = tuple(crack(place, life, **known) for place, life, known in flaws)
    verdict = replace(item.verdict, cracks=replace(item.verdict.cracks, flaws=views))
    only = replace(cracked, results=(replace(item, verdict=verdict),))
    text = texts(only, "crack")[1]
    for words in said:
        assert words in text
    for words in not_said:
        assert words not in text


def test_a_flaw_that_breaks_at_once_is_told_by_what_breaks_it(cracked):
    item = cracked["bottomed, plain"]
    for net, words in ((1.4, "the metal below it shears off"), (0.4, "it runs")):
        view = replace(crack("floor", np.inf, repeated=0.8), once=1.4, net=net)
        verdict = replace(item.verdict, cracks=replace(item.verdict.cracks, flaws=(view,)))
        (text,) = texts(replace(cracked, results=(replace(item, verdict=verdict),)), "crack")[1:]
        assert "breaks at once at the floor" in text and words in text

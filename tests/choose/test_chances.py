import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from studwell.case import case_from_text
from studwell.case.spread_keys import spread_keys
from studwell.case.spread_record import Distribution, Spread
from studwell.choose.chance_words import by_odds, others_by_odds
from studwell.choose.chances import SAMPLES, Chance, Chances, chances, picked, short_list
from studwell.choose.scatter import carried
from studwell.choose.study import choose
from studwell.odds.spread import sampler
from studwell.runs import execute
from studwell.show.choice import choice_table
from studwell.store.choice_record import choice_record, compromises_csv

spec = importlib.util.spec_from_file_location("choose_conftest", Path(__file__).parent / "conftest.py")
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)

SPREAD = """
[spread]
"tightening.torque" = { distribution = "normal", sd = "2 N*m" }
"seating.back_off" = { distribution = "triangular", low = "0.15 turn", high = "0.3 turn" }
"""


def chance(failed, judged=100):
    """The first `failed` of a hundred samples fail, the first `judged` have a solution."""
    number = np.arange(100)
    return Chance((number < failed) & (number < judged), number < judged)


def spread_case(bounds=made.BOUNDS, spread=SPREAD):
    return case_from_text(made.own_tables() + bounds + spread, "hut.toml")


@pytest.fixture
def few(monkeypatch):
    for name, count in (("search.SPREAD", 2), ("search.DOWNHILL", 2), ("search.ROWS", 8), ("chances.SAMPLES", 16)):
        monkeypatch.setattr(f"studwell.choose.{name}", count)


def test_five_failures_to_none_may_be_chance_and_six_are_not():
    # McNemar, exact: 0.5**5 = 0.031, 0.5**6 = 0.016; told apart below 0.025
    assert not chance(0).less_likely(chance(5))
    assert chance(0).less_likely(chance(6))
    assert not chance(6).less_likely(chance(0)) and not chance(6).less_likely(chance(6))


def test_samples_that_one_of_the_two_has_not_do_not_count():
    assert not chance(0, judged=3).less_likely(chance(50))


def test_failures_in_common_tell_nothing_apart():
    assert not chance(50).less_likely(chance(54)) and chance(50).less_likely(chance(56))


def rivals(choice):
    """The recommended row and the next two that share what ranks before the sizes of margins."""
    rows = choice.rows
    kind = rows.ranks[choice.recommended].kind
    return sorted((row for row in range(len(rows)) if rows.ranks[row].kind == kind), key=lambda row: rows.keys[row])[:3]


def test_a_setup_that_fails_more_often_than_chance_is_not_recommended(choice):
    best, second, third = rivals(choice)
    found = Chances({best: chance(30), second: chance(29), third: chance(2)}, {})
    assert picked(choice.rows, best, found) == third
    told = by_odds(choice.rows, best, third, found)
    assert "margins alone would take" in told and "30 %" in told and "2 %" in told


def test_margins_decide_where_the_odds_cannot(choice):
    best, second, third = rivals(choice)
    assert picked(choice.rows, best, Chances({best: chance(3), second: chance(1), third: chance(0)}, {})) == best
    assert picked(choice.rows, best, Chances({best: chance(30), second: chance(3), third: chance(0)}, {})) == second
    assert picked(choice.rows, best, None) == best
    assert picked(choice.rows, best, Chances({second: chance(0)}, {})) == best


def test_a_setup_that_ranks_behind_by_unknown_modes_is_named_but_not_taken(choice):
    best = choice.recommended
    kind = choice.rows.ranks[best].kind
    other = next(row for row in range(len(choice.rows)) if choice.rows.ranks[row].kind != kind)
    found = Chances({best: chance(30), other: chance(0)}, {"turned back": chance(1)})
    assert picked(choice.rows, best, found) == best
    told = " ".join(others_by_odds(choice.case, choice.rows, best, found))
    assert 'warning: the case\'s own "turned back"' in told and "distinguishably less often" in told
    calm = " ".join(
        others_by_odds(choice.case, choice.rows, best, Chances({best: chance(1)}, {"turned back": chance(0)}))
    )
    assert "warning" not in calm and '"turned back" 0 % (0 % to 3.6 %)' in calm


@pytest.mark.slow
def test_the_odds_of_a_few_setups_are_the_same_whoever_samples_them(choice, few, tmp_path):
    case = spread_case()
    rows = replace(choice.rows)
    listed = short_list(rows, choice.shown, choice.recommended)[:2]
    assert len(short_list(rows, choice.shown, choice.recommended)) > len(choice.shown)

    def sampled(name, workers, listed):
        def run(plan, where):
            return execute(plan, where, workers=workers)

        return chances(case, rows, listed, 0.3, {}, run, tmp_path / name)

    alone, shared = sampled("one", 1, listed), sampled("two", 2, listed)
    assert list(alone.rows) == listed and list(alone.own) == ["turned back"]
    for row in listed:
        assert np.array_equal(alone.rows[row].failed, shared.rows[row].failed)
        assert len(alone.rows[row].judged) == 16
    assert sampled("again", 1, listed[::-1]).rows[listed[0]].failed.tolist() == alone.rows[listed[0]].failed.tolist()
    assert "seating.back_off" in alone.moved


def test_a_stop_leaves_no_half_of_the_odds(choice, few, tmp_path):
    def stopped(plan, where):
        def stop(pace):
            raise KeyboardInterrupt

        return execute(plan, where, workers=1, progress=stop)

    rows = choice.rows
    assert chances(spread_case(), rows, choice.shown[:2], 0.3, {}, stopped, tmp_path / "one") is None


@pytest.mark.slow
def test_a_choice_with_a_spread_prints_each_ones_odds_with_its_interval(few):
    parts = []
    case = spread_case(
        '[bounds]\nsetup = "turned back"\ntorque = ["8 N*m", "20 N*m"]\n' + made.BOUNDS.split("[bounds]")[0]
    )
    found = choose(
        case, versions={}, refinement=0.3, search_refinement=0.3, workers=1, odds_samples=16,
        progress=lambda part, pace: parts.append(part),
    )  # fmt: skip
    assert list(dict.fromkeys(parts)) == ["search", "odds of the best and of the case's own"]
    cells = [str(cell) for cell in choice_table(found).columns[-1].cells]
    assert len(cells) == len(found.shown) and all("%" in cell and "-" in cell for cell in cells)
    record = choice_record(found)
    assert all(each["any_damage"]["low"] <= each["any_damage"]["high"] for each in record["compromises"])
    assert set(record["odds_compared"]["own_setups"]) == {"turned back"}
    assert "any_damage_probability" in compromises_csv(found).splitlines()[0]
    assert found.recommended in found.front


def back_off(turns):
    seating = f'seating = {{ mode = "backed off", back_off = "{turns} turn", counted_from = "first contact" }}'
    return case_from_text(f"{made.own_tables()}[setup.only]\n{seating}\n").setups[0]


def keys():
    return spread_keys(made.open_case())


def test_a_stated_range_moves_with_the_setting_and_keeps_its_width():
    given = Spread((("seating.back_off", Distribution("triangular", low=0.15, high=0.3)),))
    found, moved = carried(given, keys(), [back_off(0.22)], back_off(0.32))
    ((_, shifted),) = found.inputs
    assert (shifted.low, shifted.high) == pytest.approx((0.25, 0.4)) and moved == ("seating.back_off",)
    assert sampler(found, back_off(0.32), keys()).draw(1, 0, 64).min() > 0.25


def test_a_range_is_cut_off_where_its_key_cannot_be():
    given = Spread((("seating.back_off", Distribution("triangular", low=0.1, mode=0.2, high=0.3)),))
    found, _ = carried(given, keys(), [back_off(0.22)], back_off(0.06))
    drawn = sampler(found, back_off(0.06), keys()).draw(1, 0, 256)
    assert drawn.min() > 0.0 and drawn.max() < 0.14 + 1e-9


def test_a_spread_too_wide_for_a_smaller_setting_is_cut_off_instead_of_refused():
    given = Spread((("seating.back_off", Distribution("normal", sd=0.05)),))
    small = back_off(0.06)
    with pytest.raises(Exception, match="cannot be"):
        sampler(given, small, keys())
    found, moved = carried(given, keys(), [back_off(0.22)], small)
    assert sampler(found, small, keys()).draw(1, 0, 256).min() > 0.0 and moved


def test_a_spread_of_what_did_not_change_stays_as_it_is():
    given = Spread((("tightening.torque", Distribution("normal", mean=10000.0, sd=500.0)),))
    found, moved = carried(given, keys(), [back_off(0.22)], back_off(0.32))
    assert found == given and not moved


def test_samples_are_a_power_of_two():
    assert SAMPLES & (SAMPLES - 1) == 0

"""The report of odds: every sampled setup, its probabilities and their intervals, what was spread, what is not known."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from markupsafe import escape

from studwell.case.spread_record import Distribution, Spread
from studwell.show.odds import odds_lines, odds_sheets, write_odds
from studwell.show.odds_content import (
    kind_of,
    odds_headline,
    outcomes,
    probabilities,
    probability_text,
    ranked_odds,
    ranking,
    spread_rows,
)
from studwell.show.odds_page import odds_page

HOSTILE = '"><script>alert(1)</script></svg>'


@pytest.fixture(scope="module")
def text(small_odds):
    return odds_page(small_odds, odds_lines(small_odds), odds_sheets(small_odds))


def test_setups_are_ranked_by_how_often_they_fail(small_odds):
    shares = [item.any_damage.value for item in ranked_odds(small_odds)]
    assert shares == sorted(shares) and len(ranking(small_odds).rows) == 2
    assert probability_text(shares[0]) in odds_headline(small_odds)
    assert "fails least often" in odds_headline(small_odds)


def test_every_mode_stands_with_its_interval_or_with_the_reason_why_not(small_odds, text):
    for item in small_odds.setups:
        rows = {row[0]: row for row in probabilities(item).rows}
        assert set(rows) == set(item.probabilities)
        for mode, found in item.probabilities.items():
            assert rows[mode][2] == (probability_text(found.value) if found.value else "none seen")
        for mode, reason in item.reasons.items():
            assert mode in rows or str(escape(reason))[:40] in text


def test_cracks_that_only_checked_samples_judge_are_damage(small_odds):
    item = small_odds.setups[0]
    kinds = {
        mode: kind_of(item, mode) for mode in ("boss crack (once)", "stud fatigue", "tip crushing", "insert turning")
    }
    assert list(kinds.values()) == ["damage", "damage", "function", "function"]


def test_outcomes_are_written_in_the_units_asked_for(small_odds):
    item = small_odds.setups[0]
    metric, inch = ({row[0]: row[1] for row in outcomes(item, units).rows} for units in ("metric", "inch"))
    assert metric["clamp max"].endswith(" kN") and inch["clamp max"].endswith(" lbf")
    assert metric["floor stress max"].endswith(" MPa") and inch["tip gap min"].endswith(" in")


def test_what_was_spread_is_said_in_words_with_its_units(small_odds):
    inputs, correlations = spread_rows(small_odds.case)
    said = dict(inputs.rows)
    assert said["tightening.torque"] == "normal, mean: the setup's own, standard deviation 0.8 N*m"
    assert said["seating.back_off"].startswith("triangular, mode: the setup's own, not below 0.15 turn")
    assert correlations.rows == (("tightening.thread_friction and tightening.bearing_friction", "0.6"),)
    data = Spread((("boss.floor_thickness", Distribution("data", values=(5.0, 6.5))),))
    (table,) = spread_rows(replace(small_odds.case, spread=data, units="inch"))
    assert table.rows[0][1] == "2 values, each as likely, from 0.1969 in to 0.2559 in"


@pytest.mark.parametrize(
    ("share", "said"), [(0.0, "0 %"), (0.147, "14.7 %"), (0.00081, "0.081 %"), (1.7e-5, "1.7e-05"), (1.0, "100 %")]
)
def test_a_probability_is_said_in_per_cent_or_as_a_power_of_ten(share, said):
    assert probability_text(share) == said


def test_hostile_names_stay_text(small_odds):
    items = tuple(replace(i, setup=replace(i.setup, name=HOSTILE + i.setup.name)) for i in small_odds.setups)
    case = replace(small_odds.case, title=HOSTILE, notes=HOSTILE, setups=tuple(i.setup for i in items))
    changed = replace(small_odds, case=case, setups=items, failed=((HOSTILE, HOSTILE),))
    page = odds_page(changed, odds_lines(changed), odds_sheets(changed))
    assert len(re.findall(r"<script", page)) == 1 and page.count("alert(1)") == page.count("&gt;alert(1)&lt;")


def test_the_report_lies_in_the_folder_and_is_the_same_each_time(small_odds, text, tmp_path):
    write_odds(small_odds, tmp_path)
    assert (tmp_path / "report.html").read_text(encoding="utf-8") == text

"""The report of odds: every sampled setup, its probabilities and their intervals, what was spread, what is not known."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from markupsafe import escape

from studwell.case.spread_record import Distribution, Spread
from studwell.odds.probability import Probability, counted
from studwell.show.odds import odds_lines, odds_sheets, odds_table, plot_probabilities, write_odds
from studwell.show.odds_content import (
    bound_text,
    kind_of,
    left_out_of_damage,
    odds_headline,
    outcomes,
    probabilities,
    probability_text,
    ranked_odds,
    ranking,
    spread_rows,
)
from studwell.show.odds_page import odds_page
from studwell.show.odds_words import NOISE, OFTEN, probability_interval, with_interval

HOSTILE = '"><script>alert(1)</script></svg>'


@pytest.fixture(scope="module")
def text(small_odds):
    return odds_page(small_odds, odds_lines(small_odds), odds_sheets(small_odds))


def test_setups_are_ranked_by_how_often_they_fail(small_odds):
    shares = [item.any_damage.value for item in ranked_odds(small_odds)]
    assert shares == sorted(shares) and len(ranking(small_odds).rows) == 2
    assert probability_text(shares[0]) in odds_headline(small_odds)


def test_setups_that_fail_alike_are_said_not_to_be_told_apart_and_how_many_samples_would_do(small_odds):
    (pair,) = small_odds.pairs
    told = odds_headline(small_odds)
    assert not pair.apart
    assert told.startswith("The 2 setups cannot be told apart with 40 samples each") and "fails least often" not in told
    assert "how many samples would tell them apart cannot be said, since in some damage is not known" in told
    other = odds_headline(replace(small_odds, pairs=(replace(pair, needed=9400),)))
    assert "about 9 400 samples would be needed to tell them apart" in other
    assert [row[3] for row in ranking(small_odds).rows] == ["-", "no"]


def test_setups_that_are_told_apart_are_ranked_in_the_headline(small_odds):
    told = odds_headline(replace(small_odds, pairs=(replace(small_odds.pairs[0], apart=True),)))
    first, last = (item.setup.name for item in ranked_odds(small_odds))
    assert f"fails least often by damage is {first}: " in told and f"Most often fails {last}: " in told


def test_the_verdict_names_functions_that_often_fail_and_what_a_stud_that_follows_is_worth(small_odds):
    told = odds_headline(small_odds)
    for item in small_odds.setups:
        for mode in ("hold", "tip crushing"):
            share = item.probabilities[mode].value
            if share >= OFTEN:
                assert f"{item.setup.name} {probability_text(share)}" in told.partition("often at its limit: ")[2]
    (loose,) = [item for item in small_odds.setups if item.staying is not None]
    assert (
        "judged as if the stud stayed put" in told and f"{loose.setup.name} {with_interval(loose.staying)}, and" in told
    )


def test_every_mode_stands_with_its_interval_or_with_the_reason_why_not(small_odds, text):
    for item in small_odds.setups:
        rows = {row[0]: row for row in probabilities(item).rows}
        assert {row for row in rows if not row.startswith("any damage mode")} == set(item.probabilities)
        assert rows["any damage mode"][2] == probability_text(item.any_damage.value)
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
    assert metric["floor stress max"].endswith(" MPa") and inch["tip gap min"].endswith("\N{NO-BREAK SPACE}in")


def test_what_was_spread_is_said_in_words_with_its_units(small_odds):
    inputs, correlations = spread_rows(small_odds.case)
    said = dict(inputs.rows)
    assert said["tightening.torque"] == "normal, mean: the setup's own, standard deviation 0.8 N*m"
    assert said["seating.back_off"].startswith("triangular, mode: the setup's own, not below 0.15 turn")
    assert correlations.rows == (("tightening.thread_friction and tightening.bearing_friction", "0.6"),)
    data = Spread((("boss.floor_thickness", Distribution("data", values=(5.0, 6.5))),))
    (table,) = spread_rows(replace(small_odds.case, spread=data, units="inch"))
    assert table.rows[0][1] == "2 values, each as likely, from 0.1969\N{NO-BREAK SPACE}in to 0.2559\N{NO-BREAK SPACE}in"


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (0.0, "0 %"), (0.147, "14.7 %"), (0.00081, "0.081 %"), (1.7e-5, "0.0017 %"), (4.6e-06, "0.00046 %"),
        (1e-10, "1.0e-08 %"), (1.0, "100 %"),
    ],
)  # fmt: skip
def test_a_probability_is_said_in_per_cent_whatever_its_size(share, said):
    assert probability_text(share) == said


def test_both_ends_of_an_interval_have_the_same_unit():
    assert probability_interval(Probability(0.0039, 9.9e-05, 0.0216, 1, 256, "counted")) == "0.0099 % to 2.16 %"


def test_no_failure_is_said_alike_on_screen_and_in_the_report(small_odds):
    safe = tuple(replace(item, any_damage=counted(0, 40)) for item in small_odds.setups)
    odds = replace(small_odds, setups=safe)
    cells = {column.header: list(column.cells) for column in odds_table(odds).columns}
    assert cells["probability"][0] == ranking(odds).rows[0][1] == probabilities(safe[0]).rows[0][2] == "none seen"
    assert "none seen (below 8.81 %)" in odds_headline(odds)


def test_governs_and_shares_below_zero_are_explained_where_they_stand(small_odds):
    assert "largest margin of all" in str(odds_table(small_odds).caption)
    assert "largest margin of all" in probabilities(small_odds.setups[0]).caption
    assert "sampling noise" in NOISE


def test_hostile_names_stay_text(small_odds):
    items = tuple(replace(i, setup=replace(i.setup, name=HOSTILE + i.setup.name)) for i in small_odds.setups)
    case = replace(small_odds.case, title=HOSTILE, notes=HOSTILE, setups=tuple(i.setup for i in items))
    changed = replace(small_odds, case=case, setups=items, failed=((HOSTILE, HOSTILE),))
    page = odds_page(changed, odds_lines(changed), odds_sheets(changed))
    assert len(re.findall(r"<script", page)) == 1 and page.count("alert(1)") == page.count("&gt;alert(1)&lt;")


def test_the_report_lies_in_the_folder_and_is_the_same_each_time(small_odds, text, tmp_path):
    write_odds(small_odds, tmp_path)
    assert (tmp_path / "report.html").read_text(encoding="utf-8") == text


def test_any_damage_mode_says_beside_it_which_modes_are_not_in_it(small_odds):
    table = odds_table(small_odds)
    cells = {head: list(column.cells) for column in table.columns for head in [column.header]}
    for item in small_odds.setups:
        missing = left_out_of_damage(item)
        how = cells["how"][cells["setup"].index(item.setup.name)]
        assert item.unknown and set(item.unknown) <= set(missing)
        assert "not known, not in it: " in how and all(mode in how for mode in missing)
        assert not set(missing) & {mode for mode in item.damage if mode in item.probabilities}
        leaving = [line for line in odds_lines(small_odds) if "any damage mode leaves out" in line]
        told = [line for line in leaving if item.setup.name in line or line.startswith("every setup: ")]
        assert len(told) == 1 and all(mode in told[0] for mode in missing)


def test_a_mode_that_the_setup_has_no_part_for_is_not_called_unknown(small_odds):
    for item in small_odds.setups:
        assert not {"insert thread strip", "false seat"} & set(left_out_of_damage(item))


def test_a_wide_bound_from_few_checked_samples_gives_that_reason(small_odds):
    item = small_odds.setups[0]
    assert item.checks is not None and "boss crack (once)" in item.checks.judged_alone
    assert bound_text(item, "boss crack (once)") == "below 60.2 %: only 4 checked samples judged"
    assert bound_text(item, "leak") == f"below {probability_text(item.probabilities['leak'].high)}"
    assert "boss crack (once) (below 60.2 %: only 4 checked samples judged)" in " ".join(odds_lines(small_odds))


def test_a_mode_without_a_failure_is_drawn_as_a_pale_upper_bound_with_words(small_odds):
    item = small_odds.setups[0]
    ax = plot_probabilities(item)
    modes = [label.get_text().removesuffix(" (function)") for label in ax.get_yticklabels()]
    words = {round(text.xy[1]): text.get_text() for text in ax.texts if text.get_text()}
    for place, mode in enumerate(modes):
        found = item.probabilities[mode]
        drawn = [line for line in ax.lines if set(line.get_ydata()) == {place}]
        if found.value > 0.0:
            assert len(drawn) == 2 and place not in words
            continue
        (mark,) = drawn  # no bar, one open mark at the bound
        assert list(mark.get_xdata()) == [found.high] and mark.get_markerfacecolor() != mark.get_markeredgecolor()
        assert words[place] == f"none seen: {bound_text(item, mode)}"
    assert any(item.probabilities[mode].value == 0.0 for mode in modes)

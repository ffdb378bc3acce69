"""Bars of the load on each pitch, and the tables of threads and repair."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.show.threads import plot_pitch_shares, strips_of, thread_sheets
from studwell.show.workshop_content import _force, repair_table, repair_tables, thread_table, thread_tables


def test_bars_are_the_shares_assembled_and_at_the_worst_moment(comparison):
    result = comparison["bottomed, plain"]
    strip = strips_of(result)[0]
    ax = plot_pitch_shares(result, strip)
    assembled, worst = ([bar.get_height() for bar in group] for group in ax.containers)
    assert assembled == approx(100.0 * strip.pitches.shares[strip.assembled])
    assert worst == approx(100.0 * strip.pitches.shares[strip.worst])
    assert sum(assembled) == approx(100.0)
    labels = [group.get_label() for group in ax.containers]
    assert labels == ["assembled", "at the worst moment"]


def test_the_sheet_holds_boss_and_nut_of_a_bottomed_and_a_backed_off_stud_in_words_too(comparison):
    (sheet,) = thread_sheets(comparison)
    assert len(sheet.figure.axes) == 4
    assert "bottomed" in sheet.told and "backed off" in sheet.told and "stud in the nut" in sheet.told


def test_the_legend_names_what_any_panel_shows_though_the_first_does_not(comparison):
    first, second = (replace(comparison[name], band_shares=shares) for name, shares in (
        ("bottomed, plain", {}), ("backed off, plain", {"boss thread": np.array([0.3, 0.2])}),
    ))  # fmt: skip
    (sheet,) = thread_sheets(replace(comparison, results=(first, second)))
    (legend,) = sheet.figure.legends
    assert [text.get_text() for text in legend.get_texts()] == [
        "equal shares by length", "assembled", "at the worst moment", "assembled, meshed teeth",
    ]  # fmt: skip


def test_a_load_that_is_noise_of_the_arithmetic_is_shown_as_none():
    assert _force(-2.8e-9, "metric") == "0 kN" and _force(2.0, "metric") == "0.002 kN"


def test_an_insert_has_bars_of_its_own(workshop):
    (sheet,) = thread_sheets(replace(workshop, results=(workshop["insert"],)))
    assert len(sheet.figure.axes) == 3 and "insert in the boss" in sheet.told


def test_a_thread_whose_pitches_are_not_known_is_not_drawn(comparison):
    result = comparison["bottomed, plain"]
    with pytest.raises(ValueError, match="not known"):
        plot_pitch_shares(result, replace(strips_of(result)[0], pitches=None))


def test_the_tables_mark_what_governs_and_end_with_the_length_that_breaks_the_stud(comparison):
    table = thread_table(comparison["bottomed, plain"], "metric")
    assert len(thread_tables(comparison)) == len(comparison.results)
    governing = [row[0] for row in table.rows if "governs" in row[0]]
    assert len(governing) == 2
    assert np.unique([len(row) for row in table.rows]).tolist() == [len(table.heads)]
    assert any("stud breaks first" in row[0] for row in table.rows)


def test_the_plan_says_unknown_where_it_is(workshop, comparison):
    rows = {row[0]: row for row in repair_table(workshop["insert"], "metric").rows}
    assert rows["drill"][1] == "8.3 mm"
    result = workshop["domed"]
    bare = replace(result, built=replace(result.built, setup=replace(result.setup, repair=None)))
    bare = replace(bare, setup=bare.built.setup)
    rows = {row[0]: row for row in repair_table(bare, "metric").rows}
    assert rows["drill"][1] == "6.8 mm"
    assert rows["floor under the hole, least"][1] == "unknown" and "[repair]" in rows["floor under the hole, least"][2]
    assert len(repair_tables(comparison)) == len(comparison.results)

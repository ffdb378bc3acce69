"""Cells of the tables on screen: what is absent is no unknown, and noise of the arithmetic is 0."""

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest

from studwell.show.table import comparison_table, evidence_tables, mesh_study_table


def cells(table, column):
    return list(table.columns[column].cells)


def test_an_outcome_whose_part_is_absent_is_none_and_one_that_the_model_cannot_know_unknown(comparison):
    outcomes = evidence_tables(comparison["bottomed, plain"], "metric")[0]
    shown = dict(zip(cells(outcomes, 0), cells(outcomes, 1), strict=True))
    assert shown["insert load max"] == "none: the hole has no insert"
    assert shown["washer travel max"] == "none: no spring washer in this setup"
    assert shown["pocket pressure max"].startswith("none: the pocket under the tip is empty")
    assert shown["thread stress max"].startswith("unknown: ")


def test_the_word_unknown_is_explained_only_under_a_table_in_which_it_stands(comparison):
    assert "Verdict 'unknown': no known mode fails" in comparison_table(comparison).caption
    failing = tuple(replace(item, verdict=replace(item.verdict, safe=False)) for item in comparison.results)
    for other in (failing, ()):
        caption = comparison_table(replace(comparison, results=other)).caption
        assert caption.startswith("Margin: load over capacity") and "unknown" not in caption


def test_the_tables_of_one_setup_hold_no_metric_quantity_in_inch_units(comparison):
    for table in evidence_tables(comparison["repaired hole, backed off, three conical springs"], "inch"):
        for column in table.columns:
            for cell in column.cells:
                assert not re.search(r"\d (mm|mm2|MPa|kN|N\*m|degC|um)\b", str(cell)), cell


@pytest.mark.parametrize(
    "unit, values, change, shown, percent",
    [
        ("mm", (3e-12, 4.4e-12, 8e-7), 0.8, "0 mm", "0.000 %"),
        ("mm", (0.02, 0.021, 0.021), -1e-9, "0.021 mm", "0.000 %"),
        ("N", (900.0, 910.0, 909.0), -0.0011, "0.909 kN", "-0.110 %"),
    ],
)
def test_a_mesh_study_shows_no_noise_and_no_signed_nothing(unit, values, change, shown, percent):
    row = SimpleNamespace(outcome="tip_gap_min", values=values, unit=unit, change=change)
    study = SimpleNamespace(setup="a", densities=(0.5, 1.0, 2.0), unknowns=(1, 2, 3), rows=(row,))
    table = mesh_study_table(study, "metric")
    assert cells(table, 3) == [shown]
    assert cells(table, 4) == [percent]

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from studwell.show.crack_content import crack_tables, crack_tables_of, life_text
from studwell.show.crack_life import direction_sheets, intensity_sheets, life_sheets, plot_life


def test_every_setup_has_the_views_side_by_side_and_one_table_each(comparison):
    tables = crack_tables(comparison)
    assert len(tables) == 4 * len(comparison.results)
    for table in tables:
        assert all(len(row) == len(table.heads) for row in table.rows)
        assert all(cell.strip() for row in table.rows for cell in row[:1])


def test_the_views_side_by_side_are_those_of_the_verdict(cracked):
    result = cracked["bottomed, plain"]
    rows = {row[0]: row for row in crack_tables_of(result, "metric")[0].rows}
    assert set(rows) >= {"critical distance", "fracture mechanics", "weakest link", "multiaxial cycle"}
    for said in result.verdict.cracks.once:
        shown = rows[said.view][1]
        assert shown == "unknown" if said.value is None else float(shown) == pytest.approx(said.value, rel=5e-3)


def test_where_no_view_is_known_the_table_does_not_count_one(comparison):
    result = comparison["bottomed, plain"]
    assert [said.value for said in result.verdict.cracks.repeated] == [None, None, None]
    rows = {row[0]: row[3] for row in crack_tables_of(result, "metric")[0].rows}
    assert rows["which to trust: boss crack (repeated)"].startswith("no view is known")
    assert rows["which to trust: boss crack (once)"].startswith("only one view is known")


def test_what_is_unknown_says_why_in_the_table(cracked):
    text = " ".join(
        cell for table in crack_tables_of(cracked["backed off, plain"], "metric") for row in table.rows for cell in row
    )
    assert "threshold of crack growth of a356-t6 sand is not known" in text
    assert "only the grooves model has roots" in text


def test_inch_tables_hold_inch_quantities(cracked):
    text = " ".join(
        cell for table in crack_tables_of(cracked["bottomed, plain"], "inch") for row in table.rows for cell in row
    )
    assert "ksi*in^0.5" in text and "psi" in text


def test_the_figure_of_lives_grows_from_the_flaw_and_ends_open_where_it_was_not_followed_further(cracked):
    sheets = life_sheets(cracked)
    assert [sheet.name for sheet in sheets] == ["crack-life"]
    assert "bottomed, plain" in sheets[0].told and "histories" in sheets[0].told
    view = next(
        v for v in cracked["bottomed, plain"].verdict.cracks.flaws
        if v.life is not None and np.all(np.isfinite(v.life.left)) and len(v.life.left) > 1
    )  # fmt: skip
    ax = Figure().add_subplot()
    plot_life(view, ax, "metric", "one")
    borne, depth = ax.lines[0].get_xydata().T
    assert np.all(np.diff(borne) > 0.0) and np.all(np.diff(depth) > 0.0)
    assert borne[-1] == pytest.approx(view.life.histories) and depth[0] == pytest.approx(0.6)
    assert ax.lines[1].get_xydata()[0] == pytest.approx([borne[-1], depth[-1]])
    assert (ax.lines[1].get_marker(), ax.texts[0].get_text()) == (
        ("x", "breaks") if view.life.breaks else ("o", "followed to here")
    )


@pytest.mark.parametrize(("problem", "legend", "dashes"), [("", "one", "-"), ("measured at 0.1", "one, at most", "--")])
def test_a_life_that_is_an_upper_bound_is_drawn_as_one(cracked, problem, legend, dashes):
    view = next(
        v for v in cracked["bottomed, plain"].verdict.cracks.flaws if v.life and np.all(np.isfinite(v.life.left))
    )
    ax = Figure().add_subplot()
    plot_life(replace(view, life_problem=problem), ax, "metric", "one")
    assert (ax.lines[0].get_label(), ax.lines[0].get_linestyle()) == (legend, dashes)


def test_the_figure_of_intensities_draws_toughness_and_threshold_where_they_are_known(cracked, comparison):
    (sheet,) = intensity_sheets(cracked)
    texts = [text.get_text() for ax in sheet.figure.axes for text in ax.texts]
    assert texts.count("toughness") == 2 and texts.count("threshold of the range") == 1
    for ax in sheet.figure.axes:
        assert any(line.get_label().startswith("range of a history") for line in ax.lines)
    assert intensity_sheets(comparison) == ()


def test_without_a_known_life_there_is_no_figure(comparison):
    assert life_sheets(comparison) == ()


def test_lives_in_words():
    assert life_text(None) == "unknown"


def test_a_flaw_draws_its_directions_and_no_flaw_draws_none(cracked, comparison):
    (sheet,) = direction_sheets(cracked)
    first = sheet.figure.axes[0]
    assert {line.get_label() for line in first.lines} == {"0.2 mm", "0.5 mm", "0.6 mm", "1 mm"}
    assert all(min(line.get_ydata()) > 0.0 for line in sheet.figure.axes[1].lines)
    assert direction_sheets(comparison) == ()

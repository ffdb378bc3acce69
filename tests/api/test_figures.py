"""Figures of the public face: what is drawn, in which unit, on whose axes, and what is said where there is nothing to draw."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib import pyplot
from matplotlib.axes import Axes
from matplotlib.collections import QuadMesh
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from pytest import approx

from studwell import api
from studwell.errors import StudwellError, Unknown, UnknownName
from studwell.show.crack_life import views_with_life
from studwell.show.ranking import FRAME
from studwell.strength.moments import named_moments
from studwell.study.results import FailedSetup

PLAIN, BACK = "bottomed, plain", "backed off, plain"
NEWTON_PER_POUND_FORCE = 4.4482216152605  # exact product of the pound and standard gravity


@pytest.fixture(autouse=True)
def no_figure_is_left_open():
    yield
    pyplot.close("all")


def lines_of(ax):
    return {
        line.get_label().replace("\n", " "): line for line in ax.get_lines() if not line.get_label().startswith("_")
    }


def test_the_axes_given_is_drawn_on_and_keeps_its_size_and_neighbours(result):
    figure, (left, right) = pyplot.subplots(1, 2, figsize=(5.0, 3.0))
    before = left.get_position().bounds
    assert result.plot_cycle("clamp", ax=left) is left
    assert tuple(figure.get_size_inches()) == (5.0, 3.0) and left.get_position().bounds == before
    assert not right.lines and len(pyplot.get_fignums()) == 1


def test_without_axes_a_new_figure_of_pyplot_is_made_each_time(result):
    first, second = result.plot_ranking(), result.plot_ranking()
    assert first.figure is not second.figure
    assert [pyplot.figure(number) for number in pyplot.get_fignums()] == [first.figure, second.figure]


@pytest.mark.parametrize(("units", "unit", "size"), [("metric", "kN", 1000.0), ("inch", "lbf", NEWTON_PER_POUND_FORCE)])
def test_a_cycle_ends_at_the_last_state_in_the_unit_that_its_axis_names(result, units, unit, size):
    ax = result.plot_cycle("thread_load", units=units)
    assert ax.get_ylabel() == f"thread load, {unit}"
    for name, line in lines_of(ax).items():
        timeline = result[name].record.timeline
        assert line.get_ydata()[-1] == approx(timeline.forces.thread[timeline.run[-1]] / size, abs=1e-6 / size)


def test_a_setup_keeps_its_colour_alone_and_among_others(result):
    together, some = lines_of(result.plot_cycle("clamp")), lines_of(result.plot_cycle("clamp", [BACK]))
    assert list(some) == [BACK]
    alone = lines_of(result[BACK].plot_cycle("clamp"))
    assert together[BACK].get_color() == some[BACK].get_color() == alone[BACK].get_color()


def test_the_gap_under_the_tip_is_drawn_in_millimetres_and_thousandths_of_an_inch_agree(result):
    metric = lines_of(result.plot_cycle("tip_gap"))[BACK].get_ydata()
    inch = lines_of(result.plot_cycle("tip_gap", units="inch"))[BACK].get_ydata()
    assert inch * 25.4 == approx(metric)
    least = result[BACK].record.outcomes["tip_gap_min"]
    assert metric.min() <= least.value + 1e-12 and metric[-1] >= least.value


def test_bars_of_the_ranking_are_the_governing_margins_in_order(result):
    ax = result.plot_ranking()
    bars = sorted(ax.patches, key=lambda bar: bar.get_y())
    margins = [view.margins[view.governing] for view in result.setups]
    assert [bar.get_width() for bar in bars] == approx([min(margin, FRAME) for margin in margins])
    assert [bool(bar.get_hatch()) for bar in bars] == [margin > FRAME for margin in margins]
    assert [text.get_text().replace("\n", " ") for text in ax.get_yticklabels()] == [v.name for v in result.setups]
    said = [text.get_text().replace("\n", " ") for text in ax.texts]
    for view in result.setups:
        told = {True: "safe", False: "fails", None: "unknown"}[view.safe]
        own = [text for text in said if text.startswith(f"{told}: {view.governing} ")]
        assert own and (view.safe is not None or "not known" in own[0])


def test_a_setup_that_could_not_be_solved_is_ranked_last_without_a_bar(result):
    lost = FailedSetup(result[PLAIN].record.setup, "the nut does not reach the stack", "not-converged")
    some = tuple(each for each in result.record.results if each.name != PLAIN)
    shown = api.ComparisonResult(replace(result.record, results=some, failed=(lost,)))
    ax = shown.plot_ranking()
    assert len(ax.patches) == len(some) and ax.get_yticklabels()[-1].get_text() == PLAIN
    assert "not solved" in [text.get_text() for text in ax.texts]
    with pytest.raises(Unknown, match="the nut does not reach the stack"):
        shown[PLAIN]
    with pytest.raises(Unknown, match="could not be solved"):
        shown.plot_cycle("clamp", [PLAIN])


def test_the_map_of_margins_shows_the_setups_asked_for(result):
    ax = result.plot_margins([PLAIN])
    assert [text.get_text().replace("\n", " ") for text in ax.get_yticklabels()] == [PLAIN]


@pytest.mark.parametrize(
    ("quantity", "units", "label"),
    [
        ("von_mises", "metric", "von Mises stress, MPa"),
        ("axial_stress", "inch", "axial stress, psi"),
        ("temperature", "inch", "temperature, degF"),
        ("movement", "metric", "movement, mm"),
    ],
)
def test_a_section_names_its_quantity_and_unit_beside_the_colours(result, quantity, units, label):
    ax = result[PLAIN].plot_section("hottest", quantity, units=units)
    bars = [each for each in ax.figure.axes if each is not ax]
    assert [bar.get_ylabel() for bar in bars] == [label]
    assert ax.get_xlabel().endswith("in" if units == "inch" else "mm")
    assert any(isinstance(each, QuadMesh) for each in bars[0].collections)


def test_stress_in_the_colours_reaches_what_the_stud_carries(result):
    view = result[PLAIN]
    ax = view.plot_section("hottest", "axial_stress", bar=False)
    assert ax.figure.axes == [ax]
    highest = max(float(np.max(drawn.levels)) for drawn in ax.collections if hasattr(drawn, "levels"))
    core = view.record.timeline.forces.tension.max() / (
        np.pi / 4 * 8.0**2
    )  # on the nominal section, below the real stress
    assert core < highest < 5.0 * core


def test_two_setups_share_a_section_each_on_its_side(result):
    ax = result.plot_sections([PLAIN, BACK], moment="assembled")
    said = [text.get_text() for text in ax.texts]
    sides = {name: next(text for text in ax.texts if name.split(",")[0] in text.get_text()) for name in (PLAIN, BACK)}
    assert sides[PLAIN].get_position()[0] < sides[BACK].get_position()[0], said
    with pytest.raises(StudwellError, match="two names"):
        result.plot_sections([PLAIN])


def test_the_floor_is_drawn_within_its_neighbourhood(result):
    shape = result[PLAIN].record.built.layout.boss
    ax = result[PLAIN].plot_floor(units="inch")
    assert ax.get_xlim()[1] * 25.4 < 3.0 * shape.drill_radius
    assert ax.figure.axes[1].get_ylabel() == "first principal stress, psi"


def test_mesh_and_threads_draw_the_setups_own_section_and_pitches(result):
    ax = result[PLAIN].plot_mesh(units="inch")
    assert ax.get_ylabel().endswith("in")
    bars = [bar for bar in result[PLAIN].plot_threads("nut thread").patches if isinstance(bar, Rectangle)]
    assert sum(bar.get_height() for bar in bars) == approx(200.0)  # assembled and worst, each 100 %
    with pytest.raises(UnknownName, match='no thread "insert thread"; allowed: boss thread, nut thread'):
        result[PLAIN].plot_threads("insert thread")


def test_a_moment_is_a_name_an_outcome_or_the_number_of_a_state(result):
    from studwell.api.drawing import state_of

    record = result[PLAIN].record
    moments = named_moments(record.timeline, record.history.temperatures, record.outcomes, record.verdict)
    assert state_of(record, "coldest") == moments["coldest"]
    assert state_of(record, "tip_force_max") == record.outcomes["tip_force_max"].index
    assert state_of(record, -1) == len(record.timeline.states) - 1
    with pytest.raises(UnknownName, match="assembled, hottest, coldest, worst, worst floor, end"):
        state_of(record, "noon")
    with pytest.raises(StudwellError, match="moment = 999"):
        state_of(record, 999)
    with pytest.raises(Unknown, match="no spring washer"):
        state_of(record, "washer_flat_share_max")


@pytest.mark.parametrize(
    ("figure", "why"),
    [
        ("plot_temperature", "no heat is solved"),
        ("plot_stud_above_boss", "no heat is solved"),
        ("plot_crack", "states no .crack. flaw"),
        ("plot_crack_life", "states no .crack. flaw"),
        ("plot_clamp_left", "one cycle only"),
    ],
)
def test_a_figure_that_a_setup_cannot_give_says_why_and_opens_nothing(result, figure, why):
    with pytest.raises(Unknown, match=why):
        getattr(result[PLAIN], figure)()
    assert not pyplot.get_fignums()


def test_a_pressure_that_is_not_there_says_that_no_liquid_is(result):
    with pytest.raises(Unknown, match="no liquid is shut in"):
        result.plot_cycle("pocket_pressure")


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda r: r.plot_cycle("clmp"), 'no quantity "clmp"; allowed: clamp, tip_force'),
        (lambda r: r.plot_cycle("clamp", ["nobody"]), 'no solved setup "nobody"'),
        (lambda r: r[PLAIN].plot_section(quantity="stress"), 'no quantity "stress"'),
        (lambda r: r.plot_cycle("clamp", units="imperial"), 'units = "imperial"; allowed: metric, inch'),
        (lambda r: r.plot_ranking(ax=pyplot), "ax is a module"),
    ],
)
def test_wrong_names_are_refused_with_what_is_allowed(result, call, told):
    with pytest.raises(StudwellError, match=told):
        call(result)


def test_names_with_dollar_signs_are_never_read_as_formulas(result):
    record = result[PLAIN].record
    odd = replace(record, setup=replace(record.setup, name="5 $ or $6_x$"))
    case = replace(result.record.case, setups=(odd.setup,))
    shown = api.ComparisonResult(replace(result.record, results=(odd,), case=case))
    _, ax = pyplot.subplots()
    for draw in (shown.plot_margins, shown.plot_cycle):
        draw(ax=ax)
        assert all(not text.get_parse_math() for text in ax.findobj(Text))


def test_temperatures_are_those_of_the_last_cycle_in_their_unit(heated):
    view = heated[PLAIN]
    metric, inch = lines_of(view.plot_temperature()), lines_of(view.plot_temperature(units="inch"))
    for name, line in metric.items():
        assert inch[name].get_ydata() == approx(line.get_ydata() * 1.8 + 32.0)
    assert metric["nut"].get_ydata()[-1] == approx(view.record.heat.fields["nut"].mean(axis=1)[-1])
    assert view.plot_temperature().get_ylabel() == "temperature, degC"
    apart = lines_of(view.plot_stud_above_boss())
    assert {name.split(": ")[1] for name in apart} == {"stud's tip", "middle of its thread"}


def test_a_crack_is_drawn_over_its_depth_and_its_depth_over_the_histories_that_it_has_borne(cracked):
    view = api.ComparisonResult(cracked)["bottomed, plain"]
    known = {each.history.place: each for each in view.record.verdict.cracks.flaws if each.history.curve is not None}
    assert view.crack_places and set(view.crack_places) <= set(known)
    ax = view.plot_crack(view.crack_places[0])
    curve = known[view.crack_places[0]].history.curve
    assert lines_of(ax)["assembled"].get_ydata() == approx(curve.effective[view.record.timeline.assembled])
    assert ax.get_ylabel() == "stress intensity, MPa*m^0.5" and ax.get_xlabel() == "crack depth, mm"
    life = min(views_with_life(view.record), key=lambda each: each.life.left[0]).life
    metric, inch = (view.plot_crack_life(units=units) for units in ("metric", "inch"))
    assert metric.lines[0].get_xdata()[-1] == approx(life.left[0])
    assert inch.lines[0].get_ydata() * 25.4 == approx(metric.lines[0].get_ydata())
    assert (metric.get_ylabel(), inch.get_ylabel()) == ("crack depth, mm", "crack depth, in")
    with pytest.raises(UnknownName, match="no crack"):
        view.plot_crack("in the sky")


def test_the_sheets_of_the_report_are_figures_of_several_axes(result):
    sheets = result.sheets()
    assert {"margins", "history", "section-stress", "section-mesh"} <= set(sheets)
    assert all(isinstance(figure, Figure) for figure in sheets.values()) and len(sheets["history"].axes) == 3


def test_a_review_gives_each_panel_alone_without_its_letter(backoff):
    tip = backoff.plot_sweep("tip_force", units="inch")
    assert tip.get_title(loc="left") == "Tip force over the angle turned back" and tip.get_ylabel().endswith("lbf")
    rows = [row for row in backoff.record.rows if row.family == "torque" and row.tip_run is not None]
    assert tip.lines[0].get_ydata()[0] == approx(rows[0].tip_run / NEWTON_PER_POUND_FORCE)
    _, ax = pyplot.subplots()
    assert backoff.plot_sweep(ax=ax) is ax and ax.get_ylabel().startswith("largest margin of the boss")
    shares, told = backoff.plot_shares(), backoff.record.apart[0]
    assert len(shares.patches) == 2 * 6 * len(backoff.record.apart)  # relieved, and added to the driven stud
    for bars, wanted in zip(shares.containers[:2], (told.relieved, told.shares), strict=True):
        assert [bar.get_width() for bar in bars] == approx([v / 1000 for v in wanted["thread load"].share.values()])
    assert "solid: relieved, outline: added when driven" in shares.get_xlabel()
    assert isinstance(backoff.plot_need(), Axes) and isinstance(backoff.plot_flips("seating torque"), Axes)
    assert len(backoff.plot_verdict_sheet(units="inch").axes) == 6
    with pytest.raises(UnknownName, match="margin, tip_force"):
        backoff.plot_sweep("noise")
    with pytest.raises(UnknownName, match="floor thickness, seating torque"):
        backoff.plot_flips("colour")


def test_a_review_that_was_stopped_says_what_is_missing(backoff):
    empty = api.BackoffResult(replace(backoff.record, need=None, apart=(), flips=(), rows=()))
    for call, why in (
        (empty.plot_need, "not known"),
        (empty.plot_shares, "not taken apart"),
        (empty.plot_flips, "not solved"),
        (empty.plot_sweep, "stopped"),
    ):
        with pytest.raises(Unknown, match=why):
            call()


def test_odds_draw_their_own_probabilities_and_sensitivities(odds):
    item = odds["bottomed, plain"]
    ax = odds.plot_probabilities()
    assert ax.get_title(loc="left") == "bottomed, plain" and len(ax.get_yticks()) == len(item.probabilities)
    ax = odds.plot_sensitivities(mode="stud yield")
    assert ax.get_xlabel().endswith("stud yield")
    place = item.quantities.index("stud yield")
    assert max(bar.get_width() for bar in ax.patches) == approx(item.indices.total[:, place].max())
    assert odds.plot_largest_margin("bottomed, plain").get_xlabel().startswith("largest damage margin")
    with pytest.raises(UnknownName, match="no mode with sensitivities"):
        odds.plot_sensitivities(mode="rust")
    without = api.OddsResult(replace(odds.record, setups=(replace(item, indices=None),)))
    with pytest.raises(Unknown, match="not asked for"):
        without.plot_sensitivities()
    nothing = api.OddsResult(replace(odds.record, setups=(), failed=(("bottomed, plain", "no solution"),)))
    with pytest.raises(Unknown, match="no solution"):
        nothing.plot_probabilities()
    with pytest.raises(Unknown, match="no solution"):
        nothing["bottomed, plain"]

"""The stress drawing: which setups stand side by side, scales, colours, names."""

from __future__ import annotations

import numpy as np
import pytest

from studwell.show.field_view import deformation_scale
from studwell.show.section import parts_of, spread
from studwell.show.stress import (
    plot_floor_stress,
    plot_stress,
    side_by_side,
    stress_levels,
    stress_view,
)


@pytest.fixture(scope="module")
def views(comparison):
    return [stress_view(result) for result in side_by_side(comparison.results)]


def test_a_bottomed_setup_stands_left_of_a_backed_off_one(comparison):
    left, right = side_by_side(comparison.results)
    assert (left.setup.seating.mode, right.setup.seating.mode) == ("bottomed", "backed off")


def test_setups_that_are_all_seated_alike_give_one_drawing(comparison):
    backed = [r for r in comparison.results if r.setup.seating.mode == "backed off"]
    assert side_by_side(backed) == (backed[0],)


def test_the_moment_drawn_is_that_of_the_largest_floor_stress(views):
    for view in views:
        assert view.index == view.result.outcomes["floor_stress_max"].index


def test_every_part_is_named_once(comparison, views):
    names = [text.get_text().replace("\n", " ") for text in plot_stress(views).texts]
    expected = {part.name for view in views for part in view.parts}
    assert {"boss", "stud", "nut", "base gasket", "barrel", "head"} <= expected
    for name in expected:
        assert names.count(name) == 1


def test_spring_washers_are_named_with_their_number(comparison):
    view = stress_view(comparison["backed off, three conical springs"])
    assert "3 x DIN 6796 M8" in [text.get_text().replace("\n", " ") for text in plot_stress([view]).texts]


def test_the_title_states_how_much_movement_is_enlarged(views):
    assert "movement x 7" in plot_stress(views, scale=7.0).get_title(loc="left")
    assert "movement x 3" in plot_floor_stress(views, scale=3.0).get_title(loc="left")


def test_axes_name_their_unit(views):
    assert plot_stress(views).get_xlabel().endswith(", mm")
    assert plot_stress(views, units="inch").get_xlabel().endswith(", in")
    left, right = plot_stress(views, units="inch").get_xlim()
    assert right - left < 2.0  # inches, not millimetres


def test_unit_scale_draws_every_node_where_it_is(views):
    for view in views:
        for number, fields in enumerate(view.fields):
            there = fields.mesh.nodes + fields.displacement[0]
            assert np.allclose(view.positions(number, 1.0), there, atol=1e-12)


def test_enlarging_leaves_the_back_off_as_it_is(comparison):
    result = next(r for r in comparison.results if r.setup.seating.mode == "backed off")
    view = stress_view(result)
    stud = [f.name for f in view.fields].index("stud")
    moved = view.positions(stud, 0.0) - view.fields[stud].mesh.nodes
    assert np.allclose(moved, [0.0, result.setup.seating.turns * result.setup.stud.thread.pitch])


def test_colours_span_the_stress_with_their_middle_step_about_zero(views):
    levels = stress_levels(views)
    steps = np.diff(levels)
    assert np.allclose(steps, steps[0])
    assert np.isclose(np.abs(levels).min(), 0.5 * steps[0])
    peak = max(float(f.first_principal.max()) for v in views for f in v.fields if f.name == "boss")
    assert 0.0 < levels[-1] < 5.0 * peak


@pytest.mark.parametrize("height", [10.0, 100.0, 1000.0])
def test_the_scale_is_a_round_number_that_keeps_the_movement_small(views, height):
    scale = deformation_scale(views, height)
    mantissa = scale / 10.0 ** np.floor(np.log10(scale))
    assert round(mantissa, 9) in (1.0, 2.0, 5.0)
    largest = max(view.largest_move() for view in views)
    assert scale == 1.0 or scale * largest <= 0.035 * height * (1 + 1e-9)


def test_gaskets_and_springs_are_drawn_between_the_bodies_that_they_separate(comparison):
    for result in comparison.results:
        parts = {part.name: part for part in parts_of(result.built)}
        for part in parts.values():
            if part.mesh is None:
                assert part.high > part.low
                assert parts[part.upper].low == pytest.approx(part.high)


def test_names_that_would_collide_are_moved_apart_within_their_limits():
    places = spread([0.0, 0.1, 0.2, 9.9], 1.0, (0.0, 10.0))
    assert np.all(np.diff(places) >= 1.0 - 1e-12) and places[-1] <= 10.0

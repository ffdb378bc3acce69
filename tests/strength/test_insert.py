"""Does the insert turn, by hand."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.strength.insert import hole_gain, insert_turning, pitch_share
from studwell.strength.timeline import timeline_of

HOLE = 'boss = { hole_depth = "17 mm", thread_depth = "14.5 mm", insert = { length = "1.5 d", set_down = "1 mm" } }\n'


@pytest.fixture(scope="module")
def lived(make_setup, build, live):
    built = build(make_setup(HOLE + 'stud = { engaged_length = "13 mm" }'), refinement=0.2)
    return built, timeline_of(live(built))


def with_friction(built, friction):
    boss = built.setup.boss
    boss = replace(boss, insert=replace(boss.insert, hole_friction=friction))
    return replace(built, setup=replace(built.setup, boss=boss))


def test_without_the_friction_of_its_hole_it_is_not_known_whether_an_insert_turns(lived):
    margin = insert_turning(*lived, np.zeros((1, 1)))
    assert margin.value is None and margin.unknown and margin.kind == "function"
    assert "hole_friction" in margin.reason


@pytest.mark.parametrize(("friction", "direction"), [(0.3, "driven in"), (0.08, "turned out")])
def test_an_insert_is_held_by_friction_at_its_larger_radius(lived, friction, direction):
    built, timeline = lived
    margin = insert_turning(with_friction(built, friction), timeline, np.zeros((1, 1)))
    pitch, inner, outer = 1.25, 8.0 - 0.64951905 * 1.25, 8.0 + 0.64951905 * 1.25
    own = built.setup.seating.thread_friction
    lead = (1.0 if direction == "driven in" else -1.0) * pitch / (2.0 * np.pi)
    applied, holds = (lead + 0.5 * d * mu / np.cos(np.radians(30.0)) for d, mu in ((inner, own), (outer, friction)))
    assert margin.value == approx(applied / holds, rel=1e-6)
    assert direction in margin.reason
    assert margin.load == approx(applied * timeline.forces.thread.max(), rel=1e-6)


def test_a_slippery_hole_lets_the_insert_come_out_under_load(lived):
    built, timeline = lived
    margin = insert_turning(with_friction(built, 0.02), timeline, np.zeros((1, 1)))
    assert margin.value == np.inf and margin.fails


def test_a_hole_without_an_insert_has_neither_margin_nor_share(make_setup, build, live):
    built = build(make_setup())
    timeline = timeline_of(live(built))
    margin = insert_turning(built, timeline, np.zeros((1, 1)))
    assert not margin.applies and not margin.unknown
    assert pitch_share(built, timeline) is None


def test_the_most_loaded_pitch_carries_more_than_an_even_share(lived):
    built, timeline = lived
    share = pitch_share(built, timeline)
    even = built.setup.stud.thread.pitch / built.setup.engaged_thread
    assert share.shape == (len(timeline.states),)
    assert even < share[timeline.assembled] < 3.0 * even


def test_round_an_insert_a_fifth_more_metal_shears(lived):
    assert hole_gain(lived[0]) == approx(1.0 + 3.0 * np.sqrt(3.0) / 4.0 * 1.25 / 8.0)

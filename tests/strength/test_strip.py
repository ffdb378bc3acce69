"""Engaged threads by several routes: sides, pitches, force-controlled share, what governs."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.parts.fastener import property_class
from studwell.parts.material import stock_material
from studwell.strength.strip import MOST_LOADED, TENSION_ALONE, engaged_length, thread_strips
from studwell.study.compare import solve_setup


def strips_of(result):
    return {s.name: s for s in thread_strips(result.built, result.timeline, result.history.temperatures)}


def test_pitches_carry_together_what_their_interface_does(comparison, workshop):
    for result in (*comparison.results, *workshop.results):
        for strip in strips_of(result).values():
            assert strip.pitches is not None
            assert strip.pitches.loads.sum(axis=1) == approx(strip.load, abs=1e-6 * np.abs(strip.load).max() + 1e-6)


def test_the_smaller_capacity_governs_and_is_that_of_the_margin(comparison):
    for result in comparison.results:
        for name, strip in strips_of(result).items():
            sides = [r for r in strip.routes if r.name.endswith("sizes")]
            route = strip.route(strip.governing)
            assert route.ratio == approx(max(side.ratio for side in sides), abs=1e-9)
            margin = result.verdict.margins[f"{name} strip"]
            assert (margin.value, margin.load, margin.capacity) == approx(
                (route.ratio, route.load, route.capacity), abs=1e-6
            )


def test_a_hole_in_aluminium_strips_before_the_stud_and_a_steel_nut_by_the_studs_thread(comparison):
    strips = strips_of(comparison["bottomed, plain"])
    assert strips["boss thread"].governing == "hole, limit sizes"
    assert strips["nut thread"].governing == "stud, limit sizes"


def test_the_most_loaded_pitch_is_above_the_whole_and_the_whole_above_the_tension_alone(comparison):
    strip = strips_of(comparison["bottomed, plain"])["boss thread"]
    whole = strip.route(strip.governing).ratio
    assert strip.route(MOST_LOADED).ratio > 1.1 * whole
    assert strip.route(TENSION_ALONE).ratio < 0.95 * whole


def test_backed_off_all_of_the_load_is_force_controlled(comparison):
    strip = strips_of(comparison["backed off, plain"])["boss thread"]
    assert strip.route(TENSION_ALONE).ratio == approx(strip.route(strip.governing).ratio)


def test_a_bottomed_stud_loads_the_far_end_of_its_thread_more_than_a_backed_off_one(comparison):
    on = strips_of(comparison["bottomed, plain"])["boss thread"]
    off = strips_of(comparison["backed off, plain"])["boss thread"]
    assert on.pitches.shares[on.assembled, -2] > 1.3 * off.pitches.shares[off.assembled, -2]
    assert off.pitches.shares[off.assembled, 0] == off.pitches.shares[off.assembled].max()


def test_at_the_engagement_that_breaks_the_stud_first_both_loads_are_equal(comparison):
    result = comparison["bottomed, plain"]
    strip = strips_of(result)["boss thread"]
    first, stud = strip.stud_first, result.setup.stud
    rm = property_class(stud.property_class, 8.0).ultimate_strength
    hot = strip.route("hole, limit sizes").capacity / strip.engaged * first.hot
    assert hot == approx(result.built.layout.stretch_area * rm, rel=1e-9)
    assert first.basic < first.limits < first.hot


def test_in_a_steel_nut_the_studs_own_thread_sets_the_length_that_breaks_the_stud(comparison):
    # A_s R_m = 0.6 R_m times the area of the stud's thread: 36.609 / (0.6 x 12.17 mm2 a millimetre)
    first = strips_of(comparison["bottomed, plain"])["nut thread"].stud_first
    assert first.limits == approx(36.609 / (0.6 * 12.17), rel=1e-3)
    assert first.hot == first.limits


def test_an_insert_is_judged_in_the_parent_metal_and_the_stud_in_the_insert(workshop):
    result = workshop["insert"]
    strips = strips_of(result)
    assert list(strips) == ["boss thread", "insert thread", "nut thread"]
    assert [r.name for r in strips["boss thread"].routes if r.name.endswith("sizes")] == [
        "stud, basic sizes",
        "stud, limit sizes",
    ]
    # no more than stands in the insert, nor than the insert is long once screwed in, by public reprints of ASME data
    assert strips["insert thread"].engaged == approx(min(result.setup.engaged_thread, 12.0 - 0.75 * 1.25))
    assert (
        result.verdict.margins["insert thread strip"].value == strips["insert thread"].route("hole, limit sizes").ratio
    )
    assert strips["boss thread"].stud_first.basic < strips["insert thread"].stud_first.basic
    assert not workshop["domed"].verdict.margins["insert thread strip"].applies


def test_an_alloy_of_unknown_strength_leaves_the_hole_unknown_and_the_studs_side_known(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    material = replace(stock_material("a356-t6 sand"), ultimate_strength=None)
    result = solve_setup(replace(setup, boss=replace(setup.boss, material=material)), refinement=0.4, band=False)
    strip = strips_of(result)["boss thread"]
    assert strip.governing is None and strip.stud_first is None
    assert (
        strip.route("hole, limit sizes").ratio is None and "tensile strength" in strip.route("hole, limit sizes").reason
    )
    assert strip.route("stud, limit sizes").ratio > 0.0
    assert "tensile strength" in result.verdict.margins["boss thread strip"].reason
    with pytest.raises(KeyError):
        strip.route(MOST_LOADED)


def test_the_bonded_thread_has_the_same_total_and_a_steeper_first_pitch(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    stiff = replace(setup, stud=replace(setup.stud, thread_model="bonded", nut_thread_model="bonded"))
    layer, bonded = (strips_of(solve_setup(s, refinement=0.4, band=False))["boss thread"] for s in (setup, stiff))
    assert bonded.load[bonded.assembled] == approx(layer.load[layer.assembled], rel=0.01)
    assert bonded.pitches.shares[bonded.assembled, 0] > layer.pitches.shares[layer.assembled, 0]


def test_engaged_length_is_what_the_turns_leave(comparison):
    assert engaged_length(comparison["bottomed, plain"].built) == 12.0
    assert engaged_length(comparison["backed off, plain"].built) == approx(12.0 - 0.22 * 1.25)

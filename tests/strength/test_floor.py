"""How a floor fails: load through the plug, tension under it, and the hoop stress round a wedge."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.case.records import Inelastic
from studwell.errors import NotConverged
from studwell.joint.seats import pressed_areas
from studwell.strength.floor import RELEASE, floor_punch, floor_split, punch_surface_of, underside_stress, wedge_hoop
from studwell.strength.strip import engaged_length
from studwell.study.compare import solve_setup

MOUTH = 'stud = { engaged_length = "10 mm", boss_thread_length = "13 mm" }'


@pytest.fixture(scope="module")
def wedged(make_setup):
    return solve_setup(make_setup(MOUTH), refinement=0.3, band=False)


def test_the_shear_through_the_floor_carries_the_tips_force_in_every_state(comparison):
    for result in comparison.results:
        shear, surface = floor_punch(result.built, result.timeline), punch_surface_of(result.built)
        assert shear * surface.area == approx(
            result.timeline.forces.tip, abs=1e-4 * result.timeline.forces.tip.max() + 1e-3
        )


def test_the_plug_is_as_wide_as_the_tip_and_as_high_as_the_floor(comparison):
    result = comparison["bottomed, plain"]
    surface = punch_surface_of(result.built)
    assert surface.height == approx(result.setup.boss.floor_thickness)
    assert 0.5 * result.setup.stud.tip_diameter < surface.radius < 0.5 * result.setup.boss.drill_diameter
    assert surface.places.weights.sum() == approx(1.0)


def test_a_stud_off_its_floor_neither_punches_nor_splits_it(comparison):
    result = comparison["backed off, plain"]
    assert result.value("floor_punch_max") == approx(0.0, abs=1e-6)
    # what the thread pulls on the boss reaches the underside as little more than nothing
    assert abs(result.value("floor_split_max")) < 1.0
    assert result.verdict.margins["floor punch"].value == 0.0


def test_margins_are_stress_over_strength_at_temperature(comparison):
    result = comparison["bottomed, plain"]
    for mode, outcome, share in (("floor punch", "floor_punch_max", 0.6), ("floor split", "floor_split_max", 1.0)):
        margin = result.verdict.margins[mode]
        assert margin.value == approx(margin.load / margin.capacity)
        assert margin.load <= result.value(outcome) * (1.0 + 1e-9)
        strength = result.setup.boss.material.ultimate_strength
        assert share * float(strength.at(200.0)) <= margin.capacity <= share * float(strength.at(20.0)) * (1.0 + 1e-9)


def test_a_thinner_floor_is_split_more_than_it_is_punched_more(make_setup):
    at = {}
    for thickness in (4.0, 8.0):
        setup = make_setup()
        setup = replace(setup, boss=replace(setup.boss, floor_thickness=thickness))
        at[thickness] = solve_setup(setup, refinement=0.2, band=False)
    punch = at[4.0].value("floor_punch_max") / at[8.0].value("floor_punch_max")
    split = at[4.0].value("floor_split_max") / at[8.0].value("floor_split_max")
    assert punch == approx(2.0, rel=1e-2)
    assert split > 1.5 * punch


def test_a_wedge_at_the_mouth_stretches_the_boss_round_it_and_spares_the_floor(wedged, comparison):
    hoop = wedge_hoop(wedged.built, wedged.timeline)
    assert hoop[0] > 20.0
    assert wedged.value("seat_hoop_max") == approx(hoop.max())
    assert wedged.verdict.margins["seat split"].value > 0.0
    assert np.abs(floor_split(wedged.built, wedged.timeline)).max() < 1.0
    assert comparison["bottomed, plain"].verdict.margins["seat split"].applies is False


def test_seat_outcomes_are_given_for_a_wedge_and_refused_with_a_reason_for_a_tip(wedged, comparison):
    assert wedged.value("seat_force_max") >= wedged.value("seat_force_assembled") > 0.0
    for name in ("seat_force_assembled", "seat_force_max", "seat_hoop_max"):
        outcome = comparison["bottomed, plain"].outcomes[name]
        assert outcome.value is None and outcome.reason


def test_the_pressure_on_the_taper_is_the_normal_force_over_its_area(wedged):
    built, margin = wedged.built, wedged.verdict.margins["seat crushing"]
    area = pressed_areas(built.joint.bodies[0], built.layout.wedge).sum()
    # a pitch of the hole's wall, but for the 0.02 mm of mesh lines beside the mouth
    pitch = built.setup.stud.thread.pitch
    assert area == approx(2.0 * np.pi * built.layout.boss.thread_radius * pitch, rel=0.02)
    most = wedged.timeline.forces.seat.max() / np.sin(built.layout.wedge.half_angle) / area
    assert margin.load == approx(most) and margin.kind == "function"


def test_a_stud_that_is_stopped_higher_engages_less_thread_where_the_mouth_cuts_it_off(make_setup, build):
    built = build(make_setup('stud = { boss_thread_length = "14.2 mm" }'))
    lifted = built.seat.clearance
    assert built.seat.name == "thread run-out at the mouth" and lifted > 0.0
    below_mouth = built.setup.boss.hole_depth - built.setup.boss.mouth_depth - built.setup.stud.tip_length - lifted
    assert engaged_length(built) == approx(min(built.setup.stud.engaged_length, below_mouth))


@pytest.fixture(scope="module")
def yielding(make_setup):
    """Function: floor in mm, zone or None -> a stud driven onto a floor whose corner yields, solved."""
    setup = make_setup('stud = { engaged_length = "10 mm" }', steps=2)
    solved = {}

    def function(floor, zone=None):
        if (floor, zone) not in solved:
            own = replace(setup, boss=replace(setup.boss, floor_thickness=floor))
            own = replace(own, inelastic=None if zone is None else Inelastic(zone, False))
            solved[floor, zone] = solve_setup(own, refinement=0.3, band=False)
        return solved[floor, zone]

    return function


def test_an_elastic_split_below_its_limit_is_unknown_where_the_corner_yields_and_says_what_to_set(yielding):
    result = yielding(4.0)
    margin = result.verdict.margins["floor split"]
    assert result.value("floor_stress_max") > float(result.setup.boss.material.yield_strength.at(20.0))
    assert 1.0 / RELEASE < margin.load / margin.capacity < 1.0
    assert margin.unknown and "no bound" in margin.reason and 'zone = "boss"' in margin.reason
    assert result.verdict.safe is not True


def test_an_elastic_split_far_below_its_limit_stays_known_and_says_that_it_is_no_bound(yielding):
    result = yielding(8.0)
    margin = result.verdict.margins["floor split"]
    assert result.value("floor_stress_max") > float(result.setup.boss.material.yield_strength.at(20.0))
    assert margin.value < 1.0 / RELEASE and "no bound" in margin.reason


@pytest.mark.slow
def test_an_elastic_split_above_its_limit_fails_as_such_a_floor_gives_way_when_it_yields(yielding):
    assert yielding(2.5).verdict.margins["floor split"].fails
    with pytest.raises(NotConverged, match="may not be able to carry the rest"):
        yielding(2.5, 5.5)


def test_a_zone_whose_edge_yields_leaves_the_split_unknown_and_a_warning_tells_it(yielding):
    result = yielding(4.0, 1.0)
    margin = result.verdict.margins["floor split"]
    assert max(state.flow.rim["boss"] for state in result.timeline.states) > 0.0
    assert margin.load > yielding(4.0).verdict.margins["floor split"].load
    assert margin.unknown and "edge of the zone" in margin.reason and 'zone = "boss"' in margin.reason
    assert any("edge of the zone" in text for text in result.history.warnings)


@pytest.mark.slow
def test_a_zone_that_holds_all_yielding_gives_a_known_split_above_the_elastic_one_whatever_its_size(yielding):
    small, large = yielding(6.0, 9.0), yielding(6.0, "boss")
    assert max(state.flow.rim["boss"] for state in large.timeline.states) == 0.0
    for result in (small, large):
        assert result.verdict.margins["floor split"].value is not None
    assert large.value("floor_split_max") == approx(small.value("floor_split_max"), rel=1e-3)
    assert large.value("floor_split_max") > 1.2 * yielding(6.0).value("floor_split_max")


def test_yielding_adds_no_stress_across_the_free_underside(yielding):
    result, elastic = yielding(6.0, 9.0), yielding(6.0)
    stress, still = (underside_stress(each.built, each.timeline) for each in (result, elastic))
    across = np.abs(stress[..., 2:]).max() / np.abs(stress).max()
    assert across < 1.5 * np.abs(still[..., 2:]).max() / np.abs(still).max()


def test_plastic_strain_beyond_small_strain_leaves_no_safe_verdict_and_says_so(yielding):
    assert "beyond small strain" in yielding(4.0, "boss").verdict.doubt
    assert yielding(4.0, "boss").verdict.safe is not True
    assert yielding(6.0, 9.0).verdict.doubt == yielding(8.0).verdict.doubt == ""

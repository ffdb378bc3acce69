"""Numbers of solved heat: moments by phase and cycle, differences of temperature and what they are worth, settling."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.study.heat_numbers import (
    Moment,
    alike_but,
    clamp_by_cycle,
    cycle_time,
    cycles_lived,
    extreme_differences,
    first_extreme,
    largest_difference,
    least_clamp_after,
    moment_at,
    retightening,
    stud_above_boss,
    stud_temperature,
    worst_phases,
    worth_of_difference,
)


@pytest.fixture(scope="module")
def bottomed(solved_heat):
    return solved_heat["bottomed, plain"]


@pytest.fixture(scope="module")
def settled(solved_heat):
    return solved_heat["backed off, settled and re-tightened"]


def test_each_phase_ends_in_itself(bottomed):
    lived = bottomed.heat.cycles
    for step, label in bottomed.heat.phase_ends:
        moment = moment_at(bottomed, int(bottomed.timeline.run[step]))
        assert moment.ends and label == f"{moment.phase}, cycle {moment.cycle}"
        assert moment.text(lived) == f"end of {moment.phase} of cycle {moment.cycle}"


def test_the_step_after_a_phase_lies_in_the_next(bottomed):
    phases = [phase.label for phase in bottomed.setup.history.phases]
    for step, label in bottomed.heat.phase_ends[:-1]:
        place = phases.index(label.split(",")[0])
        moment = moment_at(bottomed, int(bottomed.timeline.run[step + 1]))
        assert moment.phase == phases[(place + 1) % len(phases)]
        assert moment.into == approx(bottomed.heat.times[step + 1] - bottomed.heat.times[step])


def test_before_the_heat_there_is_no_cycle(bottomed):
    assert moment_at(bottomed, 0) == Moment("seated", None)
    assert moment_at(bottomed, 3) == Moment("tightening", None)
    assert moment_at(bottomed, bottomed.timeline.assembled) == Moment("assembled", None)


def test_one_cycle_is_not_counted_in_words():
    assert Moment("full load", 1, 120.0).text(1) == "full load, 2 min into it"
    assert Moment("full load", 2, 120.0).text(3) == "full load of cycle 2, 2 min into it"


def test_of_values_that_are_alike_the_first_is_taken():
    values = np.array([1.0, 5.0, 2.0, 5.0 + 1e-9, -7.0, -7.0])
    assert first_extreme(values, "max") == 1 and first_extreme(values, "min") == 4


def test_cycles_and_their_length_are_those_of_the_phases(bottomed, comparison):
    assert cycle_time(bottomed.setup) == 7 * 3600.0
    assert cycles_lived(bottomed) == bottomed.heat.cycles
    assert cycles_lived(comparison.results[0]) == 1


def test_the_stud_lags_behind_the_boss_in_the_warm_up_and_leads_under_load(bottomed):
    above, below = extreme_differences(bottomed)
    assert below.value < 0.0 and below.moment.phase == "warm-up"
    assert above.value > 0.0 and above.moment.phase == "full load"
    assert largest_difference(bottomed) in (above, below)
    assert largest_difference(bottomed).value == approx(max(stud_above_boss(bottomed), key=abs), rel=1e-3)


def test_the_middle_of_the_thread_lies_between_tip_and_top_in_full_load(bottomed):
    step = next(step for step, label in bottomed.heat.phase_ends if label.startswith("full load"))
    top = bottomed.history.temperatures[step, bottomed.history.node_names.index("stud_top")]
    assert stud_temperature(bottomed, "tip")[step] < stud_temperature(bottomed, "thread")[step] < top


def test_a_stud_that_is_colder_than_the_boss_takes_force_off_the_tip_in_proportion(bottomed):
    above, below = extreme_differences(bottomed)
    hotter, colder = worth_of_difference(bottomed, above.step), worth_of_difference(bottomed, below.step)
    assert hotter.growth > 0.0 > colder.growth and hotter.force > 0.0 > colder.force
    assert colder.force / colder.growth == approx(hotter.force / hotter.growth, rel=0.05)


def test_the_growth_is_that_of_the_free_stud_below_the_middle_of_its_thread(bottomed):
    # secant expansion of steel near 12e-6 1/K over 8.5 mm at most
    below = extreme_differences(bottomed)[1]
    length = 9.0
    assert abs(worth_of_difference(bottomed, below.step).growth) < 13e-6 * 2.5 * length


def test_a_tip_that_carries_nothing_gains_no_force(solved_heat):
    result = solved_heat["backed off, plain"]
    assert worth_of_difference(result, largest_difference(result).step).force is None


def test_re_tightening_lifts_the_settled_clamp_back_to_that_of_the_torque(settled):
    again = retightening(settled)
    assert again.before < settled.value("clamp_assembled") == approx(again.after, rel=1e-6)
    assert again.hot == settled.history.run_forces.clamp[settled.history.retightened_after]
    assert again.moment == "end of warm-up of cycle 1"


def test_without_re_tightening_there_is_none(bottomed, comparison):
    assert retightening(bottomed) is None and retightening(comparison.results[0]) is None


def test_clamps_by_cycle_are_those_at_the_ends_of_the_last_phase(settled):
    ends = [step for step, label in settled.heat.phase_ends if label.startswith("cold start")]
    assert clamp_by_cycle(settled) == tuple(settled.history.run_forces.clamp[ends])


def test_the_least_clamp_after_a_step_forgets_what_was_before(settled):
    last = len(settled.history.run) - 2
    assert least_clamp_after(settled, last) == approx(float(settled.history.run_forces.clamp[-1]))


def test_worst_phases_follow_the_clamp(settled):
    moments = worst_phases(settled)
    assert moments["clamp_max"].phase == "full load" and moments["clamp_min"].phase == "cold start"
    assert moments["tip_force_max"] is None


def test_the_setup_that_is_alike_but_unsettled_is_found(solved_heat, settled):
    def bare(setup):
        return replace(setup, settling=None, retighten=None)

    alike = alike_but(solved_heat, settled, bare, lambda setup: setup.settling is None)
    assert alike.name == "backed off, plain"
    assert alike_but(solved_heat, settled, lambda setup: setup, lambda setup: True) is None


def test_given_temperatures_have_no_solved_numbers(comparison):
    with pytest.raises(ValueError, match="temperatures are given"):
        largest_difference(comparison.results[0])

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.parts.thread import pitch_diameter
from studwell.parts.torque import flat_tip_torque_factor, mean_bearing_diameter, tightening_preload, wedge_force
from studwell.study.compare import compare, solve_setup
from studwell.study.findings import findings


def test_every_setup_of_the_demo_is_solved_and_ranked_by_its_largest_known_damage_margin(comparison):
    assert not comparison.failed
    worst = [result.verdict.worst_damage for result in comparison.results]
    assert worst == sorted(worst)
    assert len(worst) == 7


def test_forces_balance_in_every_state_of_every_setup(comparison):
    for result in comparison.results:
        assert result.equilibrium_residual < 1e-8, result.name
        assert result.law_residual < 1e-8, result.name


def test_a_driven_stud_is_wedged_by_the_long_form(comparison):
    # long form of the torque with a solid pivot at the tip, Motosh 1976 and Shigley ch. 16
    result = comparison["bottomed, plain"]
    stud, seating = result.setup.stud, result.setup.seating
    d2 = pitch_diameter(stud.thread.nominal_diameter, stud.thread.pitch)
    tip = flat_tip_torque_factor(stud.tip_diameter / 2, seating.tip_friction)
    expected = wedge_force(seating.torque, stud.thread.pitch, d2, seating.thread_friction, tip)
    assert result.history.seating.drive_wedge == approx(float(expected), rel=1e-9)


def test_the_nut_torque_gives_the_preload_of_the_long_form(comparison):
    # Motosh 1976; mean bearing diameter of the nut's ring on the washer
    result = comparison["backed off, plain"]
    stud, tightening = result.setup.stud, result.setup.tightening
    ring = result.built.layout.joinings[-1]
    expected = tightening_preload(
        tightening.torque,
        stud.thread.pitch,
        pitch_diameter(stud.thread.nominal_diameter, stud.thread.pitch),
        tightening.thread_friction,
        mean_bearing_diameter(2 * ring.upper_outer, 2 * ring.upper_inner),
        tightening.bearing_friction,
    )
    assert result.value("preload") == approx(float(expected), rel=1e-9)


def test_the_short_form_uses_the_nut_factor(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    short = replace(setup, tightening=replace(setup.tightening, nut_factor=0.2))
    result = solve_setup(short, refinement=0.4, band=False)
    assert result.value("preload") == approx(setup.tightening.torque / (0.2 * 8.0), rel=1e-9)


def test_a_wanted_preload_is_reached(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    by_force = replace(setup, tightening=replace(setup.tightening, torque=None, preload=8000.0))
    result = solve_setup(by_force, refinement=0.4, band=False)
    assert result.value("preload") == approx(8000.0, rel=1e-9)
    assert result.value("clamp_assembled") == approx(8000.0, rel=1e-6)


def test_heat_raises_the_clamp_and_lowers_the_tip_force_of_a_bottomed_stud(comparison):
    result = comparison["bottomed, plain"]
    assert result.value("clamp_max") > 1.3 * result.value("clamp_assembled")
    hot = result.outcomes["clamp_max"].index
    assert result.timeline.forces.tip[hot] < result.value("tip_force_assembled")
    assert result.outcomes["clamp_max"].when.startswith("hot")
    assert result.outcomes["clamp_min"].when.startswith("cold soak")


def test_a_backed_off_tip_never_touches_and_carries_nothing(comparison):
    result = comparison["backed off, plain"]
    assert result.value("tip_force_max") == 0.0
    assert result.value("tip_gap_min") == approx(0.22 * 1.25, abs=0.01)


def test_a_thin_spring_goes_flat_and_a_working_stack_does_not(comparison):
    assert comparison["backed off, one disc spring"].value("washer_flat_share_max") > 10.0
    working = comparison["backed off, three conical springs"]
    assert 0.3 < working.value("washer_flat_share_max") < 1.0
    swing = working.value("clamp_max") / working.value("clamp_assembled") - 1.0
    plain = comparison["backed off, plain"]
    assert swing < 0.3 * (plain.value("clamp_max") / plain.value("clamp_assembled") - 1.0)


def test_a_domed_nut_that_closes_first_clamps_nothing_and_fails(comparison):
    result = comparison["backed off, domed nut"]
    assert result.value("clamp_assembled") == approx(0.0, abs=1e-3)
    assert result.verdict.margins["false seat"].value == np.inf
    assert result.verdict.safe is False
    assert comparison.results[-1].name == result.name


def test_the_band_holds_the_setups_own_value_and_two_thread_models(comparison):
    for result in comparison.results:
        assert len(result.band_models) == 2
        for name, (low, high) in result.band.items():
            value = result.value(name)
            assert low <= high
            assert name == "thread_stress_max" if value is None else low <= value <= high


def test_cylinder_pressure_takes_its_load_off_the_clamp_and_not_off_the_stud_alone(hut_pump):
    from studwell.case.records import CylinderPressure

    setup = hut_pump.setup("bottomed, plain")
    pressed = replace(setup, pressure=CylinderPressure(peak=3.0, bore=50.0))
    result = solve_setup(pressed, refinement=0.4, band=False)
    forces = result.history.pressurised_forces
    load = 3.0 * np.pi / 4 * 50.0**2 / 4
    assert forces.outside == approx(np.full(10, load))
    assert forces.clamp == approx(forces.tension - load, rel=1e-8)
    # part of the load goes into the stud, the larger part comes off the clamp
    before = result.history.run_forces
    lost = before.clamp - forces.clamp
    assert np.all((lost > 0.3 * load) & (lost < load))
    assert result.value("clamp_min") == approx(float(forces.clamp.min()))
    assert result.equilibrium_residual < 1e-8


def test_turns_counted_from_a_driven_seat_lift_the_tip_less(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    driven = replace(setup, seating=replace(setup.seating, counted_from="driven seat"))
    first = solve_setup(setup, refinement=0.4, band=False)
    second = solve_setup(driven, refinement=0.4, band=False)
    assert second.history.seating.drive_approach > 0.0
    lost = second.history.seating.drive_approach + second.history.seating.wind_up_turns * 1.25
    assert -second.history.seating.travel == approx(0.275 - lost)
    assert second.value("tip_gap_min") < first.value("tip_gap_min")


def test_a_stud_that_binds_at_the_mouth_is_carried_there_and_spares_the_floor(hut_pump, comparison):
    setup = hut_pump.setup("bottomed, plain")
    binding = replace(setup, stud=replace(setup.stud, boss_thread_length=14.3))
    result = solve_setup(binding, refinement=0.4, band=False)
    assert result.history.seat.name == "thread run-out at the mouth"
    assert result.history.seating.drive_wedge == approx(result.timeline.forces.seat[0])
    assert result.value("tip_force_max") == 0.0
    assert result.value("floor_stress_max") < 0.5 * comparison["bottomed, plain"].value("floor_stress_max")


def test_a_seat_of_which_there_is_no_model_is_not_solved_and_says_why(hut_pump):
    setup = hut_pump.setup("bottomed, plain")
    tang = replace(setup, seating=replace(setup.seating, seat="insert tang"))
    result = compare(replace(hut_pump, setups=(tang, hut_pump.setup("backed off, plain"))), refinement=0.4, band=False)
    assert [failed.name for failed in result.failed] == ["bottomed, plain"]
    assert "no insert" in result.failed[0].reason
    assert [solved.name for solved in result.results] == ["backed off, plain"]


def test_overloading_stretches_the_stud_for_good_and_the_margin_says_so(hut_pump):
    setup = hut_pump.setup("backed off, plain")
    hard = replace(setup, tightening=replace(setup.tightening, torque=30_000.0))
    result = solve_setup(hard, refinement=0.4, band=False)
    assert result.value("stud_stretch_max") > 0.0
    assert result.verdict.margins["stud yield"].value > 1.0
    assert result.verdict.safe is False
    # what was stretched hot is missing cold
    assert result.value("clamp_end") < result.value("clamp_assembled")
    assert result.equilibrium_residual < 1e-8


def test_a_bonded_thread_couples_the_tip_less_than_a_compliant_one(comparison):
    # tip force left after tightening, over the driven one: the stiffer thread keeps more of it
    result = comparison["bottomed, plain"]
    low, high = result.band["tip_force_assembled"]
    assert result.value("tip_force_assembled") == low < high


def test_findings_name_each_setup_the_spring_the_cost_of_bottoming_and_the_gap(comparison):
    said = findings(comparison)
    kinds = {item.kind for item in said}
    assert {"governing", "spring", "bottoming", "heat", "gap", "caution"} <= kinds
    for result in comparison.results:
        assert any(result.name in item.text for item in said if item.kind == "governing")
    spring = [item.text for item in said if item.kind == "spring"]
    assert any("no spring at this torque" in text for text in spring)
    assert any("a working spring" in text for text in spring)


def test_the_finding_on_the_spring_turns_with_the_torque(hut_pump):
    setup = hut_pump.setup("backed off, one disc spring")
    gentle = replace(setup, tightening=replace(setup.tightening, torque=None, preload=300.0))
    result = compare(replace(hut_pump, setups=(gentle,)), refinement=0.4, band=False)
    texts = [item.text for item in findings(result) if item.kind == "spring"]
    working, edge = texts
    assert "a working spring" in working and "countersink" in edge and "no spring at this torque" not in working


@pytest.mark.slow
def test_outcomes_of_the_demo_settle_with_the_mesh(hut_pump):
    for name in ("bottomed, plain", "backed off, plain"):
        setup = hut_pump.setup(name)
        coarse, fine = (solve_setup(setup, refinement=r, band=False) for r in (1.0, 2.0))
        for outcome, share in (("clamp_max", 1e-3), ("clamp_min", 1e-3), ("floor_stress_max", 0.02)):
            assert coarse.value(outcome) == approx(fine.value(outcome), rel=share)
        assert coarse.value("tip_force_assembled") == approx(fine.value("tip_force_assembled"), rel=5e-3)


def test_equal_governing_margins_are_ranked_by_the_next_worst(hut_pump):
    # gentle heat: tightening governs both alike, the thread load tells them apart
    setups = []
    for name in ("bottomed, plain", "backed off, plain"):
        setup = hut_pump.setup(name)
        mild = tuple(tuple(20.0 + 0.02 * (t - 20.0) for t in row) for row in setup.history.temperatures)
        setups.append(replace(setup, history=replace(setup.history, temperatures=mild)))
    result = compare(replace(hut_pump, setups=tuple(setups)), refinement=0.4, band=False)
    assert [item.name for item in result.results] == ["backed off, plain", "bottomed, plain"]


def test_a_second_process_finds_the_same_band(hut_pump, comparison):
    name = "bottomed, plain"
    alone = solve_setup(hut_pump.setup(name), refinement=0.5)
    assert alone.band.keys() == comparison[name].band.keys()
    for outcome, ends in alone.band.items():  # as many linear-algebra threads as the process has: rounding alone
        assert ends == approx(comparison[name].band[outcome], rel=1e-9, abs=1e-9)
    assert alone.band_models == comparison[name].band_models == ("layer", "grooves")


def test_the_root_stress_is_unknown_to_a_layer_and_known_beside_it(comparison):
    result = comparison["bottomed, plain"]
    assert result.value("thread_stress_max") is None
    low, high = result.band["thread_stress_max"]
    assert low == high > 500.0
    assert "grooves model of this setup gives" in result.outcomes["thread_stress_max"].reason

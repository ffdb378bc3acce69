"""Seating, tightening and heat: what each stage must leave behind."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.case.records import Settling, SpringWasher
from studwell.history.heat import HeatModel, step_times, temperatures_in_time
from studwell.history.torques import torques_of
from studwell.joint.interfaces import spring_flat_load, spring_flat_loads
from studwell.parts.thread import pitch_diameter
from studwell.parts.torque import flat_tip_torque_factor, thread_torque_factor

FEW = settings(derandomize=True, max_examples=20, deadline=None)


@given(st.lists(st.floats(0.5, 5000.0), min_size=1, max_size=6), st.integers(1, 200))
@FEW
def test_steps_pass_through_every_point_and_are_as_many_as_asked(lengths, steps):
    points = np.concatenate([[0.0], np.cumsum(lengths)])
    times = step_times(points, steps)
    assert len(times) == max(steps, len(lengths)) + 1
    assert np.diff(times).min() > 0.0
    for point in points:
        assert np.abs(times - point).min() < 1e-9 * points[-1]


@given(st.lists(st.floats(-50.0, 250.0), min_size=3, max_size=3))
@FEW
def test_temperatures_are_those_of_the_points_and_straight_between(values):
    times = np.array([0.0, 10.0, 30.0])
    found = temperatures_in_time(np.array([0.0, 5.0, 10.0, 30.0]), times, np.array([values]))
    assert found[:, 0] == approx([values[0], 0.5 * (values[0] + values[1]), values[1], values[2]])


@pytest.fixture(scope="module")
def plain(make_setup, build, live):
    """The starter joint, driven with 10 N m and tightened, lived through."""
    built = build(make_setup('seating = { torque = "10 N*m" }'))
    return built, live(built)


def heat_model(built, **options):
    history = built.setup.history
    weights = np.zeros(len(history.node_names))
    weights[history.node_names.index("stud_top")] = 1.0
    return HeatModel(
        built.layout,
        built.bodies,
        built.joint,
        history.node_names,
        history.assembly_temperature,
        weights,
        640.0,
        **options,
    )


def test_at_assembly_temperature_nothing_has_grown(plain):
    built, _ = plain
    heat = heat_model(built).state(np.full(6, 20.0))
    assert max(np.abs(a).max() for a in heat.amplitudes) == 0.0
    assert np.abs(heat.gap_change).max() == 0.0
    assert heat.modulus_ratio == approx(1.0) and heat.stud_yield == approx(640.0)


@given(st.floats(-40.0, 200.0))
@FEW
def test_even_heat_strains_every_body_by_its_own_expansion(plain, temperature):
    built, _ = plain
    heat = heat_model(built).state(np.full(6, temperature))
    for body, amplitudes in zip(built.bodies, heat.amplitudes, strict=True):
        expected = float(body.material.thermal_strain(temperature, 20.0))
        assert amplitudes == approx(np.full(len(amplitudes), expected), rel=1e-12, abs=1e-15)


def test_heat_softens_metals_unless_moduli_are_held(plain):
    built, _ = plain
    hot = np.full(6, 150.0)
    assert heat_model(built).state(hot).modulus_ratio.max() < 1.0
    assert heat_model(built, constant_modulus=True).state(hot).modulus_ratio.tolist() == [1.0] * len(built.bodies)


def test_a_hot_gasket_closes_its_own_gap_and_no_other(plain):
    built, _ = plain
    change = heat_model(built).state(np.full(6, 120.0)).gap_change
    gasket = next(j for j in built.layout.joinings if j.gasket is not None)
    own = built.joint.slices[gasket.name]
    assert change[own] == approx(np.full(own.stop - own.start, -gasket.thickness * gasket.gasket.expansion * 100.0))
    others = np.delete(change, np.arange(own.start, own.stop))
    assert np.abs(others).max() == 0.0


def test_several_instants_at_once_give_the_same_as_one_by_one(plain):
    built, _ = plain
    model = heat_model(built)
    temperatures = np.array([[20.0, 50, 100, 90, 80, 70], [-10.0, 0, 10, 20, 30, 40]])
    for together, row in zip(model.states(temperatures), temperatures, strict=True):
        alone = model.state(row)
        assert together.modulus_ratio == approx(alone.modulus_ratio)
        assert together.gap_change == approx(alone.gap_change)
        assert together.stud_yield == approx(alone.stud_yield)


def test_the_wedge_of_a_driven_stud_is_its_torque_over_thread_and_tip_friction(plain):
    built, history = plain
    stud, seating = built.setup.stud, built.setup.seating
    d2 = pitch_diameter(stud.thread.nominal_diameter, stud.thread.pitch)
    lever = thread_torque_factor(stud.thread.pitch, d2, seating.thread_friction) + flat_tip_torque_factor(
        0.5 * stud.tip_diameter, seating.tip_friction
    )
    assert history.seating.drive_wedge == approx(10_000.0 / lever, rel=1e-9)
    assert history.seated_forces.tip[0] == approx(history.seated_forces.thread[0], rel=1e-9)
    assert history.seating.travel > 0.0


def test_hand_tight_on_the_floor_leaves_no_wedge(make_setup, build, live):
    setup = make_setup()
    history = live(build(replace(setup, seating=replace(setup.seating, torque=None))))
    assert abs(history.seated_forces.tip[0]) < 1e-6 and history.seating.travel == 0.0


def test_backing_off_from_first_contact_lifts_by_turns_times_pitch(make_setup, build, live):
    override = 'seating = { mode = "backed off", back_off = "0.2 turn", counted_from = "first contact" }'
    built = build(make_setup(override))
    history = live(built)
    assert history.seating.travel == approx(-0.2 * 1.25)
    gap = history.seated.openings[built.joint.slices["tip"]]
    assert gap == approx(np.full(len(gap), 0.25), abs=1e-6)
    assert np.abs(history.run_forces.tip).max() == 0.0


def test_backing_off_from_a_driven_seat_loses_the_approach_and_the_wind_up(make_setup, build, live):
    override = (
        'seating = { mode = "backed off", back_off = "0.2 turn", counted_from = "driven seat", torque = "10 N*m" }'
    )
    history = live(build(make_setup(override)))
    seating = history.seating
    assert seating.drive_approach > 0.0 and seating.wind_up_turns > 0.0
    assert -seating.travel == approx(0.25 - seating.drive_approach - 1.25 * seating.wind_up_turns)


def test_tightening_ends_at_the_torque_asked_for_and_climbs_there_steadily(plain):
    built, history = plain
    coefficients, target = history.torques.tightening_control(built.joint)
    assert target == approx(built.setup.tightening.torque)
    reached = [coefficients @ state.forces for state in history.tightening]
    assert reached == approx(target * np.arange(1, 11) / 10, rel=1e-9)
    assert np.all(np.diff(history.tightening_forces.tension) > 0.0)


def test_tightening_to_a_preload_ends_at_that_preload(make_setup, build, live):
    history = live(build(make_setup('tightening = { preload = "9 kN" }')))
    assert history.tightening_forces.tension[-1] == approx(9000.0, rel=1e-9)


def test_tightening_by_a_nut_factor_gives_torque_over_factor_and_diameter(make_setup, build, live):
    history = live(build(make_setup('tightening = { torque = "16 N*m", nut_factor = 0.2 }')))
    assert history.tightening_forces.tension[-1] == approx(16_000.0 / (0.2 * 8.0), rel=1e-9)


def test_the_nut_is_locked_and_the_tightening_twist_partly_springs_back_before_the_run(plain):
    built, history = plain
    share = built.setup.tightening.locked_torsion_share
    assert {state.travels["nut"] for state in history.run} == {history.tightening[-1].travels["nut"]}
    assert [state.shear for state in history.run] == approx([share * history.tightening[-1].shear] * len(history.run))
    assert history.tightening[-1].shear > 0.0


def test_labels_stand_at_their_points_and_the_run_starts_assembled(plain):
    built, history = plain
    points = built.setup.history
    assert [label for _, label in history.labels] == list(points.labels)
    for (index, _), time in zip(history.labels, points.times, strict=True):
        assert history.times[index] == approx(time)
    assert history.run_forces.tension[0] == approx(history.tightening_forces.tension[-1], rel=1e-6)


def test_cylinder_pressure_takes_its_share_of_the_clamp(make_setup, build, live):
    override = 'pressure = { peak = "4 MPa", bore = "60 mm" }\npattern = { studs = 4 }'
    history = live(build(make_setup(override)))
    load = 4.0 * np.pi / 4 * 60.0**2 / 4
    under = history.pressurised_forces
    assert under.outside == approx(np.full(len(under.outside), load))
    assert under.clamp == approx(under.tension - load, rel=1e-8)
    assert np.all(under.tension > history.run_forces.tension)
    assert np.all(under.clamp < history.run_forces.clamp)


def test_a_backed_off_stud_is_held_by_its_thread_alone_and_a_driven_one_by_the_tip_as_well(make_setup, build, live):
    back = 'seating = { mode = "backed off", back_off = "0.2 turn", counted_from = "first contact" }'
    ratios = []
    for override in (back, 'seating = { torque = "10 N*m" }'):
        built = build(make_setup(override))
        forces = live(built).tightening_forces
        torques = torques_of(built.setup, built.layout)
        ratios.append(torques.hold_ratio(forces.nut_thread, forces.tip, forces.thread)[-1])
        if override == back:
            # S = L: the ratio is that of the two threads' levers
            assert ratios[0] == approx(torques.nut_thread / torques.boss_thread, rel=1e-8)
    assert ratios[1] < ratios[0]


def test_progress_is_told_after_every_step(make_setup, build, live):
    seen = []
    history = live(build(make_setup()), progress=seen.append)
    assert seen == list(range(1, len(history.run) + 1))


SOFT = """
seating = { mode = "backed off", back_off = "0.2 turn", counted_from = "first contact" }
stud = { length = "103 mm", nut_thread_length = "34 mm" }
washer = [
    { kind = "plain", inner_diameter = "8.4 mm", outer_diameter = "22 mm", thickness = "1.6 mm" },
    { kind = "spring", inner_diameter = "8.4 mm", outer_diameter = "22 mm", thickness = "3 mm", cone_height = "0.3 mm", \
series = 4, edge_friction = 0, surface_friction = 0 },
    { kind = "plain", inner_diameter = "8.4 mm", outer_diameter = "22 mm", thickness = "1.6 mm" },
]
"""


@pytest.fixture(scope="module")
def sprung(make_setup):
    """Function: share -> a setup with nearly straight springs without friction, no gasket, that set by it."""
    setup = make_setup(SOFT)
    stack = tuple(layer for layer in setup.stack if layer.gasket is None)
    setup = replace(setup, stack=stack)
    return lambda share: replace(setup, settling=Settling(0.0, 0.0, 0.0, 0.0, (), share))


def test_a_spring_s_set_costs_its_lost_height_over_the_joint_s_compliance(sprung, build, live):
    # dF = share h0 series / (compliance of the spring and all the rest), from the nut's travel while it was tightened
    share = 0.02
    new, old = (live(build(sprung(each)), constant_modulus=True) for each in (0.0, share))
    travels = [state.travels["nut"] for state in new.tightening]
    compliance = (travels[-1] - travels[-2]) / (new.tightening_forces.clamp[-1] - new.tightening_forces.clamp[-2])
    height = share * 0.3 * 4
    lost = new.run_forces.clamp - old.run_forces.clamp
    assert lost[-1] == approx(height / compliance, rel=0.02)
    assert lost[0] == 0.0 and lost[-1] == approx(lost[1:].mean(), rel=0.5)
    assert old.settlement.setting[0][1] == approx(height)


def test_a_spring_sets_in_proportion_to_time_until_the_first_heat_ends_and_no_further(sprung, build, live):
    built = build(sprung(0.1))
    history = live(built)
    face = next(i for i, each in enumerate(built.joint.interfaces) if each.name == "face 4")
    lost = np.array([state.law_states[face][0] for state in history.run])
    ends = history.course.first_heat_ends
    share = np.minimum((history.times - history.times[0]) / (history.times[ends] - history.times[0]), 1.0)
    assert lost == approx(0.1 * 0.3 * 4 * share)
    assert history.run_forces.balance.max() < 1e-8 and history.run_forces.complementarity.max() < 1e-8


def test_a_spring_pressed_flat_loses_little_and_never_its_stop(sprung, build, live):
    def low(share):
        setup = sprung(share)
        washers = [replace(w, cone_height=0.1) if isinstance(w, SpringWasher) else w for w in setup.washers]
        return build(replace(setup, washers=tuple(washers)))

    new, old = (low(share) for share in (0.0, 0.2))
    runs = [live(built) for built in (new, old)]
    face, flat = new.joint.slices["face 4"], 4 * 0.1
    travels = [np.array([-state.openings[face][0] for state in run.run]) for run in runs]
    assert min(travels[0].min(), travels[1].min()) > flat
    assert np.abs(travels[1] - travels[0]).max() < 0.01 * 0.2 * flat  # the stop stands where it stood
    clamp = [run.run_forces.clamp[-1] for run in runs]
    assert 0.0 < clamp[0] - clamp[1] < 0.02 * clamp[0]
    states = [*runs[1].tightening, *runs[1].run]
    loads = spring_flat_loads(old.joint, old.setup.springs[0], "face 4", states)
    assert loads[0] == spring_flat_load(old.setup.springs[0]) and loads[-1] == approx(0.8 * loads[0])

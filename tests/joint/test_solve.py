"""States of joints: balance and complementarity for any valid case, signs of heat, failures that say so."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from hypothesis import given, reject, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.errors import BadCase, NotConverged, Unknown
from studwell.history.stages import AT_THE_HOLE
from studwell.joint.condense import condense
from studwell.joint.forces import forces_of, law_violation
from studwell.joint.interfaces import spring_flat_load
from studwell.joint.laws import LinearCompliance, UnilateralContact
from studwell.joint.reduced import Interface, assemble
from studwell.joint.solve import Control, solve_state
from studwell.joint.state import Heat, mode_amplitudes, start_state
from studwell.joint.step_system import prepare, prepare_many

FEW = settings(derandomize=True, max_examples=15, deadline=None)

PLAIN = '{ kind = "plain", size = "M8" }'
WASHERS = st.sampled_from(
    [
        f"[{PLAIN}]",
        f'[{PLAIN}, {{ kind = "spring", size = "DIN 2093 A 16x8.2x0.9" }}]',
        f'[{PLAIN}, {{ kind = "spring", size = "DIN 2093 A 16x8.2x0.9", parallel = 2 }}]',
        f'[{PLAIN}, {{ kind = "spring", size = "DIN 6796 M8", series = 2, orientation = "crown down" }}]',
        f"[{PLAIN}, {PLAIN}]",
    ]
)
SEATINGS = st.sampled_from(
    [
        'mode = "bottomed", torque = "4 N*m"',
        'mode = "bottomed", torque = "12 N*m"',
        'mode = "bottomed"',
        'mode = "backed off", back_off = "0.1 turn", counted_from = "first contact"',
        'mode = "backed off", back_off = "0.02 turn", counted_from = "driven seat"',
    ]
)
HOLES = st.sampled_from(
    ['hole_end = "flat"', 'hole_end = "cone", cone_angle = "118 deg"', 'hole_end = "cone", cone_angle = "140 deg"']
)


@st.composite
def overrides(draw):
    floor, outer = draw(st.floats(4.0, 12.0)), draw(st.floats(24.0, 40.0))
    model = draw(st.sampled_from(["layer", "bonded"]))
    torque = draw(st.floats(3.0, 25.0))
    return (
        f'boss = {{ floor_thickness = "{floor:.2f} mm", outer_diameter = "{outer:.2f} mm", {draw(HOLES)} }}\n'
        f'stud = {{ thread_model = "{model}" }}\n'
        f"washer = {draw(WASHERS)}\n"
        f"seating = {{ {draw(SEATINGS)} }}\n"
        f'tightening = {{ torque = "{torque:.2f} N*m" }}\n'
    )


@given(overrides(), st.lists(st.floats(-40.0, 200.0), min_size=6, max_size=6))
@settings(FEW, max_examples=25)
def test_every_state_of_any_valid_case_is_in_equilibrium_and_keeps_its_laws(make_setup, build, live, override, hot):
    try:
        setup = make_setup(override)
        temperatures = tuple((20.0, t, 20.0) for t in hot)
        setup = replace(setup, history=replace(setup.history, temperatures=temperatures))
        built = build(setup)
    except (BadCase, Unknown):
        reject()
    history = live(built)
    states = [history.seated, *history.tightening, *history.run]
    for forces in (history.seated_forces, history.tightening_forces, history.run_forces):
        assert forces.balance.max() < 1e-8
        assert forces.complementarity.max() < 1e-8
    for state in states:
        for face in built.joint.interfaces:
            part = built.joint.slices[face.name]
            if isinstance(face.law, UnilateralContact) and face.name not in state.absent:
                assert state.forces[part].min() >= -1e-5
                assert state.openings[part].min() >= -1e-9
                assert np.max(np.minimum(state.forces[part], 1e5 * state.openings[part])) < 1e-5
        assert law_violation(built.joint, state) < 1e-8 * max(10.0, np.abs(state.forces).max())


@pytest.fixture(scope="module")
def bottomed(make_setup, build, live):
    """A seated and a tightened elastic joint, its tip driven onto a flat floor."""
    built = build(make_setup('seating = { torque = "10 N*m" }', steps=2), refinement=0.2)
    history = live(built, yield_strength=1e6)
    return built, history


def tip_change(bottomed, heat_of, **changes):
    built, history = bottomed
    state = solve_state(built.joint, history.seated, heat_of(built, **changes))
    before = forces_of(built.joint, [history.seated]).tip[0]
    after = forces_of(built.joint, [state]).tip[0]
    assert before > 0.0 and after > 0.0
    return after - before


@given(st.floats(1.0, 90.0))
@FEW
def test_with_the_nut_off_heat_moves_the_tip_force_as_the_growth_of_boss_and_stud_says(bottomed, heat_of, change):
    assert tip_change(bottomed, heat_of, boss=change, stud_tip=change, stud_top=change) < 0.0
    assert tip_change(bottomed, heat_of, boss=-change, stud_tip=-change, stud_top=-change) > 0.0
    assert tip_change(bottomed, heat_of, boss=change) < 0.0
    assert tip_change(bottomed, heat_of, stud_tip=change, stud_top=change) > 0.0


@given(st.floats(1.0, 90.0))
@FEW
def test_heating_the_stack_alone_raises_the_clamp_and_cooling_lowers_it(bottomed, heat_of, change):
    built, history = bottomed
    clamp = history.run_forces.clamp[0]
    hot = solve_state(built.joint, history.run[0], heat_of(built, barrel=change, head=change))
    cold = solve_state(built.joint, history.run[0], heat_of(built, barrel=-change, head=-change))
    assert forces_of(built.joint, [hot]).clamp[0] > clamp > forces_of(built.joint, [cold]).clamp[0]


def test_a_stud_of_the_bosss_own_metal_feels_no_even_heat(make_setup, build, live, heat_of):
    """Other materials reverse or remove the signs: with one metal throughout and free growth nothing changes."""
    override = 'stud = { material = "a356-t6 sand" }\nseating = { torque = "10 N*m" }'
    built = build(make_setup(override, steps=2))
    history = live(built, yield_strength=1e6)
    even = dict.fromkeys(("boss", "stud_tip", "stud_top"), 80.0)
    ratios = np.ones(len(built.bodies))
    heat = replace(heat_of(built, **even), modulus_ratio=ratios)
    state = solve_state(built.joint, history.seated, heat)
    before, after = (forces_of(built.joint, [s]).tip[0] for s in (history.seated, state))
    # dimensions grow by the same strain everywhere, the screw's travel of a few hundredths of a mm does not
    assert after == approx(before, rel=1e-9)


def test_a_bonded_thread_is_stiffer_than_a_layer(make_setup, build, live):
    approach = {}
    for model in ("layer", "bonded"):
        history = live(build(make_setup(f'stud = {{ thread_model = "{model}" }}\nseating = {{ torque = "10 N*m" }}')))
        approach[model] = history.seating.travel / history.seating.drive_wedge
    assert approach["bonded"] < approach["layer"]


def test_a_spring_beyond_its_flat_load_is_flat(make_setup, build, live):
    washers = '[{ kind = "plain", size = "M8" }, { kind = "spring", size = "DIN 2093 A 16x8.2x0.9" }]'
    setup = make_setup(f"washer = {washers}")
    spring = setup.washers[1]
    built = build(setup)
    history = live(built)
    name = built.layout.joinings[-1].name
    travel = -history.run[0].openings[built.joint.slices[name]][0]
    assert history.run_forces.clamp[0] > spring_flat_load(spring)
    assert travel > spring.cone_height
    assert travel == approx(spring.cone_height, rel=0.05)


def test_friction_at_the_tip_changes_the_tip_force_a_little_and_keeps_the_balance(make_setup, build, live):
    setup = make_setup('seating = { torque = "10 N*m" }')
    smooth, rough = live(build(setup)), live(build(setup, tip_friction=0.15))
    assert rough.run_forces.balance.max() < 1e-8
    assert rough.run_forces.tip == approx(smooth.run_forces.tip, rel=0.1)
    assert not np.allclose(rough.run_forces.tip, smooth.run_forces.tip, rtol=1e-6)


def test_a_spent_iteration_budget_raises_with_its_record(bottomed, heat_of):
    built, history = bottomed
    hot = heat_of(built, barrel=150.0, head=150.0)
    needed = solve_state(built.joint, history.run[0], hot).record
    assert needed.iterations > 1
    with pytest.raises(NotConverged, match="too many iterations") as caught:
        solve_state(built.joint, history.run[0], hot, most_iterations=1)
    record = caught.value.record
    assert record.iterations == 1 and len(record.residuals) == 1
    assert record.residual == record.residuals[-1] > needed.residual


def test_a_step_without_a_solution_says_where_it_is_left_and_by_how_much(bottomed, heat_of):
    built, history = bottomed
    hot = heat_of(built, barrel=150.0, head=150.0)
    with pytest.raises(NotConverged) as caught:
        solve_state(built.joint, history.run[0], hot, most_iterations=2)
    record = caught.value.record
    assert record.where in [face.name for face in built.joint.interfaces]
    assert f"2 iterations; {record.residual:.2g} N is left at {record.where}; last " in caught.value.problem
    assert all(f"{value:.2g}" in caught.value.problem for value in record.residuals)


def test_a_loose_stud_is_solved_however_far_it_is_turned_back(bottomed):
    # its balance is the difference of thread stiffness times travel with itself: what rounding leaves of that is no force
    built, history = bottomed
    later = frozenset(face.name for face in built.joint.interfaces if face.name not in AT_THE_HOLE)
    loose = start_state(built.joint, history.seated.heat, absent=later)
    for travel in np.linspace(-0.2, -1.6, 200):
        state = solve_state(built.joint, loose, loose.heat, travels={"stud": travel})
        forces = forces_of(built.joint, [state])
        assert forces.tip[0] == 0.0 and abs(forces.thread[0]) < 1e-7
        assert state.openings[built.joint.slices["tip"]] == approx(-travel, rel=1e-9)


def test_a_history_that_does_not_converge_names_its_stage_and_time(bottomed, live):
    built, _ = bottomed
    with pytest.raises(NotConverged, match=r"tighten, 10 %") as caught:
        live(built, solver=partial(solve_state, most_iterations=1))
    assert caught.value.record.residuals


def test_a_step_that_fails_is_halved_and_the_refinement_is_recorded(bottomed, live):
    built, history = bottomed
    limit = 60.0

    def wary(joint, before, heat, **controls):
        jump = max(np.max(np.abs(a - b)) for a, b in zip(heat.amplitudes, before.heat.amplitudes, strict=True))
        if jump > limit * 12e-6:
            raise NotConverged(history.run[0].record, "too large a step")
        return solve_state(joint, before, heat, **controls)

    cut = live(built, solver=wary, yield_strength=1e6)
    assert cut.refinements and all(stage == "run" and halvings >= 1 for stage, _, halvings in cut.refinements)
    # the gasket remembers its largest closure only, so that the way there in smaller steps ends nearly the same
    assert cut.run_forces.clamp[-1] == approx(history.run_forces.clamp[-1], rel=1e-3)

    def never(joint, before, heat, **controls):
        if controls or heat is before.heat:
            return solve_state(joint, before, heat, **controls)
        raise NotConverged(history.run[0].record, "never")

    with pytest.raises(NotConverged, match=r"run, 0 s.*after 6 halvings"):
        live(built, solver=never)


def end_to_end(bar):
    """Two bars on each other between two walls, the upper wall a contact."""
    lower, upper = condense(bar("lower")), condense(bar("upper", area=25.0))

    def whole(body, group):
        weights = np.zeros((body.n_columns, 1))
        weights[body.columns[group], 0] = body.areas[group] / body.areas[group].sum()
        return weights

    def face(name, law, weights, gap=0.0):
        return Interface(name, law, weights, np.array([gap]), np.ones(1))

    return assemble(
        [lower, upper],
        [
            face("foot", LinearCompliance(np.zeros(1)), {"lower": whole(lower, "bottom")}),
            face(
                "middle",
                LinearCompliance(np.array([2e-6])),
                {"lower": whole(lower, "top"), "upper": whole(upper, "bottom")},
            ),
            face("wall", UnilateralContact(), {"upper": whole(upper, "top")}, gap=0.01),
        ],
        travels={"wall": {"wall": -np.ones(1)}},
    )


COMPLIANCE = 10.0 / (210_000.0 * 50.0) + 10.0 / (210_000.0 * 25.0) + 2e-6
"""mm/N of the two bars and the layer between them."""


@given(st.floats(0.0, 0.02), st.floats(-100.0, 100.0))
@FEW
def test_bars_and_layer_in_a_row_push_as_their_compliances_in_series(bar, travel, heating):
    joint = end_to_end(bar)
    strain = 12e-6 * heating
    heat = Heat((np.array([strain]), np.array([strain])), np.ones(2), 0.0)
    state = solve_state(joint, start_state(joint, heat), heat, travels={"wall": travel})
    squeeze = max(0.0, travel + 20.0 * strain - 0.01) / COMPLIANCE
    assert state.forces == approx(np.full(3, squeeze), rel=1e-9, abs=1e-6)
    assert state.openings[2] == approx(max(0.0, 0.01 - travel - 20.0 * strain), abs=1e-9)


@given(st.floats(1.0, 5000.0), st.floats(0.5, 1.5))
@FEW
def test_a_controlled_screw_travels_as_far_as_its_target_needs(bar, target, ratio):
    joint = end_to_end(bar)
    heat = Heat((np.zeros(1), np.zeros(1)), np.array([ratio, 1.0]), 0.0)
    control = Control("wall", np.array([0.0, 0.0, 1.0]), target)
    touching = replace(start_state(joint, heat), travels={"wall": 0.01})
    state = solve_state(joint, touching, heat, control=control)
    softer = 10.0 / (210_000.0 * 50.0) * (1.0 / ratio - 1.0)
    assert state.forces == approx(np.full(3, target), rel=1e-9)
    assert state.travels["wall"] == approx(0.01 + target * (COMPLIANCE + softer), rel=1e-9)


def test_an_absent_interface_carries_nothing(bar):
    joint = end_to_end(bar)
    heat = Heat((np.zeros(1), np.zeros(1)), np.ones(2), 0.0)
    state = solve_state(joint, start_state(joint, heat), heat, travels={"wall": 0.02}, absent=frozenset({"wall"}))
    assert np.abs(state.forces).max() < 1e-6
    back = solve_state(joint, state, heat, absent=frozenset())
    assert back.forces[2] == approx(0.01 / COMPLIANCE, rel=1e-9)


def test_plastic_strain_is_the_last_mode_of_the_studs_body_only(bottomed, heat_of):
    built, _ = bottomed
    joint = built.joint
    body, mode, law = joint.shank
    amplitudes = mode_amplitudes(joint, body, heat_of(built), 0.02)
    assert amplitudes[mode] == approx(0.02 / law.length)
    assert mode_amplitudes(joint, 1 - body, heat_of(built), 0.02) == approx(0.0)


def test_a_stud_tightened_beyond_yield_stretches_and_never_shrinks(make_setup, build, live):
    history = live(build(make_setup('tightening = { torque = "30 N*m" }')))
    stretches = [s.stretch for s in (*history.tightening, *history.run)]
    assert stretches[-1] > 1e-3
    assert np.all(np.diff(stretches) >= -1e-12)


def test_steps_prepared_together_are_the_steps_that_one_at_a_time_finds(make_setup, build, live):
    washer = '{ kind = "spring", size = "DIN 6796 M8", series = 2, orientation = "crown down" }'
    built = build(make_setup(f'washer = [{PLAIN}, {washer}]\nstud = {{ length = "90 mm" }}', steps=24))
    joint = built.joint
    together = live(built)  # on PreparedSteps
    alone = live(built, solver=lambda *given, **more: solve_state(*given, **more))
    for one, other in zip(together.run, alone.run, strict=True):
        assert np.abs(one.forces - other.forces).max() < 1e-9 * np.abs(other.forces).max()
        assert one.stretch == approx(other.stretch, abs=1e-12)
    # sought from where two steps point, a spring's curve and its friction take fewer iterations
    taken = [sum(state.record.iterations for state in history.run) for history in (together, alone)]
    assert taken[0] < 0.8 * taken[1]
    heats = together.course.heats
    systems = prepare_many(joint, heats, 250.0, frozenset({"dome"}))
    for k in (0, 5, len(heats) - 1):
        single = prepare(joint, heats[k], 250.0, frozenset({"dome"}))
        for name in ("rows", "opening_at_rest", "back", "force_at_rest", "balance", "balance_at_rest", "compliance"):
            one, other = getattr(systems[k], name), getattr(single, name)
            assert np.abs(one - other).max(initial=0.0) <= 1e-12 * np.abs(other).max(initial=1.0), name
        assert np.array_equal(systems[k].at_rest.free, single.at_rest.free)
        assert systems[k].tension == approx(single.tension) and systems[k].tension_at_rest == approx(
            single.tension_at_rest
        )


def test_a_run_that_turns_back_at_every_step_is_solved_though_it_points_nowhere(make_setup, build, live):
    setup = make_setup("", steps=6)
    saw = tuple(tuple(20.0 if k % 2 else row[1] for k in range(7)) for row in setup.history.temperatures)
    history = replace(
        setup.history, times=tuple(600.0 * k for k in range(7)), labels=tuple("abcdefg"), temperatures=saw, steps=6
    )
    built = build(replace(setup, history=history))
    one, other = live(built), live(built, solver=lambda *given, **more: solve_state(*given, **more))
    for a, b in zip(one.run, other.run, strict=True):
        assert np.abs(a.forces - b.forces).max() < 1e-9 * np.abs(b.forces).max()

"""The reference path on the whole sparse system against the condensed joint."""

import numpy as np
import pytest
from pytest import approx

from studwell.errors import NotConverged
from studwell.joint.forces import forces_of
from studwell.joint.full import FullJoint, condensed_displacement
from studwell.joint.solve import solve_state

SPRINGS = (
    'washer = [{ kind = "plain", size = "M8" }, { kind = "spring", size = "DIN 2093 A 16x8.2x0.9", parallel = 2 }]'
)


def both(built, live, **options):
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    return live(built, **options), live(built, solver=full.solver, **options), full


def states(history):
    return [history.seated, *history.tightening, *history.run, *history.pressurised]


def assert_same(built, ours, theirs, share):
    scale = max(np.abs(state.forces).max() for state in states(ours))
    for a, b in zip(states(ours), states(theirs), strict=True):
        assert np.abs(a.forces - b.forces).max() < share * scale
        assert forces_of(built.joint, [a]).tension[0] == approx(b.tension, abs=share * scale)
        assert a.stretch == approx(b.stretch, abs=share)
        assert a.travels == approx(b.travels, abs=share)
        for index, body in enumerate(built.bodies):
            columns = built.joint.column_forces(index, a.forces, a.outside_load)
            if np.abs(columns).max() > 1.0:  # a loose body lies anywhere
                u = condensed_displacement(built.joint, a, body.spec.name)
                assert np.abs(u - b.displacements[index]).max() < share


@pytest.mark.parametrize(
    "override",
    [
        'seating = { torque = "10 N*m" }',
        'seating = { mode = "backed off", back_off = "0.2 turn", counted_from = "first contact" }',
        'boss = { hole_end = "cone", cone_angle = "118 deg", thread_depth = "13.5 mm" }\nstud = { thread_model = "bonded" }',
        'pressure = { peak = "5 MPa", bore = "60 mm" }',
        'stud = { engaged_length = "10 mm", boss_thread_length = "13 mm" }',
    ],
    ids=["bottomed", "backed off", "cone and bond", "cylinder pressure", "wedged at the mouth"],
)
def test_elastic_joint_agrees_with_the_whole_system_to_1e_8(make_setup, build, live, override):
    built = build(make_setup(override))
    ours, theirs, _ = both(built, live, yield_strength=1e6, constant_modulus=True)
    assert_same(built, ours, theirs, 1e-8)


@pytest.mark.parametrize(
    ("override", "friction"),
    [(SPRINGS, 0.0), ('tightening = { torque = "30 N*m" }', 0.0), ('seating = { torque = "10 N*m" }', 0.15)],
    ids=["spring friction", "beyond yield", "tip friction"],
)
def test_joint_with_friction_yield_and_falling_moduli_agrees_to_1e_6(make_setup, build, live, override, friction):
    built = build(make_setup(override), tip_friction=friction)
    ours, theirs, _ = both(built, live)
    assert_same(built, ours, theirs, 1e-6)


def test_the_factor_is_kept_while_the_tangent_stays(make_setup, build, live, heat_of):
    built = build(make_setup('seating = { torque = "10 N*m" }'))
    _, theirs, full = both(built, live, yield_strength=1e6, constant_modulus=True)
    # past the point where the gasket turns from loading to unloading
    state = full.solve_state(theirs.run[0], heat_of(built, stud_tip=0.05, stud_top=0.05))
    count = full.factorisations
    for change in (0.1, 0.2, 0.3):
        state = full.solve_state(state, heat_of(built, stud_tip=change, stud_top=change))
        assert state.factors == 0
    assert full.factorisations == count


def test_full_states_come_from_forces_alone_as_well(make_setup, build, live, heat_of):
    """A reduced state can be followed by a full one: displacements are found anew."""
    built = build(make_setup('seating = { torque = "10 N*m" }'))
    history = live(built, yield_strength=1e6)
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    heat = heat_of(built, barrel=40.0)
    ours = solve_state(built.joint, history.run[0], heat)
    theirs = full.solve_state(history.run[0], heat)
    assert theirs.forces == approx(ours.forces, abs=1e-8 * np.abs(ours.forces).max())


def test_bodies_of_another_joint_are_refused(make_setup, build):
    built, other = build(make_setup()), build(make_setup('boss = { floor_thickness = "7 mm" }'))
    with pytest.raises(ValueError, match="not those of the joint"):
        FullJoint(built.joint, [body.spec for body in reversed(built.bodies)])
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    with pytest.raises(ValueError, match="another reduced joint"):
        full.solver(other.joint, None, None)


def test_a_spent_iteration_budget_raises_with_its_record(make_setup, build, live, heat_of):
    built = build(make_setup('seating = { torque = "10 N*m" }'))
    history = live(built, yield_strength=1e6)
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    with pytest.raises(NotConverged, match="too many iterations") as caught:
        full.solve_state(history.run[0], heat_of(built, barrel=150.0, head=150.0), most_iterations=1)
    assert caught.value.record.iterations == 1 and len(caught.value.record.residuals) == 1

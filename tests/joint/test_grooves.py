"""Teeth in the joint: flank sums against statics, friction, clearance, meshes, and the whole system."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.joint.flank_law import ThreadFlanks
from studwell.joint.forces import forces_of
from studwell.joint.full import FullJoint
from studwell.joint.grooves import thread_shares, turned
from studwell.verify.engagement import grooved

BACKED_OFF = 'seating = { mode = "backed off", back_off = "0.2 turn", counted_from = "first contact" }'
TOOTHED = 'stud = { thread_model = "grooves" }\n'


def shares(built, state, name="boss thread"):
    teeth = built.layout.boss.teeth if name == "boss thread" else built.layout.nut.teeth
    loads = thread_shares(built.joint, name, teeth, state.forces)
    return loads / loads.sum()


def with_friction(setup, friction):
    seating = replace(setup.seating, thread_friction=friction)
    tightening = replace(setup.tightening, thread_friction=friction, torque=None, preload=10e3, nut_factor=None)
    return replace(setup, seating=seating, tightening=tightening, history=replace(setup.history, steps=2))


def test_flanks_carry_what_the_section_carries():
    built, history = grooved()
    forces = history.run_forces
    assert forces.balance.max() < 1e-8
    assert forces.thread == approx(forces.tension, rel=1e-8)
    carried = thread_shares(built.joint, "boss thread", built.layout.boss.teeth, history.run[0].forces)
    assert carried.sum() == approx(forces.thread[0], rel=1e-10)


def test_load_falls_away_from_the_end_that_is_pulled():
    built, history = grooved()
    for name in ("boss thread", "nut thread"):
        found = shares(built, history.run[0], name)
        assert np.all(found > 0.0)
        assert found[0] == found.max()
        assert np.all(np.diff(found[:-2]) < 0.0)  # the last ones lean on metal that nothing loads and carry more


def test_a_root_is_stressed_more_than_the_core_beside_it():
    built, history = grooved()
    stud = built.joint.body_index("stud")
    state = history.run[0]
    body = built.joint.bodies[stud]
    amplitudes = np.zeros(body.n_modes)
    amplitudes[: len(state.heat.amplitudes[stud])] = state.heat.amplitudes[stud]
    columns = built.joint.column_forces(stud, state.forces)
    roots = body.stress["thread roots"].stress(columns, amplitudes, state.heat.modulus_ratio[stud])
    mean = history.run_forces.tension[0] / built.layout.stretch_area
    assert roots[0, 2] > 1.5 * mean
    assert roots[0, 2] == roots[:, 2].max()


def test_back_flanks_stay_apart_under_clearance():
    built, history = grooved()
    teeth = built.layout.boss.teeth
    face = built.joint.interface("boss thread")
    back = face.axial < -0.8
    openings = history.run[0].openings[built.joint.slices["boss thread"]]
    assert back.sum() == teeth.count - 1
    assert np.all(openings[back] > 0.0)
    assert openings[back] == approx(teeth.clearance / 2, abs=0.05)


def test_friction_changes_shares_by_less_than_a_tenth(make_setup, build, live):
    found = []
    for friction in (0.0, 0.3):
        setup = with_friction(make_setup(TOOTHED + BACKED_OFF), friction)
        built = build(setup)
        found.append(shares(built, live(built).run[-1]))
    assert np.abs(found[1] / found[0] - 1.0).max() < 0.1
    assert np.abs(found[1] / found[0] - 1.0).max() > 1e-3


@pytest.mark.slow
def test_shares_and_root_stress_converge_with_the_mesh(make_setup, build, live):
    setup = with_friction(make_setup(TOOTHED + BACKED_OFF), 0.14)
    setup = replace(setup, stud=replace(setup.stud, engaged_length=6.0))
    first, root = [], []
    for refinement in (1.0, 2.0):
        built = build(setup, refinement=refinement)
        state = live(built).run[0]
        first.append(shares(built, state)[0])
        body = built.joint.body_index("stud")
        response = built.joint.bodies[body]
        stress = response.stress["thread roots"].force @ built.joint.column_forces(body, state.forces)
        root.append(stress[0, 2])
    assert first[0] == approx(first[1], rel=0.01)
    assert root[0] == approx(root[1], rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("friction", [0.0, 0.15])
def test_teeth_agree_with_the_whole_system(make_setup, build, live, friction):
    setup = with_friction(make_setup(TOOTHED + BACKED_OFF), friction)
    setup = replace(setup, stud=replace(setup.stud, engaged_length=3.0))
    built = build(setup)
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    ours = live(built, yield_strength=1e6, constant_modulus=True)
    theirs = live(built, yield_strength=1e6, constant_modulus=True, solver=full.solver)
    scale = max(np.abs(state.forces).max() for state in ours.run)
    # rows of 0.08 mm in columns of 3 mm: rounding leaves the whole system 2e-8 of the largest force
    share = 5e-8 if friction == 0.0 else 1e-6
    for a, b in zip(ours.run, theirs.run, strict=True):
        assert np.abs(a.forces - b.forces).max() < share * scale
        assert forces_of(built.joint, [a]).tension[0] == approx(b.tension, abs=share * scale)


def test_a_turning_thread_slides_across_the_section():
    built, history = grooved()
    index = next(i for i, face in enumerate(built.joint.interfaces) if face.name == "nut thread")
    law = built.joint.interfaces[index].law
    assert isinstance(law, ThreadFlanks)
    state = history.run[0]
    assert state.law_states[index][1].any()
    turning = turned(built.joint, state, "nut thread")
    assert not turning.law_states[index][1].any()
    assert np.array_equal(turning.law_states[index][0], state.law_states[index][0])


def test_tightening_leaves_no_friction_across_the_flanks_of_the_nut():
    built, history = grooved()
    part = built.joint.slices["nut thread"]
    carrying = built.joint.interface("nut thread").law.carrying
    shear = history.tightening[-1].forces[part][carrying : 2 * carrying]
    assert np.abs(shear).max() < 1e-6 * history.tightening_forces.tension[-1]

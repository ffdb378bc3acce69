"""The insert between stud and boss: its balance, its stiffness by hand, the whole system beside it."""

from dataclasses import replace

import numpy as np
import pytest
from pytest import approx

from studwell.data import assumption
from studwell.fem.elasticity import elastic_matrix
from studwell.joint.condense import BodySpec, FaceColumns, condense, loose_axially
from studwell.joint.forces import forces_of
from studwell.joint.full import FullJoint
from studwell.parts.insert import coil_stiffness, insert_hole, wire_share
from studwell.parts.layer import EXTERNAL_DEPTH, INTERNAL_DEPTH, one_side_stiffness
from studwell.parts.thread import FLANK_ANGLE
from studwell.section.insert import insert_mesh

HOLE = 'boss = { hole_depth = "17 mm", thread_depth = "14.5 mm", insert = { length = "1.5 d", set_down = "1 mm" } }\n'
DRIVEN = HOLE + 'stud = { engaged_length = "13 mm" }\nseating = { torque = "10 N*m" }'


@pytest.fixture(scope="module", params=["layer", "bonded"])
def solved(request, make_setup, build, live):
    setup = make_setup(DRIVEN)
    model = {"thread_model": request.param, "nut_thread_model": request.param}
    built = build(replace(setup, stud=replace(setup.stud, **model)), refinement=0.2)
    full = FullJoint(built.joint, [body.spec for body in built.bodies])
    options = {"yield_strength": 1e6, "constant_modulus": True}
    return built, live(built, **options), live(built, solver=full.solver, **options)


def states(history):
    return [history.seated, *history.tightening, *history.run]


def test_what_the_stud_pulls_on_the_insert_it_passes_to_the_boss(solved):
    built, ours, _ = solved
    forces = forces_of(built.joint, states(ours))
    assert forces.insert == approx(forces.thread, rel=1e-9) and forces.insert.max() > 1000.0
    assert forces.balance.max() < 1e-9


def test_the_condensed_joint_with_an_insert_agrees_with_the_whole_system(solved):
    built, ours, theirs = solved
    scale = max(np.abs(state.forces).max() for state in states(ours))
    for a, b in zip(states(ours), states(theirs), strict=True):
        assert np.abs(a.forces - b.forces).max() < 1e-8 * scale
        assert forces_of(built.joint, [a]).tension[0] == approx(b.tension, abs=1e-8 * scale)


def test_a_missing_reaction_of_the_insert_shows_in_the_balance(solved):
    built, ours, _ = solved
    state = ours.run[-1]
    part = built.joint.slices["insert thread"]
    cut = state.forces.copy()
    cut[part] *= 0.99
    assert forces_of(built.joint, [replace(state, forces=cut)]).balance[0] > 1e-3


def test_each_thread_gives_as_its_teeth_and_half_a_coil(make_setup, build):
    built = build(make_setup(DRIVEN))
    setup, wire = built.setup, built.setup.boss.insert.material
    coil = coil_stiffness(8.0, 1.25, wire.youngs_modulus.at(20.0), assumption("insert_coil_compliance"))
    stud = one_side_stiffness(
        8.0, 1.25, EXTERNAL_DEPTH, setup.stud.material.youngs_modulus.at(20.0), setup.stud.material.poisson
    )
    hole = one_side_stiffness(
        insert_hole(8.0, 1.25).major_diameter,
        1.25, INTERNAL_DEPTH, setup.boss.material.youngs_modulus.at(20.0), setup.boss.material.poisson,
    )  # fmt: skip
    for name, teeth, lines in (
        ("boss thread", stud, built.layout.insert.engaged),
        ("insert thread", hole, built.layout.insert.lines),
    ):
        compliance = built.joint.interface(name).law.compliance
        assert compliance * np.diff(lines) == approx(1.0 / teeth + 0.5 / coil)


def test_the_ring_squeezes_as_lame_says_and_no_more(make_setup, build):
    """Pressures of equal resultant inside and outside: u(a) - u(b) = 2 q (b - a) / [E (a + b)], q = p a = p b."""
    shape = build(make_setup(DRIVEN), refinement=0.5).layout.insert
    a, b, modulus, share = shape.inner_radius, shape.outer_radius, 200_000.0, 0.9
    faces = {"in": FaceColumns("bore", "r", 1.0), "out": FaceColumns("outside thread", "r", 1.0)}
    body = condense(BodySpec("ring", insert_mesh(shape), share * modulus, 0.3, faces, (), "top", axial_share=1e-3))
    length = np.diff(shape.lines)
    load = np.concatenate([length, -length])  # N, one to a mm of length
    u = body.compliance @ load
    squeezed = u[: len(length)] - u[len(length) :]
    q = 1.0 / (2.0 * np.pi)
    assert squeezed == approx(2.0 * q * (b - a) / (share * modulus * (a + b)), rel=2e-3)


def test_a_coils_give_is_that_of_the_layers_and_of_the_ring_together():
    d, pitch, modulus, compliance = 8.0, 1.25, 195_000.0, 1.96
    inner, outer = 3.594, 4.406
    coil = coil_stiffness(d, pitch, modulus, compliance)
    ring = np.tan(FLANK_ANGLE) ** 2 / np.pi * (outer - inner) / (outer + inner) / (modulus * wire_share())
    assert 1.0 / coil + ring == approx(compliance * pitch / (np.pi * d * modulus), rel=1e-4)


def test_a_body_loose_along_the_axis_is_in_plane_stress_across_it():
    loose, solid = loose_axially(200_000.0, 0.3, 1e-3), elastic_matrix(200_000.0, 0.3)
    strain = np.linalg.solve(loose, [100.0, 40.0, 0.0, 0.0])
    assert strain[:2] == approx(np.linalg.solve(solid, [100.0, 40.0, 0.0, 0.0])[:2])
    assert loose[2, 2] == approx(200.0) and loose[3, 3] == approx(solid[3, 3])


def test_threads_below_the_insert_carry_nothing_and_the_mouths_end_carries_most(solved):
    built, ours, _ = solved
    face = built.joint.interface("insert thread")
    part = built.joint.slices["insert thread"]
    load = (ours.run[-1].forces[part] * face.axial)[face.axial > 0.0]
    assert len(load) == len(built.layout.insert.lines) - 1
    # the stud stands in the insert up to the top but for 0.8 mm: the pitches near it carry more than those in the middle
    assert load[-3:].max() > 1.2 * load[len(load) // 2]

"""Flowing bodies behind the reduced joint: reciprocity, the self-influence, and the whole against one large system."""

import pickle
from dataclasses import replace

import numpy as np
import pytest
import scipy.sparse as sp
from scipy.sparse.linalg import spsolve

from studwell.errors import NotConverged
from studwell.fem import Backstress, Inelastic, NortonCreep, Plasticity
from studwell.fem.elasticity import initial_strain_load, strain_at_quadrature, stress_at_quadrature, stress_load
from studwell.fem.factor import factorise
from studwell.fem.plastic_laws import advance, tangent, virgin
from studwell.joint.condense import BodySpec, FaceColumns, StrainMode, body_system, condense
from studwell.joint.inelastic import advance_joint, start_zones
from studwell.joint.laws import UnilateralContact
from studwell.joint.reduced import Interface, assemble
from studwell.joint.solve import solve_state
from studwell.joint.state import Heat, start_state
from studwell.joint.zone import inelastic_zone, zone_near
from studwell.mesh.reference import ring

ROOM = 20.0
MIXED = Plasticity(150.0, 300.0, 30.0, 40.0, (Backstress(15_000.0, 200.0), Backstress(2_000.0)))
BLOCK = Inelastic(70_000.0, 0.33, plasticity=MIXED, creep=NortonCreep(5.0, 1e-19, (0.0, 200.0)))
PIN = Inelastic(210_000.0, 0.3, plasticity=Plasticity(900.0))


def body(name, material, radius, contact, top):
    """A disc held at one end: the block below, the pin above; contact on the inner part of the other end."""
    mesh = ring(0.0, radius, 4.0, (round(2 * radius), 4)).with_boundary(
        "face", lambda r, z: (np.abs(z - (0.0 if top else 4.0)) < 1e-9) & (r < contact)
    )
    return BodySpec(
        name=name,
        mesh=mesh,
        youngs_modulus=material.youngs_modulus,
        poisson=material.poisson,
        columns={"face": FaceColumns("face", "z", 1.0 if top else -1.0)},
        modes=(StrainMode("heat 0", (0.0,), 0, (1.0, 1.0, 1.0, 0.0)),),
        grip="top" if top else "bottom",
        floating=False,
    )


SPECS = (body("block", BLOCK, 5.0, 2.0, False), body("pin", PIN, 2.0, 3.0, True))
MATERIALS = {"block": BLOCK, "pin": PIN}


@pytest.fixture(scope="module")
def joint():
    responses = [condense(spec) for spec in SPECS]
    n = responses[0].n_columns
    face = Interface("face", UnilateralContact(), {"block": np.eye(n), "pin": np.eye(n)}, np.zeros(n), np.ones(n))
    return assemble(responses, [face])


@pytest.fixture(scope="module")
def zones(joint):
    return {spec.name: inelastic_zone(spec, response=joint.bodies[i]) for i, spec in enumerate(SPECS)}


def heated(block, pin, ratios=(1.0, 1.0)):
    return Heat((np.array([block]), np.array([pin])), np.array(ratios), 1e5)


def large_system(before, heat, duration, u):
    """Port forces and states from displacements and forces of all bodies at once, by Newton's method.

    Nothing of the reduced joint is used but the choice of faces; every pair is taken as closed. u is moved along.
    """
    systems = [body_system(spec) for spec in SPECS]
    materials = list(MATERIALS.values())
    n = systems[0].columns.shape[1]
    f = np.zeros(n)
    for _ in range(30):
        blocks, wrong, states = [], [], []
        for i, (system, material) in enumerate(zip(systems, materials, strict=True)):
            space, ratio = system.space, float(heat.modulus_ratio[i])
            strain = strain_at_quadrature(space, u[i]) - system.mode_strains @ heat.amplitudes[i]
            state = advance(material, before[i], strain, ROOM, duration, ratio)
            matrix = tangent(material, before[i], strain, ROOM, duration, ratio)
            rows = space.strain_matrix
            m, q = rows.shape[:2]
            weighted = (matrix @ rows) * space.weights[:, :, None, None]
            elements = rows.reshape(m, 4 * q, 18).swapaxes(1, 2) @ weighted.reshape(m, 4 * q, 18)
            grip = sp.csc_matrix(system.grip[None, :])
            ground = ratio * system.ground_stiffness * (grip.T @ grip)
            blocks.append((space.pattern.vector(elements) + ground)[system.kept][:, system.kept])
            wrong.append((stress_load(space, state.stress) + ground @ u[i] - system.columns @ f)[system.kept])
            states.append(state)
        opening = sum(system.columns.T @ one for system, one in zip(systems, u, strict=True))
        columns = [system.columns[system.kept] for system in systems]
        whole = sp.bmat(
            [
                [blocks[0], None, -columns[0]],
                [None, blocks[1], -columns[1]],
                [-columns[0].T, -columns[1].T, None],
            ],
            format="csc",
        )
        step = spsolve(whole, np.concatenate([-wrong[0], -wrong[1], opening]))
        first = len(systems[0].kept)
        u[0][systems[0].kept] += step[:first]
        u[1][systems[1].kept] += step[first : first + len(systems[1].kept)]
        f = f + step[-n:]
        if np.abs(step).max() < 1e-9 * np.abs(f).max():
            return f, states
    raise AssertionError("the reference did not converge")


def test_forces_and_states_equal_those_of_one_large_system(joint, zones):
    state, points = start_state(joint, heated(0.0, 0.0)), start_zones(zones, MATERIALS)
    reference = [virgin(m, body_system(s).space.weights.shape) for m, s in zip(MATERIALS.values(), SPECS, strict=True)]
    stages = [((3e-3, 1e-3), 0.0), ((8e-3, 3e-3), 0.0), ((8e-3, 3e-3), 4e4), ((5e-3, 2.4e-3), 0.0)]
    forces, moved = [], [np.zeros(body_system(s).space.n_unknowns) for s in SPECS]
    for amplitudes, duration in stages:
        heat = heated(*amplitudes, ratios=(0.95, 1.0))
        step = advance_joint(
            joint, state, heat, zones, MATERIALS, points, dict.fromkeys(zones, ROOM), duration=duration
        )
        exact, reference = large_system(reference, heat, duration, moved)
        assert (exact > 0).all()  # all pairs closed, as the reference takes them
        assert step.state.forces == pytest.approx(exact, rel=1e-6, abs=1e-6 * exact.max())
        for name, whole in zip(zones, reference, strict=True):
            found = step.zones[name]
            assert found.stress == pytest.approx(whole.stress.reshape(-1, 4), abs=2e-4)
            assert found.plastic_strain == pytest.approx(whole.plastic_strain.ravel(), abs=1e-8)
        assert step.record.iterations <= 60 and step.state_solves == step.record.iterations
        state, points = step.state, step.zones
        forces.append(state.forces.sum())
    elastic = solve_state(joint, start_state(joint, heated(0.0, 0.0)), heated(8e-3, 3e-3, (0.95, 1.0)))
    assert forces[1] < 0.9 * elastic.forces.sum()  # flow matters here
    assert forces[2] < 0.995 * forces[1]  # and so does creep


def test_openings_of_an_inelastic_strain_are_those_of_a_back_solve(joint):
    system = body_system(SPECS[0])
    elements = zone_near(SPECS[0].mesh, (2.0, 4.0), 1.5)
    zone = inelastic_zone(SPECS[0], elements, response=joint.bodies[0], dense=False)
    strain = np.random.default_rng(1).normal(size=(zone.n_points, 4)) * 1e-3
    whole = np.zeros((*system.space.weights.shape, 4))
    whole[elements] = strain.reshape(len(elements), -1, 4)
    load = initial_strain_load(system.space, system.elastic, whole)
    grip = sp.csc_matrix(system.grip[None, :])
    held = sp.csc_matrix(system.stiffness + system.ground_stiffness * grip.T @ grip)[system.kept][:, system.kept]
    u = np.zeros(len(load))
    u[system.kept] = factorise(held).solve(load[system.kept])
    openings = zone.openings(strain)
    assert openings == pytest.approx(system.columns.T @ u, rel=1e-9, abs=1e-9 * np.abs(openings).max())
    assert zone.displacement(strain) == pytest.approx(u, abs=1e-12)
    left = stress_at_quadrature(system.space, system.elastic, u, whole)[elements].reshape(-1, 4)
    assert zone.self_stress(strain) == pytest.approx(left, abs=1e-8)


@pytest.mark.parametrize("elements", [None, "near"])
def test_matrix_and_back_solves_leave_the_same_self_stress(joint, elements):
    chosen = None if elements is None else zone_near(SPECS[0].mesh, (2.0, 4.0), 1.5)
    made = [inelastic_zone(SPECS[0], chosen, response=joint.bodies[0], dense=dense) for dense in (True, False)]
    strain = np.random.default_rng(2).normal(size=(made[0].n_points, 4)) * 1e-3
    assert made[0].self_stress(strain) == pytest.approx(made[1].self_stress(strain), abs=1e-8)
    assert made[0].factor is None and made[1].influence is None
    again = pickle.loads(pickle.dumps(made[0]))
    assert again.self_stress(strain) == pytest.approx(made[0].self_stress(strain))
    with pytest.raises(ValueError, match="keep_factor"):
        made[0].displacement(strain)


def test_a_free_growth_of_the_whole_body_leaves_no_stress_in_it(joint, zones):
    zone = zones["block"]
    growth = np.tile([1e-3, 1e-3, 1e-3, 0.0], (zone.n_points, 1))
    assert np.abs(zone.self_stress(growth)).max() < 1e-7
    # it is the heat mode of the body, and so are its openings
    assert zone.openings(growth) == pytest.approx(1e-3 * joint.bodies[0].strain_response[:, 0], rel=1e-9)


def test_unit_fields_solved_anew_equal_those_of_the_condensed_body(joint):
    elements = zone_near(SPECS[1].mesh, (1.0, 0.0), 1.2)
    old = inelastic_zone(SPECS[1], elements, response=joint.bodies[1])
    new = inelastic_zone(SPECS[1], elements)
    assert new.force_stress == pytest.approx(old.force_stress, abs=1e-9)
    assert new.mode_stress == pytest.approx(old.mode_stress, abs=1e-6)


def test_a_joint_that_stays_elastic_is_left_as_it_is(joint, zones):
    heat = heated(2e-4, 1e-4)
    before = start_state(joint, heated(0.0, 0.0))
    step = advance_joint(
        joint, before, heat, zones, MATERIALS, start_zones(zones, MATERIALS), dict.fromkeys(zones, ROOM)
    )
    assert step.state.forces == pytest.approx(solve_state(joint, before, heat).forces, abs=1e-9)
    assert step.record.iterations == 1 and not step.zones["block"].plastic_strain.any() and step.warnings == ()


def test_temperatures_beyond_the_creep_data_are_told_with_the_body(joint, zones):
    step = advance_joint(
        joint, start_state(joint, heated(0.0, 0.0)), heated(2e-4, 1e-4), zones, MATERIALS,
        start_zones(zones, MATERIALS), {"block": 250.0, "pin": ROOM},
    )  # fmt: skip
    assert len(step.warnings) == 1 and step.warnings[0].startswith("block: creep data hold from 0 to 200")


def test_yielding_at_the_edge_of_a_zone_is_told_and_a_larger_zone_is_not(joint, zones):
    def told(zone, duration=0.0):
        chosen = {"block": zone}
        step = advance_joint(
            joint, start_state(joint, heated(0.0, 0.0)), heated(8e-3, 3e-3), chosen, MATERIALS,
            start_zones(chosen, MATERIALS), {"block": ROOM}, duration=duration,
        )  # fmt: skip
        assert step.zones["block"].plastic_strain.any()
        return " ".join(step.warnings)

    small = inelastic_zone(SPECS[0], zone_near(SPECS[0].mesh, (2.0, 4.0), 0.8))
    assert "yielding reaches the edge" in told(small) and "creep" not in told(small)
    assert "creep at the zone's edge" in told(small, 1e4)
    assert told(zones["block"]) == "" and not zones["block"].rim.any()


def test_disagreement_within_the_iterations_allowed_is_an_error(joint, zones):
    with pytest.raises(NotConverged, match="3 iterations"):
        advance_joint(
            joint, start_state(joint, heated(0.0, 0.0)), heated(8e-3, 3e-3), zones, MATERIALS,
            start_zones(zones, MATERIALS), dict.fromkeys(zones, ROOM), most_iterations=3,
        )  # fmt: skip


def test_a_material_of_another_modulus_and_a_response_of_another_body_are_refused(joint, zones):
    wrong = MATERIALS | {"pin": replace(PIN, youngs_modulus=200_000.0)}
    with pytest.raises(ValueError, match="allowed: those of the condensed body, 210000"):
        advance_joint(
            joint, start_state(joint, heated(0.0, 0.0)), heated(0.0, 0.0), zones, wrong,
            start_zones(zones, MATERIALS), dict.fromkeys(zones, ROOM),
        )  # fmt: skip
    with pytest.raises(ValueError, match="is not that of the body"):
        inelastic_zone(SPECS[0], response=joint.bodies[1])
    with pytest.raises(ValueError, match="no element"):
        zone_near(SPECS[0].mesh, (40.0, 0.0), 1.0)

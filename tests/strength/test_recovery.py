"""Recovered whole fields agree with what the condensed joint says of them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from studwell.joint.state import shank_tension
from studwell.strength.recovery import quadrature_stress, recover
from studwell.strength.timeline import stresses


@pytest.fixture(scope="module", params=["bottomed, plain", "backed off, three conical springs"])
def result(request, comparison):
    return comparison[request.param]


@pytest.fixture(scope="module")
def states(result):
    return list(range(0, len(result.timeline.states), 3))


@pytest.fixture(scope="module")
def bodies(result, states):
    return {b.name: b for b in recover(result.built, result.timeline, result.history.temperatures, states)}


def test_the_field_averaged_over_the_fillets_bands_is_the_stress_map_to_roundoff(result, states):
    number = result.built.joint.body_index("boss")
    mesh = result.built.bodies[number].spec.mesh
    space, _, stress = quadrature_stress(result.built, number, [result.timeline.states[i] for i in states])
    mapped = stresses(result.built.joint, result.timeline, "boss", "floor corner")[states]
    for place, region in enumerate(("fillet floor side", "fillet wall side")):
        elements = mesh.elements_of(region)
        weights = space.weights[elements]
        averaged = np.einsum("mq,mqcs->sc", weights, stress[elements]) / weights.sum()
        assert np.abs(averaged - mapped[:, place]).max() < 1e-11 * np.abs(mapped).max()


def test_axial_stress_over_the_studs_own_slice_is_its_tension(result, states):
    number = result.built.joint.body_index("stud")
    mesh = result.built.bodies[number].spec.mesh
    chosen = [result.timeline.states[i] for i in states]
    space, _, stress = quadrature_stress(result.built, number, chosen)
    slice_ = mesh.elements_of("tension")
    height = np.ptp(mesh.nodes[mesh.elements[slice_]][..., 1])
    summed = np.einsum("mq,mqs->s", space.weights[slice_], stress[slice_, :, 2]) / height
    expected = np.array([shank_tension(result.built.joint, state) for state in chosen])
    assert np.abs(summed - expected).max() < 1e-9 * np.abs(expected).max()


def test_touching_bodies_keep_touching_and_open_gaps_are_the_ports_own(result, states, bodies):
    """Edge averages of the recovered displacement across the tip are the port's opening."""
    joint = result.built.joint
    boss, stud = (result.built.bodies[joint.body_index(name)].spec for name in ("boss", "stud"))
    count = int(np.count_nonzero(joint.interface("tip").axial > 0.0))
    rises = []
    for spec, face in ((boss, "seat"), (stud, "tip")):
        nodes = spec.mesh.facet_nodes[spec.mesh.facets_of(face)]
        u = bodies[spec.name].displacement[:, nodes, 1]
        r = spec.mesh.nodes[nodes, 0]
        # area average over a flat ring edge, u quadratic in r: weights r times the Lagrange parabola, by Gauss
        points, weights = np.polynomial.legendre.leggauss(4)
        t = 0.5 * (points + 1.0)
        shapes = np.stack([(1 - t) * (1 - 2 * t), t * (2 * t - 1), 4 * t * (1 - t)])
        radius = r @ shapes
        value = np.einsum("sen,nq->seq", u, shapes)
        rises.append((value * radius * weights).sum(-1) / (radius * weights).sum(-1))
    openings = np.stack([result.timeline.states[i].openings[joint.slices["tip"]][:count] for i in states])
    assert np.abs(rises[1] - rises[0] - openings).max() < 1e-9


def test_temperature_is_that_of_the_nodes_at_the_bodies_ends(result, states, bodies):
    nodes = list(result.setup.history.node_names)
    first = int(result.timeline.run[0])
    stud = bodies["stud"]
    height = stud.mesh.nodes[:, 1]
    for place, index in enumerate(states):
        if index < first:
            assert np.allclose(stud.temperature[place], result.setup.history.assembly_temperature)
            continue
        row = result.history.temperatures[index - first]
        assert stud.temperature[place][np.argmin(height)] == pytest.approx(row[nodes.index("stud_tip")])
        assert stud.temperature[place][np.argmax(height)] == pytest.approx(row[nodes.index("stud_top")])
        assert np.allclose(bodies["boss"].temperature[place], row[nodes.index("boss")])


def test_states_recovered_together_and_alone_agree(result, states, bodies):
    alone = recover(result.built, result.timeline, result.history.temperatures, [states[2]])
    for body in alone:
        assert np.allclose(body.stress[0], bodies[body.name].stress[2], atol=1e-9)


def test_a_joint_built_without_fields_is_refused(result):
    bare = replace(
        result.built,
        joint=replace(
            result.built.joint, bodies=tuple(replace(b, displacement=None) for b in result.built.joint.bodies)
        ),
    )
    with pytest.raises(ValueError, match="without whole fields"):
        recover(bare, result.timeline, result.history.temperatures, [0])

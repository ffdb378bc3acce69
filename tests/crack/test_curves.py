"""K curves of the demo's bottomed setup on a coarse mesh."""

from dataclasses import replace

import numpy as np
import pytest

from studwell.crack.curves import crack_curve, crack_curves
from studwell.crack.lines import crack_lines, default_sizes
from studwell.crack.stress import across, line_stress
from studwell.crack.submodel import crack_weights, on_faces
from studwell.errors import Unknown
from studwell.fem.cracked_body import CrackedBody
from studwell.fem.space import Space
from studwell.mesh.outline import outline_of
from studwell.mesh.ring_crack import cracked_mesh
from studwell.parts.crack import edge_crack_intensity


@pytest.fixture(scope="module")
def result(comparison):
    return comparison["bottomed, plain"]


@pytest.fixture(scope="module")
def line(result):
    return next(line for line in crack_lines(result.built) if line.path == "floor path 60")


@pytest.fixture(scope="module")
def cache():
    return {}


@pytest.fixture(scope="module")
def curve(result, line, cache):
    return crack_curve(result.built, result.timeline.states, line, sizes=[0.05, 0.2, 0.6, 1.5], cache=cache)


def test_a_crack_line_leaves_the_fillet_at_right_angles_and_knows_its_wall(result, line):
    shape = result.built.layout.boss
    from_centre = line.mouth - np.array(shape.fillet_centre)
    assert np.linalg.norm(from_centre) == pytest.approx(shape.corner_radius, rel=1e-3)
    assert from_centre / np.linalg.norm(from_centre) == pytest.approx(line.direction, abs=1e-3)
    assert line.wall == pytest.approx(6.3 / np.cos(np.radians(60.0)), rel=0.05)


def test_a_shallow_crack_at_the_fillet_is_an_edge_crack_under_the_stress_at_the_surface(result, line, cache):
    tiny = crack_curve(result.built, result.timeline.states, line, sizes=[0.004], cache=cache)
    at = result.timeline.assembled
    surface = float(np.interp(0.002, tiny.distance, tiny.stress[at]))
    assert tiny.opening[at, 0] == pytest.approx(float(edge_crack_intensity(surface, 0.004)), rel=0.03)


def test_the_seated_stud_pulls_the_fillet_open_and_never_below_zero(result, curve):
    assert (curve.opening >= 0.0).all()
    assert (curve.opening[result.timeline.assembled] > 1.0).all()
    assert curve.effective.shape == (len(result.timeline.states), 4)
    assert curve.errors.contours < 0.005 and curve.errors.displacement < 0.03


def test_every_solved_crack_is_kept_and_serves_again(result, line, cache, curve):
    before = len(cache)
    again = crack_curve(result.built, result.timeline.states, line, sizes=curve.sizes, cache=cache)
    assert len(cache) == before and np.array_equal(again.opening, curve.opening)


def test_straightening_the_outline_far_away_and_finer_elements_change_nothing(result, line):
    built = result.built
    spec = built.bodies[built.joint.body_index("boss")].spec
    outline = outline_of(spec.mesh)
    state = [result.timeline.states[result.timeline.assembled]]
    distance, stress = line_stress(built, state, line, 0.6)
    normal, shear = across(stress, line)

    def effective(**options):
        weights = crack_weights(spec, outline, line, 0.6, **options)
        found, _ = weights.of(on_faces(weights, distance, normal), on_faces(weights, distance, shear))
        return float(np.hypot(*found[0]))

    usual = effective()
    assert effective(far_share=0.0) == pytest.approx(usual, rel=0.01)
    assert effective(far_share=0.14) == pytest.approx(usual, rel=0.01)
    assert effective(fineness=0.6) == pytest.approx(usual, rel=0.01)


def test_superposition_agrees_with_the_cracked_boss_under_all_its_own_loads(result, line, curve):
    """The boss with its crack, pressed and pulled on seat, thread and mouth as the joint presses and pulls it."""
    built, size = result.built, 0.6
    number = built.joint.body_index("boss")
    spec, response = built.bodies[number].spec, built.joint.bodies[number]
    state = result.timeline.states[result.timeline.assembled]
    forces = built.joint.column_forces(number, state.forces[None], np.array([state.outside_load]))[0]
    crack = cracked_mesh(spec.mesh, line.mouth, line.direction, size, fineness=0.5)
    body = CrackedBody(crack, 1000.0, spec.poisson)
    sound = Space(spec.mesh)
    load = np.zeros(body.space.n_unknowns)
    for name, face in spec.columns.items():
        pressures = face.sign * forces[response.columns[name]] / response.areas[name]
        start, _, end = np.moveaxis(sound.nodes[sound.edges(face.boundary).nodes], 1, 0)

        def amount(r, z, start=start, along=end - start, pressures=pressures):
            to = np.stack([r, z], axis=-1)[..., None, :] - start
            share = np.clip((to * along).sum(axis=-1) / (along**2).sum(axis=-1), 0.0, 1.0)
            return pressures[np.argmin(np.linalg.norm(to - share[..., None] * along, axis=-1), axis=-1)]

        load += body.space.traction_load(face.boundary, face.direction, amount)
    found = body.under(load)
    at = int(np.argmin(np.abs(curve.sizes - size)))
    assembled = result.timeline.assembled
    assert np.hypot(found.opening, found.sliding) == pytest.approx(curve.effective[assembled, at], rel=0.02)
    assert found.opening == pytest.approx(curve.opening[assembled, at], rel=0.02)


def test_a_crack_as_deep_as_the_wall_is_unknown_in_plain_words(result, line):
    with pytest.raises(
        Unknown, match=r"a crack 20 mm deep at the boss fillet has gone through: the wall is 12\.\d mm thick"
    ):
        crack_curve(result.built, result.timeline.states, line, sizes=[1.0, 20.0])


def test_default_sizes_rise_and_stay_within_the_wall(line):
    for wall in (0.5, 6.0, 12.0):
        sizes = default_sizes(replace(line, wall=wall))
        assert len(sizes) == 20 and (np.diff(sizes) > 0.0).all() and sizes[-1] < wall


def test_without_fields_the_stress_comes_from_the_path_and_says_so_where_that_is_too_short(result, line):
    number = result.built.joint.body_index("boss")
    bodies = list(result.built.joint.bodies)
    bodies[number] = replace(bodies[number], displacement=None)
    bare = replace(result.built, joint=replace(result.built.joint, bodies=tuple(bodies)))
    states = result.timeline.states[-1:]
    distance, stress = line_stress(bare, states, line, 1.0)
    full = line_stress(result.built, states, line, 1.0)
    assert np.interp(0.5, distance, stress[0, :, 2]) == pytest.approx(
        np.interp(0.5, full[0], full[1][0, :, 2]), rel=0.05
    )
    with pytest.raises(Unknown, match="fields are not kept"):
        line_stress(bare, states, line, 9.0)


def test_progress_is_told_line_by_line(result, line, cache):
    heard = []
    crack_curves(
        result.built,
        result.timeline.states[-1:],
        lines=[line],
        sizes=[0.2],
        cache=cache,
        progress=lambda done, count: heard.append((done, count)),
    )
    assert heard == [(1, 1)]

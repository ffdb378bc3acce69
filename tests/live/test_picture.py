"""The stress picture: exact at the nodes, in its place on the section, on a scale that compares."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from studwell.fem.space import Space
from studwell.live.picture import (
    PALETTE,
    all_principal,
    colour_scale,
    drawn,
    nodal_stress,
    nodal_stress_map,
    outlines_of,
    pixel_map,
    told_of,
)
from studwell.strength.recovery import recover
from studwell.study.compare import solve_setup


@pytest.fixture(scope="module")
def solved(hut_pump):
    """Bottomed and backed off, and one under cylinder pressure whose stud yields."""
    bottomed = hut_pump.setup("bottomed, plain")
    tight = replace(bottomed, tightening=replace(bottomed.tightening, torque=22_000.0))
    cases = (bottomed, hut_pump.setup("backed off, domed nut"), tight)
    return [solve_setup(setup, refinement=0.4, band=False) for setup in cases]


@pytest.fixture(scope="module")
def maps(solved):
    return [[nodal_stress_map(b.spec, Space(b.spec.mesh)) for b in result.built.bodies] for result in solved]


@pytest.fixture(scope="module")
def pixels(solved):
    return section_pixels(solved[0].built)


def section_pixels(built, *how):
    return pixel_map(built.bodies, built.layout.boss.hole_depth, *how)


def opened(png):
    return Image.open(io.BytesIO(png))


def test_stress_at_the_nodes_is_that_of_the_written_fields(solved, maps):
    assert solved[2].value("stud_stretch_max") > 1e-3  # the third stud has yielded: its plastic stretch is in it
    for result, own in zip(solved, maps, strict=True):
        indices = [0, result.timeline.assembled, int(result.timeline.run[4]), int(result.timeline.run[-1])]
        fields = recover(result.built, result.timeline, result.history.temperatures, indices)
        for number, body in enumerate(fields):
            for place, index in enumerate(indices):
                found = nodal_stress(result.built, number, result.timeline.states[index], own[number])
                assert np.abs(found - body.stress[place]).max() < 1e-9 * max(1.0, np.abs(body.stress[place]).max())


def test_a_joint_without_whole_fields_has_no_picture(solved, maps):
    result = solved[0]
    bodies = tuple(replace(each, displacement=None) for each in result.built.joint.bodies)
    built = replace(result.built, joint=replace(result.built.joint, bodies=bodies))
    with pytest.raises(ValueError, match="whole fields"):
        nodal_stress(built, 0, result.timeline.states[0], maps[0][0])


def test_pixels_carry_a_straight_field_exactly_and_cover_the_bodies(solved, pixels):
    built = solved[0].built
    nodes = np.concatenate([body.spec.mesh.nodes for body in built.bodies])
    tall, half = pixels.inside.shape
    left, right, low, high = pixels.extent
    size = (high - low) / tall
    assert (right - left) / (2 * half) == pytest.approx(size) and left == -right
    found = pixels.weights @ (3.0 + 2.0 * nodes[:, 0] - 0.5 * nodes[:, 1])
    rows, columns = np.nonzero(pixels.inside)
    exact = 3.0 + 2.0 * (columns + 0.5) * size - 0.5 * (high - (rows + 0.5) * size)
    assert np.abs(found - exact).max() < 1e-9
    area = sum(
        Space(body.spec.mesh, axisymmetric=False).weights.sum() for body in built.bodies
    )  # mm^2 of the half section
    assert pixels.inside.sum() * size**2 == pytest.approx(area, rel=0.01)


@pytest.mark.parametrize(("view", "frame"), [("section", (300, 500)), ("hole", (500, 400)), ("section", (60, 1200))])
def test_a_picture_fills_its_frame_one_way_with_square_pixels(solved, view, frame):
    where = section_pixels(solved[0].built, view, frame)
    tall, half = where.inside.shape
    assert abs(2 * half - frame[0]) <= 1 or abs(tall - 2.5 * frame[1]) <= 1
    boss = solved[0].built.layout.boss
    _, right, low, high = where.extent
    assert right >= boss.outer_radius and low == pytest.approx(-boss.floor_thickness)
    assert (high < 20.0) is (view == "hole")
    assert opened(drawn(where, np.zeros(where.weights.shape[1]), (-1.0, 1.0))).size == (2 * half, tall)


@pytest.mark.parametrize(("view", "frame"), [("top", (300, 500)), ("hole", (4, 4)), ("hole", (300, 100_000))])
def test_a_view_or_size_that_is_not_offered_is_refused(solved, view, frame):
    with pytest.raises(ValueError, match="allowed"):
        section_pixels(solved[0].built, view, frame)


def test_colours_are_clear_outside_pale_at_zero_and_end_at_the_scale(pixels):
    count = pixels.weights.shape[1]
    for value, place in ((0.0, 127), (-80.0, 0), (-800.0, 0), (250.0, 254), (9_000.0, 254), (125.0, 190), (-40.0, 64)):
        image = opened(drawn(pixels, np.full(count, value), (-80.0, 250.0))).convert("RGBA")
        shown = np.asarray(image)
        assert np.array_equal(shown[:, ::-1], shown)  # both halves
        half = shown[:, shown.shape[1] // 2 :]
        assert (half[~pixels.inside, 3] == 0).all() and (half[pixels.inside, 3] == 255).all()
        wanted = np.rint(255 * PALETTE[1 + place])
        assert np.abs(half[pixels.inside, :3] - wanted).max() <= 3  # a step of the palette either way


def test_a_scale_has_round_ends_on_both_sides_of_zero():
    assert colour_scale(np.concatenate([np.linspace(-83.0, 412.0, 5000)])) == (-100.0, 500.0)
    assert colour_scale(np.zeros(10)) == (-1.0, 1.0)
    low, high = colour_scale(np.linspace(5.0, 1e5, 100))
    assert low < 0.0 < high == 1e5


def test_outlines_close_and_lie_on_both_sides_of_the_axis(solved):
    mesh = {body.spec.name: body.spec.mesh for body in solved[0].built.bodies}
    stud = outlines_of(mesh["stud"])
    assert len(stud) == 1 and stud[0][0] == stud[0][-1]
    points = np.array(stud[0])
    assert points[:, 0].min() == -points[:, 0].max() and len(points) < 400
    barrel = outlines_of(mesh["barrel"])
    assert len(barrel) == 2 and all(line[0] == line[-1] and len(line) == 5 for line in barrel)
    assert {np.sign(line[0][0]) for line in barrel} == {-1.0, 1.0}


def test_what_is_told_names_the_moment_the_bodies_and_the_corner(solved, maps):
    result = solved[0]
    state = result.timeline.states[result.timeline.assembled]
    stresses = {
        body.spec.name: nodal_stress(result.built, k, state, maps[0][k]) for k, body in enumerate(result.built.bodies)
    }
    principal = all_principal(result.built, stresses)
    told = told_of(result.built, principal, 123.4, "assembled", "metric")
    assert "assembled" in told and "123 MPa" in told and f"{principal['stud'].max():.0f} MPa" in told
    assert "psi" in told_of(result.built, principal, None, "assembled", "inch")

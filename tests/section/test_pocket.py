"""The pocket's volume and sealed area from the meshes, against closed forms."""

import numpy as np
import pytest
from pytest import approx

from studwell.errors import BadMesh, Unknown
from studwell.mesh.blocks import build, grid_block
from studwell.section.boss import boss_mesh
from studwell.section.layout import lay_out
from studwell.section.pocket import pocket_shape, swept_volume, wet_boss, wet_stud
from studwell.section.stud import stud_mesh

CONE = 'boss = { hole_end = "cone", cone_angle = "118 deg", thread_depth = "13.5 mm" }'


def frustum(a, b, height):
    return np.pi * height * (a * a + a * b + b * b) / 3.0


def meshes(layout):
    return wet_boss(boss_mesh(layout.boss)), wet_stud(stud_mesh(layout.stud))


def wall_volume(shape):
    """Above the flat or the drill's shoulder: drilled hole, taper of the incomplete thread, full thread."""
    low, taper = shape.engaged[0], max(shape.fillet_centre[1], shape.thread_bottom - shape.runout)
    full = max(shape.thread_bottom, taper + 1e-3)
    return (
        frustum(shape.drill_radius, shape.drill_radius, taper)
        + frustum(shape.drill_radius, shape.thread_radius, full - taper)
        + frustum(shape.thread_radius, shape.thread_radius, low - full)
    )


def test_volume_under_a_flat_end_is_hole_less_fillet_less_point(make_setup):
    layout = lay_out(make_setup('stud = { tip_length = "3.2 mm", engaged_length = "10 mm" }'), 0.3)
    shape = layout.boss
    found = pocket_shape(*meshes(layout))
    rc = shape.corner_radius
    left = rc**2 * (1.0 - np.pi / 4.0)
    away = rc * (10.0 - 3.0 * np.pi) / (12.0 - 3.0 * np.pi)
    fillet = 2.0 * np.pi * (shape.drill_radius - away) * left
    point = frustum(layout.stud.tip_lines[-1], shape.thread_radius, shape.engaged[0] - layout.tip_z)
    assert found.volume == approx(wall_volume(shape) - fillet - point, rel=2e-6)
    assert found.sealed_area == approx(np.pi * shape.thread_radius**2, rel=1e-12)


def test_a_drill_cone_adds_its_tip(make_setup):
    """A pressure of 100 MPa pushes on the pitch circle of M8 with 4058 N: pi / 4 times 7.188 mm squared."""
    layout = lay_out(make_setup(CONE), 0.3)
    found = pocket_shape(*meshes(layout))
    shape = layout.boss
    half = 0.5 * (np.pi / 2.0 + shape.cone_slope)  # of the corner's angle; the fillet fills little of it
    fillet = 2.0 * np.pi * shape.drill_radius * shape.corner_radius**2 * (1.0 / np.tan(half) - np.pi / 2.0 + half)
    cone = frustum(0.0, shape.drill_radius, shape.cone_depth)
    tip = layout.stud.tip_lines[-1]
    flat = layout.stud.tip_contact_from
    point = frustum(tip, shape.thread_radius, shape.engaged[0] - layout.tip_z)
    # the land on the cone rises from the flat tip: what lies between it and the tip's plane is no part of the point
    rise = float(layout.stud.tip_heights.max()) - layout.tip_z
    point_on_land = frustum(tip, shape.thread_radius, shape.engaged[0] - layout.tip_z - rise) + frustum(flat, tip, rise)
    assert point_on_land != approx(point, rel=1e-4)
    assert found.volume == approx(wall_volume(shape) + cone - fillet - point_on_land, rel=2e-4)
    assert 100.0 * found.sealed_area == approx(4058.0, abs=0.5)


def test_the_volume_does_not_depend_on_the_mesh(make_setup):
    setup = make_setup(CONE)
    coarse, fine = (pocket_shape(*meshes(lay_out(setup, share))) for share in (0.1, 0.6))
    assert coarse.volume == approx(fine.volume, rel=1e-4)


def test_a_ball_on_the_axis_has_its_volume():
    angles = np.linspace(-np.pi / 2, np.pi / 2, 41)
    vertices = np.stack([[s * np.cos(angles), s * np.sin(angles)] for s in (1.0, 2.0)]).transpose(0, 2, 1)
    mesh = build([grid_block(vertices, "shell", {"west": "pocket"})])
    assert swept_volume(mesh)[0] == approx(4.0 / 3.0 * np.pi, rel=4e-3)


def test_a_boundary_that_does_not_start_on_the_axis_or_is_torn_is_refused(make_setup):
    layout = lay_out(make_setup(), 0.05)
    mesh = boss_mesh(layout.boss)
    with pytest.raises(BadMesh, match="not start on the axis"):
        swept_volume(mesh, "thread")
    torn = mesh.with_boundary(
        "torn", lambda r, z: ((np.abs(z) < 1e-9) & (r < 2.0)) | (z > layout.boss.hole_depth - 1e-9)
    )
    with pytest.raises(BadMesh, match="2 pieces"):
        swept_volume(torn, "torn")


def test_a_pocket_that_is_not_named_or_not_closed_is_unknown(make_setup):
    layout = lay_out(make_setup(), 0.05)
    boss, stud = meshes(layout)
    with pytest.raises(Unknown, match='no boundary "pocket"'):
        pocket_shape(boss_mesh(layout.boss), stud)
    short = boss_mesh(layout.boss).with_boundary("pocket", lambda r, z: (r > 0) & (r < 2.0) & (np.abs(z) < 1e-9))
    with pytest.raises(Unknown, match="not closed"):
        pocket_shape(short, stud)
    with pytest.raises(Unknown, match="no pocket is left"):
        pocket_shape(stud, boss)

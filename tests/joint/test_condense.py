"""Bodies condensed to their faces, and joints assembled from them."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.errors import BadMesh
from studwell.joint.build import body_key
from studwell.joint.condense import FaceColumns, StrainMode, condense
from studwell.joint.laws import LinearCompliance
from studwell.joint.reduced import Interface, assemble

FEW = settings(derandomize=True, max_examples=15, deadline=None)


def whole(body, group):
    weights = np.zeros(body.n_columns)
    weights[body.columns[group]] = body.areas[group] / body.areas[group].sum()
    return weights


@given(st.floats(5.0, 200.0), st.floats(2.0, 40.0))
@FEW
def test_a_bar_pushed_at_both_ends_shortens_by_length_over_stiffness(bar, area, length):
    body = condense(bar(area=area, length=length))
    push = whole(body, "bottom") + whole(body, "top")
    # unit columns push the ends inwards: bottom up, top down
    assert push @ body.compliance @ push == approx(length / (210_000.0 * area), rel=1e-9)


def test_compliance_is_symmetric_and_takes_energy(bar):
    body = condense(bar(divisions=(3, 5)))
    assert np.array_equal(body.compliance, body.compliance.T)
    assert body.energy_error < 1e-10
    assert np.linalg.eigvalsh(body.compliance).min() > 0.0


@given(st.floats(10.0, 300.0))
@FEW
def test_responses_to_strain_do_not_depend_on_the_modulus(bar, modulus):
    soft, hard = condense(bar(modulus=1000.0 * modulus)), condense(bar(modulus=210_000.0))
    assert soft.strain_response == approx(hard.strain_response, rel=1e-9, abs=1e-9)
    assert soft.compliance * modulus == approx(hard.compliance * 210.0, rel=1e-9, abs=1e-9)


def test_an_even_strain_of_a_free_bar_makes_no_tension(bar):
    body = condense(bar())
    force_row, strain_row = body.tension
    assert abs(strain_row[0]) < 1e-5  # of 210 000 MPa x 50 mm^2 if the bar were held
    assert force_row @ (whole(body, "bottom") + whole(body, "top")) == approx(-1.0, rel=1e-9)


def test_growth_between_the_ends_is_strain_times_length(bar):
    body = condense(bar(length=20.0))
    growth = -(whole(body, "bottom") + whole(body, "top")) @ body.strain_response
    assert growth[0] == approx(20.0, rel=1e-9)


def test_parabolas_of_a_thermal_profile_add_up_to_one_and_keep_straight_lines():
    nodes = (0.0, 1.0, 2.0, 5.0, 8.0)
    modes = [StrainMode(f"heat {k}", nodes, k, (1.0, 1.0, 1.0, 0.0)) for k in range(5)]
    z = np.linspace(-1.0, 9.0, 41)
    values = np.array([mode.values(z) for mode in modes])
    assert values.sum(axis=0) == approx(np.ones(41))
    assert np.array(nodes) @ values == approx(np.clip(z, 0.0, 8.0))


def test_a_face_that_the_mesh_does_not_have_is_refused(bar):
    spec = replace(bar(), columns={"side": FaceColumns("no such face", "z")})
    with pytest.raises(BadMesh, match="no such face"):
        condense(spec)


def test_an_interface_with_a_body_that_is_not_there_is_refused(bar):
    body = condense(bar())
    face = Interface("loose end", LinearCompliance(np.zeros(1)), {"ghost": np.zeros((1, 1))}, np.zeros(1), np.ones(1))
    with pytest.raises(ValueError, match=r"loose end.*ghost"):
        assemble([body], [face])


def test_a_held_body_has_no_rigid_column_and_a_floating_one_moves_every_port_it_touches(bar):
    held, floating = condense(bar("held", floating=False)), condense(bar("free"))
    faces = [
        Interface(
            "between",
            LinearCompliance(np.zeros(1)),
            {"held": whole(held, "top")[:, None], "free": whole(floating, "bottom")[:, None]},
            np.zeros(1),
            np.ones(1),
        )
    ]
    joint = assemble([held, floating], faces)
    assert joint.rigid[:, 0].tolist() == [0.0]
    assert joint.rigid[0, 1] == approx(1.0)


def test_a_bodys_key_changes_with_everything_that_it_is_condensed_from(bar):
    spec = bar()
    other_mesh = bar(length=10.001)
    changed = [
        replace(spec, youngs_modulus=211_000.0),
        replace(spec, poisson=0.31),
        replace(spec, mesh=other_mesh.mesh),
        replace(spec, columns={"top": spec.columns["top"]}),
        replace(spec, modes=()),
        replace(spec, grip="top"),
        replace(spec, floating=False),
        replace(spec, tension_region=None),
        replace(spec, stress_points={"a": np.array([[0.1, 1.0]])}),
        replace(spec, stress_regions={"a": ("ring",)}),
    ]
    keys = {body_key(s, True) for s in changed} | {body_key(spec, True), body_key(spec, False)}
    assert len(keys) == len(changed) + 2
    assert body_key(spec, True) == body_key(bar(), True)


def test_a_second_build_takes_its_bodies_from_the_cache(build, make_setup):
    cache = {}
    first, second = build(make_setup(), cache=cache), build(make_setup(), cache=cache)
    assert first.condensed == len(first.bodies) and second.condensed == 0
    assert np.array_equal(first.joint.body_compliance, second.joint.body_compliance)


def test_every_interface_of_a_setup_joins_edges_at_the_same_place(build, make_setup):
    built = build(make_setup('boss = { hole_end = "cone", cone_angle = "118 deg", thread_depth = "13.5 mm" }'))
    joint = built.joint
    by_name = {body.name: body for body in joint.bodies}
    stud, boss, nut = by_name["stud"], by_name["boss"], by_name["nut"]
    assert stud.midpoints["tip"] == approx(boss.midpoints["seat"], abs=1e-6)
    assert stud.areas["tip"] == approx(boss.areas["seat"], rel=1e-6)
    assert stud.midpoints["thread axial"][:, 1] == approx(boss.midpoints["thread axial"][:, 1], abs=1e-6)
    assert stud.midpoints["nut thread axial"][:, 1] == approx(nut.midpoints["thread axial"][:, 1], abs=1e-6)
    for joining in built.layout.joinings:
        if joining.kind == "contact":
            low, high = by_name[joining.lower], by_name[joining.upper]
            assert low.midpoints["top"][:, 0] == approx(high.midpoints["bottom"][:, 0], abs=1e-6)

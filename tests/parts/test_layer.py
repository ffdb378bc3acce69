"""The thread layer."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis.strategies import floats
from pytest import approx
from scipy.integrate import quad

from studwell.parts.layer import (
    EXTERNAL_DEPTH,
    INTERNAL_DEPTH,
    layer_spread,
    one_side_stiffness,
    thread_layer_stiffness,
    tooth_compliance,
)
from studwell.parts.thread import minor_diameter, pitch_diameter, root_diameter

DEPTHS = (EXTERNAL_DEPTH, INTERNAL_DEPTH)
TAN = np.tan(np.pi / 6)


def test_depths_reach_from_the_pitch_line_to_the_roots_of_the_basic_profile():
    assert (pitch_diameter(8, 1.25) - root_diameter(8, 1.25)) / 2 == approx(EXTERNAL_DEPTH * 1.25)
    assert (8 - pitch_diameter(8, 1.25)) / 2 == approx(INTERNAL_DEPTH * 1.25)
    assert minor_diameter(8, 1.25) > root_diameter(8, 1.25)


@pytest.mark.parametrize("depth", DEPTHS)
def test_bending_and_shear_are_the_integrals_of_a_tapered_beam(depth):
    # virtual work: axial load 1, radial load tan 30 acting half the pitch-line width off the middle
    nu, plane, shear = 0.3, 1 / (1 - 0.3**2), 1 / (2 * 1.3)

    def width(y):
        return 0.5 + 2 * y * TAN

    bending = quad(lambda y: (y - 0.25 * TAN) * y * 12 / (plane * width(y) ** 3), 0, depth, epsrel=1e-12)[0]
    sliding = quad(lambda y: 1.2 / (shear * width(y)), 0, depth, epsrel=1e-12)[0]
    tooth = tooth_compliance(depth, 1.0, nu)
    assert tooth.bending == approx(bending, rel=1e-9)
    assert tooth.shear == approx(sliding, rel=1e-9)


@pytest.mark.parametrize("depth", DEPTHS)
def test_root_terms_are_those_of_a_half_plane(depth):
    nu, plane = 0.3, 1 / (1 - 0.3**2)
    a = 0.5 + 2 * depth * TAN
    tooth = tooth_compliance(depth, 1.0, nu)
    moment = depth - 0.25 * TAN

    def surface(traction, x):
        parts = [
            quad(lambda s: -2 / (np.pi * plane) * traction(s) * np.log(abs(x - s)), *ends, limit=200)[0]
            for ends in ((-a / 2, x), (x, a / 2))
            if ends[0] < ends[1]
        ]
        return sum(parts)

    tilt = surface(lambda s: 12 * moment * s / a**3, a / 2) / (a / 2)
    assert tooth.root_rotation == approx(tilt * depth, rel=1e-6)
    slide = surface(lambda s: 1 / a, 0.0)
    far = quad(lambda s: -2 / (np.pi * plane) / a * np.log(abs(1 - s)), -a / 2, a / 2)[0]
    assert tooth.root_shear == approx(slide - far, rel=1e-6)


@given(modulus=floats(1e4, 3e5), scale=floats(0.1, 10))
def test_layer_stiffness_scales_with_modulus_and_not_with_size(modulus, scale):
    ours = thread_layer_stiffness(8 * scale, 1.25 * scale, modulus, 0.3, modulus, 0.3)
    assert ours == approx(modulus * thread_layer_stiffness(8, 1.25, 1.0, 0.3, 1.0, 0.3), rel=1e-9)


def test_layer_is_the_two_teeth_in_series_along_the_helix():
    stud = tooth_compliance(EXTERNAL_DEPTH, 205e3, 0.3).total
    boss = tooth_compliance(INTERNAL_DEPTH, 72.4e3, 0.33).total
    helix = np.pi * pitch_diameter(8, 1.25) / 1.25
    assert thread_layer_stiffness(8, 1.25, 205e3, 0.3, 72.4e3, 0.33) == approx(helix / (stud + boss), rel=1e-12)


def test_a_layer_with_one_rigid_side_and_the_other_alone_are_in_series_the_whole_layer():
    stud = one_side_stiffness(8, 1.25, EXTERNAL_DEPTH, 205e3, 0.3)
    boss = one_side_stiffness(8, 1.25, INTERNAL_DEPTH, 72.4e3, 0.33)
    whole = thread_layer_stiffness(8, 1.25, 205e3, 0.3, 72.4e3, 0.33)
    assert 1.0 / whole == approx(1.0 / stud + 1.0 / boss, rel=1e-12)


def test_aluminium_layer_is_softer_than_a_steel_one():
    soft = thread_layer_stiffness(8, 1.25, 205e3, 0.3, 72.4e3, 0.33)
    hard = thread_layer_stiffness(8, 1.25, 205e3, 0.3, 205e3, 0.3)
    assert 0.4 < soft / hard < 0.6


def test_a_steel_nut_of_usual_height_loads_its_thread_about_as_the_quoted_list_does():
    core, wall = np.pi / 4 * root_diameter(8, 1.25) ** 2, np.pi / 4 * (13**2 - 8**2)
    stiffness = thread_layer_stiffness(8, 1.25, 205e3, 0.3, 205e3, 0.3)
    assert 2.0 < layer_spread(6.8, stiffness, 205e3 * core, 205e3 * wall) < 3.0


def test_spread_is_the_length_times_the_root_of_stiffness_over_bars():
    assert layer_spread(2.0, 9.0, 4.0, 12.0) == approx(2 * np.sqrt(9 / 3))


@pytest.mark.parametrize("depth", [0.0, -0.1, 2.0])
def test_impossible_teeth_are_refused(depth):
    with pytest.raises(ValueError):
        tooth_compliance(depth, 1.0, 0.3)

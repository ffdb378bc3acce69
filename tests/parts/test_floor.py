"""Closed forms of a floor: what they say where two of them meet, and how they scale."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.floor import (
    disc_centre_tension,
    disc_edge_tension,
    disc_ring_tension,
    half_space_axis_stress,
    punch_shear,
    thickness_of_change,
)

FEW = settings(derandomize=True, max_examples=15, deadline=None)


def test_a_disc_pressed_all_over_bends_as_the_handbook_says():
    # Timoshenko & Woinowsky-Krieger: M = q a^2 (1 + nu)/16 in the middle, q a^2/8 at the clamped edge
    pressure, radius, thickness = 2.0, 10.0, 0.5
    load = pressure * np.pi * radius**2
    middle = 6.0 * pressure * radius**2 * 1.3 / 16.0 / thickness**2
    assert disc_centre_tension(load, thickness, radius, radius, 0.3) == approx(middle)
    assert disc_edge_tension(load, thickness, radius, radius) == approx(6.0 * pressure * radius**2 / 8.0 / thickness**2)


@given(st.floats(0.05, 1.0), st.floats(0.0, 0.45))
@FEW
def test_a_patch_is_the_sum_of_its_rings(share, poisson):
    nodes, weights = np.polynomial.legendre.leggauss(60)
    radius, patch = 10.0, 10.0 * share
    rings, part = 0.5 * patch * (1.0 + nodes), 0.5 * patch * weights
    load = 100.0 * 2.0 * rings * part / patch**2
    assert load.sum() == approx(100.0)
    summed = disc_ring_tension(load, 1.0, radius, rings, poisson).sum()
    assert disc_centre_tension(100.0, 1.0, radius, patch, poisson) == approx(summed, rel=1e-3)


@given(st.floats(0.1, 0.99))
@FEW
def test_a_ring_bends_the_middle_less_than_a_patch_of_the_same_radius(share):
    assert 0.0 <= disc_ring_tension(1.0, 1.0, 1.0, share, 0.3) < disc_centre_tension(1.0, 1.0, 1.0, share, 0.3)


def test_under_a_patch_the_surface_carries_its_pressure_and_far_below_nothing():
    radial, axial = half_space_axis_stress(10.0, 2.0, np.array([0.0, 1e4]), 0.3)
    assert axial == approx([-10.0, 0.0], abs=1e-5)
    assert radial == approx([-10.0 * (0.5 + 0.3), 0.0], abs=1e-5)


def test_the_mean_shear_is_the_load_over_the_plugs_side():
    assert punch_shear(1000.0, 5.0, 2.0) == approx(1000.0 / (np.pi * 10.0))


@given(st.floats(1.0, 10.0), st.floats(0.2, 0.95))
@FEW
def test_at_the_thickness_of_change_both_ways_are_equally_near(radius, share):
    patch = share * radius
    thickness = thickness_of_change(radius, patch, 0.33, 0.6)
    split = disc_centre_tension(500.0, thickness, radius, patch, 0.33)
    assert split == approx(float(punch_shear(500.0, 2.0 * patch, thickness)) / 0.6)
    assert (
        disc_centre_tension(500.0, 0.5 * thickness, radius, patch, 0.33)
        > punch_shear(500.0, 2.0 * patch, 0.5 * thickness) / 0.6
    )


def test_a_patch_wider_than_its_disc_is_refused():
    with pytest.raises(ValueError, match="must not exceed"):
        disc_centre_tension(1.0, 1.0, 2.0, 3.0, 0.3)

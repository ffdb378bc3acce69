"""The lever of a disc spring whose edges hang over what they stand on."""

import numpy as np
import pytest
from pytest import approx

from studwell.parts.spring import spring_force, spring_stiffness
from studwell.parts.spring_lever import lever_factors, lever_share

SIZE = (18.0, 8.4, 2.0, 0.5, 206_000.0, 0.3)


def test_both_edges_held_leave_the_whole_lever_and_wider_faces_no_more_than_that():
    assert lever_share(18.0, 8.4, 18.0, 8.4) == 1.0
    assert lever_share(18.0, 8.4, 30.0, 2.0) == 1.0


def test_a_conical_washer_of_18_mm_on_one_of_16_mm_has_lost_two_of_its_9_6_mm():
    assert lever_share(18.0, 8.4, 16.0, 8.4) == approx(1.0 - 2.0 / 9.6)
    assert lever_share(18.0, 8.4, 16.0, 9.0) == approx(1.0 - 2.6 / 9.6)


def test_faces_that_do_not_reach_each_other_leave_no_lever():
    assert lever_share(18.0, 8.4, 10.0, 12.0) == 0.0
    assert list(lever_share(18.0, 8.4, np.array([16.0, 8.0]), 8.4)) == approx([0.7917, 0.0], abs=1e-4)


@pytest.mark.parametrize("sizes", [(8.4, 18.0, 16.0, 8.4), (18.0, 0.0, 16.0, 8.4), (18.0, 8.4, float("nan"), 8.4)])
def test_impossible_diameters_are_refused(sizes):
    with pytest.raises(ValueError, match=r"inner|outer"):
        lever_share(*sizes)


@pytest.mark.parametrize("share", [0.5, 0.79, 1.0])
def test_a_shorter_lever_keeps_the_work_of_every_travel_and_the_slope_of_its_own_curve(share):
    factors = lever_factors(share)
    travel = np.linspace(0.0, 0.5, 201)
    force = spring_force(travel, *SIZE)
    work = np.trapezoid(force, travel)
    assert np.trapezoid(force * factors.force, travel * factors.travel) == approx(work, rel=1e-12)
    steep = np.gradient(force * factors.force, travel * factors.travel)[100]
    assert steep == approx(factors.stiffness * float(spring_stiffness(travel[100], *SIZE)), rel=1e-4)


def test_without_a_lever_there_are_no_factors():
    with pytest.raises(ValueError, match="share"):
        lever_factors(0.0)

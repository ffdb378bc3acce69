"""Interface laws: their slopes, what they allow, what they remember."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.joint.interfaces import gasket_law, setting_spring_law, spring_flat_load, spring_law
from studwell.joint.laws import (
    CurveLaw,
    FrictionalContact,
    HistoryCurveLaw,
    LinearCompliance,
    ShankLaw,
    UnilateralContact,
)
from studwell.parts.gasket import stock_gasket, stock_gasket_names

FEW = settings(derandomize=True, max_examples=15, deadline=None)
FORCE = st.floats(-500.0, 500.0)
OPENING = st.floats(-5e-3, 5e-3)


def pairs(n):
    return st.tuples(st.lists(FORCE, min_size=n, max_size=n), st.lists(OPENING, min_size=n, max_size=n))


def slopes_by_differences(law, force, opening, state, h_force=1e-3, h_opening=1e-8):
    def residual(f, o):
        return law.linearise(f, o, state)[0]

    n = len(force)
    d_force, d_opening = np.empty((n, n)), np.empty((n, n))
    for i in range(n):
        e = np.eye(n)[i]
        d_force[:, i] = (residual(force + h_force * e, opening) - residual(force - h_force * e, opening)) / (
            2 * h_force
        )
        d_opening[:, i] = (residual(force, opening + h_opening * e) - residual(force, opening - h_opening * e)) / (
            2 * h_opening
        )
    return d_force, d_opening


def assert_slopes_match(law, force, opening, state):
    force, opening = np.array(force), np.array(opening)
    _, d_force, d_opening = law.linearise(force, opening, state)
    by_force, by_opening = slopes_by_differences(law, force, opening, state)
    scale = max(1.0, np.abs(d_opening).max())
    assert by_force == approx(d_force, abs=1e-6)
    assert by_opening / scale == approx(d_opening / scale, abs=1e-5)


@given(pairs(3))
@FEW
def test_slopes_of_contact_are_those_of_its_residual(both):
    force, opening = both
    kink = np.abs(np.array(force) - 1e5 * np.array(opening))
    if kink.min() < 1.0:
        return
    assert_slopes_match(UnilateralContact(), force, opening, None)


@given(pairs(2))
@FEW
def test_contact_is_satisfied_exactly_where_one_of_force_and_opening_vanishes(both):
    law = UnilateralContact()
    force, opening = np.maximum(both[0], 0.0), np.maximum(both[1], 0.0)
    residual, _, _ = law.linearise(force, opening, None)
    allowed = np.minimum(force, 1e5 * opening) == 0.0
    assert np.array_equal(np.abs(residual) < 1e-12, allowed)
    assert law.violation(force, opening, None) == approx(np.max(np.minimum(force, 1e5 * opening)))


def test_contact_counts_tension_and_penetration_as_violations():
    law = UnilateralContact()
    assert law.violation(np.array([-3.0]), np.array([0.0]), None) == approx(3.0)
    assert law.violation(np.array([0.0]), np.array([-1e-3]), None) == approx(100.0)
    assert law.violation(np.array([7.0]), np.array([0.0]), None) == 0.0


@given(st.lists(FORCE, min_size=4, max_size=4), st.lists(OPENING, min_size=4, max_size=4), st.booleans())
@FEW
def test_slopes_of_friction_are_those_of_its_residual(force, opening, was_closed):
    law = FrictionalContact(0.2)
    state = (np.array([1e-4, -2e-4]), np.array([was_closed, True]))
    f, o = np.array(force), np.array(opening)
    trial = f[2:] - law.weight * (o[2:] - state[0])
    near_kink = [
        np.abs(f[:2] - law.weight * o[:2]).min() < 1.0,
        np.abs(np.abs(trial) - 0.2 * np.maximum(f[:2], 0.0)).min() < 1.0,
        np.abs(f[:2]).min() < 1.0,
        np.abs(trial).min() < 1.0,
    ]
    if any(near_kink):
        return
    assert_slopes_match(law, force, opening, state)


def test_a_pair_that_was_open_closes_without_shear():
    law = FrictionalContact(0.2)
    state = law.start(2)
    residual, _, _ = law.linearise(np.array([100.0, 5.0]), np.array([0.0, 1e-3]), state)
    assert residual == approx([0.0, 5.0])
    assert law.commit(np.array([100.0, 0.0]), np.array([0.0, 1e-3]), state)[1].tolist() == [True]


@pytest.mark.parametrize(("shear", "holds"), [(19.0, True), (21.0, False)])
def test_a_closed_pair_sticks_below_the_coulomb_limit_and_slides_beyond(shear, holds):
    law = FrictionalContact(0.2)
    state = (np.array([0.0]), np.array([True]))
    residual, _, _ = law.linearise(np.array([100.0, shear]), np.array([0.0, 0.0]), state)
    assert (abs(residual[1]) < 1e-12) == holds


def test_a_pair_that_slid_sticks_where_it_stopped():
    """Shear stays at the limit when a state repeats: no creep along the face under the same load."""
    law = FrictionalContact(0.2)
    slid = law.commit(np.array([100.0, 20.0]), np.array([0.0, 3e-3]), (np.array([0.0]), np.array([True])))
    residual, _, _ = law.linearise(np.array([100.0, 20.0]), np.array([0.0, 3e-3]), slid)
    assert residual == approx([0.0, 0.0], abs=1e-9)


def quadratic(travel):
    squeezed = np.maximum(travel, 0.0)
    return 1e6 * squeezed**2, 2e6 * squeezed


@given(st.lists(FORCE, min_size=2, max_size=2), st.lists(OPENING, min_size=2, max_size=2))
@FEW
def test_slopes_of_a_curve_are_those_of_its_residual(force, opening):
    if np.abs(opening).min() < 1e-6:  # where touching begins the slope jumps
        return
    assert_slopes_match(CurveLaw(quadratic), force, opening, CurveLaw(quadratic).start(2))


@given(st.floats(1e-4, 5e-3), st.floats(1e-4, 5e-3))
@FEW
def test_a_spring_with_friction_stays_between_its_branches(first, second):
    law = CurveLaw(quadratic, 1.05, 0.95, 1e6)
    state = law.start(1)
    for travel in (first, second):
        force, _ = law.force(np.array([travel]), state)
        base = quadratic(np.array([travel]))[0]
        assert 0.95 * base - 1e-9 <= force <= 1.05 * base + 1e-9
        state = law.commit(force, np.array([-travel]), state)


def test_a_spring_with_friction_is_harder_to_load_than_to_let_out():
    law = CurveLaw(quadratic, 1.05, 0.95, 1e6)
    loaded, _ = law.force(np.array([2e-3]), law.start(1))
    further = law.commit(law.force(np.array([4e-3]), law.start(1))[0], np.array([-4e-3]), law.start(1))
    let_out, _ = law.force(np.array([2e-3]), further)
    assert loaded == approx(1.05 * 4.0) and let_out == approx(0.95 * 4.0)


def test_slopes_of_a_spring_with_friction_are_those_of_its_residual_on_every_branch():
    law = CurveLaw(quadratic, 1.05, 0.95, 1e6)
    state = (np.array([2e-3]), np.array([4.0]))
    for travel in (1e-3, 1.99995e-3, 2.0001e-3, 3e-3):
        assert_slopes_match(law, [1.0], [-travel], state)


@pytest.mark.parametrize("name", stock_gasket_names())
def test_slopes_of_every_stocked_gasket_are_those_of_its_residual(name):
    gasket = stock_gasket(name)
    law = gasket_law(gasket, np.array([30.0, 50.0]))
    for largest in (0.0, 0.03, 0.06):
        for closure in (-0.01, 0.0123, 0.0456):
            share = closure * gasket.thickness / 0.5
            opening, state = np.full(2, -share), np.full(2, largest * gasket.thickness / 0.5)
            _, _, slope = law.linearise(np.zeros(2), opening, state)
            _, by_opening = slopes_by_differences(law, np.zeros(2), opening, state, h_opening=1e-7)
            assert by_opening == approx(slope, rel=1e-4, abs=1e-3 * max(1.0, np.abs(slope).max()))


def test_a_gasket_remembers_its_largest_closure_only():
    law = HistoryCurveLaw(lambda closure, largest: quadratic(closure))
    state = law.start(2)
    state = law.commit(np.zeros(2), np.array([-2e-3, -1e-3]), state)
    state = law.commit(np.zeros(2), np.array([-1e-3, -3e-3]), state)
    assert state == approx([2e-3, 3e-3])


@given(
    st.floats(0.0, 40_000.0), st.floats(0.0, 0.2), st.floats(0.0, 0.1), st.floats(300.0, 900.0), st.floats(0.0, 200.0)
)
@FEW
def test_slopes_of_the_shank_are_those_of_its_residual(tension, stretch, before, strength, shear):
    law = ShankLaw(36.6, 6.0, 2000.0)

    def residual(t, s):
        return law.residual(t, s, before, strength, shear)

    value, d_tension, d_stretch = residual(tension, stretch)
    around = [residual(tension + h, stretch)[0] for h in (-1e-2, 1e-2)] + [
        residual(tension, stretch + h)[0] for h in (-1e-7, 1e-7)
    ]
    by_tension, by_stretch = (around[1] - around[0]) / 2e-2, (around[3] - around[2]) / 2e-7
    kinked = abs(by_tension - d_tension) > 1e-9 and residual(tension - 1e-2, stretch)[1] != d_tension
    if not kinked:
        assert by_tension == approx(d_tension, rel=1e-4, abs=1e-12)
        assert by_stretch == approx(d_stretch, rel=1e-4, abs=1e-6)
    assert np.isfinite(value)


def test_torsion_makes_the_shank_yield_at_a_lower_tension():
    law = ShankLaw(36.6, 6.0, 2000.0)
    tension = 36.6 * 600.0

    def yields(shear):
        return law.residual(tension, 0.0, 0.0, 640.0, shear)[1] != 0.0

    # von Mises: 600^2 + 3 tau^2 = 640^2 at tau = 128.6 MPa
    assert not yields(128.0) and yields(129.5)


def test_a_layer_has_no_state_and_is_linear():
    law = LinearCompliance(np.array([1e-6]))
    assert law.linear and law.start(1) is None


@given(st.integers(1, 6), st.integers(1, 6))
@FEW
def test_more_springs_in_parallel_never_lower_the_flat_load(spring_washer, few, more):
    low, high = sorted((few, more))
    assert spring_flat_load(spring_washer(low)) <= spring_flat_load(spring_washer(high))
    assert spring_flat_load(spring_washer(high)) == approx(high * spring_flat_load(spring_washer(1)))


@given(st.integers(1, 4), st.integers(1, 4), st.floats(1e-3, 1.5))
@FEW
def test_a_group_of_springs_pushes_as_its_packets_do(spring_washer, parallel, series, travel):
    single = spring_law(spring_washer(1)).curve
    group = spring_law(spring_washer(parallel, series)).curve
    flat = spring_washer(1).cone_height
    if travel / series < flat:
        assert group(np.array([travel]))[0] == approx(parallel * single(np.array([travel / series]))[0])
    else:
        assert group(np.array([travel]))[0] >= parallel * single(np.array([flat]))[0] - 1e-9


def test_the_curve_of_a_spring_is_continuous_where_it_goes_flat(spring_washer):
    curve = spring_law(spring_washer(2, 3)).curve
    flat = 3 * spring_washer(1).cone_height
    low, high = curve(np.array([flat - 1e-9]))[0], curve(np.array([flat + 1e-9]))[0]
    assert high == approx(low, abs=0.05)


def test_a_spring_pushes_only_and_resists_from_first_touch(spring_washer):
    force, slope = spring_law(spring_washer(1)).curve(np.array([-1e-3, 0.0]))
    assert force.tolist() == [0.0, 0.0] and slope[0] == 0.0 and slope[1] > 0.0


def test_a_gasket_resists_from_first_touch():
    law = gasket_law(stock_gasket(stock_gasket_names()[0]), np.array([30.0]))
    residual, _, slope = law.linearise(np.zeros(1), np.zeros(1), law.start(1))
    assert residual == approx([0.0], abs=1e-9) and slope[0, 0] > 1.0
    assert law.linearise(np.zeros(1), np.full(1, 1e-6), law.start(1))[2][0, 0] == 0.0


@given(st.integers(1, 3), st.integers(1, 3), st.floats(0.01, 0.5), st.floats(1e-3, 0.1))
@FEW
def test_a_spring_that_set_is_flat_at_the_travel_it_was_and_flat_under_less_by_its_own_share(
    spring_washer, parallel, series, share, beyond
):
    spring = spring_washer(parallel, series)
    flat = series * spring.cone_height
    new, old = (spring_law(spring, lost).curve for lost in (0.0, share * flat))
    assert old(np.array([flat]))[0] == approx((1.0 - share) * spring_flat_load(spring), rel=1e-9)
    gains = [curve(np.array([flat + beyond]))[0] - curve(np.array([flat]))[0] for curve in (new, old)]
    assert gains[1] == approx(gains[0], rel=1e-9)
    assert old(np.array([share * flat * 0.999]))[0] == 0.0 < old(np.array([share * flat * 1.001]))[0]


@given(st.floats(0.02, 0.34), st.floats(0.0, 0.04), st.floats(-1e3, 1e3))
@FEW
def test_slopes_of_a_spring_that_set_are_those_of_its_residual(spring_washer, travel, lost, force):
    law = setting_spring_law(spring_washer(1))
    state = law.settle(law.commit(np.zeros(1), np.array([-travel]), law.start(1)), lost)
    if abs(travel - lost) > 1e-6:
        assert_slopes_match(law, [force], [-travel - 1e-4], state)


def test_a_spring_that_sets_at_a_held_travel_stays_in_its_friction_loop_and_loses_as_its_curve_does(spring_washer):
    law, travel, lost = setting_spring_law(spring_washer(1)), np.array([0.2]), 0.02
    base = [law.after(each).curve(travel)[0][0] for each in (0.0, lost)]
    for before in (1.02, 1.0, 0.98):  # as shares of the curve: loaded, between, let out
        state = law.settle((0.0, (travel, np.array([before * base[0]]))), lost)
        force = law.after(lost).force(travel, state[1])[0][0]
        assert state[0] == lost and force == approx(before * base[1], rel=1e-9)
    residual, _, _ = law.linearise(np.array([force]), -travel, state)
    assert residual == approx([0.0], abs=1e-9) and law.violation(np.array([force]), -travel, state) < 1e-9


def test_a_spring_that_may_set_and_has_not_pushes_as_any_other(spring_washer):
    law, plain = setting_spring_law(spring_washer(2, 2)), spring_law(spring_washer(2, 2))
    for travel in (-0.01, 0.1, 0.6, 0.8):
        opening, force = np.array([-travel]), np.array([500.0])
        for one, other in zip(
            law.linearise(force, opening, law.start(1)), plain.linearise(force, opening, plain.start(1)), strict=True
        ):
            assert (one == other).all()


@given(st.lists(st.floats(-0.3, 2.5), min_size=1, max_size=4), st.floats(0.0, 0.2))
@FEW
def test_a_spring_answers_one_travel_as_it_answers_many(spring_washer, travels, lost):
    curve = spring_law(spring_washer(2, 3), lost).curve
    edges = [lost, lost + 3 * spring_washer(1).cone_height, 0.0]
    many = np.array([*travels, *edges])
    force, slope = curve(many)
    one = [curve(np.array([travel])) for travel in many]
    assert np.concatenate([each[0] for each in one]) == approx(force, rel=1e-14, abs=1e-9)
    smooth = np.abs(many - edges[1]) > 1e-9  # at the stop itself either side's slope is right
    assert np.concatenate([each[1] for each in one])[smooth] == approx(slope[smooth], rel=1e-14)


@pytest.mark.parametrize("name", stock_gasket_names())
def test_laws_that_give_their_force_say_the_same_as_their_residual(spring_washer, name):
    opening = -np.linspace(-0.02, 0.1, 7)
    for law in (gasket_law(stock_gasket(name), np.full(7, 30.0)), spring_law(spring_washer(2, 2))):
        state = law.start(7)
        for _ in range(2):  # the second time from a past
            force, slope = law.explicit(opening, state)
            residual, d_force, d_opening = law.linearise(np.full(7, 50.0), opening, state)
            assert residual == approx(50.0 - force) and np.array_equal(d_force, np.eye(7))
            assert np.diag(d_opening) == approx(slope)
            state = law.commit(force, opening - 0.05, state)

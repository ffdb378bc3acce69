"""Heat in time: observed orders, error control, the ledger, histories and what is refused."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import j0, jn_zeros

from studwell.errors import NotConverged
from studwell.fem import (
    Contact,
    Film,
    Flux,
    HeatSystem,
    Held,
    PointHistory,
    ThermalBody,
    solve_steady,
    solve_transient,
    solve_transient_adaptive,
)
from studwell.mesh.reference import ring

RADIUS, HEIGHT = 10.0, 15.0
CONDUCTIVITY, CAPACITY = 150.0, 2.43


def rod(cells=(4, 4), conductivity=CONDUCTIVITY, name="rod", inner=0.0, outer=RADIUS):
    return ThermalBody(name, ring(inner, outer, HEIGHT, cells), {"ring": conductivity}, {"ring": CAPACITY})


def decaying(r, z, t):
    """20 + 50 exp(-rate t) J0(b r) cos(pi z / H): solves the heat equation of an insulated rod."""
    b, q = jn_zeros(1, 1)[0] / RADIUS, np.pi / HEIGHT
    return 20 + 50 * np.exp(-CONDUCTIVITY / CAPACITY * (b**2 + q**2) * t) * j0(b * r) * np.cos(q * z)


def decay_error(cells, steps, end, points):
    system = HeatSystem([rod((cells, cells))], [])
    initial = system.field({"rod": lambda r, z: decaying(r, z, 0.0)})
    history = solve_transient(system, initial, np.linspace(0.0, end, steps + 1), keep=[end])
    error = history.at("rod", points)[0] - decaying(points[:, 0], points[:, 1], end)
    return np.sqrt((error**2).mean())


POINTS = np.random.default_rng(1).random((1500, 2)) * [0.999 * RADIUS, 0.999 * HEIGHT]


def test_temperature_converges_with_the_square_of_the_step():
    # Exact decay of a Bessel and cosine mode. Tried: 5.1e-2, 1.2e-2, 3.0e-3, 7.4e-4 K; orders 2.1, 2.0, 2.0
    errors = [decay_error(16, steps, 0.3, POINTS) for steps in (8, 16, 32)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert orders == pytest.approx([2.0, 2.0], abs=0.15)


def test_temperature_converges_with_the_cube_of_the_element_size():
    # Same decay, steps too fine to matter. Tried: 1.5e-1, 1.9e-2, 2.4e-3, 3.0e-4 K; orders 2.95, 3.0, 3.0
    errors = [decay_error(cells, 200, 0.1, POINTS) for cells in (3, 6, 12)]
    orders = np.log2(np.array(errors[:-1]) / errors[1:])
    assert orders == pytest.approx([3.0, 3.0], abs=0.2)


def test_a_step_far_longer_than_the_diffusion_time_lands_on_the_steady_temperature():
    # L-stable: the jump of a film is damped in a few steps, not carried on with changing sign as by the trapezoid
    system = HeatSystem([rod()], [Film("rod", "outside", 5.0, 100.0), Film("rod", "bottom", 2.0, 20.0)])
    steady = solve_steady(system).temperature
    history = solve_transient(system, system.field(20.0), np.array([0.0, 1e6, 2e6, 3e6]))
    gap = np.abs(history.temperature - steady).max(axis=1)
    assert gap[1] < 1e-3 * gap[0] and gap[2] < 1e-6 * gap[0]


def test_error_control_keeps_each_step_within_tolerance_and_few_factors():
    system = HeatSystem([rod((8, 2))], [Film("rod", "outside", 15.0, PointHistory([0, 5, 5, 20], [200, 200, 20, 20]))])
    keep = np.array([0.0, 1.0, 4.9999, 7.3, 20.0])
    shock = np.concatenate([[0.0], np.geomspace(1e-4, 1.0, 200)])  # small steps after each jump
    times = np.unique(np.concatenate([shock, np.linspace(1, 5, 101), 5 + shock, np.linspace(6, 20, 201)]))
    exact = solve_transient(system, system.field(20.0), times, keep=[0.0, 1.0, 20.0])
    errors = []
    for tolerance in (1e-1, 1e-3):
        history = solve_transient_adaptive(system, system.field(20.0), 0.0, 20.0, tolerance, keep)
        assert history.record.largest_error <= tolerance
        assert history.record.factors <= 2 * 16  # one a halving, in each of two stretches of time
        assert history.times == pytest.approx(keep)
        assert 5.0 in history.step_times
        errors.append(np.abs(history.temperature[[0, 1, 4]] - exact.temperature).max())
    assert errors[1] < 0.01 and errors[0] < 1.0 and errors[1] < 0.1 * errors[0]


def test_temperatures_kept_inside_a_step_are_as_good_as_its_ends():
    system = HeatSystem([rod((6, 2))], [Film("rod", "outside", 5.0, lambda t: 100 + 50 * np.sin(t))])
    coarse = solve_transient_adaptive(system, system.field(20.0), 0.0, 8.0, 1e-4, np.linspace(0.0, 8.0, 57))
    fine = solve_transient(system, system.field(20.0), np.linspace(0.0, 8.0, 1121), keep=np.linspace(0.0, 8.0, 57))
    assert np.abs(coarse.temperature - fine.temperature).max() < 5e-3


def test_a_jump_of_a_held_temperature_needs_fixed_steps_or_a_loose_tolerance():
    system = HeatSystem([rod((4, 1))], [Held("rod", "outside", 100.0)])
    with pytest.raises(NotConverged, match="smallest allowed"):
        solve_transient_adaptive(system, system.field(20.0), 0.0, 10.0, 1e-6, smallest_step=0.01)
    history = solve_transient(system, system.field(20.0), np.linspace(0.0, 10.0, 101))
    assert history.temperature[0].max() == 100.0 and history.temperature[-1] == pytest.approx(100.0, abs=0.01)


def heated(**options):
    """Rod in a sleeve with everything at work: film, flux, held base, contact that opens for a time."""
    bodies = [rod((4, 6)), rod((3, 6), 45.0, "sleeve", inner=RADIUS, outer=14.0)]
    conditions = [
        Film("sleeve", "outside", PointHistory([0, 10, 20, 60], [0.2, 0.5, 0.5, 0.1]), options.get("ambient", 20.0)),
        Flux("rod", "top", PointHistory([0, 30, 30, 60], [0.5, 0.5, 0.0, 0.0]), lambda r, z: r / RADIUS),
        Held("rod", "bottom", options.get("held", lambda t: 20 + 60 * np.sin(np.pi * t / 60))),
        Contact(("rod", "outside"), ("sleeve", "bore"), 2.0, contact_that_opens, name="contact"),
    ]
    return HeatSystem(bodies, conditions)


def contact_that_opens(time):
    return np.array([1.0, 1.0, 0.0, 0.0, 1.0, 1.0]) if 20 <= time < 40 else 1.0


@pytest.mark.parametrize("adaptive", [False, True])
def test_heat_stored_in_each_body_is_the_heat_that_entered_it(adaptive):
    system = heated()
    if adaptive:
        history = solve_transient_adaptive(system, system.field(20.0), 0.0, 60.0, 0.05)
    else:
        history = solve_transient(system, system.field(20.0), np.linspace(0.0, 60.0, 121))
    ledger = history.ledger
    assert ledger.imbalance < 1e-6  # asked for; seen: 1e-10
    assert ledger.exchanged[-1] > 1e5
    mean = np.ones(system.n_nodes)
    content = system.equations.stored @ (history.temperature[-1] - 20.0 * mean)
    assert [ledger.stored[name][-1] for name in ("rod", "sleeve")] == pytest.approx(content, rel=1e-9)
    entered = sum(heat[-1] for heat in ledger.entered.values())
    assert entered == pytest.approx(content.sum(), rel=1e-8)
    assert set(ledger.crossed) == {"contact"}
    assert ledger.crossed["contact"][-1] == pytest.approx(content[1] - ledger.entered["sleeve/outside"][-1], rel=1e-7)


def test_a_flux_s_heat_is_its_integral_over_time_and_area():
    system = heated()
    ledger = solve_transient(system, system.field(20.0), np.linspace(0.0, 60.0, 121)).ledger
    area = 2 * np.pi * RADIUS**2 / 3  # of r / R over the disc
    assert ledger.entered["rod/top"][-1] == pytest.approx(0.5 * 30 * area, rel=1e-7)


def test_heat_of_a_held_face_that_jumps_counts_from_the_start():
    system = HeatSystem([rod((6, 2))], [Held("rod", "outside", PointHistory([0, 5, 5, 20], [60, 60, 90, 90]))])
    ledger = solve_transient(system, system.field(20.0), np.linspace(0.0, 20.0, 201)).ledger
    whole = 70 * CAPACITY * np.pi * RADIUS**2 * HEIGHT
    assert ledger.imbalance < 1e-10
    assert ledger.entered["rod/outside"][-1] == pytest.approx(whole, rel=1e-3)


def test_a_functional_along_the_history_is_the_matrix_times_the_temperatures():
    system = heated()
    rows = np.random.default_rng(0).random((3, system.n_nodes))
    history = solve_transient(system, system.field(20.0), np.linspace(0.0, 30.0, 31), rows=rows)
    assert history.functionals == pytest.approx(history.temperature @ rows.T, rel=1e-12)


def test_varying_coefficients_on_a_kept_factor_agree_with_factorising_each():
    def swing(t):
        return 0.5 + 0.3 * np.sin(t)

    bodies = [rod((6, 6))]
    system = HeatSystem(bodies, [Film("rod", "outside", swing, 100.0)])
    times = np.linspace(0.0, 10.0, 41)
    quick = solve_transient(system, system.field(20.0), times)
    assert quick.record.factors <= 3 and quick.record.gradient_steps > 0
    slow = system.field(20.0)
    for a, b in pairwise(times):
        alone = HeatSystem(bodies, [Film("rod", "outside", swing, 100.0)])
        slow = solve_transient(alone, slow, [a, b]).temperature[-1]
        if b >= 2.5:
            break
    assert np.abs(quick.temperature[10] - slow).max() < 1e-7


def test_a_march_in_two_parts_is_the_march_in_one():
    system = heated()
    whole = solve_transient(system, system.field(20.0), np.linspace(0.0, 60.0, 61))
    first = solve_transient(system, system.field(20.0), np.linspace(0.0, 20.0, 21))
    second = solve_transient(system, first.temperature[-1], np.linspace(20.0, 60.0, 41))
    assert np.abs(second.temperature[-1] - whole.temperature[-1]).max() < 1e-7


# Histories


@given(
    start=st.floats(-5, 5),
    gaps=st.lists(st.floats(0.1, 10), min_size=1, max_size=6),
    where=st.floats(0, 1),
    periods=st.integers(-3, 3),
)
@settings(max_examples=60, deadline=None)
def test_a_history_is_straight_between_points_and_repeats(start, gaps, where, periods):
    times = start + np.concatenate([[0.0], np.cumsum(gaps)])
    values = np.cos(np.arange(len(times)))
    time = times[0] + where * 0.999 * (times[-1] - times[0])
    assert PointHistory(times, values)(time) == pytest.approx(np.interp(time, times, values), abs=1e-9)
    slope = np.abs(np.diff(values) / np.diff(times)).max()
    later = PointHistory(times, values, repeats=True)(time + periods * (times[-1] - times[0]))
    jump = abs(values[0] - values[-1]) if min(time - times[0], times[-1] - time) < 1e-9 else 0.0
    assert later == pytest.approx(np.interp(time, times, values), abs=1e-9 + 1e-12 * slope + jump)


def test_a_jump_takes_the_later_value_and_steps_end_there():
    history = PointHistory([0, 10, 10, 20], [1, 1, 5, 5], repeats=True)
    assert [history(t) for t in (9.999, 10.0, 20.0, 29.0, 31.0)] == pytest.approx([1, 5, 1, 1, 5])
    assert history.breaks(0, 45).tolist() == [10, 20, 30, 40]
    assert PointHistory([0, 10, 10, 20], [1, 1, 5, 5]).breaks(0, 45).tolist() == [10, 20]


@pytest.mark.parametrize(
    ("times", "values"), [([0, 2, 1], [0, 0, 0]), ([0, 1], [0]), ([0, np.nan], [0, 1]), ([[0, 1]], [[0, 1]])]
)
def test_a_history_out_of_order_is_refused(times, values):
    with pytest.raises(ValueError, match="history"):
        PointHistory(times, values)


# Refusals


@pytest.mark.parametrize("times", [[0.0], [0.0, 1.0, 1.0], [0.0, 2.0, 1.0], [0.0, np.nan], [[0.0, 1.0]]])
def test_times_that_do_not_rise_are_refused(times):
    system = HeatSystem([rod()], [])
    with pytest.raises(ValueError, match="times"):
        solve_transient(system, system.field(20.0), times)


def test_instants_and_fields_that_do_not_fit_are_refused():
    system = HeatSystem([rod()], [])
    with pytest.raises(ValueError, match="one of times"):
        solve_transient(system, system.field(20.0), [0.0, 1.0], keep=[0.5])
    with pytest.raises(ValueError, match="initial"):
        solve_transient(system, np.zeros(3), [0.0, 1.0])
    with pytest.raises(ValueError, match="after the start"):
        solve_transient_adaptive(system, system.field(20.0), 1.0, 1.0, 0.1)
    with pytest.raises(ValueError, match="tolerance"):
        solve_transient_adaptive(system, system.field(20.0), 0.0, 1.0, 0.0)
    with pytest.raises(ValueError, match="between"):
        solve_transient_adaptive(system, system.field(20.0), 0.0, 1.0, 0.1, keep=[2.0])


@pytest.mark.parametrize(
    ("condition", "word"),
    [
        (Film("rod", "outside", lambda t: -0.1, 20.0), "below zero"),
        (Film("rod", "outside", 0.1, lambda t: np.nan), "not finite"),
        (Flux("rod", "outside", float("inf")), "not finite"),
    ],
)
def test_a_history_with_impossible_values_is_refused(condition, word):
    system = HeatSystem([rod()], [condition])
    with pytest.raises(ValueError, match=word):
        solve_transient(system, system.field(20.0), [0.0, 1.0])

"""Laws of a material point: return mapping against fine-step integration, energy, refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studwell.fem import (
    Arrhenius,
    Backstress,
    Inelastic,
    NortonCreep,
    Plasticity,
    elastic_matrix,
    von_mises,
)
from studwell.fem.plastic_laws import TENSOR, advance, at_points, equivalent, tangent, virgin
from studwell.parts.material import Curve

E, NU = 70_000.0, 0.33
SHEAR = E / 2 / (1 + NU)
ROOM = 20.0
MIXED = Plasticity(150.0, 400.0, 40.0, 30.0, (Backstress(20_000.0, 300.0), Backstress(3_000.0)))
PERFECT = Plasticity(150.0)
few = settings(max_examples=60, deadline=None, derandomize=True)


def driven(material, corners, steps, duration=0.0, temperature=ROOM):
    """State after straight strain paths from corner to corner, from zero."""
    state, last = virgin(material, ()), np.zeros(4)
    for corner in np.asarray(corners, float):
        for step in range(1, steps + 1):
            strain = last + (corner - last) * step / steps
            state = advance(material, state, strain, temperature, duration / steps)
        last = corner
    return state


def deviator(tensor):
    return tensor - np.array([1.0, 1.0, 1.0, 0.0]) * tensor[:3].mean()


def rates_integrated(law, corners, steps):
    """Stress deviator and plastic strain from the rate equations themselves, by the midpoint rule."""
    s, p = np.zeros(4), 0.0
    back = [np.zeros(4) for _ in law.backstresses]

    def contract(a, b):
        return float(np.sum(a * b * TENSOR))

    def rates(s, p, back, move):
        away = s - sum(back, np.zeros(4))
        q = float(equivalent(away))
        size = law.yield_strength + law.linear * p + law.saturation * (1 - np.exp(-law.saturation_rate * p))
        normal = 1.5 * away / q if q > 0 else away
        push = contract(normal, 2 * SHEAR * move)
        if q < size * (1 - 1e-9) or push <= 0:
            return 2 * SHEAR * move, 0.0, [np.zeros(4) for _ in back]
        slope = law.linear + law.saturation * law.saturation_rate * np.exp(-law.saturation_rate * p)
        for one, alpha in zip(law.backstresses, back, strict=True):
            slope += one.modulus - one.recall * contract(normal, alpha)
        flow = push / (3 * SHEAR + slope)
        grown = [
            flow * (one.modulus / 1.5 * normal - one.recall * alpha)
            for one, alpha in zip(law.backstresses, back, strict=True)
        ]
        return 2 * SHEAR * (move - flow * normal), flow, grown

    last = np.zeros(4)
    for corner in np.asarray(corners, float):
        tensor = (corner - last) / np.array([1.0, 1.0, 1.0, 2.0])
        move = deviator(tensor) / steps
        for _ in range(steps):
            ds, dp, db = rates(s, p, back, move)
            middle = (s + ds / 2, p + dp / 2, [b + d / 2 for b, d in zip(back, db, strict=True)])
            ds, dp, db = rates(*middle, move)
            s, p, back = s + ds, p + dp, [b + d for b, d in zip(back, db, strict=True)]
        last = corner
    return s, p


PATH = [[4e-3, -1e-3, -1e-3, 0.0], [4e-3, -3e-3, 1e-3, 6e-3], [-5e-3, 2e-3, 1e-3, 2e-3]]


@pytest.mark.parametrize("law", [PERFECT, MIXED], ids=["perfect", "mixed"])
def test_return_mapping_converges_to_the_rate_equations_in_proportion_to_the_step(law):
    exact, p = rates_integrated(law, PATH, 2000)
    material = Inelastic(E, NU, plasticity=law)
    errors = []
    for steps in (25, 100, 400):
        state = driven(material, PATH, steps)
        errors.append(float(np.abs(deviator(state.stress) - exact).max()))
    # measured: perfect 0.43, 0.11, 0.03 MPa; mixed about the same
    assert errors[-1] < 0.1 and errors[0] / errors[1] > 3 and errors[1] / errors[2] > 2.5
    assert float(state.plastic_strain) == pytest.approx(p, rel=2e-3)


def test_pull_saturates_at_yield_plus_the_backstress_that_recall_leaves():
    law = Plasticity(150.0, saturation=30.0, saturation_rate=100.0, backstresses=(Backstress(20_000.0, 400.0),))
    state = driven(Inelastic(E, NU, plasticity=law), [[-0.1, -0.1, 0.2, 0.0]], 400)
    # Armstrong & Frederick: the backstress tends to modulus / recall
    assert float(von_mises(state.stress)) == pytest.approx(150.0 + 30.0 + 20_000.0 / 400.0, rel=1e-6)


corner = st.lists(st.floats(-6e-3, 6e-3), min_size=4, max_size=4)


@few
@given(
    st.lists(corner, min_size=1, max_size=4),
    st.floats(0, 2000.0),
    st.floats(0, 80.0),
    st.lists(st.tuples(st.floats(0, 60_000.0), st.floats(0, 600.0)), max_size=3),
    st.sampled_from([0.0, 60.0, 1e5]),
)
def test_no_increment_gives_energy_back_and_no_stress_leaves_the_yield_surface(
    corners, linear, saturation, backstresses, duration
):
    law = Plasticity(150.0, linear, saturation, 25.0, tuple(Backstress(c, g) for c, g in backstresses))
    material = Inelastic(E, NU, plasticity=law, creep=NortonCreep(4.0, 1e-17, (0.0, 200.0)))
    state = virgin(material, ())
    for place in corners:
        ahead = advance(material, state, place, ROOM, duration)
        scale = 1e-9 * (1 + float(ahead.dissipation))
        assert float(ahead.dissipation) >= float(state.dissipation)
        assert float(ahead.plastic_strain) >= float(state.plastic_strain)
        assert float(ahead.plastic_work) >= -scale
        back = sum((c / 1.5 * a for (c, _), a in zip(backstresses, ahead.backstrain, strict=True)), np.zeros(4))
        size = float(law.strength(ahead.plastic_strain, ROOM)[0])
        assert float(equivalent(deviator(ahead.stress) - back)) <= size * (1 + 1e-9)
        assert ahead.inelastic[:3].sum() == pytest.approx(0.0, abs=1e-12)
        state = ahead


def test_plastic_work_is_dissipated_but_for_what_a_straight_backstress_stores():
    perfect = driven(Inelastic(E, NU, plasticity=PERFECT), PATH, 50)
    assert float(perfect.dissipation) == pytest.approx(float(perfect.plastic_work), rel=1e-12)
    modulus = 20_000.0
    moved = driven(Inelastic(E, NU, plasticity=Plasticity(150.0, backstresses=(Backstress(modulus),))), PATH, 400)
    stored = modulus / 3 * float(np.sum(moved.backstrain[0] ** 2 * TENSOR))
    assert stored > 0.02
    # backward Euler puts the work of an increment at its end, so that the sum agrees in the limit of short ones
    assert float(moved.plastic_work - moved.dissipation) == pytest.approx(stored, rel=2e-2)


@few
@given(corner, st.sampled_from([0.0, 1e4]))
def test_consistent_tangent_predicts_the_stress_of_a_nearby_strain(place, duration):
    material = Inelastic(E, NU, plasticity=MIXED, creep=NortonCreep(4.0, 1e-16, (0.0, 200.0)))
    state = driven(material, [PATH[0]], 3)
    there = np.array(place)
    matrix = tangent(material, state, there, ROOM, duration)
    nudge = 1e-6 * np.array([1.0, -2.0, 0.5, 1.5])
    ends = [advance(material, state, there + way * nudge, ROOM, duration) for way in (-1, 1)]
    if (ends[0].plastic_strain > state.plastic_strain) == (ends[1].plastic_strain > state.plastic_strain):
        assert matrix @ nudge == pytest.approx((ends[1].stress - ends[0].stress) / 2, abs=2e-4)


def test_points_that_stay_elastic_follow_hooke_and_a_falling_modulus():
    material = Inelastic(E, NU, plasticity=MIXED)
    strain = np.array([[1e-4, -2e-4, 3e-4, 1e-4], [0.0, 0.0, 1e-4, 0.0]])
    state = advance(material, virgin(material, (2,)), strain, ROOM, modulus_ratio=[1.0, 0.9])
    assert state.stress == pytest.approx(np.array([1.0, 0.9])[:, None] * (strain @ elastic_matrix(E, NU)))
    assert not state.inelastic.any() and at_points(state, np.array([1])).stress.shape == (1, 4)


def test_yield_strength_follows_its_curve():
    law = Plasticity(Curve((20.0, 120.0), (150.0, 100.0)))
    material = Inelastic(E, NU, plasticity=law)
    strain = np.tile([-5e-3, -5e-3, 1e-2, 0.0], (3, 1))
    state = advance(material, virgin(material, (3,)), strain, [20.0, 70.0, 120.0])
    assert von_mises(state.stress) == pytest.approx([150.0, 125.0, 100.0])


@pytest.mark.parametrize(
    "data",
    [
        {"linear": -1.0},
        {"saturation": -20.0, "saturation_rate": 10.0},
        {"linear": Curve((20.0, 150.0), (100.0, -5.0))},
        {"linear": 100.0, "saturation": -20.0, "saturation_rate": 10.0},
        {"backstresses": (Backstress(-1.0),)},
        {"backstresses": (Backstress(1e4, -1.0),)},
    ],
    ids=str,
)
def test_data_that_soften_are_refused(data):
    with pytest.raises(ValueError, match="soften"):
        Plasticity(150.0, **data)


def test_a_falling_saturation_under_a_steeper_straight_hardening_is_accepted():
    assert Plasticity(150.0, linear=250.0, saturation=-20.0, saturation_rate=10.0).linear == 250.0


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: Plasticity(0.0), "yield_strength"),
        (lambda: Plasticity(float("nan")), "finite"),
        (lambda: Plasticity(150.0, saturation=10.0), "saturation_rate"),
        (lambda: Plasticity(150.0, backstresses=(Backstress(1.0),) * 4), "up to 3"),
        (lambda: NortonCreep(0.5, 1e-16, (0.0, 100.0)), "exponent"),
        (lambda: NortonCreep(5.0, 1e-16, (100.0, 0.0)), "range"),
        (lambda: NortonCreep(5.0, -1e-16, (0.0, 100.0)), "coefficient"),
        (lambda: advance(Inelastic(E, NU), virgin(Inelastic(E, NU), ()), np.zeros(4), ROOM, -1.0), "duration"),
    ],
)
def test_impossible_data_are_refused(make, text):
    with pytest.raises(ValueError, match=text):
        make()


def test_a_coefficient_curve_follows_arrhenius_between_its_points():
    exact = Arrhenius(1e-3, 1.2e5)
    wanted = np.array([110.0, 150.0, 190.0])
    ends = NortonCreep(5.0, exact, (100.0, 200.0)).rate_coefficient([100.0, 200.0])
    curve = NortonCreep(5.0, Curve((100.0, 200.0), tuple(ends.tolist())), (100.0, 200.0))
    assert curve.rate_coefficient(wanted) == pytest.approx(
        NortonCreep(5.0, exact, (100.0, 200.0)).rate_coefficient(wanted), rel=1e-10
    )


def test_halving_the_creep_steps_quarters_the_error_of_relaxation():
    material = Inelastic(E, NU, creep=NortonCreep(5.0, 1e-19, (0.0, 100.0)))
    strain = np.array([-0.5, -0.5, 1.0, 0.0]) * 2e-3
    loaded = advance(material, virgin(material, ()), strain, ROOM)
    q = float(von_mises(loaded.stress))
    exact = (q**-4.0 + 4 * 3 * SHEAR * 1e-19 * 1e5) ** -0.25
    errors = []
    for steps in (8, 16, 32):
        state = loaded
        for _ in range(steps):
            state = advance(material, state, strain, ROOM, 1e5 / steps)
        errors.append(abs(float(von_mises(state.stress)) - exact))
    assert q > 1.3 * exact and errors[0] / errors[1] > 3.2 and errors[1] / errors[2] > 3.5

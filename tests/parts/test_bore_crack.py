import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.bore_crack import bore_crack_intensity, bore_crack_places
from studwell.parts.crack import kirsch_stress

METRE = 1000.0


def intensity(radius, length, stress, cracks=2):
    return float(bore_crack_intensity(radius, length, stress(bore_crack_places(radius, length)), cracks))


@given(radius=st.floats(0.5, 20.0), ratio=st.floats(0.02, 5.0), scale=st.floats(0.1, 300.0))
def test_intensity_grows_with_the_stress_and_with_the_root_of_the_size(radius, ratio, scale):
    def pulled(distance):
        return kirsch_stress(radius, distance, scale)

    ours = intensity(radius, ratio * radius, pulled)
    unit = intensity(1.0, ratio, lambda distance: kirsch_stress(1.0, distance, 1.0))
    assert ours == approx(unit * scale * np.sqrt(radius), rel=1e-9)


def test_one_crack_is_opened_less_than_each_of_two():
    for ratio in (0.1, 0.5, 2.0):
        one, two = (intensity(1.0, ratio, lambda d: np.ones_like(d), n) for n in (1, 2))
        assert 0.5 * two < one < two


def test_stress_that_presses_closes_the_crack():
    assert intensity(3.0, 1.0, lambda d: -50.0 + 0.0 * d) < 0.0


def test_stress_near_the_tip_counts_more_than_at_the_hole():
    places = bore_crack_places(3.0, 1.0)
    near, far = np.zeros(len(places)), np.zeros(len(places))
    order = np.argsort(places)
    far[order[:10]], near[order[-10:]] = 1.0, 1.0
    spans = [np.ptp(places[order[:10]]), np.ptp(places[order[-10:]])]
    values = [float(bore_crack_intensity(3.0, 1.0, each)) for each in (far, near)]
    assert values[1] / spans[1] > values[0] / spans[0] > 0.0


def test_many_histories_are_one_sum():
    places = bore_crack_places(3.0, 1.0)
    stress = np.stack([np.ones_like(places), 2.0 - places, places**2], axis=1)
    together = bore_crack_intensity(3.0, 1.0, stress)
    assert together == approx([float(bore_crack_intensity(3.0, 1.0, column)) for column in stress.T])


@pytest.mark.parametrize(("radius", "length", "cracks"), [(0.0, 1.0, 2), (1.0, -1.0, 2), (1.0, 1.0, 3)])
def test_what_is_no_crack_is_refused(radius, length, cracks):
    with pytest.raises(ValueError):
        bore_crack_intensity(radius, length, np.ones(48), cracks)

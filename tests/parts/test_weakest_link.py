import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.weakest_link import effective_volume, failure_probability, needed_strength, risk

STRESS, VOLUMES = np.array([[30.0, 80.0], [-40.0, 120.0]]), np.array([[5.0, 2.0], [9.0, 1.0]])


@given(modulus=st.floats(2.0, 40.0), factor=st.floats(1.1, 5.0))
def test_a_larger_volume_breaks_at_less_by_the_size_effect(modulus, factor):
    small = needed_strength(STRESS, VOLUMES, modulus, 100.0, 0.01)
    large = needed_strength(STRESS, factor * VOLUMES, modulus, 100.0, 0.01)
    assert large == approx(small * factor ** (1.0 / modulus))


def test_compression_breaks_nothing():
    assert failure_probability(-STRESS.clip(0.0), VOLUMES, 10.0, 100.0, 50.0) == 0.0
    assert effective_volume(-STRESS.clip(0.0), VOLUMES, 10.0) == 0.0


def test_a_high_modulus_leaves_the_most_stressed_volume_alone():
    assert effective_volume(STRESS, VOLUMES, 150.0) == approx(1.0, rel=1e-9)


def test_small_risks_are_probabilities():
    assert failure_probability(STRESS, VOLUMES, 10.0, 1000.0, 50.0) == approx(risk(STRESS, VOLUMES, 10.0, 1000.0, 50.0))


def test_shapes_and_probabilities_that_are_none_are_refused():
    with pytest.raises(ValueError, match="one shape"):
        effective_volume(STRESS, VOLUMES[0], 10.0)
    with pytest.raises(ValueError, match="probability"):
        needed_strength(STRESS, VOLUMES, 10.0, 50.0, 1.0)

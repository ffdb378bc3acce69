import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from studwell.parts.growth import GrowthLaw, count_cycles, growth_life, stress_ratio, walker_range

SIZES = np.geomspace(0.2, 6.0, 30)
LAW = GrowthLaw(1e-11, 3.0, 1.0, 30.0)


def pulsating(stress, steps=(0.0, 1.0)):
    return np.outer(steps, stress * np.sqrt(np.pi * SIZES / 1000.0))


@given(values=st.lists(st.integers(-20, 20), min_size=2, max_size=40))
def test_the_largest_counted_range_of_a_repeated_history_is_its_whole_range_and_all_are_whole(values):
    cycles = count_cycles(np.array(values, dtype=float), repeated=True)
    spread = max(values) - min(values)
    assert (cycles.ranges.max() if cycles.ranges.size else 0.0) == spread
    for size in np.unique(cycles.ranges):
        assert float(cycles.counts[cycles.ranges == size].sum()).is_integer()


def test_a_steady_history_has_no_cycle():
    assert count_cycles([3.0, 3.0, 3.0]).ranges.size == 0


def test_a_larger_flaw_and_a_larger_stress_live_shorter():
    lives = [growth_life(LAW, SIZES, pulsating(60.0), start).histories for start in (0.3, 0.6, 1.2)]
    assert lives[0] > lives[1] > lives[2]
    assert growth_life(LAW, SIZES, pulsating(90.0), 0.3).histories == approx(lives[0] / 1.5**3, rel=1e-6)


def test_the_life_left_is_told_for_every_size_on_the_way():
    life = growth_life(LAW, SIZES, pulsating(60.0), 0.3)
    assert np.all(np.diff(life.left) < 0.0) and life.left[-1] == 0.0
    middle = growth_life(LAW, SIZES, pulsating(60.0), float(life.sizes[60]))
    assert middle.histories == approx(life.left[60], rel=1e-3)


def test_pressed_faces_transmit_no_opening():
    pressed = growth_life(LAW, SIZES, pulsating(60.0, (-5.0, 1.0)), 0.3)
    assert pressed.histories == approx(growth_life(LAW, SIZES, pulsating(60.0), 0.3).histories)


def test_a_range_below_the_threshold_never_grows_and_says_so():
    law = GrowthLaw(1e-11, 3.0, 1.0, 30.0, threshold=10.0)
    life = growth_life(law, SIZES, pulsating(60.0), 0.3)
    assert life.histories == np.inf and life.arrested == 0.3
    assert "below the threshold" in life.reason


def test_beyond_the_measured_range_the_life_is_unknown_and_below_it_extrapolated():
    fast = growth_life(GrowthLaw(1e-11, 3.0, 1.0, 5.0), SIZES, pulsating(60.0), 0.3)
    assert fast.histories is None and "beyond" in fast.reason
    slow = growth_life(GrowthLaw(1e-11, 3.0, 2.5, 30.0), SIZES, pulsating(60.0), 0.3)
    assert slow.histories is not None and "extrapolated" in slow.reason


def test_the_crack_runs_away_where_it_reaches_the_toughness():
    tough = 60.0 * np.sqrt(np.pi * 2.0 / 1000.0)
    life = growth_life(LAW, SIZES, pulsating(60.0), 0.3, tough)
    assert life.breaks and life.end == approx(2.0, rel=0.03)
    assert growth_life(LAW, SIZES, pulsating(60.0), 2.5, tough).histories == 0.0


@pytest.mark.parametrize("numbers", [(-1e-11, 3.0, 1.0, 9.0), (1e-11, 0.0, 1.0, 9.0), (1e-11, 3.0, 9.0, 9.0)])
def test_a_law_that_is_none_is_refused(numbers):
    with pytest.raises(ValueError):
        GrowthLaw(*numbers)


def test_a_start_outside_the_sizes_is_refused():
    with pytest.raises(ValueError, match="must lie within"):
        growth_life(LAW, SIZES, pulsating(60.0), 7.0)


def test_a_range_at_a_larger_ratio_does_what_walkers_law_says_and_a_smaller_ratio_is_not_credited():
    # Walker 1970, by hand: 4 [(1 - 0.1)/(1 - 0.6)]^(1 - 0.5) = 6
    assert walker_range(4.0, 0.6, 0.1, 0.5) == approx(6.0)
    assert walker_range(4.0, 0.6, 0.1, 1.0) == approx(4.0)
    assert walker_range(4.0, 0.0, 0.5, 0.5) == approx(4.0)
    for wrong in ((1.0, 0.1, 0.5), (0.5, 1.0, 0.5), (0.5, 0.1, 1.5)):
        with pytest.raises(ValueError):
            walker_range(4.0, *wrong)


def test_the_ratio_of_a_cycle_counts_a_pressed_crack_as_shut():
    assert stress_ratio([5.0, 4.0, 0.0, 6.0], [7.5, 1.0, 0.0, 3.0]) == approx([0.5, 0.0, 0.0, 0.0])


def test_a_steady_pull_shortens_a_life_as_walkers_exponent_says():
    pulled = pulsating(60.0, (0.5, 1.0))  # ratio 0.5
    law = GrowthLaw(1e-11, 3.0, 1.0, 30.0, ratio=0.0, walker=0.5)
    plain = growth_life(LAW, SIZES, pulled, 0.3).histories
    assert growth_life(law, SIZES, pulled, 0.3).histories == approx(plain / 2.0 ** (0.5 * 3.0))


def test_a_life_ends_where_the_ligament_gives_way_and_is_none_if_it_already_has():
    whole = growth_life(LAW, SIZES, pulsating(60.0), 0.3)
    cut = growth_life(LAW, SIZES, pulsating(60.0), 0.3, None, 2.0)
    assert (cut.end, cut.breaks, whole.breaks) == (approx(2.0), True, False)
    assert cut.histories < whole.histories
    gone = growth_life(LAW, SIZES, pulsating(60.0), 0.3, None, 0.25)
    assert gone.histories == 0.0 and gone.breaks and "gives way at once" in gone.reason

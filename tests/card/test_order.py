"""The order of tightening: every stud once, across the ring, never beside the last one while one further off is free."""

import pytest

from studwell.card.order import crosswise, distance


@pytest.mark.parametrize("count", range(1, 25))
def test_every_stud_is_tightened_once_and_the_first_is_on_top(count):
    order = crosswise(count)
    assert sorted(order) == list(range(count)) and order[0] == 0


@pytest.mark.parametrize("count", range(2, 25))
def test_no_step_goes_to_a_neighbour_while_one_further_off_is_free(count):
    order = crosswise(count)
    for turn in range(1, count):
        last, chosen, free = order[turn - 1], order[turn], set(order[turn:])
        if distance(last, chosen, count) == 1:
            assert all(distance(last, other, count) == 1 for other in free), (order, turn)


@pytest.mark.parametrize("count", range(4, 25, 2))
def test_studs_of_an_even_ring_come_in_opposite_pairs(count):
    order = crosswise(count)
    assert all(distance(order[i], order[i + 1], count) == count // 2 for i in range(0, count, 2))


def test_four_and_five_studs_go_as_the_trade_draws_them():
    assert crosswise(4) == (0, 2, 1, 3)
    assert crosswise(5) == (0, 2, 4, 1, 3)


def test_a_pattern_without_studs_is_refused():
    with pytest.raises(ValueError, match="not 0"):
        crosswise(0)


def test_distance_counts_the_shorter_way_round():
    assert [distance(0, place, 6) for place in range(6)] == [0, 1, 2, 3, 2, 1]

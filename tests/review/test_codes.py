import pytest

from studwell.review.codes import (
    HARMFUL,
    NEEDED,
    NO_CURE,
    SAME,
    SPARES,
    UNKNOWN,
    WORTH,
    Tried,
    code_of,
    find_flips,
    pair_words,
)


@pytest.mark.parametrize(
    ("driven", "back", "word"),
    [
        (1.2, 0.7, NEEDED),
        (1.2, 1.1, NO_CURE),
        (0.8, 1.0, HARMFUL),
        (0.5, 0.65, HARMFUL),
        (0.8, 0.65, WORTH),
        (0.8, 0.75, SAME),
        (None, 0.5, UNKNOWN),
        (0.5, None, UNKNOWN),
    ],
)
def test_the_word_follows_from_the_two_margins(driven, back, word):
    assert code_of(driven, back) == word


@pytest.mark.parametrize(
    ("driven", "back", "failing", "failing_back", "word"),
    [
        (0.7, 0.65, {"tip crushing"}, set(), SPARES),
        (0.7, 0.65, {"tip crushing"}, {"tip crushing"}, SAME),
        (0.7, 0.65, {"tip crushing"}, {"floor yield"}, HARMFUL),
        (0.7, 0.5, {"tip crushing"}, set(), WORTH),
        (0.7, 0.5, set(), {"floor yield"}, WORTH),
        (1.2, 1.1, {"tip crushing"}, set(), NO_CURE),
        (None, 0.5, {"tip crushing"}, set(), UNKNOWN),
    ],
)
def test_what_is_crushed_or_yields_decides_only_where_the_margins_do_not(driven, back, failing, failing_back, word):
    assert code_of(driven, back, frozenset(failing), frozenset(failing_back)) == word


def test_flips_are_found_to_the_stated_width_and_unknowns_are_not_flips():
    def trial(value):
        if value > 9.0:
            return Tried(value, None, None, UNKNOWN)
        return Tried(value, 2.0 / value, 0.5, code_of(2.0 / value, 0.5))

    found = find_flips("size", "mm", 1.0, (1.0, 3.0, 8.0, 10.0), trial, 6)
    assert [(below, above) for _, below, above in found.flips] == [(NEEDED, WORTH), (WORTH, SAME), (SAME, HARMFUL)]
    for (value, _, _), expected in zip(found.flips, (2.0, 2.0 / 0.6, 5.0), strict=True):
        assert abs(value - expected) <= found.within
    assert [one.value for one in found.tried] == sorted(one.value for one in found.tried)


@pytest.mark.parametrize(
    ("driven", "back", "words"),
    [
        (0.5346, 0.4312, ("0.535", "0.431")),
        (0.9962, 0.4, ("0.996", "0.400")),
        (0.8, 0.5, ("0.80", "0.50")),
        (0.8, None, ("0.80", "unknown")),
    ],
)
def test_margins_near_a_limit_of_a_word_have_a_third_digit(driven, back, words):
    assert pair_words(driven, back) == words

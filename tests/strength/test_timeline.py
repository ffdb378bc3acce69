"""Instants in words, as sentences need them."""

import pytest

from studwell.strength.timeline import at_instant


@pytest.mark.parametrize(
    ("when", "said"),
    [
        ("cold start (9 min)", "at cold start (9 min)"),
        ("during full load (12.57 min)", "during full load (12.57 min)"),
        ("between hot and cold (2 h)", "between hot and cold (2 h)"),
        ("end of warm-up (10 min)", "at the end of warm-up (10 min)"),
        ("assembled", "when assembled"),
        ("assembled (0 min)", "when assembled (0 min)"),
        ("seated", "when seated"),
        ("tightening", "in tightening"),
        ("endurance run (1 h)", "at endurance run (1 h)"),
    ],
)
def test_an_instant_follows_a_verb_with_the_word_that_it_needs(when, said):
    assert at_instant(when) == said

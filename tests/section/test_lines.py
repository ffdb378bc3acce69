"""Mesh lines along one direction."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.section.lines import merged, spaced, through, within

FEW = settings(derandomize=True, max_examples=30, deadline=None)
SIZE = st.floats(0.05, 2.0)


@given(st.floats(-10.0, 10.0), st.floats(0.1, 20.0), SIZE, SIZE)
@FEW
def test_spaced_lines_rise_from_end_to_end_and_grow_from_the_first_size_to_the_last(start, length, first, last):
    lines = spaced(start, start + length, first, last)
    steps = np.diff(lines)
    assert lines[0] == start and lines[-1] == start + length
    assert steps.min() > 0.0
    assert steps.max() <= max(first, last) * 1.0001
    if len(steps) > 1:
        ratios = steps[1:] / steps[:-1]
        assert ratios == approx(np.full(len(ratios), ratios[0]), rel=1e-6)


@given(st.lists(st.floats(0.0, 30.0), min_size=2, max_size=8), SIZE)
@FEW
def test_lines_pass_through_every_break_and_are_never_wider_apart_than_the_size(breaks, size):
    points = merged(breaks, 1e-3)
    if len(points) < 2:
        return
    lines = through(points, size, fine=points[:1], fine_size=0.5 * size)
    for point in points:
        assert np.abs(lines - point).min() < 1e-9
    assert np.diff(lines).min() > 0.0 and np.diff(lines).max() <= size * 1.0001


def test_lines_are_finer_next_to_a_fine_break():
    lines = through([0.0, 10.0], 1.0, fine=[10.0], fine_size=0.1)
    steps = np.diff(lines)
    assert steps[-1] < 0.2 < 0.8 < steps[0]


def test_lines_within_a_piece_need_lines_at_both_ends():
    lines = np.array([0.0, 1.0, 2.0, 3.0])
    assert within(lines, 1.0, 3.0).tolist() == [1.0, 2.0, 3.0]
    with pytest.raises(ValueError, match="must be mesh lines"):
        within(lines, 0.5, 3.0)

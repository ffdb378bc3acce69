"""Mesh lines along one direction."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from studwell.errors import BadMesh
from studwell.section.lines import merged, moved_onto, own_mouth_lines, spaced, through, within

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


@given(st.lists(st.floats(0.05, 0.95), max_size=5))
@FEW
def test_moved_lines_pass_every_mark_and_keep_their_ends_number_and_order(marks):
    lines = np.linspace(4.0, 11.0, 9) + 0.1 * np.sin(np.arange(9)) * (np.arange(9) % 8 > 0)
    wanted = merged([4.0 + 7.0 * mark for mark in marks], 1e-3) if marks else np.zeros(0)
    moved = moved_onto(lines, wanted)
    assert len(moved) == 9 and moved[[0, -1]] == approx(lines[[0, -1]])
    assert np.diff(moved).min() > 0.0
    for mark in wanted:
        assert np.abs(moved - mark).min() < 1e-9


def test_lines_that_pass_the_marks_already_stay_to_the_bit():
    lines = np.array([4.0, 4.7, 6.1, 8.0, 11.0])
    assert (moved_onto(lines, [8.0, 4.7, 2.0, 20.0]) == lines).all()


def test_more_marks_than_lines_are_refused_with_the_marks():
    with pytest.raises(BadMesh, match=r"2 edges between 4 and 11 mm are too few .* at 5, 6 mm"):
        moved_onto(np.array([4.0, 8.0, 11.0]), [5.0, 6.0])


def test_at_the_bottom_of_the_lowest_part_the_mouths_own_lines_are_kept_inside_the_ring():
    mouth = np.array([4.0, 4.5, 6.0, 7.6, 11.0, 14.0])
    above, bottom = own_mouth_lines(mouth, (4.5, 11.0), [4.2, 4.5, 8.0, 11.0, 12.0], 1.0)
    assert len(above) == len(bottom)
    assert within(bottom, 4.5, 11.0) == approx([4.5, 6.0, 7.6, 11.0])
    assert np.abs(above - 8.0).min() == 0.0
    outside = (bottom < 4.5) | (bottom > 11.0)
    assert (above[outside] == bottom[outside]).all() and np.abs(bottom - 12.0).min() == 0.0

"""Interpolation between sections: what each further section makes exact, on made-up answers without any mesh."""

import numpy as np
import pytest

from studwell.odds.limits import COLUMNS, as_followed
from studwell.odds.sections import CAPPED, TOLERANCE, Sections, off

STRIP, LEAK = COLUMNS.index("boss thread strip"), COLUMNS.index("leak")
OWN, PLACES = (6.0, 28.0), ((5.0, 6.0, 7.0), (26.0, 28.0, 30.0))


class Answer:
    """Stands for a section: rows from a formula of its sizes and of one load."""

    def __init__(self, formula, sizes):
        self.formula, self.sizes, self.asked = formula, sizes, 0

    def rows(self, values, count):
        table, how = self.raw(values, count)
        return as_followed(table), how

    def raw(self, values, count):
        self.asked += count
        table = np.full((count, len(COLUMNS) + 1), np.nan)
        for column, found in self.formula(*self.sizes, values["load"]).items():
            table[:, column] = found
        return table, np.zeros(count)


def _sections(formula):
    def make(sizes):
        return Answer(formula, [sizes.get(i, own) for i, own in enumerate(OWN)])

    return Sections(make({}), OWN, PLACES, make)


def _probe(sections, formula):
    def probe(sizes):
        at, load = np.array([[sizes.get(i, own) for i, own in enumerate(OWN)]]), {"load": np.array([1.0])}
        node = sections.make(sizes)
        return off(sections.rows(at, load)[0], node.rows(load, 1)[0]), node

    return probe


def _worst(sections, formula):
    points = np.random.default_rng(1).uniform([5.0, 26.0], [7.0, 30.0], (50, 2))
    load = {"load": np.linspace(0.5, 1.5, 50)}
    near = sections.rows(points, load)[0]
    exact = np.concatenate([
        Answer(formula, point).rows({"load": load["load"][i : i + 1]}, 1)[0] for i, point in enumerate(points)
    ])  # fmt: skip
    return np.nanmax(np.abs(near - exact)), near, exact


def _squares(floor, wall, load):
    return {STRIP: load * (1.0 + 0.1 * (floor - 6.0) ** 2 - 0.02 * (wall - 28.0) ** 2 + 0.05 * (floor - 6.0))}


def _cubes(floor, wall, load):
    return {STRIP: load * (1.0 + 0.1 * (floor - 6.0) ** 3)}


def _crossed(floor, wall, load):
    return {STRIP: load * (1.0 + 0.04 * (floor - 6.0) * (wall - 28.0))}


def test_a_parabola_of_each_size_needs_no_further_section():
    sections = _sections(_squares)
    sections.refine(_probe(sections, _squares))
    assert sections.counts == (4, 0, 0)
    assert _worst(sections, _squares)[0] < 1e-12


def test_sections_between_are_taken_for_a_third_power_and_make_it_exact():
    sections = _sections(_cubes)
    assert _worst(sections, _cubes)[0] > TOLERANCE
    sections.refine(_probe(sections, _cubes))
    assert sections.counts == (4, 2, 0)
    assert _worst(sections, _cubes)[0] < 1e-12


def test_corners_are_taken_for_what_two_sizes_do_together_and_make_it_exact():
    sections = _sections(_crossed)
    assert _worst(sections, _crossed)[0] > 0.05
    sections.refine(_probe(sections, _crossed))
    assert sections.counts == (4, 0, 4)
    assert _worst(sections, _crossed)[0] < 1e-12


def test_a_sample_is_solved_in_the_corner_and_the_half_where_it_lies_alone():
    sections = _sections(_crossed)
    sections.refine(_probe(sections, _crossed))
    corner = sections.corners[0, 1, 7.0, 30.0]
    before = corner.asked
    sections.rows(np.array([[6.5, 29.0], [5.5, 29.0], [5.5, 27.0]]), {"load": np.ones(3)})
    assert corner.asked == before + 1


def test_a_leak_is_interpolated_by_its_clamp_and_stays_unbounded_where_that_is_gone():
    def formula(floor, wall, load):
        clamp = np.maximum(load * (1.0 + 0.8 * (floor - 6.0)), 0.0)
        with np.errstate(divide="ignore"):
            return {LEAK: 0.5 / clamp}

    _, near, exact = _worst(_sections(formula), formula)
    assert np.allclose(near[:, LEAK], exact[:, LEAK], rtol=1e-9)
    sections = _sections(formula)
    assert np.isinf(sections.rows(np.array([[4.0, 28.0]]), {"load": np.ones(1)})[0][0, LEAK])


def test_an_error_counts_judgements_that_change_sides_and_forgets_how_far_beyond_the_limit_a_margin_is():
    near, exact = np.full((3, len(COLUMNS)), np.nan), np.full((3, len(COLUMNS)), np.nan)
    near[:, STRIP], exact[:, STRIP] = [0.99, 0.5, 40.0], [1.02, 0.5, np.inf]
    found = off(near, exact)
    assert (found.flipped, found.judged) == (1, 3)
    assert found.largest == ("boss thread strip", pytest.approx(0.03))
    assert CAPPED > 1.0


def test_every_pair_of_ends_lies_in_some_outermost_corner():
    three = Sections(
        Answer(_squares, OWN), (1.0, 1.0, 1.0), ((0.0, 1.0, 2.0),) * 3, lambda sizes: Answer(_squares, OWN)
    )
    corners = three.outermost()
    for i, j in ((0, 1), (0, 2), (1, 2)):
        assert {(corner[i], corner[j]) for corner in corners} == {(0.0, 0.0), (0.0, 2.0), (2.0, 0.0), (2.0, 2.0)}


def test_a_split_is_unknown_where_the_floor_yields_and_could_reach_its_limit_and_nowhere_else():
    split = COLUMNS.index("floor split")
    table = np.zeros((5, len(COLUMNS) + 1))
    table[:, split], table[:, -1] = [0.7, 0.7, 0.5, 1.1, 0.7], [0.9, 1.1, 1.1, 1.1, np.nan]
    assert list(np.isnan(as_followed(table)[:, split])) == [False, True, False, False, False]
    assert as_followed(table).shape == (5, len(COLUMNS))

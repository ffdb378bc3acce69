from pathlib import Path

import pytest

import studwell as sw
from studwell.errors import BadCase, Unknown, UnknownName

CASE = Path(__file__).parents[2] / "cases" / "m6-cover.toml"


def test_floors_are_swept_in_one_call_and_lengths_may_have_units():
    found = sw.floor_sweep(CASE, [1.5, "4 mm"], refinement=0.3)
    assert [row.thickness for row in found.rows] == [1.5, 4.0]
    assert found.rows[0].punch > 2.0 * found.rows[1].punch > 0.0


def test_a_driven_stud_is_compared_on_three_ends_of_its_hole():
    found = sw.hole_ends(CASE, cone_angle=118.0, end_radius="0.8 mm", refinement=0.3)
    assert [row.end for row in found] == ["flat", "cone", "radiused"]
    assert found[0].wedge_force > found[1].wedge_force > 0.0


def test_an_end_that_holds_the_stud_too_high_is_refused_plainly():
    with pytest.raises(Unknown, match="a smaller end_radius"):
        sw.hole_ends(CASE, cone_angle=118.0, end_radius=1.5, refinement=0.3)


def test_a_name_or_length_that_is_none_is_refused():
    with pytest.raises(UnknownName, match="nothing of the kind"):
        sw.floor_sweep(CASE, [2.0], setup="nothing of the kind")
    with pytest.raises(ValueError, match="must rise"):
        sw.floor_sweep(CASE, ["4 mm", "2 mm"])
    with pytest.raises((BadCase, ValueError)):
        sw.floor_sweep(CASE, ["4 N"])

"""Threadlocker: grades in stock and the torque of the bond."""

import numpy as np
import pytest
from pytest import approx

from studwell.parts.thread import parse_thread
from studwell.parts.threadlocker import bond_torque, stock_threadlocker, stock_threadlocker_names

M8 = parse_thread("M8")


def test_grades_differ_in_strength_and_all_lose_most_of_it_at_250_degrees():
    low, medium, high = map(stock_threadlocker, ("low", "medium", "high"))
    cold = [grade.shear_strength.at(20.0) for grade in (low, medium, high)]
    assert cold[0] < cold[1] < cold[2]
    for grade in (low, medium, high):
        assert float(grade.shear_strength.at(250.0)) < 0.1 * float(grade.shear_strength.at(20.0))
        assert np.all(np.diff(grade.shear_strength.values) < 0.0)
        assert grade.status == "from memory" and grade.source
    assert stock_threadlocker_names() == ("low", "medium", "high")


def test_bond_torque_is_shear_strength_on_the_pitch_cylinder():
    # 9 MPa pi 7.188 mm 12 mm 0.8 on an arm of 3.594 mm
    assert float(bond_torque(M8, 12.0, 9.0, 0.8)) == approx(9.0 * np.pi * 7.1881 * 12.0 * 0.8 * 7.1881 / 2.0, rel=1e-5)
    assert float(bond_torque(M8, 12.0, 9.0, 0.0)) == 0.0


def test_a_share_above_one_and_an_unknown_grade_are_refused():
    with pytest.raises(ValueError, match="at most 1"):
        bond_torque(M8, 12.0, 9.0, 1.2)
    with pytest.raises(ValueError, match=r"mediun.*medium"):
        stock_threadlocker("mediun")

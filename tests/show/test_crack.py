import numpy as np
import pytest
from matplotlib.figure import Figure

from studwell.crack.records import CrackErrors, CrackLine, KCurve
from studwell.show.crack import plot_k_curves, plot_k_directions


def curve(angle):
    line = CrackLine("boss fillet", "boss", np.zeros(2), np.array([1.0, 0.0]), angle, 6.0)
    opening = np.array([[1.0, 2.0, 3.0], [2.0, 3.0, 0.0]]) * angle / 60.0
    closed = np.array([[False] * 3, [False, False, True]])
    return KCurve(
        line, np.array([0.1, 0.5, 2.0]), opening, np.zeros((2, 3)), closed, np.zeros(1), np.zeros((2, 1)), 0.33, "",
        np.ones(3), CrackErrors(0.0, 0.0),
    )  # fmt: skip


def test_k_curves_draw_a_line_a_state_and_hollow_marks_where_faces_touch():
    ax = plot_k_curves(curve(60.0), {"hot": 0, "cold": 1}, bands={"toughness": (17.0, 20.0)}, ax=Figure().add_subplot())
    labels = [text.get_text() for text in ax.get_legend().get_texts()]
    assert labels == ["hot", "cold"]
    hollow = [line for line in ax.lines if line.get_markerfacecolor() == "none" and len(line.get_xdata())]
    assert [list(line.get_xdata()) for line in hollow] == [[2.0]]
    assert ax.patches and "toughness" in [text.get_text() for text in ax.texts]


def test_k_directions_follow_the_angle_and_refuse_a_size_off_the_curve():
    curves = [curve(80.0), curve(30.0)]
    ax = plot_k_directions(curves, 0, [0.5], ax=Figure().add_subplot())
    assert ax.lines[0].get_xydata() == pytest.approx(np.array([[30.0, 1.0], [80.0, 2.0 * 80.0 / 60.0]]))
    with pytest.raises(ValueError, match=r"runs from 0\.1 to 2 mm"):
        plot_k_directions(curves, 0, [5.0], ax=Figure().add_subplot())

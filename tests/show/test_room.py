"""Words left out of axes that have no room for them: none lie on each other, all are there where there is room."""

from __future__ import annotations

import itertools

import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from studwell.show import theme
from studwell.show.history import name_phases, plot_clamp
from studwell.show.margin_map import modes_of, plot_margins
from studwell.show.room import CellText, RowName

SIZES = [(2.2, 1.6), (3.2, 2.4), (5.0, 3.0), (10.4, 4.6)]


def drawn(plot, size, dpi=100):
    with theme.drawing():
        figure = Figure(figsize=size, layout="constrained", dpi=dpi)
        FigureCanvasAgg(figure)
        ax = figure.add_subplot()
        plot(ax)
        figure.canvas.draw()
    return ax


def cells_shown(ax):
    return [text for text in ax.texts if isinstance(text, CellText) and text.fits()]


@pytest.mark.parametrize("size", SIZES)
def test_numbers_of_neighbouring_cells_never_overprint(comparison, size):
    ax = drawn(lambda ax: plot_margins(comparison, ax=ax), size)
    rows = {}
    for text in cells_shown(ax):
        rows.setdefault(text.get_position()[1], []).append(text.get_window_extent())
    for boxes in rows.values():
        boxes.sort(key=lambda box: box.x0)
        assert all(one.x1 <= other.x0 + 1.0 for one, other in itertools.pairwise(boxes))


def test_a_map_on_its_own_keeps_every_number_and_name_and_a_narrow_one_loses_numbers(comparison):
    wide = drawn(lambda ax: plot_margins(comparison, ax=ax), (10.4, 4.6))
    assert all(text.fits() for text in wide.texts if isinstance(text, CellText))
    assert len(wide.get_xticks()) == len(modes_of(comparison))
    narrow = drawn(lambda ax: plot_margins(comparison, ax=ax), (3.2, 2.4))
    numbers = [text for text in cells_shown(narrow) if "." in text.get_text()]
    assert not numbers and len(narrow.get_xticks()) < len(modes_of(comparison))


def test_a_map_has_its_names_again_when_its_figure_grows(comparison):
    ax = drawn(lambda ax: plot_margins(comparison, ax=ax), (3.2, 2.4))
    ax.figure.set_size_inches(12.0, 5.0)
    ax.figure.canvas.draw()
    names = [text.get_text() for text in ax.get_xticklabels()]
    assert names == [mode for mode, _ in modes_of(comparison)]
    assert {tick.label2.get_rotation() for tick in ax.xaxis.get_major_ticks()} == {90.0}


@pytest.mark.parametrize("dpi", [72, 200])
@pytest.mark.parametrize("size", SIZES)
def test_ticks_of_time_and_names_of_phases_keep_apart_at_any_size(comparison, size, dpi):
    def plot(ax):
        plot_clamp(comparison, ax=ax)
        name_phases(comparison, ax)

    ax = drawn(plot, size, dpi)
    boxes = [text.get_window_extent() for text in ax.get_xticklabels() if text.get_text()]
    assert boxes and all(one.x1 < other.x0 for one, other in itertools.pairwise(boxes))
    names = [text for text in ax.texts if isinstance(text, RowName)]
    starts = [name.xyann[0] * ax.bbox.width * 72.0 / dpi for name in names if name.fits()]
    assert starts and all(
        after - before >= 12.0 for before, after in itertools.pairwise(starts)
    )  # points; type has 7.5
    if size[0] > 9.0:
        assert all(name.fits() for name in names)


def test_a_name_that_is_left_out_takes_no_room_of_the_layout(comparison):
    ax = drawn(lambda ax: (plot_clamp(comparison, ax=ax), name_phases(comparison, ax)), (2.2, 1.6))
    names = [text for text in ax.texts if isinstance(text, RowName)]
    left_out = [name for name in names if not name.fits()]
    assert left_out and all(name.get_tightbbox() is None for name in left_out)
    assert all(name.get_tightbbox() is not None for name in names if name.fits())

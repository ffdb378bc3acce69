"""The palette stands off both page colours, and page colours can follow the page."""

from __future__ import annotations

import itertools

import pytest

from studwell.show import theme


def luminance(colour: str) -> float:
    """Relative luminance of sRGB. Source: W3C, WCAG 2.1, definition of relative luminance."""
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("colour", theme.SERIES)
@pytest.mark.parametrize("page", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
def test_a_line_stands_three_to_one_off_either_page(colour, page):
    assert contrast(colour, page.paper) >= 3.0


@pytest.mark.parametrize("page", [theme.LIGHT, theme.DARK], ids=["light", "dark"])
@pytest.mark.parametrize("ink", ["ink", "weak", "accent", "good", "bad", "open"])
def test_text_stands_four_and_a_half_to_one_off_its_page(page, ink):
    assert contrast(getattr(page, ink), page.paper) >= 4.5


@pytest.mark.parametrize("cell", [*theme.MARGIN_BELOW, theme.CELL_UNKNOWN])
def test_numbers_in_cells_can_be_read(cell):
    assert contrast(theme.CELL_INK, cell) >= 4.5


def test_numbers_at_the_limit_and_above_can_be_read():
    assert contrast(theme.CELL_INK_ABOVE, theme.MARGIN_ABOVE) >= 4.5


def test_no_two_of_thirty_two_setups_look_alike():
    styles = [tuple(map(str, theme.series_style(place).values())) for place in range(32)]
    assert len(set(styles)) == 32


def test_neighbouring_lines_differ_by_more_than_colour():
    for first, second in itertools.pairwise(range(16)):
        one, other = theme.series_style(first), theme.series_style(second)
        assert one["linestyle"] != other["linestyle"] and one["marker"] != other["marker"]


def test_page_colours_become_variables_and_data_colours_stay():
    svg = f'<path style="fill: {theme.LIGHT.ink}; stroke: {theme.SERIES[0]}"/>'
    assert theme.with_page_colours(svg) == (
        f'<path style="fill: var(--ink, {theme.LIGHT.ink}); stroke: {theme.SERIES[0]}"/>'
    )


def test_lines_of_limit_and_accent_follow_the_page_as_well():
    svg = f'<path style="stroke: {theme.LIGHT.bad}"/><path style="stroke: {theme.LIGHT.accent}"/>'
    assert f"var(--bad, {theme.LIGHT.bad})" in theme.with_page_colours(svg)
    assert f"var(--accent, {theme.LIGHT.accent})" in theme.with_page_colours(svg)


def test_a_long_name_is_cut_with_a_mark_and_a_short_one_is_not():
    assert theme.wrapped("backed off, plain", 12, 2) == "backed off,\nplain"
    cut = theme.wrapped("word " * 40, 12, 2)
    assert cut.count("\n") == 1 and cut.endswith("\u2026")


def test_a_dollar_sign_in_a_name_is_drawn_and_not_read_as_a_formula():
    with theme.drawing():
        ax = theme.new_axes()
        ax.set_title(r"$\broken{")
        ax.figure.draw_without_rendering()

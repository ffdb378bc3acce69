"""A sheet's files: letters that the type lacks are boxes without a word on the terminal, any other warning is let through."""

import warnings

from matplotlib.figure import Figure
from matplotlib.text import Text

from studwell.show.sheet import Sheet, drawn_in_both


class Warns(Text):
    """A text that warns of something else whenever it is drawn."""

    def draw(self, renderer):
        warnings.warn("something else is wrong", UserWarning, stacklevel=1)
        super().draw(renderer)


def drawn(artist):
    """Messages of the warnings given while both files of a sheet with one text are made."""
    figure = Figure((3.0, 2.0), layout="constrained")
    figure.add_subplot().set_title("日本 \N{GRINNING CAT FACE WITH SMILING EYES}")
    figure.add_artist(artist)
    sheet = Sheet("trial", "", "", "", figure)
    with warnings.catch_warnings(record=True) as given:
        warnings.simplefilter("always")
        assert sheet.svg.endswith("</svg>\n") and sheet.png.startswith(b"\x89PNG")
    return {str(warning.message) for warning in given}


def test_letters_that_the_type_lacks_give_no_warning():
    assert drawn(Text(0.1, 0.1, "語")) == set()


def test_other_warnings_of_a_drawing_are_let_through():
    assert drawn(Warns(0.1, 0.1, "語")) == {"something else is wrong"}


def test_a_sheet_drawn_in_both_makes_its_other_drawing_only_when_asked():
    drawn = []

    def draw(units):
        drawn.append(units)
        return Sheet("trial", units, "", "", Figure())

    sheet = drawn_in_both(draw, "inch")
    assert drawn == ["inch"] and sheet.title == "inch"
    assert sheet.other().title == "metric" and drawn == ["inch", "metric"]

"""The card as one HTML page that needs no other file: for the screen, light and dark, and one sheet of paper."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup

from studwell.card import fit
from studwell.card.drawing import svg
from studwell.card.record import Card
from studwell.show import theme


def card_page(card: Card) -> str:
    """Return a card's page; same card, same bytes. Every text of a user is escaped."""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    template = environment.from_string(files("studwell.card").joinpath("card.html").read_text(encoding="utf-8"))
    return template.render(
        card=card,
        fit=fit,
        light=Markup(theme.page_variables(theme.LIGHT)),
        dark=Markup(theme.page_variables(theme.DARK)),
        section=Markup(svg(card.section, page=True)),
        pictures=[(picture, Markup(svg(picture, page=True))) for picture in card.pictures],
    )

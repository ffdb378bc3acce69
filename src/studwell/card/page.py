"""The card as one HTML page that needs no other file: for the screen, light and dark, and one sheet of paper."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, StrictUndefined
from markupsafe import Markup, escape

from studwell.card import fit
from studwell.card.drawing import svg
from studwell.card.letters import placeholder, runs
from studwell.card.paper import PAPERS
from studwell.card.record import Card
from studwell.show import theme


def card_page(card: Card) -> str:
    """Return a card's page; same card, same bytes. Every text of a user is escaped."""
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters["lettered"] = lettered
    template = environment.from_string(files("studwell.card").joinpath("card.html").read_text(encoding="utf-8"))
    return template.render(
        card=card,
        fit=fit,
        paper=PAPERS[card.paper],
        light=Markup(theme.page_variables(theme.LIGHT)),
        dark=Markup(theme.page_variables(theme.DARK)),
        section=Markup(svg(card.section, page=True)),
        pictures=[(picture, Markup(svg(picture, page=True))) for picture in card.pictures],
    )


def lettered(text: str) -> Markup:
    """Return a text for the page: letters that the card's type lacks on the screen, a count of them in brackets on paper."""
    return Markup("").join(
        Markup('<span class="screen">{}</span><span class="paper">{}</span>').format(piece, placeholder(count))
        if count
        else escape(piece)
        for piece, count in runs(text)
    )

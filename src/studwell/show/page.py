"""The frame of every page: one file, no network, light and dark, metric and inch, for screen and print."""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from studwell.show import theme
from studwell.show.both_units import SYSTEMS, BothUnits
from studwell.show.sheet import Sheet


@dataclass(frozen=True)
class Frame:
    """What the frame needs: units shown at first ("" for a page without a choice), style, script, and who may run what."""

    units: str
    style: Markup
    script: Markup
    policy: str


def page_text(template: str, units: str = "", **context: Any) -> str:
    """Return a page as one HTML text; same arguments, same bytes. Whatever is no Markup is escaped.

    template : file of this folder that extends page.html
    units    : "metric" or "inch", shown until the reader chooses; "": nothing on the page is written in both
    context  : what the template names; parts, (id, head) of its sections, always
    """
    environment = Environment(
        loader=PackageLoader("studwell", "show"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["in_words"] = lambda text: in_words(text, units or "metric")
    return environment.get_template(template).render(frame=_frame(units), **context)


def in_words(text: str, units: str) -> str:
    """Return the plain words of a text that may be markup in both units: what is shown in one of them."""
    if not isinstance(text, Markup):
        return text
    other = "inch" if units == "metric" else "metric"
    return Markup(re.sub(rf'<span class="{other}">.*?</span>', "", text, flags=re.DOTALL)).striptags()


def _frame(units: str) -> Frame:
    script = _file("page.js")
    digest = base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")
    policy = (
        f"default-src 'none'; style-src 'unsafe-inline'; img-src data:; script-src 'sha256-{digest}'; base-uri 'none'; "
        "form-action 'none'"
    )
    return Frame(units, Markup(_colours() + _units(units) + _file("page.css")), Markup(script), policy)


def _file(name: str) -> str:
    return files("studwell.show").joinpath(name).read_text(encoding="utf-8")


def _colours() -> str:
    """Light first; dark as the device says or the reader chooses, on screen alone, so that paper stays white."""
    light, dark = (theme.page_variables(page) for page in (theme.LIGHT, theme.DARK))
    dark = f"color-scheme:dark;{dark}"
    return (
        f":root {{ {light} }}\n"
        f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {dark} }} }}\n"
        f"@media screen {{ :root:has(#colours-light:checked) {{ color-scheme:light;{light} }}\n"
        f":root:has(#colours-dark:checked) {{ {dark} }} }}\n"
        "@supports not selector(:has(a)) { .choices { display: none; } }\n"
    )


def _units(units: str) -> str:
    """Both spellings are in the page; the one not chosen is hidden, from readers of the screen too."""
    if not units:
        return ""
    other = "inch" if units == "metric" else "metric"
    return (
        f"@supports not selector(:has(a)) {{ .{other} {{ display: none; }} }}\n"
        f":root:not(:has(#units-{other}:checked)) .{other}, "
        f":root:has(#units-{other}:checked) .{units} {{ display: none; }}\n"
    )


@dataclass(frozen=True)
class Shown:
    """A figure in a page: its title and caption as markup, and its drawing, or two of which one is shown."""

    title: Markup
    caption: Markup
    svg: Markup


def shown_sheet(sheet: Sheet, both: BothUnits) -> Shown:
    """Return a figure for a page, words and drawing in both units where they differ."""
    if sheet.other is None:
        return Shown(both.text(sheet.title), both.text(sheet.caption), inline_svg(sheet, sheet.name))
    drawn = {both.drawn: sheet, "inch" if both.drawn == "metric" else "metric": sheet.other()}
    metric, inch = drawn["metric"], drawn["inch"]
    each = Markup('<div class="{}">{}</div>')
    return Shown(
        both.text(metric.title, inch.title),
        both.text(metric.caption, inch.caption),
        Markup("").join(each.format(system, inline_svg(drawn[system], f"{sheet.name}-{system}")) for system in SYSTEMS),
    )


LONG_NUMBER = re.compile(r"(\d\.\d\d)\d+")
"""Hundredths of a point are finer than any screen or printer."""


def inline_svg(sheet: Sheet, name: str) -> Markup:
    """Return an SVG element for an HTML page: no prologue, page colours, its words for the blind, ids that start with name."""
    text = sheet.svg
    text = text[text.index("<svg") :]
    text = re.sub(r"<!--.*?-->", "", text, flags=re.DOTALL)
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'href="#', f'href="#{name}-', text)
    text = re.sub(r"url\(#", f"url(#{name}-", text)
    text = re.sub(r'(<svg[^>]*?) width="[^"]*"', r"\1", text, count=1)
    text = re.sub(r'(<svg[^>]*?) height="[^"]*"', r"\1", text, count=1)
    text = re.sub(r'\b(?:d|transform|points|x|y)="[^"]*"', _shorter, text)
    text = theme.with_page_colours(text)
    head = Markup('<svg role="img" aria-labelledby="{name}-title {name}-told"').format(name=name)
    start = text.index(">") + 1
    opening = text[len("<svg") : start]
    words = Markup('<title id="{name}-title">{title}</title><desc id="{name}-told">{told}</desc>').format(
        name=name, title=sheet.title, told=sheet.told
    )
    return head + Markup(opening) + words + Markup(text[start:])


def _shorter(attribute: re.Match[str]) -> str:
    """An attribute of a drawing with its numbers short, but for scales, which are small."""
    text = attribute.group()
    return text if "scale" in text else LONG_NUMBER.sub(r"\1", text)

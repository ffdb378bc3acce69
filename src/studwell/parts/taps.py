"""Forms of taps by the length of their chamfer, and the full thread that each leaves in a blind hole."""

from __future__ import annotations

from dataclasses import dataclass

from studwell.data import table
from studwell.parts.arguments import positive


@dataclass(frozen=True)
class TapForm:
    """A form of tap. name: "bottoming", "form E"; least, most: its chamfer, pitches; blind: it is used in blind holes."""

    name: str
    least: float
    most: float
    blind: bool


def tap_forms() -> tuple[TapForm, ...]:
    """Return every form of tap, longest chamfer first.

    returns : tuple of TapForm, chamfers in pitches

    Source: taps.toml: tap catalogues, reprints of DIN 2197.
    >>> [form.name for form in tap_forms()][-3:]
    ['form E', 'bottoming', 'form F']
    """
    found = []
    for kind, owner in table("taps").items():
        for name, row in owner["rows"].items():
            words = f"form {name}" if kind == "form" else name
            found.append(TapForm(words, float(row["least"]), float(row["most"]), bool(row["blind"])))
    return tuple(sorted(found, key=lambda form: (-form.most, -form.least)))


def tap_form(name: str) -> TapForm:
    """Return a form of tap by its name.

    name              : str, "bottoming", "plug", "form E", ...
    returns           : TapForm, chamfers in pitches
    raises ValueError : another name

    Source: taps.toml.
    """
    forms = {form.name: form for form in tap_forms()}
    if name not in forms:
        raise ValueError(f"no tap {name!r}; the forms are {', '.join(forms)}")
    return forms[name]


def full_thread(depth: float, chamfer: float, pitch: float) -> float:
    """Return how deep a tap cuts full thread in a blind hole, mm from the mouth; 0 where its chamfer takes all of it.

    depth             : float, mm, mouth to the end of the full diameter
    chamfer           : float, pitches
    pitch             : float, mm
    returns           : float, mm
    raises ValueError : not above zero

    Source: geometry: the tap's end stands on the end of the full diameter.
    """
    return max(
        float(positive("depth", depth)) - float(positive("chamfer", chamfer)) * float(positive("pitch", pitch)), 0.0
    )

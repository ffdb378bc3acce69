"""Any field on the deformed section: stress components, temperature or movement, one setup or two side by side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.ticker import FuncFormatter

from studwell.show import theme
from studwell.show.field_view import Colouring, FieldView, deformation_scale, draw_whole_section
from studwell.show.heat import round_levels, temperature_colouring
from studwell.show.stress import plot_floor_stress, stress_norm
from studwell.strength.recovery import BodyFields
from studwell.units import in_unit, label, number_text

Array = np.ndarray

BANDS = 16
"""About how many bands of colour a drawing has."""
TAILS = (0.003, 0.995)
"""Share of a stress's values below and above which the colours end: at sharp corners a stress has no end of its own."""


@dataclass(frozen=True)
class SectionQuantity:
    """A field: words, kind of unit, whether it has a sign, and (states, N) values of a body in N, mm, MPa, degC."""

    words: str
    kind: str
    signed: bool
    values: Callable[[BodyFields], Array] = field(repr=False)


def _component(place: int) -> Callable[[BodyFields], Array]:
    return lambda fields: fields.stress[..., place]


SECTION_QUANTITIES = {
    "first_principal": SectionQuantity("first principal stress", "pressure", True, lambda f: f.first_principal),
    "von_mises": SectionQuantity("von Mises stress", "pressure", False, lambda f: f.von_mises),
    "radial_stress": SectionQuantity("radial stress", "pressure", True, _component(0)),
    "hoop_stress": SectionQuantity("hoop stress", "pressure", True, _component(1)),
    "axial_stress": SectionQuantity("axial stress", "pressure", True, _component(2)),
    "shear_stress": SectionQuantity("shear stress rz", "pressure", True, _component(3)),
    "temperature": SectionQuantity("temperature", "temperature", False, lambda f: f.temperature),
    "movement": SectionQuantity("movement", "length", False, lambda f: np.linalg.norm(f.displacement, axis=-1)),
}
"""Name -> field. Movement counts from the drawn position, a stud turned back or a spring's travel included."""


def plot_section_quantity(
    views: Sequence[FieldView],
    quantity: str,
    *,
    ax: Axes | None = None,
    scale: float | None = None,
    units: str = "metric",
    bar: bool = True,
) -> Axes:
    """Draw a field of SECTION_QUANTITIES on the deformed section, parts named.

    views : the first left of the axis, the second right (one alone is drawn on both sides)
    scale : how many times displacements are enlarged, None: as large as is readable
    bar   : also put a colour bar beside the axes
    """
    top = max(part.high for view in views for part in view.parts)
    enlarged = deformation_scale(views, top - views[0].parts[0].low) if scale is None else scale
    shift = "drawn" if quantity == "movement" else "movement"

    def draw(place: Axes, colouring: Colouring, words: str) -> None:
        draw_whole_section(place, views, colouring, enlarged, units, f"{words}, {shift} x {enlarged:g}")

    return _framed(draw, quantity, colouring_of(views, quantity, units), ax, units, bar)


def plot_floor_quantity(
    views: Sequence[FieldView],
    quantity: str,
    *,
    ax: Axes | None = None,
    scale: float | None = None,
    units: str = "metric",
    bar: bool = True,
) -> Axes:
    """Draw a field of SECTION_QUANTITIES at the hole's floor and its fillet; arguments as in `plot_section_quantity`."""
    below = views[0].result.built.layout.boss.drill_radius

    def draw(place: Axes, colouring: Colouring, words: str) -> None:
        heading = f"{words} at the hole's floor"
        plot_floor_stress(views, ax=place, scale=scale, units=units, colouring=colouring, heading=heading)

    return _framed(draw, quantity, colouring_of(views, quantity, units, below=below), ax, units, bar)


def _framed(
    draw: Callable[[Axes, Colouring, str], None],
    quantity: str,
    colouring: Colouring,
    ax: Axes | None,
    units: str,
    bar: bool,
) -> Axes:
    """Let `draw(axes, colouring, the field's name with a capital)` draw a field; put its colour bar beside it."""
    ax = theme.new_axes() if ax is None else ax
    drawn = SECTION_QUANTITIES[quantity]
    draw(ax, colouring, f"{drawn.words[0].upper()}{drawn.words[1:]}")
    if bar:
        draw_bar_beside(ax, colouring, f"{drawn.words}, {label(drawn.kind, units)}")
    return ax


def colouring_of(views: Sequence[FieldView], quantity: str, units: str, *, below: float | None = None) -> Colouring:
    """Return how a field of SECTION_QUANTITIES becomes colour in the shown unit, on round bounds over all views.

    below : mm; only what lies below this height decides the bounds
    """
    drawn = SECTION_QUANTITIES[quantity]

    def shown(fields: BodyFields) -> Array:
        return np.asarray(in_unit(drawn.values(fields), drawn.kind, units), dtype=float)

    kept = ("boss", "stud") if drawn.kind == "pressure" else tuple(f.name for view in views for f in view.fields)
    top = np.inf if below is None else below
    values = np.concatenate(
        [shown(f)[0][f.mesh.nodes[:, 1] <= top] for view in views for f in view.fields if f.name in kept]
    )
    if quantity == "temperature":
        return temperature_colouring(round_levels(*_ends(values), BANDS), units)
    low, high = (float(np.quantile(values, tail)) for tail in TAILS) if drawn.kind == "pressure" else _ends(values)
    low, high = min(low, 0.0), max(high, 1e-9)
    levels = round_levels(low, high, BANDS)
    if drawn.signed:  # the middle band about 0, so that what carries nothing is pale
        step = levels[1] - levels[0]
        levels = (np.arange(np.floor(low / step - 0.5), np.ceil(high / step + 0.5) + 0.5) + 0.5) * step
    else:
        levels = levels[levels >= 0.0]
    return Colouring(shown, levels, stress_norm(levels), theme.COOL_TO_WARM)


def _ends(values: Array) -> tuple[float, float]:
    return float(values.min()), float(values.max())


def draw_bar_beside(ax: Axes, colouring: Colouring, text: str) -> None:
    """Draw the colour bar of a drawing beside its axes, with its unit."""
    figure = ax.get_figure()
    assert figure is not None
    levels = np.asarray(colouring.levels, dtype=float)
    drawn = figure.colorbar(
        ScalarMappable(norm=colouring.norm, cmap=colouring.colours),
        ax=ax,
        boundaries=levels,
        extend="max" if levels[0] == 0.0 else "both",
        spacing="uniform",
        shrink=0.8,
        pad=0.02,
    )
    ticks = 0.5 * (levels[1:] + levels[:-1]) if levels[0] < 0.0 < levels[-1] and not np.any(levels == 0.0) else levels
    drawn.set_ticks(list(ticks[:: max(1, len(ticks) // 6)]))
    drawn.set_label(text)
    drawn.ax.yaxis.set_major_formatter(
        FuncFormatter(lambda value, _: number_text(0.0 if abs(value) < 1e-12 else value, 4))
    )

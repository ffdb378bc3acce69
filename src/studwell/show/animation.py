"""The last cycle of a solved heat as one animated picture: temperature beside stress on the section as it moves."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from PIL import Image

from studwell.show import theme
from studwell.show.field_view import Colouring, FieldView, deformation_scale, draw_half, field_views
from studwell.show.heat import draw_temperature_bar, temperature_colouring, temperature_levels
from studwell.show.section import draw_outline, section_axes
from studwell.show.sheet import quiet_drawing
from studwell.show.stress import draw_stress_bar, stress_colouring, stress_levels
from studwell.show.time_axis import TimeAxis, axis_of, clock_text, last_cycle, time_in_cycle
from studwell.store.writing import write_bytes
from studwell.strength.outcomes import tip_gaps
from studwell.study.heat_numbers import moment_at
from studwell.study.results import SetupResult
from studwell.units import in_unit, label

Array = np.ndarray

FRAMES = 40
"""About how many pictures a cycle gets."""
DOTS = 96
"""Dots per inch of the pictures."""
COLOURS = 128
"""Colours of all pictures together."""
FRAME_TIME, LAST_TIME = 220, 1600
"""ms that a picture stands, and the last one."""


def write_animation(result: SetupResult, path: Path, units: str = "metric") -> Path:
    """Write the last cycle of a solved heat as an animated GIF; same result, same bytes.

    raises ValueError : the setup's temperatures are given, not solved; CannotWrite
    """
    return write_bytes(Path(path), animation(result, units))


def animation(result: SetupResult, units: str = "metric") -> bytes:
    """Return the last cycle of a solved heat as an animated GIF; arguments and errors as in `write_animation`."""
    if result.heat is None:
        raise ValueError(f"{result.name}: temperatures are given, there is no solved heat to show")
    steps = frame_steps(result)
    with quiet_drawing():
        film = Film(result, steps, units)
        pictures = [film.picture(place) for place in range(len(steps))]
    palette = _palette(pictures)
    frames = [picture.quantize(palette=palette, dither=Image.Dither.NONE) for picture in pictures]
    content = io.BytesIO()
    frames[0].save(
        content,
        format="GIF",
        save_all=True,
        append_images=frames[1:],
        duration=[FRAME_TIME] * (len(frames) - 1) + [LAST_TIME],
        loop=0,
        optimize=False,
        disposal=1,
    )
    return content.getvalue()


def frame_steps(result: SetupResult) -> Array:
    """Return the steps of the last cycle that are shown: spread alike over its steps, which lie close where heat changes
    fast; every phase's end is among them."""
    steps = last_cycle(result)
    chosen = set(np.unique(np.round(np.linspace(0, len(steps) - 1, min(FRAMES, len(steps)))).astype(int)).tolist())
    ends = np.cumsum([phase.duration for phase in result.setup.history.phases])
    times = time_in_cycle(result, steps)
    chosen |= {int(np.argmin(np.abs(times - end))) for end in ends}
    return steps[sorted(chosen)]


class Film:
    """The pictures of one setup's last cycle: one figure, redrawn for each instant.

    steps : of the run; views : the fields at them; scale : how many times movement is enlarged in all of them
    """

    def __init__(self, result: SetupResult, steps: Array, units: str) -> None:
        self.result, self.steps, self.units = result, steps, units
        self.views = field_views(result, [int(i) for i in result.timeline.run[steps]])
        first = self.views[0]
        self.low, self.top = first.parts[0].low, max(part.high for part in first.parts)
        self.width = max(part.outer for part in first.parts)
        self.scale = deformation_scale(self.views, self.top - self.low)
        temperatures, stresses = temperature_levels(self.views, units), stress_levels(self.views, units)
        self.left = temperature_colouring(temperatures, units)
        self.right: Colouring = stress_colouring(stresses, units)
        self.figure = Figure(figsize=(9.6, 7.2), dpi=DOTS)
        self.canvas = FigureCanvasAgg(self.figure)
        self.section = self.figure.add_axes((0.13, 0.125, 0.36, 0.78))
        self.factor = self._section_frame()
        bar = self.figure.add_axes((0.56, 0.85, 0.4, 0.025))
        draw_temperature_bar(bar, temperatures, units)
        bar.set_title("Left half: temperature", fontsize=9)
        bar = self.figure.add_axes((0.56, 0.69, 0.4, 0.025))
        draw_stress_bar(bar, stresses, units)
        bar.set_title("Right half: first principal stress", fontsize=9)
        self.axis: TimeAxis = axis_of([result], "last")
        self.markers = self._draw_course()
        self.head = self.figure.text(0.04, 0.965, "", fontsize=11, weight="bold", va="top", color=theme.LIGHT.ink)
        self.figure.text(
            0.04,
            0.018,
            f"{theme.wrapped(result.name, 60, 1)}; last of {_counted(result)}; movement x {self.scale:g}, "
            "faint: as drawn, unstrained",
            fontsize=8,
            color=theme.LIGHT.weak,
        )
        self._moving: list[Artist] = [self.head, *[dot for dot, _ in self.markers]]
        for artist in self._moving:
            artist.set_animated(True)
        self.canvas.draw()
        self._still = self.canvas.copy_from_bbox(self.figure.bbox)

    def picture(self, place: int) -> Image.Image:
        """Return the picture of one of the steps: what stands still is drawn once, the rest over it."""
        step = int(self.steps[place])
        inside = time_in_cycle(self.result, self.steps[place : place + 1])
        for dot, values in self.markers:
            dot.set_data(self.axis.within(inside), [values[step]])
        if inside[0] > 0.0:
            phase = moment_at(self.result, int(self.result.timeline.run[step])).phase
            self.head.set_text(f"{phase}: {clock_text(float(inside[0]))} into the cycle")
        else:
            self.head.set_text(f"start of the cycle, before {self.result.setup.history.phases[0].label}")
        self.canvas.restore_region(self._still)
        drawn = self._draw_section(self.views[place])
        for artist in sorted(drawn, key=lambda one: one.get_zorder()):
            self.section.draw_artist(artist)
        for artist in self._moving:
            self.figure.draw_artist(artist)
        picture = Image.fromarray(np.asarray(self.canvas.buffer_rgba())[:, :, :3].copy())
        for artist in drawn:
            artist.remove()
        return picture

    def _section_frame(self) -> float:
        """Set the axes of the section up; returns shown length per mm."""
        ax = self.section
        factor = section_axes(ax, self.units)
        height = self.top - self.low
        ax.set_xlim(-factor * (self.width + 0.05 * height), factor * (self.width + 0.05 * height))
        ax.set_ylim(factor * (self.low - 0.04 * height), factor * (self.top + 0.08 * height))
        return factor

    def _draw_section(self, view: FieldView) -> list[Artist]:
        """Draw one instant; returns what was drawn."""
        ax, factor = self.section, self.factor
        before = set(ax.get_children())
        for part in view.parts:
            if part.body is not None and part.mesh is not None:
                for side in (-1.0, 1.0):
                    draw_outline(ax, part.mesh, factor * view.positions(part.body, 0.0) * [side, 1.0], faint=True)
        draw_half(ax, view, -1.0, self.left, self.scale, factor)
        draw_half(ax, view, 1.0, self.right, self.scale, factor)
        ax.axvline(0.0, color=theme.LIGHT.weak, lw=0.8, ls=(0, (8, 2, 1.5, 2)))
        return [artist for artist in ax.get_children() if artist not in before]

    def _draw_course(self) -> list[tuple[Line2D, Array]]:
        """Draw clamp and what the tip does over the cycle; returns the markers with the values (t,) they follow."""
        result, units = self.result, self.units
        run = result.timeline.run
        steps = last_cycle(result)
        places = self.axis.within(time_in_cycle(result, steps))
        forces = result.timeline.forces
        tip = forces.tip[run]
        rows: list[tuple[str, Array]] = [
            (f"clamp, {label('force', units)}", np.asarray(in_unit(forces.clamp[run], "force", units)))
        ]
        if tip[steps].max() > 1.0:
            rows.append((f"tip force, {label('force', units)}", np.asarray(in_unit(tip, "force", units))))
        else:
            gaps = tip_gaps(result.built, result.timeline)[run]
            rows.append((f"tip gap, {label('length', units)}", np.asarray(in_unit(gaps, "length", units))))
        markers = []
        for row, (name, values) in enumerate(rows):
            ax = self.figure.add_axes((0.56, 0.36 - 0.25 * row, 0.4, 0.2))
            style = theme.series_style(row)
            ax.plot(places, values[steps], color=style["color"], lw=1.5)
            (dot,) = ax.plot(
                [places[0]], [values[steps[0]]], marker="o", markersize=8, color=style["color"], clip_on=False
            )
            markers.append((dot, values))
            self._dress(ax, name, last=row == len(rows) - 1)
        return markers

    def _dress(self, ax: Axes, name: str, last: bool) -> None:
        for place in self.axis.boundaries():
            ax.axvline(place, color=theme.LIGHT.faint, lw=0.8, zorder=0)
        ax.set_xlim(0.0, self.axis.end)
        ax.margins(y=0.15)
        ax.set_title(name, fontsize=9)
        self.axis.dress(ax)
        if not last:
            ax.set_xlabel("")
            ax.tick_params(labelbottom=False)


def _counted(result: SetupResult) -> str:
    assert result.heat is not None
    return "one cycle" if result.heat.cycles == 1 else f"{result.heat.cycles} cycles"


def _palette(pictures: list[Image.Image]) -> Image.Image:
    """Return one palette for all pictures, found from some of them side by side."""
    some = pictures[:: max(1, len(pictures) // 8)]
    width, height = some[0].size
    sheet = Image.new("RGB", (width * len(some), height))
    for place, picture in enumerate(some):
        sheet.paste(picture, (place * width, 0))
    return sheet.quantize(COLOURS, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
